"""The rucksack: from the repetitions at this load to the goal, which load to add.

Inside the validity of the equations the answer is a range, rounded down to what can be packed,
and the change is held to 2 to 10 % of the load moved (ACSM 2009, Ratamess et al., Med Sci Sports
Exerc 41:687-708). Above that the equations are guesses: one increment, a wide expectation, and
after two loads the person's own repetitions per kilogram.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from runner.core.progress.ladder import LEAST_STEP, MOST_STEP
from runner.core.progress.marks import Mark
from runner.core.progress.one_rep_max import (
    CAUTION_TO,
    EQUATIONS,
    SURE_TO,
    Expected,
    expected_reps,
)

Answer = Literal["range", "one increment", "own measure", "more reps first", "stay", "top"]
_EXACT = 1e-9


@dataclass(frozen=True, slots=True)
class Packed:
    """What is done now."""

    reps: float  # to failure: with the reserve
    added: float  # kg
    moved: float | None  # kg, share of body mass and added load; None where it is unknown
    loads: tuple[float, ...]  # that can be set, kg added
    goal: float  # repetitions to failure wanted after the change
    own: tuple[tuple[float, float], ...] = ()  # (kg added, repetitions to failure), oldest first


@dataclass(frozen=True, slots=True)
class Rucksack:
    """Which load to add."""

    answer: Answer
    low: float  # kg added; the same as `high` where one load is named
    high: float
    expected: Expected | None
    mark: Mark
    text: str


def rucksack(now: Packed) -> Rucksack:
    """The load to add for the goal. Raises ValueError for repetitions under 1 or a goal under 1.

    Fewer repetitions than the goal want no more load.
    """
    if now.reps < 1 or now.goal < 1:
        raise ValueError("repetitions to go by, and the goal, are 1 or more")
    heavier = [load for load in sorted(now.loads) if load > now.added]
    if not heavier:
        return _same(now, "top", "this is the heaviest load of the plan", "our choice")
    if now.reps <= now.goal:
        text = f"{now.reps:g} of {now.goal:g}: more repetitions before more kg"
        return _same(now, "stay", text, "common practice")
    step = heavier[0] - now.added
    if now.moved and step > (MOST_STEP - 1) * now.moved + _EXACT:
        share = 100 * step / now.moved
        text = f"the smallest step is {share:.0f} % of the load moved: more repetitions first"
        return _same(now, "more reps first", text, "our choice")
    slope = own_slope(now.own)
    if slope is not None and now.reps > SURE_TO:
        return _by_own_measure(now, heavier, slope)
    if now.moved and now.reps <= CAUTION_TO:
        return _inside(now, heavier, now.moved)
    return _one_increment(now, heavier)


def _same(now: Packed, answer: Answer, text: str, mark: Mark) -> Rucksack:
    return Rucksack(answer, now.added, now.added, None, mark, text)


def _inside(now: Packed, heavier: Sequence[float], moved: float) -> Rucksack:
    """The range over the equations that hold, within 2 to 10 %, rounded down."""
    hold = [e for e in EQUATIONS if e.lift is None and now.reps <= e.valid_to]
    totals = [moved * e.factor(now.reps) / e.factor(now.goal) for e in hold]
    low, high = (_rounded(now, heavier, total - moved, moved) for total in _ends(totals))
    expected = expected_reps((moved + low - now.added) / moved, now.reps)
    caution = ", few equations hold above 10" if now.reps > SURE_TO else ""
    kg = f"{low:g} kg" if low == high else f"{low:g} to {high:g} kg"
    text = f"{kg} for about {now.goal:g} repetitions{caution}"
    return Rucksack("range", low, high, expected, "published", text)


def _ends(values: Sequence[float]) -> tuple[float, float]:
    return min(values), max(values)


def _rounded(now: Packed, heavier: Sequence[float], more: float, moved: float) -> float:
    """A load that can be set: rounded down, its change between 2 and 10 % where that can be.

    At least the smallest load that is more than now: it has been found to be within 10 %.
    """
    least, most = (LEAST_STEP - 1) * moved, (MOST_STEP - 1) * moved
    wanted = now.added + min(max(more, least), most)
    fits = [load for load in heavier if load <= wanted + _EXACT]
    return fits[-1] if fits else heavier[0]


def _one_increment(now: Packed, heavier: Sequence[float]) -> Rucksack:
    """The smallest step of 2 % or more; its expectation is made wide on purpose."""
    if not now.moved:
        text = f"{heavier[0]:g} kg; how many repetitions then, nobody can say"
        return Rucksack("one increment", heavier[0], heavier[0], None, "our choice", text)
    load = _rounded(now, heavier, 0.0, now.moved)
    least = now.added + (LEAST_STEP - 1) * now.moved
    further = next((h for h in heavier if h >= least - _EXACT), load)
    if further - now.added <= (MOST_STEP - 1) * now.moved + _EXACT:
        load = further
    expected = _widened(now, expected_reps((now.moved + load - now.added) / now.moved, now.reps))
    guess = "nobody can say how many repetitions then"
    if expected is not None:
        guess = f"expect {expected.low:.0f} to {expected.high:.0f}, a wide guess"
    return Rucksack("one increment", load, load, expected, "our choice", f"{load:g} kg; {guess}")


def _widened(now: Packed, found: Expected | None) -> Expected | None:
    """The range with the loss at its low end doubled: our choice.

    The equations agree about a small step far better than people do: at 60 % of the maximum they
    did 29.9 squats with a standard deviation of 7.4 (J Strength Cond Res 2019, 33(3)).
    """
    if found is None:
        return None
    low = max(now.reps - 2 * (now.reps - found.low), 0.0)
    return Expected(low, max(found.high, low), found.middle, extrapolated=True, names=found.names)


def own_slope(own: Sequence[tuple[float, float]]) -> float | None:
    """Repetitions lost for each kg added, from the last counts at the last two loads.

    None before two loads are known, and where more load did not cost repetitions: then the
    person has grown stronger meanwhile, and the two do not compare.
    """
    latest = dict(own)
    if len(latest) < 2:
        return None
    loads = list(dict.fromkeys(load for load, _ in reversed(own)))
    new, old = loads[0], loads[1]
    slope = (latest[old] - latest[new]) / (new - old)
    return slope if slope > 0 else None


def _by_own_measure(now: Packed, heavier: Sequence[float], slope: float) -> Rucksack:
    most = (MOST_STEP - 1) * now.moved if now.moved else heavier[0] - now.added
    wanted = now.added + min((now.reps - now.goal) / slope, most)
    fits = [load for load in heavier if load <= wanted + _EXACT]
    load = fits[-1] if fits else heavier[0]
    reps = max(now.reps - slope * (load - now.added), 0.0)
    text = f"{load:g} kg; by your own {slope:.1f} repetitions a kg expect about {reps:.0f}"
    return Rucksack(
        "own measure", load, load, Expected(reps, reps, reps, extrapolated=True), "our choice", text
    )
