"""After a session, one piece of advice for each exercise and group of sets.

Which rule speaks when several could, and why in this order:

1. pain: no step up where it hurt. No rule weighs more than that.
2. layoff: no step up before two sessions have shown that the strength is back.
3. over the rep limit: one set shows it, so it does not wait for a second session.
4. easier: under the bottom the sets are too heavy for what the plan wants; all else comes after.
5. up: a small step, or one that asks for more.
6. drop: the version is right, the sets fall apart.
7. falling: the sets get worse from session to session.
8. flat, and one set more: last, for they need weeks and never hurry.
9. stay.

Where pain or a layoff rules out a step up, the rules that lead down still speak. Sessions that
were there for placing or that held back are passed over, and sets without their least recovery.
A message that asks for no answer shows once, and again after three sessions; pain and a layoff
are no messages but a state, and always show.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from runner.core.progress.breaks import not_back_yet
from runner.core.progress.downward import drop, easier, fallen, flat_lately
from runner.core.progress.equivalent import number
from runner.core.progress.history import PastSession
from runner.core.progress.proposal import (
    Advice,
    Change,
    ChangeKind,
    Holding,
    RuleName,
    on_side,
    propose,
    stay,
)
from runner.core.progress.remarks import once
from runner.core.progress.runs import Judged, run_of
from runner.core.progress.upward import (
    bridge_under_way,
    over_the_hard_ceiling,
    step_ready,
    still_needs,
)

__all__ = ["Advice", "Change", "ChangeKind", "Holding", "RuleName", "advise"]

QUIET_FOR: Final = 2  # sessions for which refused advice rests; our choice
_HURT: Final = "no step up until it is gone; a doctor or physiotherapist, if it stays"


def advise(holding: Holding, past: Sequence[PastSession]) -> Advice:
    """The advice after the last of `past`, the sessions of this exercise and group, in order.

    Advice that was refused rests for two sessions. A session in which every set was left out is
    none of this exercise.
    """
    past = [s for s in past if s.begun]
    given = _first(holding, past)
    if given.rule in ("stay", "pain", "layoff") or once(_first, holding, past) is not None:
        return given
    said = f"{given.reason}; said lately"
    return stay(holding, said, given.others)


def _first(holding: Holding, past: Sequence[PastSession]) -> Advice:
    """What the first rule says that has something to say."""
    if past and past[-1].pain:
        return propose(holding, "pain", holding.pain or _HURT)
    no_step = _no_step_up(holding, past)
    reason = _nothing_to_judge(past)
    if reason:
        return no_step or stay(holding, reason)
    if no_step is None:
        return _any(holding, past)
    if holding.layoff is not None and holding.layoff.back is None:
        return no_step  # what was done before it says little of the next session
    return _down(holding, past) or no_step


def _no_step_up(holding: Holding, past: Sequence[PastSession]) -> Advice | None:
    if holding.pain:
        return propose(holding, "pain", holding.pain)
    away = not_back_yet(holding.layoff, past, holding.exercise.band[0])
    return propose(holding, "layoff", away) if away else None


def _any(holding: Holding, past: Sequence[PastSession]) -> Advice:
    """The first rule of all, where nothing rules out a step up."""
    if holding.first_set is not None:
        return bridge_under_way(holding, holding.first_set, past)
    found = over_the_hard_ceiling(holding, past)
    if found is None and past[-1].held_back:
        return stay(holding, "this session held back: nothing is judged by it")
    run = run_of(past, holding.use, holding.exercise.reserve, holding.since_layoff)
    if found is None and (not run or run[-1].session is not past[-1]):
        return stay(holding, _not_in_the_run(holding, past))
    rules: tuple[Callable[[], Advice | None], ...] = (
        lambda: found,
        lambda: easier(holding, run, past),
        lambda: step_ready(holding, run, past),
        lambda: drop(holding, run, past),
        lambda: fallen(holding, run, past),
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
    return stay(holding, quiet or _as_it_stands(holding, run, past))


def _down(holding: Holding, past: Sequence[PastSession]) -> Advice | None:
    """The first rule that leads down; it may speak while a step up is ruled out."""
    if holding.first_set is not None:
        bridge = bridge_under_way(holding, holding.first_set, past)
        back = bridge.change is not None and bridge.change.index == holding.index
        return bridge if back else None
    run = run_of(past, holding.use, holding.exercise.reserve, holding.since_layoff)
    if not run or run[-1].session is not past[-1]:
        return None
    for rule in (easier, drop, fallen):
        advice = rule(holding, run, past)
        if advice is not None and not _rests(advice, holding, past):
            return advice
    return None


def _not_in_the_run(holding: Holding, past: Sequence[PastSession]) -> str:
    """Why the last session says nothing of what is held."""
    there = [s for s in past[-1].counted if s.use == holding.use]
    if there and any(s.recovery_short for s in there):
        return "the last session is not judged: a set began before its least recovery"
    return "nothing has been done at this level yet"


def _nothing_to_judge(past: Sequence[PastSession]) -> str:
    if not past:
        return "nothing has been done yet"
    last = past[-1]
    if last.placing:
        return "placed in this session; from the next one on there is something to beat"
    return "" if last.counted else "no set has a count"


def _rests(advice: Advice, holding: Holding, past: Sequence[PastSession]) -> bool:
    refused = holding.refused.get(advice.rule)
    return refused is not None and sum(s.on > refused for s in past) <= QUIET_FOR


def _as_it_stands(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> str:
    bottom = holding.exercise.band[0]
    today = run[-1]
    if today.first < bottom:
        text = f"first set {number(today.first)}{on_side(holding)}, under {number(bottom)} once"
        return f"{text}: a second time asks for an easier level"
    low, high = map(number, holding.exercise.band)
    first = f"first set {today.counts[0].text} of {low} to {high}{on_side(holding)}"
    needs = still_needs(holding, past)
    if needs or (len(run) > 1 and today.first < run[-2].first):
        return needs or f"{first}, {number(run[-2].first)} the time before"
    return f"{first}: add repetitions where you can"
