"""The one place where time comes from, and what a session asks of the machine while it runs.

A session's seconds include a suspend of the laptop, since the body does not pause. CLOCK_BOOTTIME
does so on Linux; CLOCK_MONOTONIC stops during a suspend on Linux and macOS. A rehearsal runs on a
`FastClock`. While a session runs, `kept_awake` keeps screen and machine awake, and
`collecting_new_objects_only` keeps the garbage collector off long-lived objects.
"""

from __future__ import annotations

import gc
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

# Seconds: if wall and monotonic clock differ by more between two looks, there was a suspend or a
# change of the clock; time servers adjust by far less (measured).
SUSPEND = 1.5


class Clock(Protocol):
    """What the driver needs from a clock."""

    def now(self) -> float:
        """Seconds since its own origin, suspends included; never goes back."""

    def ago(self, seconds: float) -> float:
        """What `now` was that many real seconds ago."""

    def slept(self) -> float:
        """Seconds of `now` in all during which the machine was suspended."""

    def local(self) -> datetime:
        """The wall clock, with the local offset."""


class SystemClock:
    """The machine's clocks."""

    def __init__(self) -> None:
        self._boot: int | None = getattr(time, "CLOCK_BOOTTIME", None)
        self._zone = _named_zone()
        self._wall, self._monotonic = time.time(), time.monotonic()
        self._asleep = 0.0

    def now(self) -> float:
        """Seconds since boot where the system has them, else the corrected monotonic clock."""
        if self._boot is not None:
            return time.clock_gettime(self._boot)
        self._look()
        return self._monotonic + self._asleep

    def ago(self, seconds: float) -> float:
        """`now` less that many seconds."""
        return self.now() - seconds

    def slept(self) -> float:
        """Seconds asleep, by the difference of the two clocks."""
        if self._boot is not None:
            return time.clock_gettime(self._boot) - time.monotonic()
        self._look()
        return self._asleep

    def local(self) -> datetime:
        """Now in the local zone; with the zone's name if the system tells it."""
        now = datetime.now(UTC).astimezone()
        named = now.astimezone(self._zone)
        return named if named.utcoffset() == now.utcoffset() else now

    def _look(self) -> None:
        wall, monotonic = time.time(), time.monotonic()
        ahead = (wall - self._wall) - (monotonic - self._monotonic)
        if ahead > SUSPEND:
            self._asleep += ahead
        self._wall, self._monotonic = wall, monotonic


def _named_zone() -> ZoneInfo | None:
    """The local zone by its tz database name, from TZ or the link that most systems have."""
    link = Path("/etc/localtime").resolve().as_posix()
    name = os.environ.get("TZ", "").lstrip(":") or link.partition("/zoneinfo/")[2]
    try:
        return ZoneInfo(name) if name else None
    except (ValueError, OSError, ZoneInfoNotFoundError):  # no such zone, or no tz database at all
        return None


class FastClock:
    """Another clock's time at `speed`, for a rehearsal; speed may change and time stand still.

    Neither makes time jump. A suspend of the machine does not count: nobody is training.
    """

    def __init__(self, real: Clock, speed: float) -> None:
        self._real = real
        self._local = real.local()
        self._speed = speed
        self._still = False
        self._since = self.real()
        self._shown = 0.0

    def real(self) -> float:
        """Seconds of the clock behind it, without suspends."""
        return self._real.now() - self._real.slept()

    def now(self) -> float:
        """Seconds since it was made, times the speed."""
        if self._still:
            return self._shown
        return self._shown + (self.real() - self._since) * self._speed

    def ago(self, seconds: float) -> float:
        """`now`: a rehearsal keeps no keys."""
        del seconds
        return self.now()

    def slept(self) -> float:
        """Always 0."""
        return 0.0

    def local(self) -> datetime:
        """The wall clock when it was made, plus its own seconds since."""
        return self._local + timedelta(seconds=self.now())

    @property
    def speed(self) -> float:
        """How many seconds it shows for one real second."""
        return self._speed

    @property
    def still(self) -> bool:
        """Whether its time stands still."""
        return self._still

    def run_at(self, speed: float) -> None:
        """Go on at another speed, from the present second."""
        self._anchor()
        self._speed = speed

    def stand_still(self, *, still: bool) -> None:
        """Stop the time, or let it go on."""
        self._anchor()
        self._still = still

    def _anchor(self) -> None:
        self._shown, self._since = self.now(), self.real()


# What a session asks of the machine.


AWAKE_AFTER = 1.0  # seconds; our choice: no machine falls asleep in them


@contextmanager
def kept_awake() -> Iterator[None]:
    """Keep screen and machine awake inside the block, where the system has a way.

    A thread asks for it once the first screen stands: loading wakepy and asking takes 10 ms, and
    1.2 MiB. Nothing stops a lid that is closed.
    """
    over = threading.Event()
    thread = threading.Thread(target=_keep_awake, args=(over,), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _keep_awake(over: threading.Event) -> None:
    """The thread: wakepy wants to be left in the one that has entered it."""
    if over.wait(AWAKE_AFTER):
        return
    try:
        from wakepy import keep  # noqa: PLC0415 - only a live session needs it
    except ImportError:
        return
    with keep.presenting(on_fail="pass"):
        over.wait()


NEW_OBJECTS = (
    1000  # objects between two collections in a session; our choice, near Python's default
)


@contextmanager
def collecting_new_objects_only() -> Iterator[None]:
    """Inside the block the garbage collector looks only at objects that are made there.

    A collection over all that a full screen has loaded takes tens of milliseconds, in which a cue
    may fall due; over new objects it takes less than one.
    """
    before = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(NEW_OBJECTS)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()
