"""How long a session may last, told: the percentiles of a seeded simulation."""

from __future__ import annotations

import random
from functools import partial
from typing import Any

from runner.core.clock_text import clock
from runner.core.memory import Memory
from runner.core.rehearsal.lengths import ENOUGH, VARIATION, Past
from runner.core.rehearsal.simulate import Simulation, simulate
from runner.core.workout import Workout
from runner.errors import Exit, MatsideError

RUNS = (100, 1000, 100_000)  # fewest, usual, most; our choice: a percentile wants some of each
SEED = 1  # our choice: the same plan and record give the same figures every time


def check_runs(runs: int) -> None:
    """MatsideError where the runs are too few to mean anything, or endless."""
    fewest, _, most = RUNS
    if not fewest <= runs <= most:
        line = f"--runs {runs} is not possible; write {fewest} to {most}"
        raise MatsideError(line, code=Exit.USAGE)


def simulated(workout: Workout, memory: Memory, past: Past, runs: int, seed: int) -> Simulation:
    """The session so many times; the same seed gives the same runs."""
    dice = random.Random(seed)  # noqa: S311 - lengths of sets, no secrets
    return simulate(workout, memory, past, runs, partial(dice.gauss, 0.0, 1.0))


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


def length_lines(simulation: Simulation, seed: int) -> list[str]:
    """What the totals say of it."""
    length, runs = simulation.length, len(simulation.totals)
    return [
        f"Of {runs} runs 1 in 10 ends within {clock(length.p10)},"
        f" half within {clock(length.p50)}, 9 in 10 within {clock(length.p90)}",
        f"Their sets' lengths are drawn, spread {_spread(simulation)}; seed {seed}",
        f"A muscle had less than its least recovery in {simulation.short} of {runs} runs",
    ]


def _spread(simulation: Simulation) -> str:
    usual = f"by {100 * VARIATION:.0f} %"
    if not simulation.own:
        return f"{usual} (under {ENOUGH} sets on record)"
    if simulation.own == simulation.bouts:
        return "as in the record"
    return f"as in the record for {simulation.own} of {simulation.bouts}, else {usual}"
