"""Phases of a plan: weeks with more or fewer sets, or more in reserve, going round.

Weeks are ISO weeks, counted from that of the first session with the plan. A phase is a set of
adjustments of each session, kept with it like those that a trainee agreed to. A phase with fewer
sets is a deload: it carries no level forward, and its counts are not judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from msgspec import Struct

from runner.law.workout import Workout
from runner.progress.adjust import Adjustment
from runner.progress.history import monday_of
from runner.text import how_many


class Phase(Struct, frozen=True):
    """Some weeks of a plan."""

    weeks: int
    sets: int = 0  # more of each exercise, or fewer; one stays
    reserve: int | None = None  # repetitions in reserve aimed at; None: the plan's

    @property
    def deload(self) -> bool:
        """Whether it is lighter than the plan."""
        return self.sets < 0

    @property
    def text(self) -> str:
        """`1 set fewer of each exercise, 3 in reserve`; `as planned` where nothing differs."""
        more = "more" if self.sets > 0 else "fewer"
        said = [f"{how_many(abs(self.sets), 'set')} {more} of each exercise"] if self.sets else []
        said += [] if self.reserve is None else [f"{self.reserve} in reserve"]
        return ", ".join(said) or "as planned"


class InForce(Struct, frozen=True):
    """Where a week stands in the phases of a plan; numbers from 1."""

    phase: Phase
    number: int
    of: int
    week: int  # of the phase

    @property
    def text(self) -> str:
        """`phase 2 of 2, week 1 of 1: 1 set fewer of each exercise`."""
        where = f"phase {self.number} of {self.of}, week {self.week} of {self.phase.weeks}"
        return f"{where}: {self.phase.text}"

    def last_day(self, day: date) -> date:
        """The Sunday that ends the phase, for a day of this week."""
        return monday_of(day) + timedelta(days=7 * (self.phase.weeks - self.week) + 6)


def phase_of_week(phases: Sequence[Phase], week: int) -> InForce | None:
    """The phase of a week, 0 that of the first session; None for a plan without phases."""
    weeks = [
        InForce(phase, number, len(phases), of_phase)
        for number, phase in enumerate(phases, 1)
        for of_phase in range(1, phase.weeks + 1)
    ]
    return weeks[week % len(weeks)] if weeks else None


def week_of_plan(first: date | None, today: date) -> int:
    """Weeks from the ISO week of the first session to today's; 0 if today's is the first."""
    if first is None or first > today:
        return 0
    return (monday_of(today) - monday_of(first)).days // 7


def phase_changes(phase: Phase, workout: Workout) -> tuple[Adjustment, ...]:
    """What a phase changes in a session."""
    found = [Adjustment("sets", number=float(phase.sets))] if phase.sets else []
    more: dict[str, float] = {}
    if phase.reserve is not None:
        more = {e.id: float(phase.reserve - e.reserve) for e in workout.exercises.values()}
    if len(set(more.values())) == 1:  # said once
        more = {"": next(iter(more.values()))}
    found += [Adjustment("reserve", name, number=n) for name, n in more.items() if n]
    return (*found, Adjustment("no count")) if phase.deload else tuple(found)
