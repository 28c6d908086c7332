"""A session's forecast timeline: a line for each set, the rest before it and why; and as data."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from io import StringIO
from types import MappingProxyType
from typing import Any, Final

from rich.cells import cell_len, set_cell_size
from rich.console import Console, JustifyMethod
from rich.table import Table
from rich.text import Text

from runner.law.timing import Site, TimedSet
from runner.law.workout import Timing, Workout, load_text
from runner.planning import forecast
from runner.planning.forecast import Step
from runner.planning.muscle_timeline import recoveries
from runner.progress.adjust import Baseline
from runner.text import DAY, KEPT, clock, shown, wrapped

# Small texts that all reports of a rehearsal use.

UNCUT: Final[Mapping[int, int]] = MappingProxyType({})
WIDE: Final = 10_000  # columns, where there is no bound


def clipped(text: str, cells: int) -> str:
    """A text of a plan, made safe, in at most that many columns; cut with `…`."""
    safe = shown(text)
    if cell_len(safe) <= cells:
        return safe
    return set_cell_size(safe, max(cells - 1, 0)).rstrip() + "…"


def padded(text: str, cells: int) -> str:
    """A text filled up with spaces to that many columns."""
    return text + " " * max(cells - cell_len(text), 0)


def instant(seconds: float, at: int | None = None) -> str:
    """A session second as it is shown: 4:05, or the time of day, 18:34:05.

    `at` is the second of the day at which the session begins; the day after begins at 0:00
    again.
    """
    if at is None:
        return clock(seconds)
    minutes, second = divmod((at + round(seconds)) % DAY, 60)
    hour, minute = divmod(minutes, 60)
    return f"{hour:02}:{minute:02}:{second:02}"


def percent(part: float, whole: float) -> str:
    """A share as whole per cent."""
    return f"{100 * part / whole:.0f} %" if whole > 0 else "0 %"


def enumerated(head: str, items: Sequence[str], width: int, *, between: str = ", ") -> list[str]:
    """A heading and its items; no line break inside an item."""
    whole = between.join(item.replace(" ", KEPT) for item in items)
    return wrapped(f"{head} {whole}".strip(), width)


def columns(
    rows: Sequence[Sequence[str]],
    right: Collection[int],
    width: int | None = None,
    cut: Mapping[int, int] = UNCUT,
) -> list[str]:
    """Rows as lines, each column as wide as it needs; those numbered in `right` end flush.

    At most `width` columns of a terminal: those numbered in `cut` are cut, the widest first, and
    always to what `cut` says.
    """
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    for number in range(len(rows[0])):
        justify: JustifyMethod = "right" if number in right else "left"
        table.add_column(justify=justify, no_wrap=number not in cut, max_width=cut.get(number))
    for row in rows:
        table.add_row(*(Text(shown(cell), no_wrap=True, overflow="ellipsis") for cell in row))
    out = StringIO()
    console = Console(file=out, width=width or WIDE, color_system=None, legacy_windows=False)
    console.print(table)
    return [line.rstrip() for line in out.getvalue().splitlines()]


_HEAD = ("at", "rest", "why", "set", "", "as", "work", "recovery")
_SET, _AS = 3, 5
_ENOUGH = 24  # columns of a recovery; our choice
_SAME = 0.05  # seconds; recoveries that differ by less are shown as one

_Row = tuple[str, ...]


def table(
    workout: Workout, steps: Sequence[Step], width: int = 80, at: int | None = None
) -> list[str]:
    """The timeline, a head and then one line a bout, warm-up and cool-down among them.

    `width` is in columns: what is set up is shown where there is room for it, and long names
    are cut. With `at`, the second of the day at which the session begins, times are times of
    day.
    """
    had = {id(step): sites for step, sites in recoveries(steps)}
    rows: list[_Row] = [_HEAD]
    rest: Step | None = None
    for step in steps:
        if step.kind == "rest":
            rest = step
            continue
        rows.append(_row(workout, step, rest, had.get(id(step), {}), at))
        rest = None
    if (
        sum(max(cell_len(cell) + 2 for cell in column) for column in zip(*rows, strict=True))
        > width
    ):
        rows = [(*row[:_AS], *row[_AS + 1 :]) for row in rows]
    last = len(rows[0]) - 1
    return columns(rows, {0, 1, last - 1}, width, {_SET: width, last: _ENOUGH})


_WHY = {"lead-in": "get ready"}  # in words for people; the data has the plan's


def _row(
    workout: Workout, step: Step, rest: Step | None, had: dict[Site, float], at: int | None
) -> _Row:
    return (
        instant(step.start, at),
        "" if rest is None else clock(rest.seconds),
        "" if rest is None or rest.why is None else _WHY.get(rest.why, rest.why),
        *_named(workout, step),
        _as_what(step),
        clock(step.seconds),
        _recovery(had),
    )


def set_name(workout: Workout, step: Step) -> str:
    """What is done in a step: `Push-up 2`, with the side, and marked if a warm-up set."""
    return " ".join(filter(None, _named(workout, step)))


def _named(workout: Workout, step: Step) -> tuple[str, str]:
    """The exercise, and which of its sets: `2 left`."""
    if step.planned_set is None:
        return step.kind, ""
    words = [str(step.planned_set.number)]
    if step.planned_set.kind == "ramp":
        words.append("warm-up")
    if step.side in ("left", "right"):
        words.append(step.side)
    return shown(workout.exercises[step.planned_set.exercise].name), " ".join(words)


def _as_what(step: Step) -> str:
    if step.planned_set is None:
        return ""
    level = step.planned_set.level
    words = [level.version, *(value for _, value in level.setup)]
    if level.load is not None:
        words.append(f"{load_text(level.load)} kg")
    return shown(" ".join(words))


def _recovery(had: dict[Site, float]) -> str:
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


# The same as plain data, for scripts.


def as_data(workout: Workout, baseline: Baseline) -> dict[str, Any]:
    """The timeline as plain data; seconds to the tenth of a millisecond."""
    steps = forecast.session_steps(workout, baseline)
    straight = forecast.session_steps(forecast.straight(workout), baseline)
    return {
        "plan": workout.plan,
        "session": workout.session,
        "total_s": _seconds(forecast.total(steps)),
        "straight_sets_s": _seconds(forecast.total(straight)),
        "steps": [_step_data(step) for step in steps],
    }


def _seconds(value: float) -> float:
    return round(value, 4)


def _step_data(step: Step) -> dict[str, Any]:
    data: dict[str, Any] = {
        "kind": step.kind,
        "start_s": _seconds(step.start),
        "end_s": _seconds(step.end),
    }
    if step.why is not None:
        data["why"] = step.why
    if step.planned_set is not None and step.timed is not None:
        data |= {
            "block": step.planned_set.block,
            "round": step.planned_set.round,
            "exercise": step.planned_set.exercise,
            "set": step.planned_set.number,
            "set_kind": step.planned_set.kind,
            "version": step.planned_set.level.version,
            "side": step.side,
            "loads": _loads(step.timed, step.side),
            "position_s": step.timed.timing.position,
            "change_s": step.timed.change if step.first_side else 0.0,
            "breather_s": step.timed.timing.breather,
            "law": _law(step.timed.timing),
            "recovery_s": None if step.recovered is None else _seconds(step.recovered),
        }
    return data


def _loads(timed: TimedSet, side: object) -> list[dict[str, str]]:
    bout = next(b for b in timed.bouts if b.side == side)
    roles = (("prime", bout.prime), ("synergist", bout.synergist))
    return [
        {"muscle": muscle, "side": where, "role": role}
        for role, sites in roles
        for muscle, where in sorted(sites)
    ]


def _law(timing: Timing) -> dict[str, Any]:
    return {
        "recovery_s": timing.recovery,
        "recovery_least_s": timing.recovery_least,
        "recovery_cross_s": timing.recovery_cross,
        "changeover_s": [timing.changeover_from, timing.changeover_to],
        "side_gap_s": timing.side_gap,
        "block_rest_s": timing.block_rest,
    }
