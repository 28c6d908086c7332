"""A session's predicted timeline for people: one line a set, the rest before it and why."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from runner.core.clock_text import clock
from runner.core.forecast import Step
from runner.core.rehearsal.lanes import recoveries
from runner.core.timing import Place
from runner.core.values import load_text
from runner.core.workout import Workout
from runner.record.text import shown
from runner.rehearsal.words import clipped, columns, instant

_HEAD = ("at", "rest", "why", "set", "as", "work", "recovery")
_RIGHT = frozenset({0, 1})
_SET, _AS, _RECOVERY = 3, 4, 6
_LEAST_SET, _LEAST_RECOVERY = 18, 6  # columns that are kept where room is short; our choice
_ENOUGH_RECOVERY = 24  # columns that a recovery takes before names are cut; our choice
_SAME = 0.05  # seconds; recoveries that differ by less are shown as one

_Row = tuple[str, ...]


def heading(workout: Workout) -> str:
    """Plan, session and its name in one line."""
    named = "" if workout.name == workout.session else f": {shown(workout.name)}"
    return f"{shown(workout.plan)}, session {shown(workout.session)}{named}"


def table(
    workout: Workout, steps: Sequence[Step], width: int = 80, at: int | None = None
) -> list[str]:
    """The timeline, a head and then one line a bout, warm-up and cool-down among them.

    `width` is in columns: what is set up is shown where there is room for it, and long names
    are cut. With `at`, the second of the day at which the session begins, times are times of
    day.
    """
    had = {id(step): places for step, places in recoveries(steps)}
    rows: list[_Row] = [_HEAD]
    rest: Step | None = None
    for step in steps:
        if step.kind == "rest":
            rest = step
            continue
        rows.append(_row(workout, step, rest, had.get(id(step), {}), at))
        rest = None
    return columns(_fitting(rows, width), _RIGHT)


def _row(
    workout: Workout, step: Step, rest: Step | None, had: dict[Place, float], at: int | None
) -> _Row:
    return (
        instant(step.start, at),
        "" if rest is None else clock(rest.seconds),
        "" if rest is None or rest.why is None else rest.why,
        set_name(workout, step),
        _as_what(step),
        clock(step.seconds),
        _recovery(had),
    )


def set_name(workout: Workout, step: Step) -> str:
    """What is done in a step: `Push-up 2`, with the side and whether it is a ramp set."""
    if step.slot is None:
        return step.kind
    words = [shown(workout.exercises[step.slot.exercise].name), str(step.slot.number)]
    if step.slot.kind == "ramp":
        words.append("ramp")
    if step.side in ("left", "right"):
        words.append(step.side)
    return " ".join(words)


def _as_what(step: Step) -> str:
    if step.slot is None:
        return ""
    rung = step.slot.rung
    words = [rung.version, *(value for _, value in rung.setup)]
    if rung.load is not None:
        words.append(f"{load_text(rung.load)} kg")
    return shown(" ".join(words))


def _recovery(had: dict[Place, float]) -> str:
    """The least recovery with the muscles that have it, then the others with theirs."""
    least: dict[str, float] = {}
    for (muscle, _), seconds in had.items():
        least[muscle] = min(least.get(muscle, seconds), seconds)
    groups: list[tuple[float, list[str]]] = []
    for muscle, seconds in sorted(least.items(), key=lambda item: item[1]):
        if groups and seconds - groups[-1][0] < _SAME:
            groups[-1][1].append(muscle)
        else:
            groups.append((seconds, [muscle]))
    return "; ".join(f"{clock(seconds)} {', '.join(names)}" for seconds, names in groups)


def _fitting(rows: list[_Row], width: int) -> list[_Row]:
    """The rows in so many columns, as far as that goes: without `as` first, then cut."""
    if _wide(rows) <= width:
        return rows
    rows = [(*row[:_AS], *row[_AS + 1 :]) for row in rows]
    recovery = _RECOVERY - 1
    over = _wide(rows) - width
    if over <= 0:
        return rows
    names = max(cell_len(row[_SET]) for row in rows)
    others = max(cell_len(row[recovery]) for row in rows)
    room = names + others - over
    named = max(room - min(others, _ENOUGH_RECOVERY), _LEAST_SET)
    kept = max(room - named, _LEAST_RECOVERY)
    return [
        (*row[:_SET], _shortened(row[_SET], named), *row[_SET + 1 : -1], clipped(row[-1], kept))
        for row in rows
    ]


def _shortened(name: str, cells: int) -> str:
    """A set's name cut in the exercise's name: number, ramp and side are kept."""
    words = name.split(" ")
    tail = next((i for i in range(len(words) - 1, 0, -1) if words[i].isdecimal()), len(words))
    kept = "".join(f" {word}" for word in words[tail:])
    return clipped(" ".join(words[:tail]), max(cells - cell_len(kept), 4)) + kept


def _wide(rows: Sequence[_Row]) -> int:
    widths = [max(cell_len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return sum(widths) + 2 * (len(widths) - 1)
