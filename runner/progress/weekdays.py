"""The week of a plan: how many sessions it holds, and on which days muscles have time to recover.

Sessions are assumed to begin at the same hour, so two days between them are 48 h. A week has at
most 35 choices of as many days, so all are tried, over as many weeks as the plan's sessions take to
come round. The order is the plan's: the session after the last one is due.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from math import lcm
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from runner.progress.weeks import HOURS_BETWEEN

DAYS: Final = 7


class Visit(Struct, frozen=True):
    """One session on one day of the sequence."""

    session: int  # index among the plan's sessions
    week: int  # 0, 1, …
    day: int  # 0 Monday to 6 Sunday


class Short(Struct, frozen=True):
    """A muscle that two sessions train as a prime mover with less than 48 h between."""

    muscle: str
    hours: int
    before: Visit
    after: Visit  # of the first week, where the sequence begins again


class Days(Struct, frozen=True):
    """Days suggested, the same in every week, and who trains on them."""

    days: tuple[int, ...]  # 0 Monday to 6 Sunday; empty where a week has more sessions than days
    visits: tuple[Visit, ...]  # until the sequence repeats itself
    short: tuple[Short, ...]
    given: bool = False  # by the plan

    @property
    def weeks(self) -> int:
        """After that many weeks the sequence repeats itself."""
        return self.visits[-1].week + 1 if self.visits else 0


def sessions_a_week(planned: int, aim: tuple[int, int] | None) -> int:
    """How many sessions are counted for a week: every session of the plan, kept to its aim.

    `planned` is the number of sessions in the plan, `aim` its (from, to) of sessions a week or
    None. So three sessions aiming at 3 to 4 count as three, and two aiming at 3 to 4 as three,
    in turn. At least one.
    """
    if aim is None:
        return planned
    return max(1, min(max(planned, aim[0]), aim[1]))


def suggest(prime: Sequence[frozenset[str]], number: int, given: Sequence[int] = ()) -> Days:
    """Days for `number` sessions a week, the plan's sessions in turn in their order.

    Where the plan names its days, those are `given`.

    `prime` has the prime movers of each session of the plan. Every choice of days is tried.
    Best is the one with the fewest hours under 48 between two sessions for the same muscle
    (summed over muscles, until the sequence repeats itself, and over its end); among those the
    most even; among those the one that begins earliest in the week.
    """
    if prime and given:
        return replace(_days(prime, tuple(sorted(given))), given=True)
    choices = combinations(range(DAYS), number) if prime else ()
    best = min(
        ((_missing(found := _days(prime, days)), _uneven(days), days, found) for days in choices),
        key=lambda choice: choice[:3],
        default=None,
    )
    return Days((), (), ()) if best is None else best[3]


def following(number: int, days: Sequence[int] = ()) -> tuple[tuple[int, int], ...]:
    """Sessions that fall on following days, by their places; `days` are 0 Monday to 6 Sunday.

    Without days, those that lie most evenly in the week. The last session is followed by the
    first of the next week.
    """
    chosen = tuple(sorted(days)) if days else min(combinations(range(DAYS), number), key=_uneven)
    around = [*range(len(chosen)), 0]
    return tuple(
        (before, after)
        for before, after in pairwise(around)
        if (chosen[after] - chosen[before]) % DAYS == 1
    )


def _days(prime: Sequence[frozenset[str]], days: tuple[int, ...]) -> Days:
    visits = tuple(
        Visit(turn % len(prime), turn // len(days), days[turn % len(days)])
        for turn in range(lcm(len(prime), len(days)))
    )
    return Days(days, visits, tuple(_short(prime, visits)))


def _short(prime: Sequence[frozenset[str]], visits: Sequence[Visit]) -> Iterator[Short]:
    weeks = visits[-1].week + 1
    for muscle in sorted(frozenset[str]().union(*prime)):
        here = [visit for visit in visits if muscle in prime[visit.session]]
        for before, after in pairwise([*here, here[0]]):
            ahead = (after.week - before.week) * DAYS + after.day - before.day
            hours = 24 * (ahead if ahead > 0 else ahead + weeks * DAYS)
            if hours < HOURS_BETWEEN:
                yield Short(muscle, hours, before, after)


def _missing(found: Days) -> float:
    return sum(HOURS_BETWEEN - short.hours for short in found.short)


def _uneven(days: tuple[int, ...]) -> int:
    """The smaller, the more evenly the days lie in the week: the sum of the gaps' squares."""
    return sum((after - before) ** 2 for before, after in pairwise([*days, days[0] + DAYS]))
