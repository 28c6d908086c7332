"""Equivalent repetitions: what was done and what was left, less what was to be left.

So a set of 10 that could have been 14 is worth more than one of 11 to the limit. Holds have no
reserve: their seconds count as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from runner.core.progress.history import PastSession, PastSet, Use

# In sets of more repetitions people misjudge what is left: Halperin et al. 2022, Sports Med
# 52:377-390 (the error grows with a slope of 0.47 above 12, 0.06 below).
TRUSTED_TO: Final = 12


def equivalent(reps: float, reserve: int | None, aimed: int, usual_aim: int | None = None) -> float:
    """Reps + (reserve - reserve aimed at); no reserve given counts as aimed at.

    `usual_aim` is what repetitions are to be compared at, where a session aimed at more than
    usual; by default what was aimed at. Never below 0.
    """
    left = aimed if reserve is None else reserve
    return max(reps + left - (aimed if usual_aim is None else usual_aim), 0.0)


def doubtful(reps: float, reserve: int | None) -> bool:
    """Whether a stated reserve is worth little: in a set over 12 repetitions (Halperin 2022)."""
    return reserve is not None and reps > TRUSTED_TO


@dataclass(frozen=True, slots=True)
class SetCount:
    """A set as rules judge it; of one-sided work its weaker side."""

    number: int
    value: float  # equivalent repetitions, or seconds of a hold
    plain: float  # repetitions or seconds as done, of the same side
    left: float  # repetitions in reserve, as given or as aimed at; 0 for holds
    doubtful: bool  # a stated reserve decides here that is worth little
    recovery_short: bool  # recovery under the least in force

    @property
    def trusted(self) -> SetCount:
        """The same with a reserve that is worth little left aside."""
        return replace(self, value=self.plain, doubtful=False) if self.doubtful else self


def counts_of(
    session: PastSession, usual_aim: int | None = None, use: Use | None = None
) -> tuple[SetCount, ...]:
    """The counted work sets of a session in their order, at `use` alone where it is given.

    A one-sided set counts where both sides were done; the weaker side is taken, by equivalent
    repetitions.
    """
    sides: dict[int, list[PastSet]] = {}
    for done in session.counted:
        if use is None or done.use == use:
            sides.setdefault(done.number, []).append(done)
    found = []
    for number, both in sides.items():
        if len(both) < 2 and both[0].side != "both":
            continue
        counts = [_count(number, s, session.measure == "hold", usual_aim) for s in both]
        found.append(min(counts, key=lambda c: (c.value, c.plain)))
    return tuple(found)


def _count(number: int, done: PastSet, hold: bool, usual_aim: int | None) -> SetCount:  # noqa: FBT001
    plain = done.value or 0.0
    short = (
        done.recovery is not None
        and done.recovery_least is not None
        and done.recovery < done.recovery_least
    )
    if hold:
        return SetCount(number, plain, plain, 0.0, doubtful=False, recovery_short=short)
    left = done.reserve_aimed if done.reserve is None else done.reserve
    value = equivalent(plain, done.reserve, done.reserve_aimed, usual_aim)
    moved = doubtful(plain, done.reserve) and value != plain
    return SetCount(number, value, plain, left, doubtful=moved, recovery_short=short)


def mean(counts: tuple[SetCount, ...]) -> float:
    """The mean of some sets; 0 of none."""
    return sum(c.value for c in counts) / len(counts) if counts else 0.0
