"""All that a rehearsal says, in its order: length, what to look at, table, sets, chart."""

from __future__ import annotations

from collections.abc import Sequence

from runner.law.workout import Workout
from runner.plan.models import Plan
from runner.planning import forecast
from runner.progress.adjust import Baseline
from runner.reports.chart import chart
from runner.reports.timeline import heading, table
from runner.reports.totals import lengths, sets_lines, warning_lines
from runner.reports.warnings import remarks
from runner.text import wrapped


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
    steps = forecast.rehearse(workout, baseline)
    warnings = warning_lines(remarks(plan, workout, baseline, steps), width)
    return [
        *wrapped(heading(workout), width),
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
