"""Compiles a session of a plan to the values that the core runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

from msgspec.structs import replace

from runner.errors import Exit, MatsideError
from runner.law import workout as core
from runner.plan.checks import Layer, merged, resolve
from runner.plan.faults import KeyFault, did_you_mean, quoted
from runner.plan.models import (
    Block,
    BlockKeys,
    EffortKeys,
    Exercise,
    LoadRange,
    Plan,
    RecoveryKeys,
    Session,
    SetupRange,
    Version,
)
from runner.plan.values import LONGEST_SHORT, decimal, tempo_seconds
from runner.progress.phases import Phase

RESERVE = 2  # repetitions left; common practice
REPS = (8, 30)  # Iversen et al. 2021, Sports Med 51:2079-2095 (6-15, or 15-40 to failure)
HOLD = (10.0, 60.0)  # seconds; our choice
REP_LIMIT = 40  # repetitions; Iversen et al. 2021
ADVANCE: core.Advance = "first set"  # our choice: see `runner.progress.going_up`
SECONDS_A_REP = 2.0  # our choice, between the test cadence of 3 s and self-chosen 1.2-1.4 s

_T = TypeVar("_T")


def compile_session(plan: Plan, session_id: str) -> core.Workout:
    """One session of a plan as the core runs it; seconds and kilograms throughout.

    It holds every exercise of the plan with its whole progression, for a swap may bring in any.
    Raises MatsideError with exit code 66 where the plan has no such session.
    """
    session = plan.find_session(session_id)
    if session is None:
        ids = [session.id for session in plan.session]
        line = f"unknown session {quoted(session_id)}; "
        raise MatsideError(line + did_you_mean(session_id, ids), code=Exit.NO_INPUT)
    return _workout(plan, session, _exercises(plan), _stations(plan))


def compile_plan(plan: Plan) -> list[core.Workout]:
    """Every session of the plan; exercises that they share are made once."""
    exercises, stations = _exercises(plan), _stations(plan)
    return [_workout(plan, session, exercises, stations) for session in plan.session]


def _exercises(plan: Plan) -> dict[str, core.Exercise]:
    return {name: _exercise(plan, name) for name in plan.exercise}


def _workout(
    plan: Plan,
    session: Session,
    exercises: dict[str, core.Exercise],
    stations: dict[str, core.Station],
) -> core.Workout:
    return core.Workout(
        plan=plan.title,
        session=session.id,
        name=session.name or session.id,
        blocks=tuple(_block(plan, block) for block in session.block),
        exercises=exercises,
        stations=stations,
        summary=plan.summary or "",
        trial=plan.trial,
        lead_in=plan.timing.lead_in,
        warm_up=session.warm_up,
        warm_up_moves=session.warm_up_moves,
        cool_down=session.cool_down,
        cool_down_moves=session.cool_down_moves,
        cautions=plan.cautions,
    )


def phases_of(plan: Plan) -> tuple[Phase, ...]:
    """The plan's phases, in order."""
    return tuple(Phase(one.weeks, one.sets, one.reserve) for one in plan.phase)


def _block(plan: Plan, block: Block) -> core.Block:
    items = tuple(
        core.Item(item.exercise, item.sets, item.ramp, item.versions) for item in block.do
    )
    around = merged(_layer(plan.timing), _layer(block))
    usual = _possible(resolve((around,)))
    layers = {name: _layer(exercise) for name, exercise in plan.exercise.items()}
    timing = {
        name: _possible(resolve((around, layer))) if layer else usual
        for name, layer in layers.items()
    }
    return core.Block(
        items, timing, around.get("set_starts", "clock") == "key", around.get("reach", 0.0)
    )


def in_force(plan: Plan, block: Block, exercise: Exercise) -> core.Timing:
    """The settings in force for an exercise in a block, even if they contradict each other."""
    return resolve(map(_layer, (plan.timing, block, exercise)))


def _layer(keys: RecoveryKeys) -> Layer:
    """The timing keys of one place in the plan."""
    given = keys.model_fields_set & BlockKeys.model_fields.keys()
    values = ((name, getattr(keys, name)) for name in BlockKeys.model_fields if name in given)
    return {name: value for name, value in values if value is not None}


def _possible(timing: core.Timing) -> core.Timing:
    """Settings made to hold together, 0 < L <= T and A <= T, as the core requires.

    `checks` covers every exercise that can come into a block. Another one may contradict the
    block's recovery, but no set will ever use it.
    """
    return replace(
        timing,
        recovery_least=min(timing.recovery_least, timing.recovery),
        recovery_cross=min(timing.recovery_cross, timing.recovery),
    )


def _exercise(plan: Plan, name: str) -> core.Exercise:
    exercise = plan.exercise[name]
    made = core.Exercise(
        id=name,
        name=exercise.name,
        short=exercise.short or short_name(name),
        pattern=exercise.pattern,
        prime=exercise.prime,
        assist=exercise.assist,
        both_sides=exercise.both_sides,
        sides=exercise.sides,
        measure=exercise.measure,
        rep_range=_rep_range(exercise, exercise.measure, plan.effort),
        reserve=_first(exercise.reserve, plan.effort.reserve, RESERVE),
        rep_limit=_first(exercise.hard_ceiling, plan.effort.hard_ceiling, REP_LIMIT),
        progression=_progression(exercise, plan.effort),
        priority=exercise.priority,
        cues=exercise.cues,
        caution=exercise.caution,
        instead=exercise.instead,
        station=exercise.station,
        load_on=exercise.load_on,
        way_out=exercise.way_out,
        pacer=_first(exercise.pacer, plan.effort.pacer, default=False),
        advance=_first(exercise.advance, plan.effort.advance, ADVANCE),
        stress=exercise.stress,
        versions=_version_keys(exercise, plan.effort),
    )
    index = None if exercise.first_level is None else made.level_named(exercise.first_level)
    begins = made.progression[index or 0]
    return replace(made.at(begins.version), begins=None if index is None else begins)


def _version_keys(
    exercise: Exercise, effort: EffortKeys
) -> tuple[tuple[str, core.VersionKeys], ...]:
    """What each version has of its own; empty where none has anything."""
    found = []
    for version in exercise.version:
        sides, measure = version.sides or exercise.sides, version.measure or exercise.measure
        keys = core.VersionKeys(
            sides=sides,
            measure=measure,
            rep_range=_rep_range(exercise, measure, effort),
            station=version.station or exercise.station,
            stress=exercise.stress if version.stress is None else version.stress,
            both_sides=() if sides == "together" else exercise.both_sides,
        )
        found.append((version.id, keys))
    own = (
        one.sides or one.measure or one.station or one.stress is not None
        for one in exercise.version
    )
    return tuple(found) if any(own) else ()


def level_faults(plan: Plan) -> Iterator[KeyFault]:
    """First levels that their exercise does not have."""
    for name, exercise in plan.exercise.items():
        first = exercise.first_level
        made = None if first is None else _exercise(plan, name)
        if first is not None and made is not None and made.begins is None:
            levels = [
                f"{level.version}:{value}" for level in made.progression for value in _values(level)
            ]
            known = [*dict.fromkeys(level.version for level in made.progression), *levels]
            wrong = f"{name} has no level {quoted(first)}"
            remedy = did_you_mean(first, known)
            yield KeyFault(("exercise", name, "first_level"), wrong, remedy)


def _values(level: core.Level) -> list[str]:
    """What tells the levels of a version apart, as a person writes it."""
    if level.load is not None:
        return [f"{core.load_text(level.load)}kg"]
    return [value for _, value in level.setup]


def _first(exercise: _T | None, plan: _T | None, default: _T) -> _T:
    """The value at the nearest place that has one, else the default."""
    if exercise is not None:
        return exercise
    return default if plan is None else plan


def _rep_range(
    exercise: Exercise, measure: core.Measure, effort: EffortKeys
) -> tuple[float, float]:
    if measure == "hold":
        return _first(exercise.hold, effort.hold, HOLD)
    low, high = _first(exercise.reps, effort.reps, REPS)
    return float(low), float(high)


def _progression(exercise: Exercise, effort: EffortKeys) -> tuple[core.Level, ...]:
    seconds = _first(exercise.seconds_a_rep, effort.seconds_a_rep, SECONDS_A_REP)
    return tuple(
        level
        for version in exercise.version
        for level in _levels(version, seconds, version.sides or exercise.sides)
    )


def _levels(version: Version, seconds: float, sides: core.Sides) -> list[core.Level]:
    """Every level of a version, in the order of its range in the file."""
    setups, (loads, step) = _setups(version), _loads(version)
    return [
        core.Level(
            version=version.id,
            name=version.name,
            setup=setup,
            load=load,
            load_step=step,
            tempo=version.tempo,
            seconds_a_rep=tempo_seconds(version.tempo) if version.tempo else seconds,
            body_share=version.body_share,
            source=version.source,
            sides=sides,
        )
        for setup in setups
        for load in loads
    ]


def _setups(version: Version) -> list[core.Setup]:
    """The measured set-up of each level; at most one of its values is a range."""
    setups: list[core.Setup] = [()]
    for name, value in version.setup.items():
        texts = value.texts() if isinstance(value, SetupRange) else (value,)
        setups = [(*setup, (name, text)) for setup in setups for text in texts]
    return setups


def _loads(version: Version) -> tuple[tuple[float | None, ...], float | None]:
    """The load of each level, and the step between them, in kg."""
    if isinstance(version.load, LoadRange):
        return version.load.loads(), float(abs(decimal(version.load.by)))
    return (version.load,), None


def _stations(plan: Plan) -> dict[str, core.Station]:
    return {
        name: core.Station(
            id=name,
            name=station.name,
            change=station.change,
            bears_body_weight=station.bears_body_weight,
            check=station.check,
        )
        for name, station in plan.station.items()
    }


def short_name(exercise_id: str) -> str:
    """A name of at most seven capitals from an id: whole words while they fit, else cut off."""
    words = exercise_id.split("-")
    short = words[0]
    for word in words[1:]:
        if len(short) + 1 + len(word) > LONGEST_SHORT:
            break
        short = f"{short}-{word}"
    return short[:LONGEST_SHORT].upper()
