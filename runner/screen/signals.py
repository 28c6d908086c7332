"""Signals that end a full screen: the terminal is put right first, which Textual does not do."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from contextlib import suppress
from functools import partial
from types import FrameType
from typing import Protocol

from runner.live.loaded import left_alone

GRACE = 5.0  # seconds for an orderly end; our choice

_NAMES = ("SIGTERM", "SIGHUP", "SIGINT")  # not every system has all of them


class Leaving(Protocol):
    """A full screen that can be left with an exit code."""

    grace: float | None  # seconds for an orderly end after a signal; None: as long as it takes

    def leave(self, code: int, /) -> None:
        """End in good order."""

    def run(self) -> int | None:
        """Show it until it is left."""


def run(app: Leaving, *, grace: float = GRACE) -> int | None:
    """Run a full screen as all there is to this process; its exit code, None if it failed.

    Once the window is gone, the screen can no longer be written, and the loop may wait for that
    for ever. So the process ends `grace` seconds after a signal in any case, with the same code.
    Nothing is lost by it: what was acknowledged is on file. A screen that runs within a process
    of somebody else (a test's) has no such limit: it must not end what it does not own.
    """
    app.grace = grace
    with left_alone():
        return app.run()


def on_signals(app: Leaving) -> None:
    """Leave with 128 and the signal's number. To be called within the running loop."""
    loop = asyncio.get_running_loop()
    for name in _NAMES:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) != signal.SIG_IGN:  # nohup
            with suppress(NotImplementedError):  # not on Windows, where Ctrl+C is a key
                loop.add_signal_handler(number, app.leave, 128 + number)
                if app.grace is not None:
                    # The loop hears of it by a file descriptor; this runs where the loop waits.
                    signal.signal(number, partial(_end_in_any_case, app.grace))


def _end_in_any_case(grace: float, number: int, frame: FrameType | None) -> None:
    del frame
    watchdog = threading.Timer(grace, os._exit, (128 + number,))
    watchdog.daemon = True
    watchdog.start()
