"""A trainee's standing in words: for `matside next`, line mode and the screen alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from runner.core.progress.levels import USED
from runner.core.progress.marks import MARKS
from runner.core.progress.pain import day
from runner.core.session.planning import rung_text
from runner.live.standing import Stand

MARKS_LINE = "; ".join(f"{mark}: {meaning}" for mark, meaning in MARKS.items())


def stand_lines(number: int, stand: Stand) -> Iterator[str]:
    """What is held, since when and why; what differs from the plan; the advice; the load."""
    yield f"{number:>2}  {stand.name}: {rung_text(stand.rung)}   {_since(stand)}"
    untouched = stand.level is None and stand.advice.rule == "stay" and not stand.changes
    if stand.gone:
        yield f"      {stand.gone!r} came last; the plan no longer has it, so it begins as above"
    for part, rung in stand.parts:
        yield f"      {part} set{'s' if part == 'later' else ''}: {rung_text(rung)}"
    if stand.adjustments:
        yield f"      different from the plan: {', '.join(a.text for a in stand.adjustments)}"
    said = () if untouched else advice_lines(stand)
    beside = (one.line for one in stand.remarks)
    yield from (f"      {line}" for line in (*said, *_needs(stand), *beside, *stand.load))
    for where, on in stand.pain:
        if stand.advice.rule == "pain" and day(on) in stand.advice.reason:
            continue  # it is named already
        yield f"      pain{where and f', {where}'}: {on.day} {on:%B}"


def _needs(stand: Stand) -> Iterator[str]:
    """What the next step up still needs, where the advice has not said it."""
    if stand.needs and stand.needs not in stand.advice.reason:
        yield f"next step: {stand.needs}"


def advice_lines(stand: Stand) -> Iterator[str]:
    """The advice with rule, mark and reason; what else would serve; or that it was answered."""
    if stand.answered and stand.changes:
        yield f"{stand.advice.rule}: answered; asked again after the next session"
        return
    layoff = stand.holding.layoff
    if stand.advice.rule == "layoff" and layoff is not None and layoff.back is None:
        return  # it is the same for all, and said once
    yield stand.advice.line
    first = 2 if stand.advice.change is not None else 1
    for choice, change in enumerate(stand.advice.others, first):
        yield f"   or {choice}: {change.text}"


def _since(stand: Stand) -> str:
    level = stand.level
    if level is None:
        return "no working level yet"
    why = "as trained" if level.reason == USED else _short(level.reason)
    return f"since {level.on}, {why}"


def _short(reason: str) -> str:
    """The rule alone: the reason in full stands in the record."""
    return reason.partition(":")[0]


def open_ones(stands: Sequence[Stand]) -> list[tuple[int, Stand]]:
    """Those of which a change is advised, with their numbers."""
    return [(number, stand) for number, stand in enumerate(stands, 1) if stand.proposes]
