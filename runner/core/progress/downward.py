"""The rules that do not lead up: easier, drop, flat."""

from __future__ import annotations

from collections.abc import Sequence

from runner.core.progress.history import PastSession
from runner.core.progress.ladder import Step, load_up, step_down
from runner.core.progress.proposal import (
    LONGER,
    Advice,
    Change,
    Holding,
    RuleName,
    move,
    named,
    number,
    on_side,
    propose,
    swaps,
)
from runner.core.progress.runs import RUNNING, Judged, at_the_top, dropped, flat, under_the_floor
from runner.core.progress.upward import DOUBT, expectation, up


def easier(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> Advice | None:
    """The first set under the floor in both of the last two sessions: one position back."""
    floor = holding.exercise.band[0]
    if not under_the_floor(run, floor):
        return None
    firsts = " and ".join(number(j.first) for j in run[-RUNNING:])
    reason = f"first sets of {firsts}, under the floor of {number(floor)}{on_side(holding)}"
    if not under_the_floor([j.trusted for j in run], floor):
        reason += DOUBT
    step = _down(holding, past)
    if step.kind == "top":
        reason += "; this is the easiest: fewer sets, each to the reserve aimed at"
        return propose(holding, "easier", reason, None, swaps(holding))
    expected = expectation(holding, step, run[-1].counts[0])
    return propose(holding, "easier", reason, move(holding, step.index), expected=expected)


def drop(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> Advice | None:
    """The last set under half of the first: what has not been tried yet, recovery first."""
    today = run[-1]
    if not dropped(today):
        return None
    reason = f"from {number(today.first)} down to {number(today.last)}{on_side(holding)}"
    if not dropped(today.trusted):
        reason += DOUBT
    step = _down(holding, past)
    ways = [
        Change("recovery", f"{LONGER:.0f} s more recovery", seconds=LONGER),
        Change("fewer sets", "one set fewer"),
    ]
    if step.kind != "top":
        later = f"later sets with {named(holding, step.index)}"
        ways.append(Change("easier later", later, step.index))
    if any(c.recovery_short for c in today.counts):
        reason += ", with less recovery than the least aimed at: wait it out first"
        return propose(holding, "drop", reason, None, tuple(ways[1:]))
    return _untried(holding, "drop", reason, ways)


def flat_lately(
    holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]
) -> Advice | None:
    """Weeks without change, counted from the last advice that was accepted.

    Stopping too early is mended first; at the top of the band the next load comes, though
    2-for-2 has not asked for it; then what has not been tried yet: one set more where the week
    has room, a substitute, and a lighter week last, for it is the whole week's.
    """
    window = flat([j for j in run if holding.since is None or j.session.on > holding.since])
    if not window:
        return None
    weeks = (window[-1].session.on - window[0].session.on).days // 7
    average = sum(j.mean for j in window) / len(window)
    reason = f"{len(window)} sessions in {weeks} weeks at {number(average)} a set, within 5 %"
    left = [c.left for j in window for c in j.counts]
    usual = sum(left) / len(left)
    if holding.exercise.measure == "reps" and usual >= holding.exercise.reserve + 1:
        aimed = holding.exercise.reserve
        reason += f"; you stop with {number(usual)} left, {aimed} are aimed at: go nearer first"
        sure = [c.left for j in window for c in j.counts if not c.doubtful]
        if sum(sure) < (aimed + 1) * len(sure) or not sure:
            reason += DOUBT
        return propose(holding, "flat", reason)
    if not flat([j.trusted for j in window]):
        reason += DOUBT
    step = load_up(holding.exercise, holding.index, holding.mass)
    if step.kind == "load" and all(at_the_top(j, holding.exercise.band[1]) for j in window):
        return up(holding, "flat", f"{reason}, at the top", window[-1].counts[0], past)
    ways = [*swaps(holding), Change("lighter week", "a lighter week")]
    if holding.room:
        ways.insert(0, Change("more sets", "one set more for some weeks"))
    return _untried(holding, "flat", reason, ways)


def _down(holding: Holding, past: Sequence[PastSession]) -> Step:
    uses = [s.use for p in past for s in p.counted]
    return step_down(holding.exercise, holding.index, holding.mass, uses)


def _untried(holding: Holding, rule: RuleName, reason: str, ways: Sequence[Change]) -> Advice:
    """The first way that was not accepted here before is proposed, the rest named beside it."""
    new = [way for way in ways if way.kind not in holding.tried]
    old = [way for way in ways if way.kind in holding.tried]
    if not new:
        return propose(
            holding, rule, f"{reason}; all that the plan has was tried", None, tuple(old)
        )
    return propose(holding, rule, reason, new[0], (*new[1:], *old))
