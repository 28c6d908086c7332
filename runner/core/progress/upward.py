"""The rules that lead up: hard ceiling, load, harder, and the bridge between two versions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from runner.core.progress.equivalent import SetCount, counts_of
from runner.core.progress.history import PastSession, Use
from runner.core.progress.ladder import MOST_STEP, Step, expect, load_up, step_up
from runner.core.progress.one_rep_max import Expected
from runner.core.progress.proposal import (
    Advice,
    Change,
    Holding,
    RuleName,
    move,
    named,
    number,
    on_side,
    propose,
    stay,
    swaps,
)
from runner.core.progress.runs import (
    RUNNING,
    Judged,
    at_the_top,
    last_there,
    run_of,
    two_for_two,
)

DOUBT: Final = (
    "; a reserve stated in a set over 12 decides here, and is worth little (Halperin 2022)"
)


def over_the_hard_ceiling(holding: Holding, past: Sequence[PastSession]) -> Advice | None:
    """A set over the hard ceiling in the last session: up, at once. Holds have none."""
    exercise = holding.exercise
    if exercise.measure == "hold":
        return None
    counts = counts_of(past[-1], exercise.reserve, holding.use)
    most = max(counts, key=lambda c: c.plain, default=None)
    if most is None or most.plain <= exercise.hard_ceiling:
        return None
    reason = f"{number(most.plain)} in a set, over the hard ceiling of {exercise.hard_ceiling}"
    return up(holding, "harder", reason, most, past)


def load(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> Advice | None:
    """2-for-2, where the next position is the next load of the version."""
    exercise, goal = holding.exercise, holding.exercise.band[1]
    step = load_up(exercise, holding.index, holding.mass)
    if step.kind != "load" or not two_for_two([j.last for j in run], goal):
        return None
    lasts = " and ".join(number(j.last) for j in run[-RUNNING:])
    reason = f"last sets of {lasts}, two over {number(goal)} twice running{on_side(holding)}"
    if not two_for_two([j.trusted.last for j in run], goal):
        reason += DOUBT
    return up(holding, "load", reason, run[-1].counts[0], past)


def harder(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> Advice | None:
    """At the top of the band twice running, where the next position is no load."""
    exercise, ceiling = holding.exercise, holding.exercise.band[1]
    if step_up(exercise, holding.index, holding.mass).kind == "load":
        return None
    latest = run[-RUNNING:]
    if len(latest) < RUNNING or not all(at_the_top(j, ceiling) for j in latest):
        return None
    today = latest[-1]
    reason = (
        f"first set {number(today.first)}, on average {number(today.mean)}, twice running at the "
        f"top of {number(ceiling)}{on_side(holding)}"
    )
    if not all(at_the_top(j.trusted, ceiling) for j in latest):
        reason += DOUBT
    return up(holding, "harder", reason, today.counts[0], past)


def up(
    holding: Holding,
    rule: RuleName,
    reason: str,
    best: SetCount,
    past: Sequence[PastSession],
) -> Advice:
    """One position up, if the step is not too large; else a bridge, or repetitions first.

    Where the trainee has been at the new position and reached the floor, that says more than
    any equation.
    """
    exercise = holding.exercise
    step = load_up(exercise, holding.index, holding.mass)
    if step.kind == "top":
        return stay(holding, f"{reason}; this is the hardest position", swaps(holding))
    there = last_there(past, Use.of(exercise.ladder[step.index]), exercise.reserve)
    known = there is not None and there[0] >= exercise.band[0]
    expected = None if known else expectation(holding, step, best)
    if there is not None and known:
        reason += f"; {number(there[0])} there on {there[1]:%d %b}"
    small = step.kind != "load" or not _too_far(step, expected, exercise.band[0])
    if not small:
        reason += f"; but the next load is {100 * ((step.ratio or 1) - 1):.0f} % more"
    if small or best.plain > exercise.hard_ceiling:
        return _step_or_bridge(holding, rule, reason, step, expected)
    to = move(holding, step.index)
    return propose(holding, rule, f"{reason}: more repetitions first", None, (to,))


def _step_or_bridge(
    holding: Holding, rule: RuleName, reason: str, step: Step, expected: Expected | None
) -> Advice:
    to = move(holding, step.index)
    bridge = Change("bridge", f"the first set with {named(holding, step.index)}", step.index)
    # As whole repetitions, as they are shown: 7.9 is no reason where the floor is 8.
    under = expected is not None and round(expected.low) < holding.exercise.band[0]
    if step.kind != "version":
        return propose(holding, rule, reason, to, expected=expected)
    first, other = (bridge, to) if under else (to, bridge)
    return propose(holding, rule, reason, first, (other,), expected=expected)


def _too_far(step: Step, expected: Expected | None, floor: float) -> bool:
    """Whether a load step is over 10 % of the load moved, and likely to fall under the floor.

    Likely: by the median of the equations. Their lowest would have nobody ever pack a third
    bottle, their highest is far too hopeful there.
    """
    far = step.ratio is not None and step.ratio > MOST_STEP
    return far and expected is not None and expected.middle < floor


def bridge_under_way(holding: Holding, index: int, past: Sequence[PastSession]) -> Advice:
    """A bridge: the first set stands at `index`, the others where they were."""
    floor = holding.exercise.band[0]
    new = Use.of(holding.exercise.ladder[index])
    latest = run_of(past, new, holding.exercise.reserve)[-RUNNING:]
    firsts = [j.first for j in latest]
    where = f"{named(holding, index)} in the first set"
    if len(firsts) < RUNNING or min(firsts) < floor <= max(firsts):
        so_far = f"{number(firsts[-1])}, floor {number(floor)}" if firsts else "nothing yet"
        return stay(holding, f"bridge: {where}: {so_far}; twice at the floor crosses it")
    counts = " and ".join(map(number, firsts))
    reached = min(firsts) >= floor
    doubt = "" if all((j.trusted.first >= floor) == reached for j in latest) else DOUBT
    if reached:
        change = Change("move", f"all sets with {named(holding, index)}", index)
        return propose(holding, "bridge", f"{where}: {counts}, at the floor twice{doubt}", change)
    back = move(holding, holding.index)
    return propose(holding, "bridge", f"{where}: {counts}, under the floor twice{doubt}", back)


def expectation(holding: Holding, step: Step, best: SetCount) -> Expected | None:
    """Repetitions to expect after a step, at the reserve aimed at; None for holds."""
    if holding.exercise.measure == "hold":
        return None
    return expect(step, best.plain, best.left, holding.exercise.reserve)
