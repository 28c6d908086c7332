"""Faults done to sessions on purpose, and what was lost by them: nothing."""
