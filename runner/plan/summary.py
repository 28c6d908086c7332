"""What a plan holds: exercises, sets, and the sets for each muscle and pattern."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from runner.core.weekly import Sets, sets_by_muscle, sets_text
from runner.core.workout import Exercise, Item, Workout
from runner.plan.fields import PATTERNS
from runner.plan.models import Plan


@dataclass(frozen=True, slots=True)
class Tally:
    """Sets of one or more sessions; ramp sets stand apart and count for nothing else."""

    exercises: int
    work_sets: int
    ramp_sets: int
    by_muscle: Mapping[str, float]  # a prime mover counts 1, a synergist a half
    by_pattern: Mapping[str, int]


def tally(workouts: Iterable[Workout]) -> Tally:
    """The sets of sessions, each done once. A one-sided set, left and right, is one set."""
    counted: list[Sets] = []
    patterns: dict[str, int] = {}
    names: set[str] = set()
    work = ramp = 0
    for exercise, item in _items(workouts):
        names.add(exercise.id)
        work += item.sets
        ramp += item.ramp
        patterns[exercise.pattern] = patterns.get(exercise.pattern, 0) + item.sets
        counted.append(Sets(exercise.prime, (*exercise.assist, *exercise.both_sides), item.sets))
    in_order: dict[str, int] = {name: patterns[name] for name in PATTERNS if name in patterns}
    return Tally(len(names), work, ramp, sets_by_muscle(counted), in_order)


def _items(workouts: Iterable[Workout]) -> Iterable[tuple[Exercise, Item]]:
    for workout in workouts:
        for block in workout.blocks:
            for item in block.items:
                yield workout.exercises[item.exercise], item


def summary_lines(plan: Plan, workouts: Sequence[Workout]) -> list[str]:
    """A plan in a few lines of text; `workouts` are its sessions, compiled."""
    whole = tally(workouts)
    lines = [plan.title + (" (trial)" if plan.trial else "")]
    if plan.summary:
        lines.append(plan.summary)
    lines.append(
        f"{_count(len(workouts), 'session')}, {_count(whole.exercises, 'exercise')}, "
        + _sets(whole)
    )
    for workout in workouts:
        lines += _session_lines(workout)
    lines.append(f"Sets for each muscle ({_basis(plan, workouts)}):")
    lines += _muscle_lines(plan, whole)
    lines.append("Sets for each pattern:")
    width = max(len(pattern) for pattern in whole.by_pattern)
    lines += [f"  {pattern:<{width}}  {sets}" for pattern, sets in whole.by_pattern.items()]
    return lines


def _session_lines(workout: Workout) -> list[str]:
    sets = tally([workout])
    named = "" if workout.name == workout.session else f", {workout.name}"
    head = f"Session {workout.session}{named}: {_count(sets.exercises, 'exercise')}, {_sets(sets)}"
    return [head] + [
        f"  block {number}: " + " · ".join(_item(workout, item) for item in block.items)
        for number, block in enumerate(workout.blocks, 1)
    ]


def _item(workout: Workout, item: Item) -> str:
    exercise = workout.exercises[item.exercise]
    ramp = f"{item.ramp} + " if item.ramp else ""
    sides = "" if exercise.sides == "together" else " a side"
    return f"{exercise.name} {ramp}{item.sets}{sides}"


def _basis(plan: Plan, workouts: Sequence[Workout]) -> str:
    once = "the session" if len(workouts) == 1 else "all sessions"
    aims = "; the week's aim behind it" if plan.week.sets or plan.week.muscles else ""
    return f"{once} once; prime movers count 1, synergists 0.5{aims}"


def _muscle_lines(plan: Plan, whole: Tally) -> list[str]:
    width = max(len(muscle) for muscle in whole.by_muscle)
    aims: dict[str, tuple[int, int]] = dict(plan.week.muscles.items())
    lines = []
    for muscle, sets in whole.by_muscle.items():
        aim = aims.get(muscle, plan.week.sets)
        text = f"  {muscle:<{width}}  {sets:4.1f}"
        lines.append(text if aim is None else f"{text}  {aim[0]}-{aim[1]}")
    return lines


def _sets(sets: Tally) -> str:
    return sets_text(sets.work_sets, sets.ramp_sets)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")
