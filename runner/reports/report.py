"""All that a rehearsal prints, in order: length, warnings, table, sets, chart.

Length, work and rest, sets and recovery of each muscle, and patterns are computed here; so is how
long the session may last, by the percentiles of a seeded simulation.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Any

from msgspec import Struct

from runner.errors import Exit, MatsideError
from runner.law.workout import Workout
from runner.plan.faults import quoted
from runner.plan.models import Plan
from runner.plan.review import ContentWarning, tally
from runner.planning import forecast
from runner.planning.forecast import Step
from runner.planning.muscle_timeline import recoveries
from runner.planning.simulate import ENOUGH, VARIATION, Past, Simulation, simulate
from runner.progress.adjust import Baseline
from runner.reports.chart import chart
from runner.reports.timeline import columns, enumerated, instant, percent, table
from runner.reports.warnings import remarks
from runner.text import clock, counted_sets, how_many, wrapped


def report(
    plan: Plan,
    workout: Workout,
    baseline: Baseline,
    *,
    spread: Sequence[str] = (),
    changed: Sequence[str] = (),
    width: int = 80,
    at: int | None = None,
    plain: bool = False,
) -> list[str]:
    """The lines for a terminal of `width` columns.

    `at` is the second of the day at which the session begins, None for elapsed times; `plain`
    draws with signs that every encoding has; `spread` has the lines on how much the length
    may vary, `changed` those on what is different from the plan.
    """
    steps = forecast.session_steps(workout, baseline)
    warnings = warning_lines(remarks(plan, workout, baseline, steps), width)
    return [
        *wrapped(workout.heading, width),
        "",
        *lengths(workout, baseline, steps, at),
        *spread,
        "",
        *changed,
        *([*warnings, ""] if warnings else []),
        *table(workout, steps, width, at),
        "",
        *sets_lines(workout, steps, width),
        "",
        *chart(steps, width, at, plain=plain),
    ]


def lengths(
    workout: Workout, baseline: Baseline, steps: Sequence[Step], at: int | None = None
) -> list[str]:
    """How long it takes, and for what; `at` is the second of the day at which it begins."""
    total = forecast.total(list(steps))
    straight = forecast.total(forecast.session_steps(forecast.straight(workout), baseline))
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
    sets = tally([workout])
    blocks = how_many(len(workout.blocks), "block")
    return [
        *columns(rows, frozenset({1})),
        f"{counted_sets(sets.work_sets, sets.ramp_sets)} in {blocks}",
    ]


def sets_lines(workout: Workout, steps: Sequence[Step], width: int = 80) -> list[str]:
    """Sets of each muscle with its recovery, and of each pattern."""
    return [*_muscles(workout, steps, width), "", *_patterns(workout, width)]


def _saved(total: float, straight: float) -> str:
    if abs(straight - total) < 0.5:
        return "taking turns saves no time"
    share = percent(abs(straight - total), straight)
    word = "saves" if straight > total else "costs"
    return f"taking turns {word} {clock(abs(straight - total))} ({share})"


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
            "Sets of each muscle (main muscle 1, helping muscle 0.5; left and right are one set):",
            width,
        ),
        *columns(rows, frozenset({1, 2, 3, 4})),
    ]


def _patterns(workout: Workout, width: int) -> list[str]:
    each = [f"{pattern} {sets}" for pattern, sets in tally([workout]).by_pattern.items()]
    return enumerated("Sets of each pattern:", each, width)


def warning_lines(warnings: Sequence[ContentWarning], width: int = 80) -> list[str]:
    """The warnings, each with its remedy, under a head; nothing without one."""
    if not warnings:
        return []
    lines = ["Worth a second look:"]
    for warning in warnings:
        lines += wrapped(f"- {warning.place}: {warning.wrong}; {warning.remedy}", width)
    return lines


# How long it may last.

FEWEST, MOST = 100, 100_000  # runs; our choice: a percentile wants some on either side


Each = Callable[[Iterable[int], int], Iterable[int]]


def iterated(runs: Iterable[int], _: int) -> Iterable[int]:
    """The runs, without a progress display."""
    return runs


class Draws(Struct, frozen=True):
    """How many runs to simulate, and the seed."""

    runs: int = 1000
    seed: int = 1  # our choice: plan and record alike, the same figures every time

    def simulated(
        self, workout: Workout, baseline: Baseline, past: Past, each: Each = iterated
    ) -> Simulation:
        """The session that many times; the same seed gives the same runs.

        `each` hands out the numbers of the runs, and how many there are: it may count along.
        """
        dice = random.Random(self.seed)  # noqa: S311 - lengths of sets, no secrets
        runs = each(range(self.runs), self.runs)
        return simulate(workout, baseline, past, runs, partial(dice.gauss, 0.0, 1.0))


def draws(runs: str | None, seed: str | None) -> Draws:
    """The draws of the command line; MatsideError, one line, for what makes no sense."""
    usual = Draws()
    number = usual.runs if runs is None else _whole(runs)
    begin = usual.seed if seed is None else _whole(seed)
    if number is None or not FEWEST <= number <= MOST:
        line = f"--runs: {quoted(runs)} is not a number of runs; write {FEWEST} to {MOST}"
        raise MatsideError(line, code=Exit.USAGE)
    if begin is None:
        line = f"--seed: {quoted(seed)} is not a whole number; write one like 7"
        raise MatsideError(line, code=Exit.USAGE)
    return Draws(number, begin)


def _whole(text: str) -> int | None:
    return int(text) if re.fullmatch(r"[0-9]{1,18}", text.strip()) else None


def length_data(simulation: Simulation, seed: int) -> dict[str, Any]:
    """What the timeline as data says of it; seconds to the tenth of a millisecond."""
    length = simulation.length
    return {
        "length_s": {
            "p10": round(length.p10, 4),
            "p50": round(length.p50, 4),
            "p90": round(length.p90, 4),
            "runs": len(simulation.totals),
            "seed": seed,
        },
        "runs_under_least_recovery": simulation.short,
    }


def length_lines(simulation: Simulation, seed: int, width: int = 80) -> list[str]:
    """What the totals say of it, in lines of at most `width` columns."""
    length, runs = simulation.length, len(simulation.totals)
    said = (
        f"Of {runs} runs 1 in 10 ends within {clock(length.p10)},"
        f" half within {clock(length.p50)}, 9 in 10 within {clock(length.p90)}",
        f"Lengths of sets vary at random, {_spread(simulation)}; seed {seed}",
        f"A muscle had less than its least recovery in {simulation.short} of {runs} runs",
    )
    return [line for text in said for line in wrapped(text, width)]


def _spread(simulation: Simulation) -> str:
    usual = f"by {100 * VARIATION:.0f} %"
    if not simulation.own:
        return f"{usual} (fewer than {ENOUGH} sets on record)"
    if simulation.own == simulation.bouts:
        return "as on record"
    return f"as on record for {simulation.own} of {simulation.bouts}, else {usual}"
