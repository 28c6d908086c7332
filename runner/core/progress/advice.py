"""After a session, one piece of advice for each exercise and group of sets.

Which rule speaks when several could, and why in this order:

1. pain: nothing is proposed. No rule weighs more than that.
2. over the hard ceiling: one set shows it, so it does not wait for a second session.
3. easier: under the floor the sets are too heavy for what the plan wants; all else comes after.
4. load, where the next level is the next load of the same version; else harder: one rule, which
   asks for more where the step is larger.
5. drop: the version is right, the sets fall apart.
6. flat: last of those that propose something, for it needs weeks and never hurries.
7. stay.

Judged are repetitions at what is held, of one-sided work the weaker side; the top of the range
credits the reserve (see `equivalent`). Sessions that were there for placing or that held back
are passed over. A run of sessions ends at a session with pain, with another version, or before
a break of over 14 days.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from runner.core.progress.downward import drop, easier, flat_lately
from runner.core.progress.equivalent import number
from runner.core.progress.history import PastSession
from runner.core.progress.proposal import (
    Advice,
    Change,
    ChangeKind,
    Holding,
    RuleName,
    on_side,
    stay,
    swaps,
)
from runner.core.progress.runs import Judged, run_of
from runner.core.progress.upward import (
    bridge_under_way,
    over_the_hard_ceiling,
    step_ready,
    still_needs,
)

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
        lambda: step_ready(holding, run, past),
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
    return stay(holding, quiet or _as_it_stands(holding, run, past))


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


def _as_it_stands(holding: Holding, run: Sequence[Judged], past: Sequence[PastSession]) -> str:
    bottom = holding.exercise.band[0]
    today = run[-1]
    if today.first < bottom:
        text = f"first set {number(today.first)}{on_side(holding)}, under {number(bottom)} once"
        return f"{text}: a second time asks for an easier level"
    low, high = map(number, holding.exercise.band)
    first = f"first set {today.counts[0].text} of {low} to {high}{on_side(holding)}"
    return still_needs(holding, past) or f"{first}: add repetitions where you can"
