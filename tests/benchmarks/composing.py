"""How long a week takes to compose, and how that grows with the shelf.

The shelf is the shipped one, its first exercises, or its exercises several times over under other
names. The aim is that of the specification; processor time, for the solver uses one thread.
"""

from __future__ import annotations

from itertools import cycle, islice
from pathlib import Path

from msgspec.structs import replace

from runner.cli.compose import solver
from runner.law.workout import Workout
from runner.plan.composition import read_basis
from runner.planning.composing import compose, suited
from runner.planning.week_model import Wishes
from runner.resources import plans_dir
from tests.benchmarks import frame

SIZES = (10, 40, 80, 160)
SESSIONS, SECONDS = 3, 50 * 60.0


def shelf_of(whole: Workout, number: int) -> Workout:
    """A shelf of that many exercises; the second time round the names end in -2."""
    exercises = {}
    for place, one in enumerate(islice(cycle(whole.exercises.values()), number)):
        ending = "" if place < len(whole.exercises) else f"-{place // len(whole.exercises) + 1}"
        instead = tuple(f"{name}{ending}" for name in one.instead)
        exercises[one.id + ending] = replace(one, id=one.id + ending, instead=instead)
    block = whole.blocks[0]
    timing = dict.fromkeys(exercises, next(iter(block.timing.values())))
    return replace(whole, exercises=exercises, blocks=(replace(block, timing=timing),))


def rows(*, quick: bool = False) -> list[frame.Row]:
    """A row for each size."""
    nowhere = Path("nowhere")
    basis = read_basis([plans_dir() / "shelf.toml"], nowhere, nowhere)
    whole, solve = suited(basis.workout, None), solver()
    found = []
    for number in SIZES[:1] if quick else SIZES:
        shelf = shelf_of(whole, number)
        wishes = Wishes(SESSIONS, SECONDS, replace(basis, workout=shelf).bands())
        times = frame.times_of(
            lambda shelf=shelf, wishes=wishes: compose(shelf, wishes, solve), times=1, warm_up=0
        )
        what = f"A week of 3 x 50 minutes from {number} exercises, processor"
        found.append(frame.at_most(what, times.processor, "s", 10))
    return found
