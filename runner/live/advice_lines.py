"""Advice line by line: an exercise in words, and the lines that answer it.

`matside next`, line mode and the screen say the same, and take the same words.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from runner.law.workout import Exercise
from runner.live.advice import Advisor, ExerciseAdvice
from runner.progress.advice import SOURCES
from runner.progress.levels import USED
from runner.session.apply import Refused
from runner.session.changes import level_text
from runner.session.verb import shown
from runner.text import long_day, short_day

SOURCES_LINE = "; ".join(f"{mark}: {meaning}" for mark, meaning in SOURCES.items())


def exercise_lines(number: int, item: ExerciseAdvice) -> Iterator[str]:
    """The working level, since when and why; what differs from the plan; the advice; the load."""
    yield f"{number:>2}  {item.name}: {level_text(item.level)}   {_since(item)}"
    untouched = item.working is None and item.advice.rule == "stay" and not item.changes
    if item.gone:
        yield f"      last time it was {item.gone!r}, which the plan no longer has"
    for part, level in item.parts:
        yield f"      {part} set{'s' if part == 'later' else ''}: {level_text(level)}"
    if item.adjustments:
        yield f"      different from the plan: {', '.join(a.text for a in item.adjustments)}"
    yield from (f"      {line}" for line in item.left_out)
    if item.lighter is not None:
        yield f"      a lighter week until {long_day(item.lighter)}"
    said = () if untouched else advice_lines(item)
    beside = (one.line for one in (*item.remarks, *item.lately))
    yield from (f"      {line}" for line in (*said, *_needs(item), *beside, *item.load))
    for where, on in item.pain:
        if item.advice.rule == "pain" and short_day(on) in item.advice.reason:
            continue  # it is named already
        yield f"      pain{where and f', {where}'}: {long_day(on)}"


def _needs(item: ExerciseAdvice) -> Iterator[str]:
    """What the next step up still needs, where the advice has not said it."""
    if item.needs and item.needs not in item.advice.reason:
        yield f"next step: {item.needs}"


def advice_lines(item: ExerciseAdvice) -> Iterator[str]:
    """The advice with rule, source and reason; what else would serve; or that it was answered."""
    if item.answered and item.changes:
        yield f"{item.advice.rule}: you answered this; the next session brings new advice"
        return
    layoff = item.current.layoff
    if item.advice.rule == "layoff" and layoff is not None and layoff.back is None:
        return  # it is the same for all, and said once
    yield item.advice.line
    first = 2 if item.advice.change is not None else 1
    for choice, change in enumerate(item.advice.others, first):
        yield f"   or {choice}: {change.text}"


def _since(item: ExerciseAdvice) -> str:
    level = item.working
    if level is None and item.exercise.begins is not None:
        return "to begin with, by the plan"
    if level is None:
        return "no working level yet"
    why = "as trained" if level.reason == USED else _short(level.reason)
    return f"since {level.on}, {why}"


def _short(reason: str) -> str:
    """The rule alone: the reason in full stands in the record."""
    return reason.partition(":")[0]


# Answers to advice, line by line: `accept 1`, `refuse 1`, `set press=mark-2`, in any order.

HOW = (
    "accept 1, refuse 1, accept 1 2 for the second choice, set EXERCISE=VERSION, "
    "planned EXERCISE; an empty line ends it"
)


def answer(advisor: Advisor, line: str) -> str:
    """Do what a line says; what became of it. Raises Refused."""
    word, _, rest = line.strip().partition(" ")
    rest = rest.strip()
    if word == "set":
        name, sign, wanted = rest.partition("=")
        if not sign:
            raise Refused("write exercise and version: press=mark-2:120cm")
        item = advisor.find(name.strip())
        index = position(item.exercise, wanted)
        advisor.set_by_hand(item, index)
        return f"{item.name}: {advisor.decided(item.id, item.exercise.progression[index])}"
    if word == "planned":
        item = advisor.find(rest)
        advisor.as_planned(item)
        return f"{item.name}: as planned again"
    if word not in ("accept", "refuse"):
        raise Refused(f"{shown(line)} is unknown; write {HOW}")
    if rest == "week":
        return _week(advisor, accepted=word == "accept")
    return _numbered(advisor, word, rest)


def _numbered(advisor: Advisor, word: str, rest: str) -> str:
    found = re.fullmatch(r"([0-9]{1,3})(?: +([0-9]{1,2}))?", rest)
    if found is None or not 1 <= int(found[1]) <= len(advisor.items):
        raise Refused(f"write a number: {word} 1 to {len(advisor.items)}")
    item = advisor.items[int(found[1]) - 1]
    if word == "refuse":
        advisor.refuse(item)
        return f"{item.name}: refused; it comes back after more sessions"
    change = advisor.accept(item, int(found[2] or 1))
    return f"{item.name}: accepted, {change.text}"


def _week(advisor: Advisor, *, accepted: bool) -> str:
    advice = advisor.lighter
    if advice is None:
        raise Refused("no lighter week is offered")
    advisor.answer_lighter(advice, accepted=accepted)
    return "A lighter week, from today." if accepted else "No lighter week."


def position(exercise: Exercise, text: str) -> int:
    """The index of `mark-2`, `mark-2:120 cm` or `light:8kg`. Raises Refused with what there is.

    Without a value it is the version's first position.
    """
    index = exercise.level_named(text)
    if index is not None:
        return index
    version, _, value = text.partition(":")
    levels = [level for level in exercise.progression if level.version == version.strip()]
    if not levels:
        ids = ", ".join(dict.fromkeys(r.version for r in exercise.progression))
        raise Refused(f"{exercise.name} has no version {version.strip()!r}; it has {ids}")
    there = "; ".join(map(level_text, levels))
    raise Refused(f"{exercise.name} has no level {value.strip()!r}; it has {there}")
