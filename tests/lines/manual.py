"""Line mode inside the test, on a clock that moves only when the session waits."""

from __future__ import annotations

import io
import queue
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from pathlib import Path

from runner.lines.session import PlainSession
from runner.live.controller import Controller
from runner.live.session_setup import Live, Opening, prepare
from runner.testing import ManualClock
from tests.lines.process import Line


@dataclass
class Silence:
    """Remembers what cues were asked for: (name, seconds late)."""

    asked: list[tuple[str, float]] = field(default_factory=list)

    def play(self, name: str, late_s: float = 0.0) -> None:
        self.asked.append((name, late_s))


Typist = Callable[["Desk"], tuple[float, str | None]]  # when (clock seconds), what; None: the end


class Desk:
    """Stands for the lines of stdin: lets time pass until the typist's next line is due."""

    def __init__(self, clock: ManualClock, typist: Typist) -> None:
        self.clock, self._typist = clock, typist
        self.live: Live | None = None
        self.age = 0.0  # lines are taken as they arrive
        self._next: tuple[float, str | None] | None = None
        self._seen: object = None  # the state when the typist made up their mind

    @property
    def phase(self) -> str:
        assert self.live is not None
        return self.live.driver.state.phase

    @property
    def seconds(self) -> float:
        return self.clock.seconds

    def next(self, timeout: float | None) -> str | None:
        state = None if self.live is None else self.live.driver.state
        if self._next is None or state is not self._seen:  # what happened may change their mind
            self._next, self._seen = self._typist(self), state
        at, line = self._next
        wait = max(at - self.clock.seconds, 0.0)
        if timeout is not None and timeout < wait:
            self.clock.advance(timeout)
            raise queue.Empty
        self.clock.advance(wait)
        self._next = None
        return line


@dataclass
class Ran:
    """What a session did."""

    code: int
    out: str
    err: str
    live: Live
    opening: Opening
    player: Silence
    clock: ManualClock

    @property
    def lines(self) -> list[Line]:
        return [Line.of(text) for text in self.out.splitlines()]

    def events(self, name: str) -> list[Line]:
        return [line for line in self.lines if line.name == name]


def run(
    plan: Path | str,
    data: Path,
    typist: Typist,
    *,
    session: str | None = None,
    yes: bool = True,
    hour: int = 6,
    terminal: bool = False,
    on: date = date(2026, 11, 25),
) -> Ran:
    """A whole session of a trainee called Ada, without waiting, begun at half past an hour."""
    begun = datetime.combine(on, time(hour, 30), UTC)
    clock, player = ManualClock(begun), Silence()
    opening = prepare(str(plan), data=data, trainee="Ada", clock=clock, session=session)
    # These sessions need no power cut to be survived, and a disk's sync takes real time.
    opening.record._connection.execute("PRAGMA synchronous = OFF")
    desk = Desk(clock, typist)
    live = desk.live = opening.begin(player)
    out, err = io.StringIO(), io.StringIO()
    controller = Controller(opening, yes=yes)
    controller.take(live)
    face = PlainSession(out, err, controller, terminal=terminal)
    code = face.run(live, desk, new=True)  # type: ignore[arg-type]
    opening.record.close()
    return Ran(code, out.getvalue(), err.getvalue(), live, opening, player, clock)


def script(*lines: str, step: float = 1.0) -> Typist:
    """Types one line after another, a second apart; then the input ends."""
    left: Iterable[str] = iter(lines)
    due: list[tuple[float, str | None]] = []

    def typist(desk: Desk) -> tuple[float, str | None]:
        if not due or due[0][0] <= desk.seconds:
            due[:] = [(desk.seconds + step, next(iter(left), None))]
        return due[0]

    return typist
