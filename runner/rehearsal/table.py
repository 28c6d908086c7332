"""A session's predicted timeline for people: one line a set, the rest before it and why."""

from __future__ import annotations

from runner.core import forecast
from runner.core.clock_text import clock
from runner.core.forecast import Step
from runner.core.memory import Memory, load_text
from runner.core.workout import Workout

_HEAD = ("at", "rest", "why", "set", "side", "as", "work", "recovery")


def table(workout: Workout, memory: Memory) -> list[str]:
    """The timeline for people: one line a set, the rest before it and why, then totals."""
    steps = forecast.rehearse(workout, memory)
    rows: list[tuple[str, ...]] = []
    rest: Step | None = None
    for step in steps:
        if step.kind == "rest":
            rest = step
        elif step.slot is None:
            rows.append((clock(step.start), "", "", step.kind, "", "", clock(step.seconds), ""))
        else:
            rows.append(_set_row(workout, step, rest))
            rest = None
    widths = [max(len(r[i]) for r in [*rows, _HEAD]) for i in range(len(_HEAD))]
    lines = [f"{workout.plan}, session {workout.session}: {workout.name}", ""]
    lines += [_aligned(row, widths) for row in (_HEAD, *rows)]
    total = forecast.total(steps)
    straight = forecast.total(forecast.rehearse(forecast.straight(workout), memory))
    return [*lines, "", *_totals(total, straight)]


def _totals(total: float, straight: float) -> list[str]:
    lines = [f"Length {clock(total)}"]
    if straight > total:
        share = 100 * (straight - total) / straight
        lines.append(f"As straight sets {clock(straight)}: alternating saves {share:.0f} %")
    return lines


def _set_row(workout: Workout, step: Step, rest: Step | None) -> tuple[str, ...]:
    slot = step.slot
    if slot is None:
        raise ValueError("a step without a set")
    exercise = workout.exercises[slot.exercise]
    rung = slot.rung
    as_what = " ".join(
        [rung.version, *(v for _, v in rung.setup)]
        + ([f"{load_text(rung.load)} kg"] if rung.load is not None else [])
    )
    return (
        clock(step.start),
        "" if rest is None else clock(rest.seconds),
        "" if rest is None or rest.why is None else rest.why,
        f"{exercise.name} {slot.number}" + (" (ramp)" if slot.kind == "ramp" else ""),
        "" if step.side in (None, "both") else str(step.side),
        as_what,
        clock(step.seconds),
        "" if step.recovered is None else clock(step.recovered),
    )


def _aligned(row: tuple[str, ...], widths: list[int]) -> str:
    right = {0, 1, 6, 7}
    cells = [
        cell.rjust(width) if i in right else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(row, widths, strict=True))
    ]
    return "  ".join(cells).rstrip()
