"""matside: runs a strength session from a laptop beside the mat, and keeps its record."""

__version__ = "0.1.0"
