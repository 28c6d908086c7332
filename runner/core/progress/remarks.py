"""What is worth saying beside the advice: sets that end too early or too late, uneven sides.

A remark asks for no answer, so it shows once, and again after three sessions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from runner.core.progress.equivalent import number
from runner.core.progress.history import PastSession
from runner.core.progress.proposal import Advice, Holding, propose
from runner.core.progress.runs import (
    Judged,
    effort,
    mean_of,
    run_of,
    too_early,
    too_late,
    two_running,
)
from runner.core.progress.weeks import stronger_side

AGAIN: Final = 3  # sessions after which a message shows again; our choice

Rule = Callable[[Holding, Sequence[PastSession]], Advice | None]


def remarks(holding: Holding, past: Sequence[PastSession]) -> list[Advice]:
    """What is to be said after the last of `past`, beside the advice."""
    rules: tuple[Rule, ...] = (_effort, _sides)
    return [one for rule in rules if (one := once(rule, holding, past)) is not None]


def once(rule: Rule, holding: Holding, past: Sequence[PastSession]) -> Advice | None:
    """What a rule says after the last session, unless it said so in the last three already."""
    given = rule(holding, past)
    if given is None or given.change is not None:
        return given
    said = 0
    for end in range(len(past) - 1, 0, -1):
        last = past[end - 1]
        if not last.counted or last.held_back or last.placing:
            continue  # it was passed over, and nothing was said after it
        before = rule(holding, past[:end])
        if before is None or before.rule != given.rule:
            break
        said += 1
    return given if said % AGAIN == 0 else None


def _run(holding: Holding, past: Sequence[PastSession]) -> list[Judged]:
    run = run_of(past, holding.use, holding.exercise.reserve)
    return run if run and run[-1].session is past[-1] else []


def _effort(holding: Holding, past: Sequence[PastSession]) -> Advice | None:
    run = _run(holding, past)
    found = effort(run)
    if found is None:
        return None
    stated, aimed = map(number, found)
    if too_early(run):
        reason = f"you stop with {stated} in reserve, {aimed} is the aim: go nearer to it"
        return propose(holding, "effort", reason)
    if too_late(run):
        reason = f"every set goes to the limit, {aimed} in reserve is the aim: stop before it"
        return propose(holding, "effort", reason)
    return None


def _sides(holding: Holding, past: Sequence[PastSession]) -> Advice | None:
    """One side a quarter ahead, and by two repetitions, in two sessions running."""
    for pair in two_running(_run(holding, past)):
        both = [means for j in pair if (means := side_means(j.session)) is not None]
        stronger = {stronger_side(*means) for means in both}
        if len(both) == len(pair) and len(stronger) == 1 and None not in stronger:
            (strong,) = stronger
            weak = "right" if strong == "left" else "left"
            left, right = map(number, both[-1])
            reason = (
                f"left {left}, right {right} on average, twice running: {weak} side first, and "
                f"the {strong} stops at its count"
            )
            return propose(holding, "sides", reason)
    return None


def side_means(session: PastSession) -> tuple[float, float] | None:
    """The mean count of either side, over the sets with both; None where there is no such set."""
    sets: dict[int, dict[str, float]] = {}
    short = {s.number for s in session.counted if s.recovery_short}
    for one in session.counted:
        if one.side != "both" and one.number not in short:
            sets.setdefault(one.number, {})[one.side] = one.value or 0.0
    both = [(s["left"], s["right"]) for s in sets.values() if len(s) > 1]
    if not both:
        return None
    lefts, rights = zip(*both, strict=True)
    return mean_of(lefts), mean_of(rights)
