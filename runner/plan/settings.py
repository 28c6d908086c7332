"""Checks of the timing in force for each set: 0 < L <= T, 0 <= A <= T.

Like `references`, on the content as it was read: where one of the durations has no right form,
what would follow from it is not judged.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from runner.plan.durations import parse_duration
from runner.plan.faults import Finding, Loc
from runner.plan.inherit import Layer, resolve, timing_faults
from runner.plan.references import Data, table, tables, text, texts
from runner.plan.words import BadValueError

RECOVERY_KEYS = ("recovery", "recovery_least", "recovery_cross")


class _Place(NamedTuple):
    """A table that may hold recovery keys, read once: it may count for many sets."""

    loc: Loc
    keys: Data
    layer: Layer | None


def settings_findings(data: Data) -> Iterator[Finding]:
    """Recovery settings that cannot hold together, at the nearest place that brings them about.

    Judged for every set of the plan, and for the substitutes that may come in its place.
    """
    plan = _place(("timing",), table(data.get("timing")))
    exercises = {
        name: _place(("exercise", name), table(exercise))
        for name, exercise in table(data.get("exercise")).items()
    }
    instead = {
        name: [other for _, other in texts(exercise.keys.get("instead"))]
        for name, exercise in exercises.items()
    }
    blocks = list(_blocks(data))
    for loc, keys in blocks:
        block = _place(loc, keys)
        for name in _reachable(keys, instead):
            yield from _judge([plan, block, exercises[name]])
    if not blocks:
        for exercise in exercises.values():
            yield from _judge([plan, exercise])


def _blocks(data: Data) -> Iterator[tuple[Loc, Data]]:
    for index, session in tables(data.get("session")):
        for place, block in tables(session.get("block")):
            yield ("session", index, "block", place), block


def _reachable(block: Data, instead: Mapping[str, list[str]]) -> list[str]:
    """The exercises of a block, and those that swapping may bring in."""
    found: dict[str, None] = {}
    waiting = deque(text(item.get("exercise")) for _, item in tables(block.get("do")))
    while waiting:
        name = waiting.popleft()
        if name in instead and name not in found:
            found[name] = None
            waiting += (other for other in instead[name] if other not in found)
    return list(found)


def _judge(places: Sequence[_Place]) -> Iterator[Finding]:
    layers = [place.layer for place in places if place.layer is not None]
    if len(layers) < len(places):
        return
    for key, fault in timing_faults(resolve(layers)):
        loc = next((place.loc for place in reversed(places) if key in place.keys), places[0].loc)
        yield Finding((*loc, key), fault.wrong, fault.remedy)


def _place(loc: Loc, keys: Data) -> _Place:
    return _Place(loc, keys, _layer(keys))


def _layer(keys: Data) -> Layer | None:
    """The recovery keys of one place in seconds; None where one of them is no duration."""
    layer: Layer = {}
    try:
        if "recovery" in keys:
            layer["recovery"] = parse_duration(keys["recovery"])
        if "recovery_least" in keys:
            layer["recovery_least"] = parse_duration(keys["recovery_least"])
        if "recovery_cross" in keys:
            layer["recovery_cross"] = parse_duration(keys["recovery_cross"])
    except BadValueError:
        return None
    return layer
