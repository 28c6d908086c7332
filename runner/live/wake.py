"""Keeps the laptop awake while a session runs, where that works. A closed lid cannot be stopped."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def kept_awake() -> Iterator[bool]:
    """Keep screen and machine awake inside the block; the value tells whether that worked."""
    try:
        from wakepy import keep  # noqa: PLC0415 - only a live session needs it
    except ImportError:
        yield False
        return
    with keep.presenting(on_fail="pass") as mode:
        yield bool(mode.active)
