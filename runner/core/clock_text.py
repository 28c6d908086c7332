"""Lengths as people read them. Several rooms need it."""

from __future__ import annotations


def clock(seconds: float) -> str:
    """Minutes and seconds, 4:05; hours in front from one on."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"
