"""What a session comes to: length, work and rest, sets and recovery of each muscle, patterns."""

from __future__ import annotations

from collections.abc import Sequence

from runner.core import forecast
from runner.core.clock_text import clock
from runner.core.forecast import Step
from runner.core.memory import Memory
from runner.core.rehearsal.lanes import recoveries
from runner.core.workout import Workout
from runner.plan.content import ContentWarning
from runner.plan.summary import tally
from runner.rehearsal.words import columns, count, enumerated, instant, percent, wrapped


def totals(
    workout: Workout,
    memory: Memory,
    steps: Sequence[Step],
    width: int = 80,
    at: int | None = None,
    *,
    spread: Sequence[str] = (),
) -> list[str]:
    """The session's sums as lines of text; `at` is the second of the day at which it begins.

    `spread` has the lines on how much the length may vary.
    """
    return [
        *_lengths(workout, memory, steps, at),
        *spread,
        "",
        *_muscles(workout, steps, width),
        "",
        *_patterns(workout, width),
    ]


def _lengths(workout: Workout, memory: Memory, steps: Sequence[Step], at: int | None) -> list[str]:
    total = forecast.total(list(steps))
    straight = forecast.total(forecast.rehearse(forecast.straight(workout), memory))
    spent = dict.fromkeys(("set", "rest", "warm-up", "cool-down"), 0.0)
    for step in steps:
        spent[step.kind] += step.seconds
    from_to = "" if at is None else f"{instant(0, at)} to {instant(total, at)}"
    rows = [
        ("Length", clock(total), from_to),
        ("As straight sets", clock(straight), _saved(total, straight)),
        ("Work", clock(spent["set"]), percent(spent["set"], total)),
        ("Rest", clock(spent["rest"]), percent(spent["rest"], total)),
    ]
    around = spent["warm-up"] + spent["cool-down"]
    if around > 0:
        rows.append(("Warm-up and cool-down", clock(around), percent(around, total)))
    return columns(rows, frozenset({1}))


def _saved(total: float, straight: float) -> str:
    if abs(straight - total) < 0.5:
        return "alternating saves nothing"
    share = percent(abs(straight - total), straight)
    word = "saves" if straight > total else "costs"
    return f"alternating {word} {clock(abs(straight - total))} ({share})"


def _muscles(workout: Workout, steps: Sequence[Step], width: int) -> list[str]:
    """Sets of each muscle, and the least that it gets, beside what its exercise asks for."""
    least: dict[str, tuple[float, float, float]] = {}
    for step, had in recoveries(steps):
        if step.timed is None:
            continue
        timing = step.timed.timing
        for (muscle, _), seconds in had.items():
            if muscle not in least or seconds < least[muscle][0]:
                least[muscle] = (seconds, timing.recovery_least, timing.recovery)
    rows: list[tuple[str, ...]] = [
        ("muscle", "sets", "least recovery", "asked at least", "aimed at")
    ]
    for muscle, sets in tally([workout]).by_muscle.items():
        times = tuple(clock(seconds) for seconds in least[muscle]) if muscle in least else ("",) * 3
        rows.append((muscle, f"{sets:.1f}", *times))
    return [
        *wrapped(
            "Sets of each muscle (prime mover 1, synergist 0.5; left and right are one set):", width
        ),
        *columns(rows, frozenset({1, 2, 3, 4})),
    ]


def _patterns(workout: Workout, width: int) -> list[str]:
    counted = tally([workout])
    each = [f"{pattern} {sets}" for pattern, sets in counted.by_pattern.items()]
    lines = enumerated("Sets of each pattern:", each, width)
    if counted.ramp_sets:
        are = "is" if counted.ramp_sets == 1 else "are"
        lines.append(
            f"{count(counted.ramp_sets, 'warm-up set')} {are} in the length, not in the sets"
        )
    return lines


def warning_lines(warnings: Sequence[ContentWarning], width: int = 80) -> list[str]:
    """The warnings, each with its remedy, under a head; nothing where there is none."""
    if not warnings:
        return []
    lines = ["Worth a second thought:"]
    for warning in warnings:
        lines += wrapped(f"- {warning.place}: {warning.wrong}; {warning.remedy}", width)
    return lines
