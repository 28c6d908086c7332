"""After a session, one piece of advice for each exercise and group of sets.

Which rule speaks when several could, and why in this order:

1. pain: nothing is proposed. No rule weighs more than that.
2. over the hard ceiling: one set shows it, so it does not wait for a second session.
3. easier: under the floor the sets are too heavy for what the plan wants; all else comes after.
4. load, where the next position is the next load of the same version; else harder. They do not
   mix: a load step is small and has its published rule, a version's step is far larger.
5. drop: the version is right, the sets fall apart.
6. flat: last of those that propose something, for it needs weeks and never hurries.
7. stay.

Judged are equivalent repetitions at what is held, of one-sided work the weaker side. Sessions
that were there for placing or that held back are passed over. A run of sessions ends at a
session with pain, with another version, or before a break of over 14 days.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final, Literal

from runner.core.progress.history import PastSession, Use
from runner.core.progress.marks import RULES, Mark
from runner.core.progress.one_rep_max import Expected
from runner.core.workout import Exercise

RuleName = Literal["harder", "bridge", "load", "easier", "drop", "flat", "stay"]
ChangeKind = Literal[
    "move",  # all sets to the position `index`
    "bridge",  # the first set to the position `index`, the others as they are
    "recovery",  # `seconds` more for each muscle
    "fewer sets",  # one fewer
    "more sets",  # one more
    "easier later",  # the later sets at the position `index`
    "swap",  # the exercise named
    "lighter week",
]

LONGER: Final = 30.0  # seconds of recovery proposed after a drop; our choice
QUIET_FOR: Final = 2  # sessions for which refused advice rests; our choice


@dataclass(frozen=True, slots=True)
class Change:
    """What is proposed, as data; nothing changes until it is accepted."""

    kind: ChangeKind
    text: str  # in a few words
    index: int | None = None  # in the exercise's ladder
    seconds: float | None = None
    exercise: str | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """One line for one exercise and group of sets."""

    exercise: str
    group: str
    rule: RuleName
    reason: str
    change: Change | None = None  # None: go on as before
    others: tuple[Change, ...] = ()  # what else would serve
    expected: Expected | None = None  # repetitions after the change

    @property
    def mark(self) -> Mark:
        """Where the rule comes from, in one word."""
        return RULES[self.rule].mark

    @property
    def line(self) -> str:
        """Rule, mark, reason and what is proposed, in one line."""
        proposed = "" if self.change is None else f" -> {self.change.text}"
        return f"{self.rule} ({self.mark}): {self.reason}{proposed}"


@dataclass(frozen=True, slots=True)
class Holding:
    """What a trainee holds in one exercise and group of sets."""

    exercise: Exercise
    index: int  # in the ladder
    group: str = ""
    first_set: int | None = None  # a bridge: where the first set stands already
    mass: float | None = None  # the body's, kg
    refused: Mapping[RuleName, date] = field(default_factory=dict)  # local dates of refusals

    @property
    def use(self) -> Use:
        """What the sets use."""
        return Use.of(self.exercise.ladder[self.index])


def advise(holding: Holding, past: Sequence[PastSession]) -> Advice:
    """The advice after the last of `past`, the sessions of this exercise and group, in order."""
    return _stay(holding, "nothing has been done yet") if not past else _stay(holding, "")


def _stay(holding: Holding, reason: str) -> Advice:
    return Advice(holding.exercise.id, holding.group, "stay", reason)
