"""A short session of the real program in a real terminal, worked by a hand that reads the record.

The hand never looks at the screen: it waits for events in the SQLite file and sends keys at their
instants, while whatever the terminal gets is kept. Nothing of `runner` is used.
"""

from __future__ import annotations

import json
import os
import sqlite3
import sys
import time
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pexpect

from tests.plans import plan

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

ROOT = Path(__file__).resolve().parents[2]
DEADLINE_S = 30.0
LOOK_S = 0.02  # between two looks at the record

# One-sided work at a tempo, then a hold: every cue there is, in about twenty seconds.
PLAN = plan(
    "Kestrel Hut, by ear",
    {
        "row": {
            "short": "ROW",
            "sides": "left first",
            "version": [{"id": "light", "name": "rucksack", "tempo": "0.8-0-0.8"}],
        },
        "bridge": {
            "name": "Hip bridge",
            "short": "BRIDGE",
            "pattern": "hinge",
            "prime": ["glutes"],
            "measure": "hold",
            "hold": ["2s", "6s"],
            "version": [{"id": "both", "name": "on both feet"}],
        },
    },
    [{"row": 1}, {"bridge": 1}],
    trial=True,
    timing={
        "recovery": "4s",
        "side_gap": "1.7s",
        "block_rest": "5s",
        "position": "1s",
        "lead_in": "5s",
    },
    effort={"pacer": True},
)
TEMPO = (0.8, 0.8)
MARK_S = 2.0
SET_S, HOLD_S = 2.0, 3.2  # how long the hand lets them run
ENTRY_S = 1.1  # from the end of the rows to their counts


@dataclass(frozen=True)
class Event:
    """An event of the record; `at` is session seconds, `utc` seconds since 1970."""

    name: str
    at: float
    utc: float
    act: int
    data: dict[str, Any]


@dataclass
class RealSession:
    """The program in its terminal. `seen` has when each event was first found in the record."""

    data: Path
    environ: Mapping[str, str]
    command: tuple[str, ...] = ("-m", "runner")
    text: str = PLAN
    sent: bytes = b""
    seen: dict[int, float] = field(default_factory=dict)
    pressed: list[tuple[str, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        plan = self.data / "by-ear.toml"
        plan.write_text(self.text, encoding="utf-8")
        environ = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "CI")}
        environ |= {"TERM": "xterm-256color", "LC_ALL": "C.UTF-8", **self.environ}
        options = ["run", str(plan), "--for", "Ada", "--yes", "--data", str(self.data)]
        self.child = pexpect.spawn(
            sys.executable,
            [*self.command, *options],
            env=environ,
            dimensions=(24, 80),
            timeout=DEADLINE_S,
            cwd=str(ROOT),
        )

    def events(self) -> list[Event]:
        """What is on file by now."""
        path = self.data / "trial.db"
        if not path.exists():
            return []
        try:
            with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as record:
                rows = record.execute("SELECT name, at, utc, act, data FROM event ORDER BY seq")
                found = [
                    Event(name, at, utc_seconds(utc), act, json.loads(data))
                    for name, at, utc, act, data in rows
                ]
        except sqlite3.OperationalError:  # just being written
            return []
        now = time.time()
        for number in range(len(found)):
            self.seen.setdefault(number, now)
        return found

    def read(self, seconds: float = LOOK_S) -> None:
        """Take what the terminal gets for so long."""
        try:
            self.child.expect_exact(b"\x00never\x00", timeout=seconds)
        except pexpect.TIMEOUT:
            pass
        except pexpect.EOF:
            self.sent += self.child.before
            self.child.before = b""

    def output(self) -> bytes:
        """All that the terminal has got."""
        before = self.child.before
        return self.sent + (before if isinstance(before, bytes) else b"")

    def wait_until(self, condition: Callable[[], bool], what: str) -> None:
        """Read on until it holds; AssertionError after a deadline."""
        until = time.monotonic() + DEADLINE_S
        while not condition():
            assert time.monotonic() < until, f"{what} never came: {self.output()[-400:]!r}"
            self.read()

    def wait_for(self, name: str, number: int = 1) -> Event:
        """Wait for the so many-th event of a name."""

        def found() -> list[Event]:
            return [event for event in self.events() if event.name == name]

        self.wait_until(lambda: len(found()) >= number, f"{number} x {name}")
        return found()[number - 1]

    def wait_text(self, text: str) -> None:
        """Wait until the terminal has got a text."""
        self.wait_until(lambda: text.encode() in self.output(), text)

    def press(self, keys: str, at: float | None = None) -> None:
        """Send keys, at an instant in seconds since 1970 or at once."""
        while at is not None and (left := at - time.time()) > 0:
            self.read(min(left, LOOK_S))
        self.pressed.append((keys, time.time()))
        self.child.send(keys)

    def begin(self) -> None:
        """Begin on the ready sheet."""
        self.wait_for("opened")
        self.wait_text("start")
        self.press(" ")
        self.wait_for("begun")

    def work(self, between: Callable[[int], None] = lambda _: None) -> None:
        """Do the whole session; `between` is called a second into each bout, with its number."""
        for number in (1, 2, 3):
            started = self.wait_for("started", number)
            between(number)
            self.press(" ", started.utc + (HOLD_S if number == 3 else SET_S))
            ended = self.wait_for("ended", number)
            if number == 2:
                self.press("8 9\r", ended.utc + ENTRY_S)

    def leave(self) -> int | None:
        """Close the session once its last cue is over, and leave; the exit code."""
        last = self.wait_for("ended", 3)
        self.press(" ", last.utc + 1.4)
        closed = self.wait_for("closed")
        self.press(" ", closed.utc + 0.9)
        return self.end()

    def end(self) -> int | None:
        """Wait for the end of the program; the exit code, minus a signal's number."""
        self.child.expect(pexpect.EOF)
        self.sent += self.child.before
        self.child.close()
        killed = self.child.signalstatus
        return self.child.exitstatus if killed is None else -killed


def utc_seconds(text: str) -> float:
    """Seconds since 1970 of a UTC text of the record."""
    return datetime.fromisoformat(text).timestamp()
