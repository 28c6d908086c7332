"""Cues and voice. Playing and speaking each run in a process of their own."""
