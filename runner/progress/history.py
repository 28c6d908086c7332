"""What a trainee has done of one exercise and group of sets: its past sessions, in order.

`sessions_of` builds it from rows of the record, and uses only the fields that `SetRow` names, so
this room need not know the record. Dates are the local dates of the sessions.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Annotated, Any, Literal, NamedTuple

from msgspec import Struct

from runner.law.course import GroupKey, find_level, list_planned_sets, without_part
from runner.law.workout import (
    Exercise,
    Level,
    Measure,
    RowStatus,
    SetKind,
    Side,
    Who,
    Workout,
    YesNo,
    load_text,
    parse_setup,
    setup_text,
    setup_words,
)


class SetRow(NamedTuple):
    """One side of a set. A `str` is free text, "" for none; elsewhere None stands for empty.

    Seconds have one decimal; times are RFC 3339 in local time with its offset.
    """

    session_id: Annotated[str, "id of the session; sorts by time"]
    session_start: Annotated[str, "when the session was opened, local time"]
    iso_week: Annotated[str, "ISO week of its local date: 2026-W48"]
    plan: Annotated[str, "title of the plan"]
    session: Annotated[str, "session of the plan"]
    trainee: Annotated[str, "name of the trainee"]
    block: Annotated[int, "block of the session, from 1"]
    round: Annotated[int, "round of the block, from 1"]
    exercise: Annotated[str, "id of the exercise"]
    exercise_name: Annotated[str, "its name"]
    prime_movers: Annotated[str, "main muscles, ; between"]
    synergists: Annotated[str, "helping muscles, ; between"]
    version: Annotated[str, "id of the version"]
    setup: Annotated[str, "set-up: name=value unit, ; between"]
    load_kg: Annotated[float | None, "load used, kg"]
    set: Annotated[int, "set of this exercise in the session, from 1; both sides share it"]
    kind: Annotated[SetKind, "work, or ramp: a warm-up set"]
    side: Annotated[Side, "both, left or right"]
    status: Annotated[RowStatus, "done; skipped: left out; broken: given up"]
    measure: Annotated[Measure, "reps or hold"]
    reps: Annotated[int | None, "repetitions"]
    hold_s: Annotated[float | None, "length of a hold, s"]
    reserve: Annotated[int | None, "repetitions in reserve"]
    reserve_aimed: Annotated[int, "repetitions in reserve aimed at"]
    set_start: Annotated[str | None, "when the set began, local time, to the millisecond"]
    started_by: Annotated[Who | None, "what started the set: clock or person"]
    work_s: Annotated[float | None, "length of the set, s"]
    rest_before_s: Annotated[float | None, "pause before the set, s"]
    recovery_s: Annotated[
        float | None, "time that the main muscles had had since their last set, s"
    ]
    to_beat: Annotated[float | None, "last time's count: repetitions, or seconds of a hold"]
    beaten: Annotated[YesNo | None, "yes or no; empty where there was no count to beat"]
    tempo: Annotated[str, "tempo of the version: down-hold-up, s"]
    pain: Annotated[Literal["yes"] | None, "yes where pain ended the set"]
    note: Annotated[str, "note on the set"]
    corrected: Annotated[YesNo, "yes where the count was corrected later"]
    # Columns that an older file does not have.
    set_group: Annotated[
        str, "version that the plan names for the set; first: or later: in front where these differ"
    ] = ""
    deload: Annotated[Literal["yes"] | None, "yes in a lighter session"] = None
    level_finding: Annotated[Literal["yes"] | None, "yes in a session with level finding"] = None
    today_only: Annotated[Literal["yes"] | None, "yes where the level is for that day only"] = None
    swapped_for: Annotated[str, "exercise of the plan that this one replaced"] = ""
    pain_where: Annotated[str, "where it hurt"] = ""
    corrected_at: Annotated[str | None, "when the count was last corrected, local time"] = None


def beaten(value: float | None, to_beat: float | None, *, pain: bool) -> YesNo | None:
    """Whether a count is strictly more than the one to beat; None where either lacks, or pain."""
    if value is None or to_beat is None or pain:
        return None
    return "yes" if value > to_beat else "no"


class Use(Struct, frozen=True, order=True, gc=False):
    """What was set up and lifted, as counts are compared by: version, set-up, load, tempo."""

    version: str
    setup: str = ""  # `name=value unit`, `;` between
    load: float | None = None  # kg added
    tempo: str = ""

    @classmethod
    def of(cls, level: Level) -> Use:
        """What a level of the progression sets up and lifts."""
        return cls(level.version, setup_text(level.setup), level.load, level.tempo or "")

    @property
    def text(self) -> str:
        """In a few words: version, set-up, load, tempo."""
        parts = [self.version, *setup_words(parse_setup(self.setup))]
        if self.load is not None:
            parts.append(f"{load_text(self.load)} kg")
        return ", ".join([*parts, *([f"tempo {self.tempo}"] if self.tempo else [])])

    def index_in(self, exercise: Exercise) -> int | None:
        """Index in the progression, or of the version's nearest level; None if it is gone."""
        level = Level(
            self.version, "", parse_setup(self.setup), self.load, tempo=self.tempo or None
        )
        if all(r.version != self.version for r in exercise.progression):
            return None
        return find_level(exercise, level)


class PastSet(Struct, frozen=True, gc=False):
    """One side of a set."""

    number: int  # within exercise and session, ramp sets counted along
    use: Use
    value: float | None  # repetitions, or seconds held; None where it was not counted
    side: Side = "both"
    kind: SetKind = "work"
    status: str = "done"  # done, broken, skipped
    reserve: int | None = None  # as given
    reserve_aimed: int = 2
    recovery: float | None = None  # seconds really had; None for the first
    recovery_least: float | None = None  # in force, where it is known
    to_beat: float | None = None  # as the record has it
    pain: bool = False
    pain_where: str = ""  # as typed
    corrected: bool = False

    @property
    def recovery_short(self) -> bool:
        """Whether a muscle had less than the least recovery in force: the set is not judged."""
        known = self.recovery is not None and self.recovery_least is not None
        return known and (self.recovery or 0.0) < (self.recovery_least or 0.0)

    @property
    def counts(self) -> bool:
        """A work set that was done and has a number."""
        return self.kind == "work" and self.status == "done" and self.value is not None


class PastSession(Struct, frozen=True, dict=True):
    """One session of one exercise and group of sets; `sets` in their order."""

    session_id: str
    on: date  # local
    exercise: str
    sets: tuple[PastSet, ...]
    group: str = ""  # of sets: "" or the version that the plan names for them
    measure: Measure = "reps"
    plan: str = ""
    session: str = ""  # its id within the plan
    start: str = ""  # RFC 3339, local time with its offset
    level_finding: bool = False  # a session of level finding
    deload: bool = False  # fewer sets, more in reserve, nothing to beat

    # Worked out once: the rules go through the same sessions dozens of times, and a roster
    # through those of fifty trainees.
    @cached_property
    def counted(self) -> tuple[PastSet, ...]:
        """The work sets that were done and have a number."""
        return tuple(s for s in self.sets if s.counts)

    @cached_property
    def known(self) -> dict[Any, Any]:
        """What the rules have worked out of this session."""
        return {}

    @cached_property
    def begun(self) -> bool:
        """Whether any set was begun, or hurt; else all were left out."""
        return any(s.status != "skipped" or s.pain for s in self.sets)

    @cached_property
    def pain(self) -> bool:
        """Whether pain was reported in one of the sets."""
        return any(s.pain for s in self.sets)

    @cached_property
    def use(self) -> Use | None:
        """What most of its counted sets used, of several the later; None where none counts."""
        uses = [s.use for s in self.counted]
        if not uses or uses.count(uses[-1]) == len(uses):
            return uses[-1] if uses else None
        return max(reversed(uses), key=uses.count)


class SessionFacts(Struct, frozen=True):
    """What the rows do not say of sessions, by session id; all may be left out.

    `workouts` has the workout that a session was run from: the least recovery in force comes from
    it, and the groups of sets of rows that do not name theirs, for they are old. `level_finding`
    and `deload` have (session id, exercise), the latter with "" for every exercise.
    """

    workouts: Mapping[str, Workout] | None = None
    level_finding: Collection[tuple[str, str]] = ()
    deload: Collection[tuple[str, str]] = ()

    def is_deload(self, session_id: str, exercise: str) -> bool:
        """Whether a session was a deload for an exercise, by itself or with all others."""
        return not {(session_id, exercise), (session_id, "")}.isdisjoint(self.deload)


def iso_week(day: date) -> str:
    """The ISO 8601 week of a date: 2026-W48."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"


def monday_of(day: date) -> date:
    """The first day of a date's ISO week."""
    return day - timedelta(days=day.weekday())


def sessions_of(
    rows: Iterable[SetRow], facts: SessionFacts | None = None
) -> dict[GroupKey, list[PastSession]]:
    """The past by exercise and group of sets, each in the order of the sessions' starts.

    `rows` are of one trainee's closed sessions, in any order of sessions, those of one session
    in their order. A bout still running must not be among them.
    """
    facts = facts or SessionFacts()
    found: dict[tuple[str, GroupKey], list[SetRow]] = {}
    groups: dict[str, Mapping[tuple[str, int], str]] = {}
    same: dict[int, Mapping[tuple[str, int], str]] = {}  # most sessions are one of a few workouts
    for row in rows:
        if row.session_id not in groups:
            workout = (facts.workouts or {}).get(row.session_id)
            if id(workout) not in same:
                same[id(workout)] = {} if workout is None else groups_of(workout)
            groups[row.session_id] = same[id(workout)]
        planned = groups[row.session_id].get((row.exercise, row.set), "")
        group = without_part(row.set_group) or planned
        found.setdefault((row.session_id, (row.exercise, group)), []).append(row)
    past: dict[GroupKey, list[PastSession]] = {}
    for (_, key), of_session in found.items():
        past.setdefault(key, []).append(_session(key, of_session, facts))
    for sessions in past.values():
        sessions.sort(key=lambda s: datetime.fromisoformat(s.start))
    return past


def groups_of(workout: Workout) -> Mapping[tuple[str, int], str]:
    """The group of sets that each set of a workout belongs to, by exercise and set number."""
    return {
        (planned_set.exercise, planned_set.number): planned_set.group
        for planned_set in list_planned_sets(workout, {})
    }


def _session(key: GroupKey, rows: list[SetRow], facts: SessionFacts) -> PastSession:
    first = rows[0]
    id_, name = first.session_id, first.exercise
    workout = (facts.workouts or {}).get(id_)
    return PastSession(
        first.session_id,
        date.fromisoformat(first.session_start[:10]),
        key[0],
        tuple(_set(row, workout) for row in rows),
        key[1],
        first.measure,
        first.plan,
        first.session,
        first.session_start,
        level_finding=first.level_finding == "yes" or (id_, name) in facts.level_finding,
        deload=first.deload == "yes" or facts.is_deload(id_, name),
    )


def _set(row: SetRow, workout: Workout | None) -> PastSet:
    value = row.hold_s if row.measure == "hold" else row.reps
    return PastSet(
        row.set,
        Use(row.version, row.setup, row.load_kg, row.tempo),
        None if value is None else float(value),
        row.side,
        row.kind,
        row.status,
        row.reserve,
        row.reserve_aimed,
        row.recovery_s,
        _least(row, workout),
        row.to_beat,
        pain=row.pain == "yes",
        pain_where=row.pain_where,
        corrected=row.corrected == "yes",
    )


def _least(row: SetRow, workout: Workout | None) -> float | None:
    """The least recovery in force for a row's exercise in its block, where that is known."""
    if workout is None or not 1 <= row.block <= len(workout.blocks):
        return None
    law = workout.blocks[row.block - 1].timing.get(row.exercise)
    return None if law is None else law.recovery_least
