"""Cues and voice, each made in a process of its own."""
