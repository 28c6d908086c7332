"""Signals that end a full screen: the terminal is put right first, which Textual does not do."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable
from contextlib import suppress

_NAMES = ("SIGTERM", "SIGHUP", "SIGINT")  # not every system has all of them


def on_signals(leave: Callable[[int], None]) -> None:
    """Call `leave` with 128 and the signal's number. To be called within a running loop."""
    loop = asyncio.get_running_loop()
    for name in _NAMES:
        number = getattr(signal, name, None)
        if number is not None:
            with suppress(NotImplementedError):  # not on Windows, where Ctrl+C is a key
                loop.add_signal_handler(number, leave, 128 + number)
