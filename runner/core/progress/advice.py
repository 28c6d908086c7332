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

from collections.abc import Callable, Sequence
from typing import Final

from runner.core.progress.downward import drop, easier, flat_lately
from runner.core.progress.history import PastSession
from runner.core.progress.ladder import step_up
from runner.core.progress.proposal import (
    Advice,
    Change,
    ChangeKind,
    Holding,
    RuleName,
    number,
    on_side,
    stay,
    swaps,
)
from runner.core.progress.runs import OVER_GOAL, Judged, at_the_top, run_of
from runner.core.progress.upward import bridge_under_way, harder, load, over_the_hard_ceiling

__all__ = ["Advice", "Change", "ChangeKind", "Holding", "RuleName", "advise"]

QUIET_FOR: Final = 2  # sessions for which refused advice rests; our choice


def advise(holding: Holding, past: Sequence[PastSession]) -> Advice:
    """The advice after the last of `past`, the sessions of this exercise and group, in order.

    Advice that was refused rests for two sessions.
    """
    reason = _nothing_to_judge(past)
    if reason:
        return stay(holding, reason, swaps(holding) if past and past[-1].pain else ())
    if holding.first_set is not None:
        return bridge_under_way(holding, holding.first_set, past)
    found = over_the_hard_ceiling(holding, past)
    if found is None and past[-1].held_back:
        return stay(holding, "this session held back: nothing is judged by it")
    run = run_of(past, holding.use, holding.exercise.reserve)
    if found is None and (not run or run[-1].session is not past[-1]):
        return stay(holding, "nothing was done at the version held")
    rules: tuple[Callable[[], Advice | None], ...] = (
        lambda: found,
        lambda: easier(holding, run, past),
        lambda: load(holding, run, past),
        lambda: harder(holding, run, past),
        lambda: drop(holding, run, past),
        lambda: flat_lately(holding, run, past),
    )
    quiet = ""
    for rule in rules:
        advice = rule()
        if advice is None:
            continue
        if not _rests(advice, holding, past):
            return advice
        quiet = f"{advice.rule} was refused lately and rests"
        if advice is found:
            break
    return stay(holding, quiet or _as_it_stands(holding, run))


def _nothing_to_judge(past: Sequence[PastSession]) -> str:
    if not past:
        return "nothing has been done yet"
    last = past[-1]
    if last.pain:
        return "pain: no change until it is gone; a doctor or physiotherapist, if it stays"
    if last.placing:
        return "placed in this session; from the next one on there is something to beat"
    return "" if last.counted else "no set has a count"


def _rests(advice: Advice, holding: Holding, past: Sequence[PastSession]) -> bool:
    refused = holding.refused.get(advice.rule)
    return refused is not None and sum(s.on > refused for s in past) <= QUIET_FOR


def _as_it_stands(holding: Holding, run: Sequence[Judged]) -> str:
    floor, ceiling = holding.exercise.band
    today, sides = run[-1], on_side(holding)
    text = f"first set {number(today.first)} of {number(floor)} to {number(ceiling)}{sides}"
    if today.first < floor:
        return f"{text}: under the floor once; a second time asks for an easier position"
    if step_up(holding.exercise, holding.index).kind == "load":
        goal = number(ceiling + OVER_GOAL)
        if today.last >= ceiling + OVER_GOAL:
            return f"last set {number(today.last)}{sides}: the same again asks for the next load"
        return f"{text}; the next load comes at {goal} in the last set, twice"
    if at_the_top(today, ceiling):
        return f"{text}: at the top once; the same again asks for the next position"
    return f"{text}: add repetitions where you can"
