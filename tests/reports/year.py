"""A past made up by a seed: sessions driven through the machine, each kept at one stroke."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from runner.law.workout import Workout
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.record.record import Record
from runner.record.rows import SessionInfo
from runner.session import flow, verb as cmd
from runner.session.apply import TurnResult, initial
from runner.session.events import Event
from runner.session.state import Row, State

BERLIN = ZoneInfo("Europe/Berlin")
Act = Callable[["Run"], None]


@dataclass
class Run:
    """One session under way, kept in the record once it is closed, or cut off."""

    record: Record
    workout: Workout
    text: str
    at: datetime
    trainee: str
    now: float = 0.0
    events: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        token = f"{len(self.record.sessions()):04}"
        self.info = SessionInfo.opened(self.at, self.workout, self.text, self.trainee, token=token)
        self.state: State = initial(self.workout, self.record.baseline(self.trainee, self.workout))
        self._take(flow.opened(self.state, 0.0))

    def _take(self, result: TurnResult) -> None:
        self.events += [one.event for one in result.events]
        self.state = result.state

    def do(self, command: cmd.Command) -> None:
        self._take(flow.handle(self.state, command, self.now))

    def set(self, seconds: float, count: float | None, reserve: int | None = None) -> Row:
        """From wherever the session stands to the end of its next bout, and its count."""
        while self.state.running is None:
            due = flow.deadline(self.state)
            if self.state.phase in ("ready", "warm-up"):
                self.do(cmd.Proceed())
            elif due is None:
                self.do(cmd.StartNow())
            else:
                self.now = max(due, self.now)
                self._take(flow.advance(self.state, self.now))
        row = self.state.running
        self.now = round(self.now + seconds, 3)
        self.do(cmd.Proceed())
        if self.state.open_rows and count is not None:
            self.do(cmd.Enter("reps", (cmd.Count(count, reserve),)))
        return row

    @property
    def over(self) -> bool:
        return self.state.phase in ("wrap-up", "closed")

    def keep(self, *, close: bool = True) -> SessionInfo:
        if close and self.state.phase != "closed":
            self.do(cmd.End())
        self.record.start(self.info)
        self.record.append(self.info.id, list(enumerate(self.events, 1)), self.state)
        return self.info


@dataclass
class Person:
    """Somebody who trains by a plan's text; strength grows and shakes by a seed."""

    record: Record
    name: str
    seed: int
    hardest: float = 1.0  # how much the last version moves away
    strength: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)  # noqa: S311 - to be the same every time

    def train(
        self, text: str, session: str, at: datetime, *, act: Act | None = None, close: bool = True
    ) -> Run:
        """One session, every set done; `act` is called before each bout and may do as it likes."""
        workout = compile_session(parse_plan(text, "plan"), session)
        run = Run(self.record, workout, text, at, self.name)
        run.do(cmd.Proceed())
        while not run.over:
            if act is not None:
                act(run)
            if not run.over:
                self._set(run)
        if close and run.state.phase == "wrap-up":
            run.do(cmd.Rate(float(self.random.randint(5, 9))))
        run.keep(close=close)
        return run

    def _set(self, run: Run) -> None:
        coming = run.state.coming
        assert coming is not None
        planned_set, side = coming
        exercise = run.workout.exercises[planned_set.exercise]
        place = (
            exercise.progression.index(planned_set.level)
            if planned_set.level in exercise.progression
            else 0
        )
        low, high = exercise.rep_range
        best = self.strength.setdefault(exercise.id, low + (high - low) * self.random.random() / 2)
        self.strength[exercise.id] += 0.03 * (1.0 if side == "both" else 0.5)
        tired = (planned_set.number - 1) * 0.08 * best
        able = best - tired - 1.7 * self.hardest * place + self.random.gauss(0, 0.7)
        count = max(round(able) + (side == "left"), 1)
        if exercise.measure == "hold":
            run.set(float(count), None)
        else:
            reserve = self.random.choice((None, None, 1, 2, 3))
            run.set(round(count * planned_set.level.seconds_a_rep, 1), float(count), reserve)


def days(start: datetime, pattern: tuple[int, ...], weeks: int) -> list[datetime]:
    """The same local time on these weekdays, for so many weeks."""
    return [start + timedelta(weeks=week, days=day) for week in range(weeks) for day in pattern]
