"""The one-repetition maximum from repetitions to failure, by the published equations.

w is the load, r the repetitions to failure; every equation gives w times a factor of r. Within its
validity an equation extends a measurement a little; outside, it guesses. So an estimate is a range
over the valid equations, and without one there is no estimate.

The equations agree to 10 repetitions and diverge above; one of them breaks at 37. Where a trainee
has been at a level before, that count is named instead.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, inf, isfinite, log
from statistics import median
from typing import Final

from msgspec import Struct


class Equation(Struct, frozen=True):
    """One published equation."""

    name: str
    factor: Callable[[float], float]  # 1RM / w at r repetitions
    reps: Callable[[float], float]  # the inverse: r at 1RM / w; may be infinite
    valid_to: int  # repetitions
    breaks_at: float  # where it cannot be used at all any more
    lift: str | None  # the one lift that it was made for; None for any
    source: str


def _log_or(value: float, scale: float) -> float:
    """Repetitions of a saturating equation; infinite where it has saturated."""
    return -log(value) / scale if value > 0 else inf


EQUATIONS: Final[tuple[Equation, ...]] = (
    Equation(
        "Epley",
        lambda r: 1 + r / 30,
        lambda k: 30 * (k - 1),
        10,
        inf,
        None,
        "Epley 1985, Poundage chart",
    ),
    Equation(
        "Brzycki",
        lambda r: 36 / (37 - r),
        lambda k: 37 - 36 / k,
        10,
        37,
        None,
        "Brzycki 1993, J Phys Educ Rec Dance 64:88-90; formula from memory",
    ),
    Equation(
        "Lander",
        lambda r: 100 / (101.3 - 2.67123 * r),
        lambda k: (101.3 - 100 / k) / 2.67123,
        10,
        101.3 / 2.67123,
        None,
        "Lander 1985, NSCA J 6(6):60-61; from memory",
    ),
    Equation(
        "Lombardi",
        lambda r: r**0.10,
        lambda k: k**10,
        10,
        10.000001,  # too flat above 10
        None,
        "Lombardi 1989, Beginning Weight Training; from memory",
    ),
    Equation(
        "Mayhew",
        lambda r: 100 / (52.2 + 41.9 * exp(-0.055 * r)),
        lambda k: _log_or((100 / k - 52.2) / 41.9, 0.055),
        15,
        inf,
        "bench press",
        "Mayhew et al. 1992, J Appl Sport Sci Res 6:200-206",
    ),
    Equation(
        "O'Conner",
        lambda r: 1 + 0.025 * r,
        lambda k: 40 * (k - 1),
        10,
        inf,
        None,
        "O'Conner, Simmons, O'Shea 1989, Weight Training Today; from memory",
    ),
    Equation(
        "Wathan",
        lambda r: 100 / (48.8 + 53.8 * exp(-0.075 * r)),
        lambda k: _log_or((100 / k - 48.8) / 53.8, 0.075),
        15,
        inf,
        None,
        "Wathan 1994, in Essentials of Strength Training and Conditioning; from memory",
    ),
)

SURE_TO: Final = 10  # linear equations not above: Reynolds, Gordon, Robergs 2006
CAUTION_TO: Final = 15


class Maximum(Struct, frozen=True):
    """An estimated one-repetition maximum: a range in the unit of the load."""

    low: float
    high: float
    names: tuple[str, ...]  # of the equations that hold
    caution: bool  # 11 to 15 repetitions: few equations hold


class ExpectedReps(Struct, frozen=True):
    """Repetitions to expect: a range."""

    low: float
    high: float
    middle: float  # the median of the equations; never to be shown without the range
    extrapolated: bool  # outside the validity of the equations
    names: tuple[str, ...] = ()


def estimate(name: str, load: float, reps: float) -> float:
    """One equation's maximum, inside its validity or not.

    Raises ValueError where it breaks, for repetitions under 1 and for a load of 0 or less.
    """
    equation = next(e for e in EQUATIONS if e.name == name)
    if not load > 0 or not isfinite(load):
        raise ValueError(f"no maximum can be estimated from a load of {load:g}")
    if not reps >= 1:
        raise ValueError(f"no maximum can be estimated from {reps:g} repetitions")
    if reps >= equation.breaks_at:
        raise ValueError(f"{name} breaks at {equation.breaks_at:g} repetitions")
    return load * equation.factor(reps)


def maximum(load: float | None, reps: float) -> Maximum | None:
    """The range over the equations inside their validity; None where none holds.

    None as well for a load that is unknown or not above 0, and for less than one repetition.
    An equation of one lift alone is left out: a plan does not say that an exercise is that lift.
    """
    if load is None or not load > 0 or not 1 <= reps <= CAUTION_TO:
        return None
    hold = [e for e in EQUATIONS if reps <= e.valid_to and e.lift is None]
    values = [estimate(e.name, load, reps) for e in hold]
    return Maximum(min(values), max(values), tuple(e.name for e in hold), reps > SURE_TO)


def expected_reps(ratio: float, reps: float) -> ExpectedReps | None:
    """Repetitions to failure to expect at `ratio` times the load at which `reps` were done.

    Over the equations that hold for both counts; where fewer than two do, over all that do not
    break, and `extrapolated`. None where nothing can be said: a ratio of 0 or less, under 1
    repetition. An equation that has saturated expects no end; it is left out.
    """
    if not ratio > 0 or not isfinite(ratio) or not reps >= 1:
        return None
    usable = [e for e in EQUATIONS if reps < e.breaks_at]
    found = [(e, max(e.reps(e.factor(reps) / ratio), 0.0)) for e in usable]
    found = [(e, r) for e, r in found if isfinite(r) and r < e.breaks_at]
    inside = [(e, r) for e, r in found if e.lift is None and max(reps, r) <= e.valid_to]
    sure = len(inside) > 1
    chosen = inside if sure else found
    values = [r for _, r in chosen]  # one at least: lines like O'Conner's never saturate
    names = tuple(e.name for e, _ in chosen)
    return ExpectedReps(min(values), max(values), median(values), not sure, names)
