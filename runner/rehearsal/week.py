"""The week of a plan: its sessions on days, sets of each muscle against what is aimed at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from runner.core import forecast
from runner.core.memory import Memory
from runner.core.muscles import MUSCLES
from runner.core.rehearsal.week import Days, sessions_a_week, suggest
from runner.core.weekly import Judgement, judged
from runner.core.workout import Workout
from runner.plan.models import Plan
from runner.plan.summary import tally

# Patterns that are held against each other; common practice.
OPPOSED: tuple[tuple[str, tuple[str, ...], str, tuple[str, ...]], ...] = (
    (
        "push",
        ("horizontal push", "vertical push"),
        "pull",
        ("horizontal pull", "vertical pull"),
    ),
    ("squat and lunge", ("squat", "lunge"), "hinge", ("hinge",)),
)


@dataclass(frozen=True, slots=True)
class Session:
    """One session of the plan, done once."""

    id: str
    name: str
    seconds: float
    sets: int  # work sets; left and right of one set are one


@dataclass(frozen=True, slots=True)
class Muscle:
    """A muscle's sets a week against what is aimed at."""

    muscle: str
    sets: float
    aim: tuple[int, int] | None  # the plan's; None: the published band
    judged: Judgement


@dataclass(frozen=True, slots=True)
class OneSided:
    """A one-sided exercise: work sets a week for each side, and how long they are expected."""

    exercise: str
    name: str
    left: float
    right: float
    left_s: float  # seconds, mean over its sets
    right_s: float


@dataclass(frozen=True, slots=True)
class Week:
    """All that is said of a plan's week; sets are a week's, on average over the sequence."""

    plan: str
    number: int  # sessions a week counted
    aim: tuple[int, int] | None  # the plan's sessions a week
    sessions: tuple[Session, ...]
    days: Days
    muscles: tuple[Muscle, ...]
    untrained: tuple[str, ...]
    patterns: Mapping[str, float]
    one_sided: tuple[OneSided, ...]

    @property
    def seconds(self) -> float:
        """Length of all sessions of a week."""
        return self.number * fmean(session.seconds for session in self.sessions)


def week_of(plan: Plan, workouts: Sequence[tuple[Workout, Memory]]) -> Week:
    """The week of a plan; `workouts` are its sessions in their order, with what is known."""
    number = sessions_a_week(len(workouts), plan.week.sessions)
    often = number / len(workouts)  # how often a week holds each session, on average
    whole = tally(workout for workout, _ in workouts)
    muscles = {muscle: sets * often for muscle, sets in whole.by_muscle.items()}
    return Week(
        plan=plan.title,
        number=number,
        aim=plan.week.sessions,
        sessions=tuple(_session(*known) for known in workouts),
        days=suggest([_prime(workout) for workout, _ in workouts], number),
        muscles=tuple(_muscles(plan, muscles)),
        untrained=tuple(muscle for muscle in MUSCLES if muscle not in muscles),
        patterns={pattern: sets * often for pattern, sets in whole.by_pattern.items()},
        one_sided=tuple(_one_sided(workouts, often)),
    )


def _session(workout: Workout, memory: Memory) -> Session:
    seconds = forecast.total(forecast.rehearse(workout, memory))
    return Session(workout.session, workout.name, seconds, tally([workout]).work_sets)


def _prime(workout: Workout) -> frozenset[str]:
    return frozenset(
        muscle
        for block in workout.blocks
        for item in block.items
        for muscle in workout.exercises[item.exercise].prime
    )


def _muscles(plan: Plan, sets: Mapping[str, float]) -> Iterable[Muscle]:
    """Those that are trained, and those that the plan names a target for."""
    targets: dict[str, tuple[int, int]] = dict(plan.week.muscles.items())
    for muscle in MUSCLES:
        if muscle in sets or muscle in targets:
            aim = targets.get(muscle, plan.week.sets)
            number = sets.get(muscle, 0.0)
            yield Muscle(muscle, number, aim, judged(number, aim))


def _one_sided(workouts: Sequence[tuple[Workout, Memory]], often: float) -> Iterable[OneSided]:
    """One-sided exercises, counted bout by bout on each side."""
    lengths: dict[str, dict[str, list[float]]] = {}
    names: dict[str, str] = {}
    for workout, memory in workouts:
        for step in forecast.rehearse(workout, memory):
            if step.slot is None or step.slot.kind != "work" or step.side not in ("left", "right"):
                continue
            names[step.slot.exercise] = workout.exercises[step.slot.exercise].name
            sides = lengths.setdefault(step.slot.exercise, {"left": [], "right": []})
            sides[step.side].append(step.seconds)
    for exercise, sides in lengths.items():
        yield OneSided(
            exercise,
            names[exercise],
            len(sides["left"]) * often,
            len(sides["right"]) * often,
            fmean(sides["left"] or [0.0]),
            fmean(sides["right"] or [0.0]),
        )
