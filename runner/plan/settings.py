"""Checks of the timing in force for each set: 0 < L <= T, 0 <= A <= T.

Like `references`, on the content as it was read: where one of the durations has no right form,
what would follow from it is not judged.
"""

from __future__ import annotations

from collections.abc import Iterator

from runner.plan.durations import parse_duration
from runner.plan.faults import Finding, Loc
from runner.plan.inherit import Layer, resolve, timing_faults
from runner.plan.references import Data, table, tables, text, texts
from runner.plan.words import BadValueError

RECOVERY_KEYS = ("recovery", "recovery_least", "recovery_cross")


def settings_findings(data: Data) -> Iterator[Finding]:
    """Recovery settings that cannot hold together, at the nearest place that brings them about.

    Judged for every set of the plan, and for the substitutes that may come in its place.
    """
    exercises = table(data.get("exercise"))
    plan = (("timing",), table(data.get("timing")))
    blocks = list(_blocks(data))
    for loc, block in blocks:
        for name in _reachable(block, exercises):
            exercise = (("exercise", name), table(exercises[name]))
            yield from _judge([plan, (loc, block), exercise])
    if not blocks:
        for name in exercises:
            yield from _judge([plan, (("exercise", name), table(exercises[name]))])


def _blocks(data: Data) -> Iterator[tuple[Loc, Data]]:
    for index, session in tables(data.get("session")):
        for place, block in tables(session.get("block")):
            yield ("session", index, "block", place), block


def _reachable(block: Data, exercises: Data) -> list[str]:
    """The exercises of a block, and those that swapping may bring in."""
    found: dict[str, None] = {}
    waiting = [text(item.get("exercise")) for _, item in tables(block.get("do"))]
    while waiting:
        name = waiting.pop(0)
        if name in exercises and name not in found:
            found[name] = None
            waiting += [other for _, other in texts(table(exercises[name]).get("instead"))]
    return list(found)


def _judge(places: list[tuple[Loc, Data]]) -> Iterator[Finding]:
    layers: list[Layer] = []
    for _, keys in places:
        layer = _layer(keys)
        if layer is None:
            return
        layers.append(layer)
    for key, fault in timing_faults(resolve(layers)):
        loc = next((loc for loc, keys in reversed(places) if key in keys), places[0][0])
        yield Finding((*loc, key), fault.wrong, fault.remedy)


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
