"""Cues: what they are (`cues`), who plays them (`player`), the process that makes the sound."""
