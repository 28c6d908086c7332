"""A rehearsal of the full plan with 1,000 runs, beside one run by the bare law."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from runner.law.course import RemainingSets
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.planning.forecast import as_expected, begin_course, session_steps
from runner.progress.adjust import Baseline
from runner.reports.report import Draws
from tests.benchmarks.frame import Row, at_most, in_turn, ratio, seconds, times_of, wall

RUNS = 1000
PLAN, SESSION = "kestrel-hut", "B"  # the shipped session with the most bouts


def rows(*, quick: bool = False) -> list[Row]:
    """The simulation against the law alone, and the command as a person starts it."""
    runs = 20 if quick else RUNS
    with tempfile.TemporaryDirectory() as folder:
        plan = read_plan(find_plan(PLAN, Path(folder)))
        workout = compile_session(plan, SESSION)
        remaining = RemainingSets(begin_course(workout))
        bouts = sum(1 for _ in remaining.bouts())

        def one_run() -> None:
            for _ in remaining.walk(workout.warm_up, as_expected):
                pass

        many, some = (3, 1) if quick else (201, 5)
        one = times_of(one_run, times=many, warm_up=some)
        all_runs = times_of(lambda: Draws(runs).simulated(workout, Baseline(), {}), times=some)
        others = [
            compile_session(plan, session.id) for session in plan.session[: 1 if quick else 3]
        ]
        each = seconds(
            lambda: [Draws(runs).simulated(one, Baseline(), {}) for one in others],
            times=1,
            warm_up=0,
        )
        timeline = seconds(lambda: session_steps(workout), times=some)
        command = [sys.executable, "-m", "runner", "rehearse", PLAN, "--session", SESSION]
        command += ["--data", folder, "--runs"]
        whole, few = in_turn(
            [
                wall(lambda: _run([*command, str(max(runs, 100))])),
                wall(lambda: _run([*command, "100"])),
            ],
            times=min(some, 3),
            warm_up=not quick,
        )
    return [
        Row("bouts in the session", bouts, ""),
        Row("one run by the bare law", one.wall * 1e3, "ms"),
        Row("its timeline, from nothing", timeline * 1e3, "ms"),
        at_most("1000 runs in all", all_runs.wall, "s", 2),
        at_most("1000 runs in all, processor", all_runs.processor, "s", 2),
        ratio(
            "1000 runs, over 1000 times one run: processor",
            all_runs.processor,
            runs * one.processor,
            "s",
            2,
        ),
        Row("1000 runs of each session of the plan", each, "s"),
        Row("the command with 1000 runs", whole, "s"),
        Row("the command with 100 runs", few, "s"),
    ]


def _run(command: list[str]) -> None:
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
