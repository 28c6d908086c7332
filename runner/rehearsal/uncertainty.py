"""How long a session may last, told: the percentiles of a seeded simulation."""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from functools import partial
from typing import Any

from runner.core.clock_text import clock
from runner.core.memory import Memory
from runner.core.rehearsal.lengths import ENOUGH, VARIATION, Past
from runner.core.rehearsal.simulate import Simulation, simulate
from runner.core.workout import Workout
from runner.errors import Exit, MatsideError
from runner.plan.words import quoted
from runner.rehearsal.words import wrapped

FEWEST, MOST = 100, 100_000  # runs; our choice: a percentile wants some on either side


@dataclass(frozen=True, slots=True)
class Draws:
    """How often a session is gone through, and what the dice begin with."""

    runs: int = 1000
    seed: int = 1  # our choice: plan and record alike, the same figures every time

    def simulated(self, workout: Workout, memory: Memory, past: Past) -> Simulation:
        """The session so many times; the same seed gives the same runs."""
        dice = random.Random(self.seed)  # noqa: S311 - lengths of sets, no secrets
        return simulate(workout, memory, past, self.runs, partial(dice.gauss, 0.0, 1.0))


def draws(runs: str | None, seed: str | None) -> Draws:
    """The draws of the command line; MatsideError, one line, for what makes no sense."""
    usual = Draws()
    number = usual.runs if runs is None else _whole(runs)
    begin = usual.seed if seed is None else _whole(seed)
    if number is None or not FEWEST <= number <= MOST:
        line = f"--runs: {quoted(runs)} is no number of runs; write {FEWEST} to {MOST}"
        raise MatsideError(line, code=Exit.USAGE)
    if begin is None:
        line = f"--seed: {quoted(seed)} is no whole number; write one like 7"
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
