"""The working level: the version, set-up and load at which a trainee trains an exercise.

There is one for each exercise and group of sets. It is the newest decision (advice accepted, set by
hand, found), or what a later session used. So it is computed from rows of sets and
decisions, and stored nowhere else. Our choice, all of it.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from itertools import groupby
from typing import Final, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import GroupKey, level_order, with_level, without_part, working_index
from runner.law.workout import Exercise, Level, Measure, SetKind, parse_setup
from runner.progress.history import Use

USED: Final = "used"  # why a level is worked at that no decision names


class LevelRow(NamedTuple):
    """The fields of a row that say at which level it was done."""

    session_id: str
    session_start: str
    set: int
    kind: SetKind
    status: str
    measure: Measure
    reps: int | None
    hold_s: float | None
    version: str
    setup: str
    load_kg: float | None
    set_start: str | None
    pain: str | None
    deload: str | None
    level_finding: str | None
    today_only: str | None
    swapped_for: str


class TrainedSession(Struct, frozen=True):
    """What one session did of an exercise and group of sets, as far as it sets a level."""

    session_id: str
    start: datetime  # aware
    on: date  # local
    sets: tuple[tuple[Use, float], ...]  # counts; of one-sided work the weaker side's
    timed: bool = True  # its sets have starts: it was not written up from paper
    imported: bool = False


class Decision(Struct, frozen=True):
    """A level that somebody decided on."""

    use: Use
    on: date  # local
    reason: str
    id: str = ""
    since: str = ""  # UTC, when it was written down
    known_from: datetime | None = None  # start of the first session that was opened knowing it
    imported: bool = False


class WorkingLevel(Struct, frozen=True):
    """A working level: since when, and why."""

    use: Use
    on: date
    reason: str = USED
    source: str = ""  # id of the decision, or of the session


def carries(row: LevelRow) -> bool:
    """Whether a row can set the level at which the next session starts."""
    value = row.hold_s if row.measure == "hold" else row.reps
    counted = row.kind == "work" and row.status == "done" and value is not None
    passing = row.pain or row.deload or row.level_finding or row.today_only or row.swapped_for
    return counted and not passing


def trained(rows: Iterable[LevelRow], *, imported: bool = False) -> TrainedSession | None:
    """One session's rows of an exercise and group of sets; None where they give no level."""
    done = list(filter(carries, rows))
    if not done:
        return None
    start = datetime.fromisoformat(done[0].session_start)
    counts = (
        (
            row.set,
            Use(row.version, row.setup, row.load_kg),
            float((row.hold_s if row.measure == "hold" else row.reps) or 0),
        )
        for row in done
    )
    timed = any(row.set_start is not None for row in done)
    return TrainedSession(
        done[0].session_id, start, start.date(), weaker_sides(counts), timed, imported
    )


def weaker_sides(counts: Iterable[tuple[int, Use, float]]) -> tuple[tuple[Use, float], ...]:
    """Sets made from their sides: the level used, and the count of the weaker side."""
    sets: dict[int, tuple[Use, float]] = {}
    for number, use, value in counts:
        other = sets.get(number, (use, value))[1]
        sets[number] = (use, min(value, other))
    return tuple(sets.values())


def is_later(session: TrainedSession, decision: Decision) -> bool:
    """Whether a session came after a decision: it was opened with it known.

    Nobody knows what a session from paper knew, nor one imported without the decisions of its
    record: they are later by their local dates.
    """
    if session.timed and (decision.imported or not session.imported):
        return decision.known_from is not None and session.start >= decision.known_from
    return session.on > decision.on


def session_level(
    exercise: Exercise, sets: Iterable[tuple[Use, float]], planned: Use
) -> Use | None:
    """The level of most of a session's sets; None where none is kept.

    In a tie the harder one whose count reached the bottom of the range. A level harder than
    planned that never reached it is not kept.
    """
    uses = [(use, value) for use, value in sets if _order(exercise, use) is not None]
    reached = {use for use, value in uses if value >= exercise.at(use.version).rep_range[0]}

    def order(use: Use) -> tuple[float, ...]:
        return _order(exercise, use) or ()

    kept = [use for use, _ in uses if use in reached or order(use) <= order(planned)]
    if not kept:
        return None
    often = max(kept.count(use) for use in kept)
    tied = [use for use in dict.fromkeys(kept) if kept.count(use) == often]
    good = [use for use in tied if use in reached]
    return max(good, key=order) if good else min(tied, key=order)


def working_level(
    exercise: Exercise,
    group: str,
    sessions: Iterable[TrainedSession],
    decisions: Iterable[Decision],
    *,
    since: bool = False,
) -> WorkingLevel | None:
    """The working level of a group of sets; None where nothing was decided or done.

    `sessions` come newest first, and are read only as far back as is needed: with `since` as far
    as the level's first day.
    """
    known = [d for d in decisions if _order(exercise, d.use) is not None]
    decision = max(known, key=lambda d: (d.on, d.since), default=None)
    level = None
    if decision is not None:
        level = WorkingLevel(decision.use, decision.on, decision.reason, decision.id)
    later: list[TrainedSession] = []
    sure: Use | None = None
    for session in sessions:
        if decision is not None and not is_later(session, decision):
            if session.on < decision.on:
                break
            continue
        later.append(session)
        use = _sure(exercise, session)
        if use is not None and (not since or sure not in (None, use)):
            break  # what came before it changes nothing any more
        sure = use or sure
    for session in reversed(later):
        planned = level.use if level else _first(exercise, group)
        use = session_level(exercise, session.sets, planned)
        if use is not None and (level is None or use != level.use):
            level = WorkingLevel(use, session.on, source=session.session_id)
    return level


def _sure(exercise: Exercise, session: TrainedSession) -> Use | None:
    """The level that a session gives whatever was planned: every count reached the bottom."""
    known = [one for one in session.sets if _order(exercise, one[0]) is not None]
    if not known or any(value < exercise.at(use.version).rep_range[0] for use, value in known):
        return None
    return session_level(exercise, session.sets, session.sets[0][0])


def level_of_version(
    exercise: Exercise,
    version: str,
    sessions: Mapping[str, Iterable[TrainedSession]],
    decisions: Mapping[str, Iterable[Decision]],
    *,
    since: bool = False,
) -> WorkingLevel | None:
    """The exercise's newest level in all groups of sets, of that version alone where one is named.

    For a group that has no level of its own.
    """
    every = [d for of in decisions.values() for d in of if version in ("", d.use.version)]
    done = _of_version(version, _together(sessions.values()))
    return working_level(exercise, version, done, every, since=since)


def _of_version(version: str, sessions: Iterable[TrainedSession]) -> Iterator[TrainedSession]:
    for one in sessions:
        sets = tuple(s for s in one.sets if version in ("", s[0].version))
        if sets:
            yield replace(one, sets=sets)


def _together(groups: Iterable[Iterable[TrainedSession]]) -> Iterator[TrainedSession]:
    """Sessions of several groups as whole sessions, newest first."""
    merged = heapq.merge(*groups, key=lambda s: (s.start, s.session_id), reverse=True)
    for _, parts in groupby(merged, key=lambda s: s.session_id):
        first, *others = parts
        yield replace(first, sets=sum((o.sets for o in others), first.sets))


def in_progressions(
    exercises: Mapping[str, Exercise], levels: Mapping[GroupKey, WorkingLevel]
) -> tuple[dict[str, Exercise], dict[GroupKey, int]]:
    """The exercises with these levels in their progressions, and the index of each level there."""
    made = dict(exercises)
    for (name, _), level in levels.items():
        if name in made:
            made[name] = with_level(made[name], _level(level.use))
    indexes = {
        key: index
        for key, level in levels.items()
        if key[0] in made and (index := level.use.index_in(made[key[0]])) is not None
    }
    return made, indexes


def _first(exercise: Exercise, group: str) -> Use:
    """What a group of sets begins with where nothing is known."""
    version = without_part(group)
    known = any(level.version == version for level in exercise.progression)
    level = exercise.progression[working_index(exercise, version if known else "", {})]
    return replace(Use.of(level), tempo="")


def _level(use: Use) -> Level:
    return Level(use.version, "", parse_setup(use.setup), use.load)


def _order(exercise: Exercise, use: Use) -> tuple[float, ...] | None:
    return level_order(exercise, _level(use))
