"""Checks that involve several keys, on the content as it was read.

They skip whatever is wrong with single keys, for the models' rows have that; so a bad duration does
not hide a reference to an unknown exercise.

Timing may stand in the plan, in a block and in an exercise. Each place is a layer: its timing keys
with their values in seconds. `resolve` lays the nearer layer over the farther one, and `Timing` has
the defaults for keys that no layer has. The settings in force for each set must hold together: 0 <
L <= T, 0 <= A <= T. Where a duration has no right form, nothing that follows from it is judged.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from runner.law.workout import CROSS_SHARE, LEAST_SHARE, Timing
from runner.plan.faults import BadValueError, KeyFault, Loc, did_you_mean, quoted
from runner.plan.values import duration_text, parse_duration
from runner.text import escaped

Data = dict[str, Any]
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")  # what cannot be an id is not offered


def table(value: object) -> Data:
    """The value where it is a table, else an empty table."""
    return value if isinstance(value, dict) else {}


def tables(value: object) -> list[tuple[int, Data]]:
    """The tables in a list, with their positions."""
    members = value if isinstance(value, list) else []
    return [(index, member) for index, member in enumerate(members) if isinstance(member, dict)]


def text(value: object) -> str:
    """The value where it is a text, else an empty text."""
    return value if isinstance(value, str) else ""


def texts(value: object) -> list[tuple[int, str]]:
    """The texts in a list, with their positions."""
    members = value if isinstance(value, list) else []
    return [(index, member) for index, member in enumerate(members) if isinstance(member, str)]


def reference_faults(data: Data) -> Iterator[KeyFault]:
    """Unknown ids, names given twice, keys that exclude each other."""
    exercises = table(data.get("exercise"))
    for name, exercise in exercises.items():
        if isinstance(exercise, dict):
            loc = ("exercise", name)
            yield from _substitutes(loc, name, exercise, exercises)
            yield from _station(loc, exercise, data)
            yield from _muscles(loc, exercise)
            yield from _effort(loc, exercise)
            yield from _versions(loc, exercise)
    sessions = tables(data.get("session"))
    yield from _twice("session", [(("session", i, "id"), s.get("id")) for i, s in sessions])
    for index, session in sessions:
        for place, block in tables(session.get("block")):
            yield from _block(("session", index, "block", place), block, exercises)


def _twice(what: str, ids: Iterable[tuple[Loc, object]]) -> Iterator[KeyFault]:
    seen: set[str] = set()
    for loc, name in ids:
        if isinstance(name, str):
            if name in seen:
                wrong = f"the {what} {quoted(name)} appears twice"
                yield KeyFault(loc, wrong, "write another id, or leave one of them out")
            seen.add(name)


def _substitutes(loc: Loc, name: str, exercise: Data, exercises: Data) -> Iterator[KeyFault]:
    # Substitutes of one pattern come first among the choices: a push replaces a push.
    others = [
        other
        for other in exercises
        if other != name and table(exercises[other]).get("pattern") == exercise.get("pattern")
    ]
    named = [((*loc, "instead", i), other) for i, other in texts(exercise.get("instead"))]
    for place, other in named:
        if other == name:
            yield KeyFault(place, "an exercise cannot replace itself", "write another exercise")
        elif other not in exercises:
            yield _unknown(place, "exercise", other, others)
    yield from _twice("substitute", named)


def _station(loc: Loc, exercise: Data, data: Data) -> Iterator[KeyFault]:
    stations = table(data.get("station"))
    places = [(loc, exercise)]
    places += [((*loc, "version", i), version) for i, version in tables(exercise.get("version"))]
    for place, keys in places:
        named = keys.get("station")
        if isinstance(named, str) and named not in stations:
            yield _unknown((*place, "station"), "station", named, list(stations))


def _unknown(loc: Loc, what: str, name: str, options: list[str]) -> KeyFault:
    remedy = did_you_mean(name, options)
    if not options:
        article = "an" if what[0] in "aeiou" else "a"
        remedy = f"write {article} [{what}.{escaped(name)}], or leave this out"
    return KeyFault(loc, f"unknown {what} {quoted(name)}", remedy)


def _muscles(loc: Loc, exercise: Data) -> Iterator[KeyFault]:
    prime = {muscle for _, muscle in texts(exercise.get("prime"))}
    for index, muscle in texts(exercise.get("assist")):
        if muscle in prime:
            wrong = f"{quoted(muscle)} is listed in prime and in assist"
            yield KeyFault((*loc, "assist", index), wrong, "leave it out of one of the two")
    for key in ("prime", "assist", "both_sides"):
        named = [((*loc, key, i), muscle) for i, muscle in texts(exercise.get(key))]
        yield from _twice("muscle", named)
    if exercise.get("both_sides") and set(_of_versions(exercise, "sides", "together")) == {
        "together"
    }:
        remedy = 'write sides = "left first", or name the muscles in assist'
        wrong = "both_sides needs one-sided work"
        yield KeyFault((*loc, "both_sides"), wrong, remedy)


def _effort(loc: Loc, exercise: Data) -> Iterator[KeyFault]:
    measures = set(_of_versions(exercise, "measure", "reps"))
    if measures == {"hold"}:
        for key in ("reps", "seconds_a_rep", "hard_ceiling"):
            if key in exercise:
                yield KeyFault(
                    (*loc, key),
                    "a hold has no repetitions",
                    'write hold = ["10s", "1:00"], or leave out measure = "hold"',
                )
    for index, version in tables(exercise.get("version")):
        if version.get("measure", exercise.get("measure")) == "hold" and "tempo" in version:
            place = (*loc, "version", index, "tempo")
            yield KeyFault(place, "a hold has no tempo", "leave it out")
    if measures == {"reps"} and "hold" in exercise:
        remedy = 'write reps = [8, 30], or measure = "hold"'
        yield KeyFault((*loc, "hold"), "this exercise counts repetitions", remedy)


def _of_versions(exercise: Data, key: str, default: str) -> list[str]:
    """By version: the value of a key that may stand in the exercise or in the version."""
    own = exercise.get(key, default)
    versions = tables(exercise.get("version")) or [(0, exercise)]
    return [text(version.get(key, own)) for _, version in versions]


def _versions(loc: Loc, exercise: Data) -> Iterator[KeyFault]:
    versions = tables(exercise.get("version"))
    yield from _twice("version", [((*loc, "version", i, "id"), v.get("id")) for i, v in versions])
    for index, version in versions:
        ranges = [("load",)] if isinstance(version.get("load"), dict) else []
        setup = table(version.get("setup"))
        keys: list[tuple[str, ...]] = [*ranges]
        keys += [("setup", name) for name, value in setup.items() if isinstance(value, dict)]
        for key in keys[1:]:
            place = (*loc, "version", index, *key)
            remedy = "write one value here, or a version for each level"
            yield KeyFault(place, "a second range in one version", remedy)


def _block(loc: Loc, block: Data, exercises: Data) -> Iterator[KeyFault]:
    items = tables(block.get("do"))
    named = [((*loc, "do", i, "exercise"), item.get("exercise")) for i, item in items]
    taken = {name for _, name in named if isinstance(name, str)}
    free = [name for name in exercises if name not in taken]
    unknown = 0
    for number, (place, name) in enumerate(named):
        # A file without exercises has a row that says so; a row for each item would add nothing.
        if isinstance(name, str) and exercises and name not in exercises:
            found = _unknown(place, "exercise", name, free if unknown < len(free) else [])
            versions = items[number][1].get("versions") and found.remedy.startswith("write one of")
            out = ", and leave versions out" if versions else ""
            yield KeyFault(place, found.wrong, found.remedy + out)
            unknown += 1
    for fault in _twice("exercise", named):
        yield KeyFault(fault.loc, fault.wrong, "write more sets for it, or another block")
    for index, item in items:
        yield from _item_versions((*loc, "do", index), item, exercises)


def _item_versions(loc: Loc, item: Data, exercises: Data) -> Iterator[KeyFault]:
    named, sets = item.get("versions"), item.get("sets")
    if not isinstance(named, list) or not named:
        return
    if isinstance(sets, int) and not isinstance(sets, bool) and len(named) != sets:
        wrong = f"{len(named)} versions for {sets} sets"
        remedy = "write one for each set, warm-up sets not counted, or leave versions out"
        yield KeyFault((*loc, "versions"), wrong, remedy)
    exercise = exercises.get(text(item.get("exercise")))
    known = [v.get("id") for _, v in tables(table(exercise).get("version"))]
    options = [name for name in known if isinstance(name, str) and _ID.fullmatch(name)]
    for index, name in texts(named):
        if options and name not in options:
            yield _unknown((*loc, "versions", index), "version", name, options)


# Which timing is in force.

Layer = dict[str, Any]


def merged(*layers: Layer) -> Layer:
    """One layer made of several, ordered from the farthest (the plan) to the nearest.

    A nearer `recovery` brings its own least and cross recovery: it removes those of farther places.
    """
    found: Layer = {}
    for layer in layers:
        if "recovery" in layer:
            found.pop("recovery_least", None)
            found.pop("recovery_cross", None)
        found.update(layer)
    return found


def resolve(layers: Iterable[Layer]) -> Timing:
    """The settings in force, from layers ordered as in `merged`.

    `timing_faults` checks the result.
    """
    values = merged(*layers)
    if "recovery" in values:
        values.setdefault("recovery_least", values["recovery"] * LEAST_SHARE)
        values.setdefault("recovery_cross", values["recovery"] * CROSS_SHARE)
    if "changeover" in values:
        values["changeover_from"], values["changeover_to"] = values["changeover"]
    return Timing(**{name: values[name] for name in Timing.__struct_fields__ if name in values})


def timing_faults(timing: Timing) -> Iterable[tuple[str, BadValueError]]:
    """Each key whose value contradicts the others: 0 < L <= T, 0 <= A <= T."""
    recovery = duration_text(timing.recovery)
    if timing.recovery <= 0:
        yield "recovery", BadValueError("a recovery of 0", "write more than 0")
        return
    if timing.recovery_least <= 0:
        yield (
            "recovery_least",
            BadValueError("a least recovery of 0", f'write more than 0, at most "{recovery}"'),
        )
    for key, value in (
        ("recovery_least", timing.recovery_least),
        ("recovery_cross", timing.recovery_cross),
    ):
        if value > timing.recovery:
            wrong = f'"{duration_text(value)}" is longer than the recovery of "{recovery}" here'
            yield key, BadValueError(wrong, f'write at most "{recovery}", or a longer recovery')


# Checks that the timing in force for each set holds together.

RECOVERY_KEYS = ("recovery", "recovery_least", "recovery_cross")


class _TimingTable(NamedTuple):
    """A table that may hold recovery keys; read once, for it may serve many sets."""

    loc: Loc
    keys: Data
    layer: Layer | None


def settings_faults(data: Data) -> Iterator[KeyFault]:
    """Recovery settings that cannot hold together, each at the nearest place that causes it.

    Judged for every set of the plan, and for every substitute that a swap may bring in.
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
    """The exercises of a block, and those that swaps may bring in."""
    found: dict[str, None] = {}
    waiting = deque(text(item.get("exercise")) for _, item in tables(block.get("do")))
    while waiting:
        name = waiting.popleft()
        if name in instead and name not in found:
            found[name] = None
            waiting += (other for other in instead[name] if other not in found)
    return list(found)


def _judge(places: Sequence[_TimingTable]) -> Iterator[KeyFault]:
    layers = [place.layer for place in places if place.layer is not None]
    if len(layers) < len(places):
        return
    for key, fault in timing_faults(resolve(layers)):
        loc = next((place.loc for place in reversed(places) if key in place.keys), places[0].loc)
        yield KeyFault((*loc, key), fault.wrong, fault.remedy)


def _place(loc: Loc, keys: Data) -> _TimingTable:
    return _TimingTable(loc, keys, _layer(keys))


def _layer(keys: Data) -> Layer | None:
    """The recovery keys of one place in seconds; None where one of them is no duration."""
    try:
        return {key: parse_duration(keys[key]) for key in RECOVERY_KEYS if key in keys}
    except BadValueError:
        return None
