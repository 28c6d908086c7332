"""Signals that end a full screen: the terminal is put right first, which Textual does not do."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from collections.abc import Callable
from contextlib import suppress

GRACE = 5.0  # seconds for an orderly end; our choice

_NAMES = ("SIGTERM", "SIGHUP", "SIGINT")  # not every system has all of them


def on_signals(leave: Callable[[int], None], *, grace: float = GRACE) -> None:
    """Call `leave` with 128 and the signal's number. To be called within a running loop.

    Once the window is gone, the screen can no longer be written, and the loop may wait for that
    for ever. So the program ends `grace` seconds after a signal in any case, with the same code.
    Nothing is lost by it: what was acknowledged is on file.
    """
    loop = asyncio.get_running_loop()
    for name in _NAMES:
        number = getattr(signal, name, None)
        if number is not None:
            with suppress(NotImplementedError):  # not on Windows, where Ctrl+C is a key
                loop.add_signal_handler(number, leave, 128 + number)
                # The loop hears of it by a file descriptor; this runs even where the loop waits.
                signal.signal(number, lambda n, _: _end_in_any_case(128 + n, grace))


def _end_in_any_case(code: int, grace: float) -> None:
    watchdog = threading.Timer(grace, os._exit, (code,))
    watchdog.daemon = True
    watchdog.start()
