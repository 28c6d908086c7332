"""Plan files: read, checked, compiled."""
