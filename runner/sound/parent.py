"""Processes of ours end with the one that started them."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from typing import Any


def die_with_parent(parent: int | None = None, number: int | None = None) -> None:
    """Have the kernel end this process when the one that started it ends (Linux only).

    By SIGKILL, or by the signal of that `number`, whose handler may leave things in order.

    `parent` is that one's id: it may have died before the call, and then there is nobody left to
    wait for. The signal is bound to the *thread* that started us, so that one has to live as long.
    Elsewhere the end of the input does it.
    """
    ask_death_signal(number)
    if sys.platform == "linux" and parent is not None and os.getppid() != parent:
        os._exit(0)


def _libc() -> Any:
    try:
        return ctypes.CDLL(None)
    except OSError:
        return None


_LIBC = _libc() if sys.platform == "linux" else None
_PR_SET_PDEATHSIG = 1  # linux/prctl.h


def ask_death_signal(number: int | None = None) -> None:
    """Have the kernel signal this process when the thread that started it ends (Linux only)."""
    if sys.platform == "linux" and _LIBC is not None:
        _LIBC.prctl(_PR_SET_PDEATHSIG, number or signal.SIGKILL, 0, 0, 0)


CAN_ASK = _LIBC is not None  # whether `ask_death_signal` does anything
