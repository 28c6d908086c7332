"""The first picture, before anything heavy is loaded: the plan's title, and that it is being read.

Textual and the reader of plans load slowly, on an old laptop for seconds. So the terminal gets its
screen at once, by control sequences that every terminal with a full screen has (xterm's, which
Textual sends as well), and Textual draws over it. This picture appears 0.05 s after the start, the
whole ready screen after 0.3 s (`python -m tests.benchmarks first_paint`).

From then to the end of the process keys are not echoed. Keys typed while the program loads, or
after its screen is closed, are dropped: nobody sees what they would act on.
"""

from __future__ import annotations

import atexit
import os
import re
import signal
import sys
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import Any, Self, TextIO

from runner.text import escaped

try:
    import termios
except ImportError:  # Windows
    termios = None  # type: ignore[assignment]

OPEN = "\x1b[?1049h\x1b[?25l\x1b[2J\x1b[H"  # the alternate screen, no cursor, cleared
CLOSE = "\x1b[?25h\x1b[?1049l"
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"
READING = "Reading the plan and the record ..."
_SIGNALS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))
_TITLE = re.compile(r'^title = "([^"\\\n]{1,70})"', re.MULTILINE)
_LOOKED_AT = 4096  # characters of the file: a title stands first


class FirstPicture:
    """A context: the picture stands until Textual draws, or the program says something else.

    Nothing is drawn where `stream` is no terminal.
    """

    def __init__(self, plan: Path, stream: TextIO | None) -> None:
        drawn = stream is not None and os.name == "posix" and stream.isatty()
        self._stream = stream if drawn else None
        self._plan = plan
        self._before: dict[int, Any] = {}  # what signals did

    def __enter__(self) -> Self:
        if self._stream is not None:
            quiet_keys()
            for number in _SIGNALS:
                if signal.getsignal(number) != signal.SIG_IGN:  # as nohup asks
                    self._before[number] = signal.signal(number, self._end)
            rows = ("", f"  {BOLD}{title(self._plan)}{PLAIN}", "", f"  {READING}")
            self._write(OPEN + "\r\n".join(rows))
        return self

    def __exit__(self, kind: type[BaseException] | None, *exc: object) -> None:
        if kind is not None:
            self.clear()

    def hand_over(self) -> None:
        """Leave the screen to Textual, which closes it in the end; keys count from here on."""
        drop_keys()
        while self._before:
            signal.signal(*self._before.popitem())

    def clear(self) -> None:
        """Give the terminal back, so that something can be said on it; again does nothing."""
        self.hand_over()
        self._write(CLOSE)
        self._stream = None

    def _write(self, text: str) -> None:
        if self._stream is not None:
            with suppress(OSError, ValueError):  # a terminal that has gone; the session says so
                self._stream.write(text)
                self._stream.flush()

    def _end(self, number: int, frame: FrameType | None) -> None:
        """Die of the signal as ever, but on a whole terminal."""
        del frame
        self.clear()
        _loud_again()
        os.kill(os.getpid(), number)


_loud: list[tuple[int, list[Any]]] = []  # the terminal's settings as they were, while it is quiet


def quiet_keys() -> None:
    """Echo no keys until the process ends, and drop those typed by then; again does nothing."""
    if _loud or termios is None:
        return
    with suppress(OSError, ValueError, AttributeError, termios.error):  # no terminal
        terminal = sys.__stdin__.fileno()  # type: ignore[union-attr]
        was = termios.tcgetattr(terminal)
        now = [*was]
        now[3] &= ~termios.ECHO
        termios.tcsetattr(terminal, termios.TCSANOW, now)
        _loud.append((terminal, was))
        atexit.register(_loud_again)


def drop_keys() -> None:
    """Forget the keys that have been typed and not read."""
    if _loud:
        with suppress(OSError, termios.error):  # the terminal has gone
            termios.tcflush(_loud[0][0], termios.TCIFLUSH)


def _loud_again() -> None:
    drop_keys()
    while _loud:
        with suppress(OSError, termios.error):
            termios.tcsetattr(_loud[0][0], termios.TCSANOW, _loud[0][1])
        _loud.clear()


def first_picture(plan: Path) -> FirstPicture:
    """The picture on the stream that Textual draws on."""
    return FirstPicture(plan, sys.__stderr__)


def title(plan: Path) -> str:
    """The plan's title where it can be seen without reading the plan, else the file's name."""
    try:
        with plan.open(encoding="utf-8-sig") as file:
            found = _TITLE.search(file.read(_LOOKED_AT))
    except (OSError, ValueError):  # reading it says what is wrong
        found = None
    return escaped(found[1] if found else plan.stem)
