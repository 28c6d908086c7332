"""What goes into the tick oracle and what comes out: plain frozen values, nothing of `runner`.

Every time is a whole number of ticks; a tick is any unit. Blocks and rounds count from 1, and a
set's round is its number within its exercise. The divisions of the law must come out exact
(A·L/T, the level of a round, the mean of two lengths in a median), else the oracle raises
`InexactError`. Multiples that are always exact, for rounds of up to four exercises: T of 96, A and
lengths of sets of 24, all else of 12, and L of T/8.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

Side = Literal["both", "left", "right"]
Kind = Literal["ramp", "work"]
Phase = Literal["rest", "set"]
What = Literal["skip", "drop", "pause", "ask", "now"]
Sides = Literal["together", "left first", "right first"]
Status = Literal["done", "given up", "paused"]
Case = Literal["first", "side", "block", "changeover", "straight"]
Load = tuple[str, Literal["left", "right"], Literal["prime", "synergist"]]


class InexactError(ValueError):
    """A division of the law does not come out in whole ticks: the plan is drawn too finely."""


@dataclass(frozen=True)
class Settings:
    """The settings in force for one exercise; letters as in the law. c1 and c2 are a block's."""

    T: int
    L: int
    A: int
    c1: int
    c2: int
    gap: int
    block_rest: int
    position: int
    breather: int

    @property
    def cross_least(self) -> int:
        if self.A * self.L % self.T:
            raise InexactError(f"A·L/T = {self.A}·{self.L}/{self.T}")
        return self.A * self.L // self.T


@dataclass(frozen=True)
class Exercise:
    """One exercise of one block.

    Mappings by side hold `both`, or `left` and `right`; `actual` is by set (from 1) and side.
    """

    id: str
    sets: int  # ramp sets counted along
    settings: Settings
    expected: Mapping[Side, int]  # a work set without any history
    ramp: int = 0  # so many of the sets, the first ones, are ramp sets
    expected_ramp: Mapping[Side, int] = field(default_factory=dict)
    actual: Mapping[tuple[int, Side], int] = field(default_factory=dict)  # else as `guess`
    history: Mapping[Side, tuple[int, ...]] = field(default_factory=dict)  # oldest first
    prime: tuple[str, ...] = ()
    assist: tuple[str, ...] = ()
    both_sides: tuple[str, ...] = ()  # one-sided work only
    sides: Sides = "together"
    station: str | None = None
    setups: tuple[str | None, ...] = ()  # one for each set, or empty: names none

    @property
    def order(self) -> tuple[Side, ...]:
        if self.sides == "together":
            return ("both",)
        return ("left", "right") if self.sides == "left first" else ("right", "left")

    def kind(self, number: int) -> Kind:
        return "ramp" if number <= self.ramp else "work"

    def setup(self, number: int) -> str | None:
        return self.setups[number - 1] if self.setups else None

    def guess(self, kind: Kind, side: Side) -> int:
        """The static expected length of one bout."""
        return (self.expected if kind == "work" else self.expected_ramp)[side]

    def loads(self, side: Side) -> tuple[Load, ...]:
        """All that one bout loads."""
        if side == "both":
            if self.both_sides:
                raise ValueError("both_sides belongs to one-sided work")
            return tuple(
                [(m, s, "prime") for m in self.prime for s in ("left", "right")]
                + [(m, s, "synergist") for m in self.assist for s in ("left", "right")]
            )
        loads: list[Load] = [(m, side, "prime") for m in self.prime]
        loads.extend((m, side, "synergist") for m in self.assist)
        for muscle in self.both_sides:
            if muscle not in self.prime and muscle not in self.assist:
                loads.append((muscle, side, "synergist"))
            loads.append((muscle, "right" if side == "left" else "left", "synergist"))
        return tuple(loads)


@dataclass(frozen=True)
class PlannedSet:
    """One bout that the plan asks for."""

    block: int
    round: int
    exercise: Exercise
    side: Side
    second: bool  # the second side of a one-sided set

    @property
    def key(self) -> tuple[int, int, str, Side]:
        return (self.block, self.round, self.exercise.id, self.side)


@dataclass(frozen=True)
class Act:
    """A disturbance, placed so that it shrinks well and never fails.

    `bout` counts the bouts that were really begun, from 0: phase "rest" is the rest before that
    bout, phase "set" the bout itself. The act happens once, `after` (1 or more) ticks from the
    beginning of the first such phase, from that bout on, that still lasts then, strictly, with
    the session not paused; if there is none it does not happen.

    - skip: rest: the coming set (in the gap between the sides: the second side alone);
      set: the running set is given up, with `whole` its second side too;
    - drop: `exercise`, or without one the exercise of the coming or running set, from here to the
      session's end; the running bout is given up;
    - pause: lasts `amount` (1 or more) ticks; ends the running bout, its second side still comes;
    - ask: moves the start of the coming bout by `amount` ticks, at the earliest to this instant;
    - now: starts the coming bout.
    """

    what: What
    phase: Phase
    bout: int
    after: int
    amount: int = 0
    exercise: str | None = None
    whole: bool = True


@dataclass(frozen=True)
class Bout:
    """One bout that was really done. For the session's first, `rest_before` is from tick 0."""

    planned_set: PlannedSet
    start: int
    end: int
    status: Status
    rest_before: int
    why: str
    recovery: int | None
    moved: bool  # the start is not the one first decided for this rest: decided anew, paused, asked
    asked: bool  # the start was asked for
    loads: tuple[Load, ...]


@dataclass(frozen=True)
class Decision:
    """A rest decided at `at`, counted from `since`, when the last bout really ended.

    `rest` is the law's; `start` also leaves at least the lead-in from `at` where it is decided
    anew (`why` is then "lead-in" if that came later). `share` and `ceiling`: changeovers only.
    """

    at: int
    since: int
    coming: PlannedSet
    case: Case
    rest: int
    start: int
    why: str
    share: int | None
    ceiling: int | None

    @property
    def anew(self) -> bool:
        return self.at > self.since


@dataclass(frozen=True)
class Happened:
    """An act that did happen, at this instant, with the bout that was coming or running."""

    at: int
    act: Act
    planned_set: PlannedSet


@dataclass(frozen=True)
class Outcome:
    bouts: tuple[Bout, ...]
    decisions: tuple[Decision, ...]
    happened: tuple[Happened, ...]


Expect = Callable[[Exercise, Kind, Side, tuple[Bout, ...]], int]


def static(exercise: Exercise, kind: Kind, side: Side, past: tuple[Bout, ...]) -> int:
    """The expected length never learns."""
    del past
    return exercise.guess(kind, side)


@dataclass(frozen=True)
class Median:
    """Median of the last three work sets done of that exercise on that side, history first."""

    counted: tuple[Status, ...] = ("done",)

    def __call__(self, exercise: Exercise, kind: Kind, side: Side, past: tuple[Bout, ...]) -> int:
        known = list(exercise.history.get(side, ()))
        for bout in past:
            planned_set = bout.planned_set
            same = planned_set.exercise.id == exercise.id and planned_set.side == side
            work = planned_set.exercise.kind(planned_set.round) == "work"
            if same and work and bout.status in self.counted:
                known.append(bout.end - bout.start)
        if kind == "ramp" or not known:
            return exercise.guess(kind, side)
        last = sorted(known[-3:])
        if len(last) != 2:
            return last[len(last) // 2]
        if sum(last) % 2:
            raise InexactError(f"median of {last}")
        return sum(last) // 2


@dataclass(frozen=True)
class Session:
    blocks: tuple[tuple[Exercise, ...], ...]
    lead_in: int
    acts: tuple[Act, ...] = ()
    stations: Mapping[str, int] = field(default_factory=dict)  # change time of each
    stood: Mapping[str, str] = field(default_factory=dict)  # set-up at the start; none: ready
    expect: Expect = static
