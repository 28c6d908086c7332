"""Figures of speed, to be looked at: `python -m tests.benchmarks`. No test depends on them."""
