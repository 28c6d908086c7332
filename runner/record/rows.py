"""One row for each side of each set, derived from a session's state. Pure."""

from __future__ import annotations

from runner.core.session.state import Row, State
from runner.core.values import YesNo, setup_text
from runner.core.workout import Exercise
from runner.record.columns import SetRow
from runner.record.info import SessionInfo
from runner.record.text import clean


def with_places(info: SessionInfo, state: State) -> list[tuple[Row, int]]:
    """The rows of a state, each with its place in the file: milliseconds since 1970 UTC.

    A skipped set has no start; it stands where the last set begun before it does, or at the
    session's start, and its running number keeps the order there.
    """
    seconds = 0.0
    placed = []
    for row in state.rows:
        seconds = seconds if row.start is None else row.start
        placed.append((row, round(info.utc(seconds).timestamp() * 1000)))
    return placed


def set_row(info: SessionInfo, state: State, row: Row) -> SetRow:
    """One row of a state as the record has it.

    A bout under way has the status `running` and no end yet. The table keeps such a row, for
    it is there after a crash. An export leaves it out until the bout has ended: neither `done`
    nor `broken` would be true of it.
    """
    slot, exercise = row.slot, state.exercise(row)
    hold = exercise.measure == "hold"
    hold_s = _tenth(row.value) if hold else None
    reps = None if hold or row.value is None else round(row.value)
    to_beat = _tenth(row.to_beat)
    return SetRow(
        session_id=info.id,
        session_start=info.local(0).isoformat(timespec="seconds"),
        iso_week=info.iso_week,
        plan=info.plan,
        session=info.session,
        trainee=info.trainee,
        block=slot.block,
        round=slot.round,
        exercise=exercise.id,
        exercise_name=exercise.name,
        prime_movers=";".join(exercise.prime),
        synergists=";".join(helpers(exercise)),
        version=slot.rung.version,
        setup=setup_text(slot.rung.setup),
        load_kg=slot.rung.load,
        set=slot.number,
        kind=slot.kind,
        side=row.side,
        status=row.status,
        measure=exercise.measure,
        reps=reps,
        hold_s=hold_s,
        reserve=row.reserve,
        reserve_aimed=exercise.reserve,
        set_start=(
            None if row.start is None else info.local(row.start).isoformat(timespec="milliseconds")
        ),
        started_by=row.started_by,
        work_s=_tenth(row.work),
        rest_before_s=_tenth(row.rest_before),
        recovery_s=_tenth(row.recovery),
        to_beat=to_beat,
        beaten=_beaten(row, hold_s if hold else reps, to_beat),
        tempo=slot.rung.tempo or "",
        pain="yes" if row.pain else None,
        note=clean(row.note),
        corrected="yes" if row.corrected else "no",
        set_group=slot.group,
        deload="yes" if _deload(state, exercise.id) else None,
        level_finding="yes" if exercise.id in state.workout.placing else None,
        today_only="yes" if row.today_only or state.memory.unread else None,
        swapped_for=slot.swapped_for,
        pain_where=clean(row.pain_where),
        corrected_at=(
            None
            if row.corrected_at is None
            else info.local(row.corrected_at).isoformat(timespec="seconds")
        ),
    )


def _deload(state: State, exercise: str) -> bool:
    """Whether there was nothing to beat, by what was taken for the session or agreed before."""
    changes = (one for one in state.adjustments if one.kind == "no count")
    return any(one.exercise in ("", exercise) for one in changes)


def helpers(exercise: Exercise) -> tuple[str, ...]:
    """What helps, and what one-sided work loads on both sides: that is a synergist there."""
    both = (muscle for muscle in exercise.both_sides if muscle not in exercise.prime)
    return tuple(dict.fromkeys((*exercise.assist, *both)))


def _beaten(row: Row, value: float | None, to_beat: float | None) -> YesNo | None:
    """By the numbers as they are kept, so that a row never contradicts itself."""
    if value is None or to_beat is None or row.pain:
        return None
    return "yes" if value > to_beat else "no"


def _tenth(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds, 1)
