"""What is known of a person, with other repetitions or without their pace; figures to compare.

Other settings, paces and numbers of sets are a matter of the plan; see `runner.plan.trying`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from runner.core import forecast
from runner.core.course import RECENT, LengthKey
from runner.core.forecast import Step
from runner.core.memory import Memory
from runner.core.rehearsal.simulate import Percentiles, Simulation
from runner.core.workout import Rung, Workout


def with_reps(workout: Workout, memory: Memory, reps: int) -> Memory:
    """What is known, as if the last three sets of each exercise had had so many repetitions.

    In place of the record's lengths and of the band's middle, at the seconds a repetition of
    each version. Holds and ramp sets stay as they are.
    """
    lengths = dict(memory.lengths)
    for rung, key in _counted(workout):
        lengths[key] = (reps * rung.seconds_a_rep,) * RECENT
    return replace(memory, lengths=lengths)


def without_own_pace(workout: Workout, memory: Memory) -> Memory:
    """What is known, without the lengths of sets whose pace is the person's own.

    That are repetitions at versions without a tempo; what is expected of them is by the band.
    """
    own = {key for rung, key in _counted(workout) if rung.tempo is None}
    return replace(memory, lengths={k: v for k, v in memory.lengths.items() if k not in own})


def _counted(workout: Workout) -> Iterator[tuple[Rung, LengthKey]]:
    """Every rung of the exercises counted in repetitions, with where its lengths are kept."""
    for exercise in workout.exercises.values():
        if exercise.measure == "reps":
            for rung in exercise.ladder:
                for side in exercise.side_order:
                    yield rung, (exercise.id, rung.version, rung.tempo or "", side)


@dataclass(frozen=True, slots=True)
class Figures:
    """A session in a few numbers; times in seconds, shares as fractions of the length."""

    length: Percentiles
    total: float  # sets as long as expected
    straight: float  # the same as straight sets
    work: float
    rest: float
    least_recovery: float | None  # of any prime mover; None where none works twice
    sets: int  # work sets; left and right are one
    short: int  # runs in which a muscle had less than its least recovery


def figures(workout: Workout, memory: Memory, simulation: Simulation) -> Figures:
    """The numbers of a session, from its rehearsal and its simulation."""
    steps = forecast.rehearse(workout, memory)
    total = forecast.total(steps)
    recovered = [step.recovered for step in steps if step.recovered is not None]
    return Figures(
        simulation.length,
        total,
        forecast.total(forecast.rehearse(forecast.straight(workout), memory)),
        _share(steps, "set", total),
        _share(steps, "rest", total),
        min(recovered, default=None),
        len({step.index for step in steps if step.slot is not None and step.slot.kind == "work"}),
        simulation.short,
    )


def _share(steps: Sequence[Step], kind: str, total: float) -> float:
    return sum(step.seconds for step in steps if step.kind == kind) / total if total > 0 else 0.0
