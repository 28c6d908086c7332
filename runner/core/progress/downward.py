"""The rules that do not lead up: easier, drop, falling, flat, one set more."""

from __future__ import annotations

from collections.abc import Sequence

from runner.core.progress.equivalent import number
from runner.core.progress.history import PastSession
from runner.core.progress.ladder import Step, done_in, load_up, step_down
from runner.core.progress.proposal import (
    LONGER,
    Advice,
    Change,
    Holding,
    RuleName,
    at_the_end,
    move,
    named,
    on_side,
    propose,
    swaps,
)
from runner.core.progress.runs import (
    Judged,
    at_the_top,
    dropped,
    falling,
    flat,
    mean_of,
    means_of,
    too_early,
    too_late,
    two_running,
    under_the_floor,
)
from runner.core.progress.upward import expectation, up


def easier(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> Advice | None:
    """The first set under the bottom, two sessions running: one level back.

    Never to a heavier load (see `ladder`). Where there is no easier level: a substitute, or fewer
    repetitions in each set.
    """
    bottom = holding.exercise.band[0]
    if not under_the_floor(run, bottom):
        return None
    row = next(r for r in two_running(run) if max(j.first for j in r) < bottom)
    firsts = " and ".join(number(j.first) for j in row)
    reason = f"first sets of {firsts}, under {number(bottom)} two sessions running"
    reason += on_side(holding)
    step = _down(holding, past)
    if step.kind == "top":
        ways = at_the_end(holding, "an easier set-up")
        ways = ways if holding.exercise.instead else f"or {ways}"
        reason += f"; the plan has no easier level: fewer repetitions for now, {ways}"
        return propose(holding, "easier", reason, None, swaps(holding))
    expected = expectation(holding, step, run[-1].counts[0])
    return propose(holding, "easier", reason, move(holding, step.index), expected=expected)


def drop(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> Advice | None:
    """The last set under half of the first: what has not been tried yet, recovery first."""
    today = run[-1]
    if not dropped(today):
        return None
    reason = f"from {number(today.first)} down to {number(today.last)}{on_side(holding)}"
    step = _down(holding, past)
    ways = [
        Change("recovery", f"{LONGER:.0f} s more recovery", seconds=LONGER),
        Change("fewer sets", "one set fewer"),
    ]
    if step.kind != "top":
        later = f"later sets with {named(holding, step.index)}"
        ways.append(Change("easier later", later, step.index))
    return _untried(holding, "drop", reason, ways)


def fallen(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> Advice | None:
    """Four sessions running downwards, by a fifth: a lighter week, or the level before.

    Counted from the last advice that was accepted.
    """
    window = falling(_since(holding, run))
    if not window:
        return None
    firsts = ", ".join(number(j.first) for j in window)
    reason = f"first sets of {firsts}: falling four sessions running{on_side(holding)}"
    ways = [_lighter(holding)]
    step = _down(holding, past)
    if step.kind != "top":
        ways.append(move(holding, step.index))
    return _untried(holding, "falling", reason, ways)


def flat_lately(
    holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]
) -> Advice | None:
    """Weeks without change, counted from the last advice that was accepted.

    Where sets end too early, that is mended first. At the top of the band the next load comes,
    though its rule has not asked for it; where the last first set is there, that rule is left to
    ask. Then what has not been tried yet: a substitute, and a lighter week of the exercise.
    Before those comes one set more where the planned week is under its aim, as its own rule.
    """
    window = flat(_since(holding, run))
    if not window or too_early(run):
        return None
    weeks = (window[-1].session.on - window[0].session.on).days // 7
    average = mean_of(means_of(window))
    reason = f"{len(window)} sessions in {weeks} weeks at {number(average)} a set, within 5 %"
    step = load_up(holding.exercise, holding.index, holding.mass)
    if step.kind == "load" and all(at_the_top(j, holding.exercise.band[1]) for j in window):
        best = window[-1].counts[0]
        risen = up(holding, "flat", f"{reason}, at the top", best, past)
        if risen is not None:
            return risen
    if run[-1].counts[0].value >= holding.exercise.band[1]:
        return None
    ways = (*swaps(holding), _lighter(holding))
    more = Change("more sets", "one set more for some weeks")
    if holding.room and more.kind not in holding.tried and not too_late(run):
        reason += "; the planned week is under its aim"
        return propose(holding, "one set more", reason, more, ways)
    return _untried(holding, "flat", reason, ways)


def _lighter(holding: Holding) -> Change:
    own = holding.exercise
    return Change("lighter week", f"a lighter week of {own.name}", exercise=own.id)


def _since(holding: Holding, run: Sequence[Judged]) -> list[Judged]:
    """The sessions after the last advice that was accepted."""
    return [j for j in run if holding.since is None or j.session.on > holding.since]


def _down(holding: Holding, past: Sequence[PastSession]) -> Step:
    done = done_in(holding.exercise, past)
    return step_down(holding.exercise, holding.index, holding.mass, done)


def _untried(holding: Holding, rule: RuleName, reason: str, ways: Sequence[Change]) -> Advice:
    """The first way that was not accepted here before is proposed, the rest named beside it."""
    new = [way for way in ways if way.kind not in holding.tried]
    old = [way for way in ways if way.kind in holding.tried]
    if not new:
        reason += "; all that the plan has was tried: another exercise or rep range would be new"
        return propose(holding, rule, reason, None, tuple(old))
    return propose(holding, rule, reason, new[0], (*new[1:], *old))
