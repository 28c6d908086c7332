"""What deserves a second thought in a session: from the plan's content, and from its timeline."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from msgspec.structs import replace

from runner.law.timing import SAME, Ledger
from runner.law.workout import Workout
from runner.plan.models import Plan
from runner.plan.review import ContentWarning, content_warnings
from runner.planning import forecast
from runner.planning.forecast import Step
from runner.planning.muscle_timeline import bout_of, recoveries
from runner.progress.adjust import Baseline
from runner.reports.timeline import set_name
from runner.text import clock, how_many

_NOTABLE = 15.0  # seconds over the longest changeover; a longer lone rest is a warning; our choice


def remarks(
    plan: Plan, workout: Workout, baseline: Baseline, steps: Sequence[Step]
) -> list[ContentWarning]:
    """The plan's warnings about this session, then those that only the timeline shows."""
    return [
        *_of_the_plan(plan, workout),
        *_unwarmed(workout),
        *_under_the_least(workout, steps),
        *_stations(workout, baseline, steps),
        *_alone(workout, steps),
        *_blocks_that_wait(workout, steps),
        *_dearer(workout, baseline, steps),
    ]


def _of_the_plan(plan: Plan, workout: Workout) -> Iterator[ContentWarning]:
    here = {item.exercise for block in workout.blocks for item in block.items}
    used = [workout.exercises[name] for name in here]
    stations = {one.at(level.version).station for one in used for level in one.progression}
    for warning in content_warnings(plan):
        table, _, name = warning.place.partition(".")
        touches = {
            "exercise": name in here,
            "station": name in stations,
            "session": not name or name.startswith(f"{workout.session}."),
        }
        if touches.get(table, True):
            yield warning


def _unwarmed(workout: Workout) -> Iterator[ContentWarning]:
    if workout.warm_up <= 0:
        remedy = 'write warm_up = "4:00", and what to do in warm_up_moves'
        yield ContentWarning(f"session.{workout.session}", "no warm-up", remedy)


def _under_the_least(workout: Workout, steps: Sequence[Step]) -> Iterator[ContentWarning]:
    """Recoveries under the least asked for; the worst of each muscle."""
    worst: dict[str, tuple[float, float, Step]] = {}
    for step, had in recoveries(steps):
        if step.timed is None:
            continue
        least = step.timed.timing.recovery_least
        for (muscle, _), seconds in had.items():
            known = worst.get(muscle)
            if seconds < least - SAME and (known is None or seconds < known[0]):
                worst[muscle] = (seconds, least, step)
    for muscle, (seconds, least, step) in worst.items():
        wrong = (
            f"{muscle} gets {clock(seconds)} before {set_name(workout, step)}, "
            f"under its least recovery of {clock(least)}"
        )
        yield ContentWarning(_place(workout, step), wrong, "lengthen the changeovers")


def _stations(
    workout: Workout, baseline: Baseline, steps: Sequence[Step]
) -> Iterator[ContentWarning]:
    """The cost of changing each station: the length without its changes, by the same law."""
    for name, station in workout.stations.items():
        changes = sum(
            1
            for step in steps
            if step.timed is not None
            and step.first_side
            and step.timed.change > 0
            and step.planned_set is not None
            and workout.exercises[step.timed.exercise].at(step.planned_set.level.version).station
            == name
        )
        if not changes:
            continue
        stations = {**workout.stations, name: replace(station, change=0.0)}
        without = forecast.session_steps(replace(workout, stations=stations), baseline)
        cost = forecast.total(list(steps)) - forecast.total(without)
        if cost >= 1:
            make = "makes" if changes == 1 else "make"
            wrong = (
                f"{how_many(changes, 'change')} of its set-up {make} the session "
                f"{clock(cost)} longer"
            )
            remedy = "order sets with the same set-up one after the other, or use another station"
            yield ContentWarning(f"station.{name}", wrong, remedy)


def _alone(workout: Workout, steps: Sequence[Step]) -> Iterator[ContentWarning]:
    """Exercises whose partners have fewer sets, where that costs a long rest."""
    members: dict[tuple[int, int], set[str]] = {}
    for step in steps:
        if step.planned_set is not None:
            key = (step.planned_set.block, step.planned_set.round)
            members.setdefault(key, set()).add(step.planned_set.exercise)
    lone: dict[tuple[int, str], float] = {}
    for rest, step in _rests(steps):
        if step.planned_set is None or step.timed is None or not step.first_side:
            continue
        block, name = step.planned_set.block, step.planned_set.exercise
        partners = len(workout.blocks[block - 1].items) > 1
        long = rest.seconds > step.timed.timing.changeover_to + _NOTABLE
        if (
            partners
            and long
            and members[block, step.planned_set.round] == {name}
            and rest.why != "block"
        ):
            lone[block, name] = lone.get((block, name), 0.0) + rest.seconds
    for (block, name), seconds in lone.items():
        wrong = f"{name} has more sets than its partners: its last sets rest {clock(seconds)}"
        remedy = "give the exercises of the block the same number of sets"
        yield ContentWarning(f"session.{workout.session}.block {block}", wrong, remedy)


def _rests(steps: Sequence[Step]) -> Iterator[tuple[Step, Step]]:
    """Each rest with the bout that it comes before."""
    for rest, step in pairwise(steps):
        if rest.kind == "rest" and step.kind == "set":
            yield rest, step


def _blocks_that_wait(workout: Workout, steps: Sequence[Step]) -> Iterator[ContentWarning]:
    """Blocks whose first set waits for muscles that have just worked."""
    ledgers = _ledgers(steps)
    last = 1
    for rest, step in _rests(steps):
        if step.planned_set is None or step.timed is None:
            continue
        new, last = step.planned_set.block != last, step.planned_set.block
        if not new or rest.why != "recovery":
            continue
        timing, bout = step.timed.timing, bout_of(step.timed, step.side)
        muscles = sorted(
            {
                muscle
                for muscle, side in bout.prime | bout.synergist
                if ledgers[id(step)].due(
                    replace(
                        bout,
                        prime=bout.prime & {(muscle, side)},
                        synergist=bout.synergist & {(muscle, side)},
                    ),
                    timing.recovery,
                    timing.recovery_cross,
                )
                >= step.start - SAME
            }
        )
        wrong = (
            f"it starts after {clock(rest.seconds)} instead of {clock(timing.block_rest)}: "
            f"{', '.join(muscles) or 'its muscles'} worked just before"
        )
        yield ContentWarning(_place(workout, step), wrong, "put another block between")


def _ledgers(steps: Sequence[Step]) -> Mapping[int, Ledger]:
    """The ledger before each bout, by the step's identity."""
    ledger, found = Ledger(), {}
    for step in steps:
        if step.timed is not None:
            found[id(step)] = ledger
            ledger = ledger.after(bout_of(step.timed, step.side), step.end)
    return found


def _dearer(
    workout: Workout, baseline: Baseline, steps: Sequence[Step]
) -> Iterator[ContentWarning]:
    straight = forecast.total(forecast.session_steps(forecast.straight(workout), baseline))
    cost = forecast.total(list(steps)) - straight
    if cost >= 1:
        wrong = f"taking turns takes {clock(cost)} longer than straight sets"
        remedy = "let exercises that share no muscle take turns"
        yield ContentWarning(f"session.{workout.session}", wrong, remedy)


def _place(workout: Workout, step: Step) -> str:
    block = 0 if step.planned_set is None else step.planned_set.block
    return f"session.{workout.session}.block {block}"
