"""What a trainee has done of one exercise and group of sets: its past sessions, in order.

Built from rows of the record by `sessions_of`, which asks of a row only the fields that `Row`
names, so that this room need not know the record. Dates are the local dates of the sessions.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from runner.law.course import HeldKey, find_rung, plan_slots, without_part
from runner.law.workout import (
    Exercise,
    Measure,
    Rung,
    SetKind,
    Side,
    Workout,
    load_text,
    parse_setup,
    setup_text,
)
from runner.progress import weeks


class Row(weeks.Row, Protocol):
    """The fields that a row of the record must have; see the CSV's columns for their meaning."""

    @property
    def plan(self) -> str: ...  # noqa: D102
    @property
    def session(self) -> str: ...  # noqa: D102
    @property
    def block(self) -> int: ...  # noqa: D102
    @property
    def version(self) -> str: ...  # noqa: D102
    @property
    def setup(self) -> str: ...  # noqa: D102
    @property
    def load_kg(self) -> float | None: ...  # noqa: D102
    @property
    def tempo(self) -> str: ...  # noqa: D102
    @property
    def hold_s(self) -> float | None: ...  # noqa: D102
    @property
    def reserve(self) -> int | None: ...  # noqa: D102
    @property
    def reserve_aimed(self) -> int: ...  # noqa: D102
    @property
    def recovery_s(self) -> float | None: ...  # noqa: D102
    @property
    def to_beat(self) -> float | None: ...  # noqa: D102
    @property
    def corrected(self) -> object: ...  # noqa: D102
    @property
    def set_group(self) -> str: ...  # noqa: D102
    @property
    def deload(self) -> object: ...  # noqa: D102
    @property
    def level_finding(self) -> object: ...  # noqa: D102
    @property
    def pain_where(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True, order=True)
class Use:
    """What was set up and lifted, as counts are compared by: version, set-up, load, tempo."""

    version: str
    setup: str = ""  # `name=value unit`, `;` between
    load: float | None = None  # kg added
    tempo: str = ""

    @classmethod
    def of(cls, rung: Rung) -> Use:
        """What a position of the ladder sets up and lifts."""
        return cls(rung.version, setup_text(rung.setup), rung.load, rung.tempo or "")

    @property
    def text(self) -> str:
        """In a few words: version, set-up, load, tempo."""
        parts = [self.version, *(f"{n} {v}" for n, v in parse_setup(self.setup))]
        if self.load is not None:
            parts.append(f"{load_text(self.load)} kg")
        return ", ".join([*parts, *([f"tempo {self.tempo}"] if self.tempo else [])])

    def place_in(self, exercise: Exercise) -> int | None:
        """Index in the ladder, or of the nearest position of the version; None if it is gone."""
        rung = Rung(self.version, "", parse_setup(self.setup), self.load, tempo=self.tempo or None)
        if all(r.version != self.version for r in exercise.ladder):
            return None
        return find_rung(exercise, rung)


@dataclass(frozen=True, slots=True)
class PastSet:
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


@dataclass(frozen=True, slots=True)
class PastSession:
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
    placing: bool = False  # it was there to find the version
    held_back: bool = False  # fewer sets, more in reserve, nothing to beat

    @property
    def counted(self) -> tuple[PastSet, ...]:
        """The work sets that were done and have a number."""
        return tuple(s for s in self.sets if s.counts)

    @property
    def begun(self) -> bool:
        """Whether any set was begun, or hurt; else all were left out."""
        return any(s.status != "skipped" or s.pain for s in self.sets)

    @property
    def pain(self) -> bool:
        """Whether pain was reported in one of the sets."""
        return any(s.pain for s in self.sets)

    @property
    def use(self) -> Use | None:
        """What most of its counted sets used, of several the later; None where none counts."""
        uses = [s.use for s in self.counted]
        return max(reversed(uses), key=uses.count) if uses else None


@dataclass(frozen=True, slots=True)
class Told:
    """What the rows do not say of sessions, by session id; all may be left out.

    `workouts` has the workout that a session was run from: the least recovery in force comes from
    it, and the groups of sets of rows that do not name theirs, for they are old. `placing` and
    `held_back` have (session id, exercise), the latter with "" for every exercise of the session.
    """

    workouts: Mapping[str, Workout] | None = None
    placing: Collection[tuple[str, str]] = ()
    held_back: Collection[tuple[str, str]] = ()

    def holds_back(self, session_id: str, exercise: str) -> bool:
        """Whether an exercise held back in a session, by itself or with all of it."""
        return not {(session_id, exercise), (session_id, "")}.isdisjoint(self.held_back)


History = Mapping[HeldKey, tuple[PastSession, ...]]  # oldest first


def sessions_of(rows: Iterable[Row], told: Told | None = None) -> dict[HeldKey, list[PastSession]]:
    """The past by exercise and group of sets, each in the order of the sessions' starts.

    `rows` are of one trainee's closed sessions, in any order of sessions, those of one session
    in their order. A bout still running must not be among them.
    """
    told = told or Told()
    found: dict[tuple[str, HeldKey], list[Row]] = {}
    groups: dict[str, Mapping[tuple[str, int], str]] = {}
    for row in rows:
        if row.session_id not in groups:
            workout = (told.workouts or {}).get(row.session_id)
            groups[row.session_id] = {} if workout is None else groups_of(workout)
        planned = groups[row.session_id].get((row.exercise, row.set), "")
        group = without_part(row.set_group) or planned
        found.setdefault((row.session_id, (row.exercise, group)), []).append(row)
    past: dict[HeldKey, list[PastSession]] = {}
    for (_, key), of_session in found.items():
        past.setdefault(key, []).append(_session(key, of_session, told))
    for sessions in past.values():
        sessions.sort(key=lambda s: datetime.fromisoformat(s.start))
    return past


def groups_of(workout: Workout) -> Mapping[tuple[str, int], str]:
    """The group of sets that each set of a workout belongs to, by exercise and set number."""
    return {(slot.exercise, slot.number): slot.group for slot in plan_slots(workout, {})}


def _session(key: HeldKey, rows: list[Row], told: Told) -> PastSession:
    first = rows[0]
    workout = (told.workouts or {}).get(first.session_id)
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
        placing=first.level_finding == "yes" or (first.session_id, first.exercise) in told.placing,
        held_back=first.deload == "yes" or told.holds_back(first.session_id, first.exercise),
    )


def _set(row: Row, workout: Workout | None) -> PastSet:
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


def _least(row: Row, workout: Workout | None) -> float | None:
    """The least recovery in force for a row's exercise in its block, where that is known."""
    if workout is None or not 1 <= row.block <= len(workout.blocks):
        return None
    law = workout.blocks[row.block - 1].timing.get(row.exercise)
    return None if law is None else law.recovery_least
