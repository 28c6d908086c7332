"""What a session comes to: length, work and rest, sets and recovery of each muscle, patterns.

Also how long it may last: the percentiles of a seeded simulation.
"""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from functools import partial
from typing import Any

from msgspec import Struct

from runner.errors import Exit, MatsideError
from runner.law.workout import Workout
from runner.plan.faults import quoted
from runner.plan.review import ContentWarning, tally
from runner.planning import forecast
from runner.planning.forecast import Step
from runner.planning.muscle_timeline import recoveries
from runner.planning.simulate import ENOUGH, VARIATION, Past, Simulation, simulate
from runner.progress.adjust import Baseline
from runner.reports.timeline import columns, enumerated, instant, percent
from runner.text import clock, how_many, wrapped


def totals(
    workout: Workout,
    baseline: Baseline,
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
        *_lengths(workout, baseline, steps, at),
        *spread,
        "",
        *_muscles(workout, steps, width),
        "",
        *_patterns(workout, width),
    ]


def _lengths(
    workout: Workout, baseline: Baseline, steps: Sequence[Step], at: int | None
) -> list[str]:
    total = forecast.total(list(steps))
    straight = forecast.total(forecast.rehearse(forecast.straight(workout), baseline))
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
        return "alternating saves no time"
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
            "Sets of each muscle (main muscle 1, helping muscle 0.5; left and right are one set):",
            width,
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
            f"{how_many(counted.ramp_sets, 'warm-up set')} {are} in the length, not in the sets"
        )
    return lines


def warning_lines(warnings: Sequence[ContentWarning], width: int = 80) -> list[str]:
    """The warnings, each with its remedy, under a head; nothing where there is none."""
    if not warnings:
        return []
    lines = ["Warnings:"]
    for warning in warnings:
        lines += wrapped(f"- {warning.place}: {warning.wrong}; {warning.remedy}", width)
    return lines


# How long it may last.

FEWEST, MOST = 100, 100_000  # runs; our choice: a percentile wants some on either side


class Draws(Struct, frozen=True):
    """How often a session is gone through, and what the dice begin with."""

    runs: int = 1000
    seed: int = 1  # our choice: plan and record alike, the same figures every time

    def simulated(self, workout: Workout, baseline: Baseline, past: Past) -> Simulation:
        """The session so many times; the same seed gives the same runs."""
        dice = random.Random(self.seed)  # noqa: S311 - lengths of sets, no secrets
        return simulate(workout, baseline, past, self.runs, partial(dice.gauss, 0.0, 1.0))


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
        f"Sets' lengths are drawn, spread {_spread(simulation)}; seed {seed}",
        f"A muscle had less than its least recovery in {simulation.short} of {runs} runs",
    )
    return [line for text in said for line in wrapped(text, width)]


def _spread(simulation: Simulation) -> str:
    usual = f"by {100 * VARIATION:.0f} %"
    if not simulation.own:
        return f"{usual} (under {ENOUGH} sets on record)"
    if simulation.own == simulation.bouts:
        return "as on record"
    return f"as on record for {simulation.own} of {simulation.bouts}, else {usual}"
