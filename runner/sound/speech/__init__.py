"""Speech rendered to WAV: which engines there are, the process that asks them, the cache."""
