"""Doubles that ship, so that a test can run a whole session: a clock by hand, a sound on file.

Tests import `ManualClock`. `MATSIDE_SOUND=recording:FILE` starts this module in the place of the
process that makes the sound, so that cues go the whole way and end in a file. This module may
import anything; nothing of the program imports it.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NoReturn

from runner.sound import helper
from runner.sound.backends import Trouble
from runner.sound.wav import read_wav


class ManualClock:
    """A clock that moves only when told: for tests."""

    def __init__(self, start: datetime | None = None) -> None:
        self._start = start or datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
        self.seconds = 0.0
        self.asleep = 0.0

    def now(self) -> float:
        """Seconds since it was made."""
        return self.seconds

    def ago(self, seconds: float) -> float:
        """Now: its time does not pass by itself."""
        del seconds
        return self.seconds

    def slept(self) -> float:
        """Seconds that `suspend` has let pass."""
        return self.asleep

    def local(self) -> datetime:
        """The start and the seconds that have passed."""
        return self._start + timedelta(seconds=self.seconds)

    def advance(self, seconds: float) -> None:
        """Let time pass."""
        self.seconds += seconds

    def suspend(self, seconds: float) -> None:
        """Let time pass while nothing runs."""
        self.seconds += seconds
        self.asleep += seconds


class Recording:
    """A way to make sound that appends `name<TAB>monotonic ns` for every cue to a file.

    A phrase is `say TEXT`, and `(cut)` follows where a real way would still have been speaking.

    `trouble` makes it misbehave, as `KIND:N` from the N-th sound on: `fail` raises, `die` ends the
    process, `hang` never returns from `play`, `hold` does so in a device that would play all the
    same, `pause` returns after half a second, `wait` begins only later; `mix` is no trouble, but
    leaves no room for a third sound beside two. N = 0: already when it is warmed. The file need
    not be new.
    """

    def __init__(self, path: Path, trouble: str = "") -> None:
        self._path = path
        kind, _, nth = trouble.partition(":")
        self._kind, self._nth = kind, int(nth or 0)
        self.holds, self.mixes = kind == "hold", kind == "mix"
        self._count = 0
        self._names: set[str] = set()
        self._until = 0.0

    def load(self, name: str, path: Path) -> None:
        """Read the file, so that a bad one is refused here as elsewhere."""
        read_wav(path)
        self._names.add(name)

    def _misbehave(self) -> None:
        if not self._kind or self._count < self._nth:
            return
        if self._kind == "fail":
            raise Trouble("told to fail")
        if self._kind in ("wait", "mix"):
            return
        if self._kind == "die":
            os._exit(1)
        time.sleep(0.5 if self._kind == "pause" else 3600.0)

    def warm(self) -> None:
        """Note the fact as `(ready)`."""
        if self._nth == 0:
            self._misbehave()
        self._note("(ready)")

    def level(self, cues: float, voice: float) -> None:
        """Note the gains as `(level CUES VOICE)`."""
        self._note(f"(level {cues:.4g} {voice:.4g})")

    def say(self, path: Path, text: str) -> None:
        """Note the phrase as `say TEXT`."""
        kind, frames = read_wav(path)
        self._until = time.monotonic() + kind.seconds(frames)
        self._note(f"say {text}")

    def hush(self) -> None:
        """Note the fact as `(cut)`, where a real way would still be speaking."""
        if time.monotonic() < self._until:
            self._note("(cut)")
        self._until = 0.0

    def play(self, name: str) -> None:
        """Note the cue."""
        if name not in self._names:
            raise KeyError(name)
        self.hush()
        self._count += 1
        self._misbehave()
        self._note(name)

    def stop(self) -> None:
        """Note the fact as `(stopped)`."""
        self._note("(stopped)")

    def cut(self, name: str) -> None:
        """Note the fact as `(cut NAME)`."""
        self._note(f"(cut {name})")

    def begun(self) -> object:
        """The number of the cue begun last."""
        return self._count

    def take_back(self, begun: object) -> bool:
        """Note the fact as `(stopped)` where it was told to begin only later."""
        waits = self._kind == "wait" and isinstance(begun, int) and begun >= self._nth
        if waits:
            self.stop()
        return waits

    def _note(self, name: str) -> None:
        with self._path.open("a", encoding="utf-8") as out:
            out.write(f"{name}\t{time.monotonic_ns()}\n")

    def poll(self) -> str | None:
        """Tell nothing: failures come at once."""
        return None

    def busy(self) -> bool:
        """A note takes no time."""
        return False

    def close(self) -> None:
        """Nothing to leave behind."""


def main(argv: list[str]) -> NoReturn:
    """The process of `runner.sound.helper` with a `Recording`: `--file FILE [--trouble KIND:N]`."""
    parser = argparse.ArgumentParser(prog="runner.testing", allow_abbrev=False)
    parser.add_argument("--file", type=Path, required=True, help="where to note the cues")
    parser.add_argument("--trouble", default="", help="how to misbehave")
    own, others = parser.parse_known_args(argv)
    helper.main(others, lambda _: Recording(own.file, own.trouble))


if __name__ == "__main__":
    main(sys.argv[1:])
