"""A plan while a person edits it: a summary, and what the last save changed.

`check --follow` prints this at each save. It is short: muscles within their aim are counted, the
others are named.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from runner.law.workout import Workout
from runner.plan.compile import compile_session
from runner.plan.models import Plan
from runner.plan.objections import Objection, objections
from runner.planning.shorten import Addition, addition
from runner.progress.adjust import Baseline
from runner.reports.week import Muscle, Week, week_of
from runner.text import clock, how_many, shown

FREE = 60.0  # seconds; with these free the report names a set to add; our choice
_TIMES = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


class Snapshot(Struct, frozen=True):
    """What a plan comes to at one save."""

    week: Week
    minutes: Mapping[str, float]  # time there is, by session
    sets: Mapping[tuple[str, str], int]  # by session and exercise
    workouts: tuple[Workout, ...]
    objections: tuple[Objection, ...]


def snapshot(plan: Plan) -> Snapshot:
    """What the plan comes to."""
    workouts = tuple(compile_session(plan, session.id) for session in plan.session)
    sets: dict[tuple[str, str], int] = {}
    for workout in workouts:
        for item in (item for block in workout.blocks for item in block.items):
            key = (workout.session, item.exercise)
            sets[key] = sets.get(key, 0) + item.sets
    return Snapshot(
        week_of(plan, [(workout, Baseline()) for workout in workouts]),
        {one.id: one.minutes for one in plan.session if one.minutes is not None},
        sets,
        workouts,
        tuple(objections(plan, workouts)),
    )


def follow_lines(now: Snapshot, before: Snapshot | None) -> list[str]:
    """Lengths, sets, changes since the last save, objections, and what there is time for."""
    lines = [_length(one.id, one.seconds, now.minutes.get(one.id)) for one in now.week.sessions]
    lines.append(_bands(now.week.muscles))
    if before is not None:
        changes = list(_changes(before, now))
        lines += [f"changed: {change}" for change in changes] or [
            "changed: neither sets nor lengths"
        ]
    lines += [f"{one.place}: objection: {one.wrong}; {one.remedy}" for one in now.objections]
    return lines + list(_room(now))


def _length(session: str, seconds: float, there: float | None) -> str:
    line = f"{shown(session)}: {clock(seconds)}"
    if there is None:
        return line
    over = seconds - there
    return f"{line} of {clock(there)}, {clock(abs(over))} {'over' if over > 0 else 'free'}"


def _bands(muscles: Sequence[Muscle]) -> str:
    out = [one for one in muscles if one.judged != "in"]
    line = f"sets a week: {how_many(len(muscles) - len(out), 'muscle')} within the aim"
    named = (f"{one.muscle} {one.sets:g} ({_aim(one)})" for one in out)
    return f"{line}; outside it: {', '.join(named)}" if out else line


def _aim(one: Muscle) -> str:
    low, high = one.band
    return f"{one.judged}, aim {low:g}-{high:g}"


def _changes(before: Snapshot, now: Snapshot) -> Iterator[str]:
    for key in dict.fromkeys((*before.sets, *now.sets)):
        was, sets = before.sets.get(key, 0), now.sets.get(key, 0)
        if was != sets:
            yield f"{shown(key[0])}, {key[1]}: {how_many(sets, 'set')}, not {was}"
    lengths = {one.id: one.seconds for one in before.week.sessions}
    for one in now.week.sessions:
        if one.id in lengths and abs(one.seconds - lengths[one.id]) >= 1:
            yield f"{shown(one.id)}: {clock(one.seconds)}, not {clock(lengths[one.id])}"
    sets_before = {one.muscle: one.sets for one in before.week.muscles}
    for muscle in now.week.muscles:
        was_sets = sets_before.get(muscle.muscle, 0.0)
        if was_sets != muscle.sets:
            yield f"{muscle.muscle}: {muscle.sets:g} sets a week, not {was_sets:g}"
    gone = [one for one in before.objections if one not in now.objections]
    yield from (f"objection settled: {one.place}: {one.wrong}" for one in gone)


def _room(now: Snapshot) -> Iterator[str]:
    for workout, session in zip(now.workouts, now.week.sessions, strict=True):
        there = now.minutes.get(session.id)
        if there is not None and there - session.seconds >= FREE:
            found = addition(workout, None, there, lacking(now.week))
            if found is not None:
                free = int((there - session.seconds) // 60)
                yield f"{how_many(free, 'minute')} free in {added(found, workout, now.week)}"


def lacking(week: Week) -> dict[str, float]:
    """By muscle, sets that a week has too few."""
    return {one.muscle: one.band[0] - one.sets for one in week.muscles if one.sets < one.band[0]}


def added(found: Addition, workout: Workout, week: Week) -> str:
    """`B: a third set of Push-up brings chest from 8 to 9`."""
    (was,) = (one.sets for one in week.muscles if one.muscle == found.muscle)
    often = week.number / len(week.sessions)
    number = _TIMES[found.sets] if found.sets < len(_TIMES) else f"{found.sets}th"
    name = shown(workout.exercises[found.exercise].name)
    to = f"{was + found.share * often:g}"
    where = shown(workout.session)
    return f"{where}: a {number} set of {name} brings {found.muscle} from {was:g} to {to}"
