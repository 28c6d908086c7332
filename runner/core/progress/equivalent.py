"""The counts that rules go by: what was done, and what was done with the reserve credited.

The bottom of the rep range and the rep limit use repetitions done. The top uses them with the
reserve: a set of 10 that could have been 14 is worth more than one of 11 to the limit. At most
two are credited, and none in sets over 12. Holds have no reserve: their seconds count as they
are. A text that shows a count with reserve says so and names what was done beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from runner.core.progress.history import PastSession, PastSet, Use

# In sets of more repetitions people misjudge what is left: Halperin et al. 2022, Sports Med
# 52:377-390 (the error grows with a slope of 0.47 above 12, 0.06 below).
TRUSTED_TO: Final = 12
# Nearer to the limit the error is about a repetition, with 7 to 10 left over two: Hackett et al.
# 2017, J Strength Cond Res 31:2162-2168. Two at most: our choice.
MOST_CREDITED: Final = 2


def equivalent(reps: float, reserve: int | None, aimed: int, usual_aim: int | None = None) -> float:
    """Repetitions with reserve: reps + (reserve stated - usual aim); never below 0.

    No reserve stated counts as the day's aim, `aimed`. `usual_aim` is the exercise's, where the
    day aimed at more; by default the day's. At most two are credited, none in sets over 12.
    """
    if reps > TRUSTED_TO:
        return reps
    left = aimed if reserve is None else reserve
    credit = left - (aimed if usual_aim is None else usual_aim)
    return max(reps + min(credit, MOST_CREDITED), 0.0)


def doubtful(reps: float, reserve: int | None) -> bool:
    """Whether a stated reserve is worth little: in a set over 12 repetitions (Halperin 2022)."""
    return reserve is not None and reps > TRUSTED_TO


@dataclass(frozen=True, slots=True)
class SetCount:
    """A set as rules judge it; of one-sided work its weaker side."""

    number: int
    value: float  # repetitions with reserve, or seconds of a hold; of the weaker side by that
    beside: float  # repetitions or seconds done, of that same side
    plain: float  # repetitions or seconds done, of the side with fewer
    left: float  # repetitions in reserve, as given or as aimed at; 0 for holds
    doubtful: bool  # a reserve is stated that is worth little

    @property
    def text(self) -> str:
        """The count that the top is held against: 12, or `14 with reserve (12 done)`."""
        if self.value == self.beside:
            return number(self.value)
        return f"{number(self.value)} with reserve ({number(self.beside)} done)"


def number(value: float) -> str:
    """A count in words: whole, or with one decimal."""
    return f"{value:.1f}".removesuffix(".0")


def counts_of(
    session: PastSession, usual_aim: int | None = None, use: Use | None = None
) -> tuple[SetCount, ...]:
    """The counted work sets of a session in their order, at `use` alone where it is given.

    A one-sided set counts where both sides were done, each count by its weaker side.
    """
    sides: dict[int, list[PastSet]] = {}
    for done in session.counted:
        if use is None or done.use == use:
            sides.setdefault(done.number, []).append(done)
    return tuple(
        _count(set_number, both, usual_aim, hold=session.measure == "hold")
        for set_number, both in sides.items()
        if len(both) > 1 or both[0].side == "both"
    )


def _count(number: int, both: list[PastSet], usual_aim: int | None, *, hold: bool) -> SetCount:
    values = [
        (s.value or 0.0)
        if hold
        else equivalent(s.value or 0.0, s.reserve, s.reserve_aimed, usual_aim)
        for s in both
    ]
    value, weaker = min(zip(values, both, strict=True), key=lambda v: (v[0], v[1].value or 0.0))
    stated = weaker.reserve_aimed if weaker.reserve is None else weaker.reserve
    done = weaker.value or 0.0
    return SetCount(
        number,
        value,
        done,
        min(s.value or 0.0 for s in both),
        0.0 if hold else stated,
        doubtful=not hold and doubtful(done, weaker.reserve),
    )


def mean(counts: tuple[SetCount, ...]) -> float:
    """The mean of what was done in some sets; 0 of none."""
    return sum(c.plain for c in counts) / len(counts) if counts else 0.0
