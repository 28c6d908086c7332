"""Exported tables beside the sets: a row for each session, week, and decision on a level.

The fields of each row, in order, are the columns of its CSV. Times are RFC 3339 in local time with
the offset; an empty field does not apply. The module loads no heavy library.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import Annotated, Any, NamedTuple, TextIO, get_type_hints

from runner.law.weekly_sets import AIM, judged
from runner.law.workout import YesNo, load_text
from runner.progress.history import SetRow
from runner.progress.session_stats import session_load
from runner.progress.weeks import Week, counts_for_week, weeks_of
from runner.record.csvfile import Line, guard, write_csv
from runner.record.past import Planned, SessionRow, planned
from runner.record.record import Reader, Record
from runner.record.rows import Period


class SessionLine(NamedTuple):
    """One session. A `str` is free text, "" for none; elsewhere None stands for empty."""

    session_id: Annotated[str, "id of the session; sorts by time"]
    session_start: Annotated[str, "when it was opened, local time"]
    session_end: Annotated[str | None, "when it was closed; empty while it is open"]
    iso_week: Annotated[str, "ISO week of its local date: 2026-W48"]
    plan: Annotated[str, "title of the plan"]
    session: Annotated[str, "session of the plan"]
    trainee: Annotated[str, "name of the trainee"]
    status: Annotated[str, "open or closed"]
    complete: Annotated[YesNo | None, "yes where no set remained at the close"]
    sets_done: Annotated[int, "work sets done; left and right of one set are one"]
    sets_left_out: Annotated[int, "work sets of which no side was done"]
    length_s: Annotated[
        float | None, "from start to close, s, without the time in which it was cut off"
    ]
    rpe: Annotated[float | None, "how hard it was, 0 to 10"]
    session_load: Annotated[float | None, "rpe times minutes"]
    body_mass_kg: Annotated[float | None, "body mass of the day, kg"]
    note: Annotated[str, "notes on the session"]


class WeekLine(NamedTuple):
    """One muscle in one ISO week of one trainee in which it got a set."""

    trainee: Annotated[str, "name of the trainee"]
    iso_week: Annotated[str, "ISO week: 2026-W48"]
    monday: Annotated[date, "its first day"]
    sessions: Annotated[int, "sessions with a work set"]
    muscle: Annotated[str, "a muscle that got a set"]
    sets: Annotated[float, "its sets: 1 as a main muscle, 0.5 as a helping muscle"]
    aim_from: Annotated[float, "fewest sets aimed at"]
    aim_to: Annotated[float, "most sets aimed at"]
    aim_by: Annotated[str, "where the aim comes from: plan, or published where the plan has none"]
    judged: Annotated[str, "the sets against the aim: little, under, in or over"]


class DecisionLine(NamedTuple):
    """One decision about a level; the levels that a later session used replace it."""

    trainee: Annotated[str, "name of the trainee"]
    since: Annotated[str, "when it was decided, UTC"]
    exercise: Annotated[str, "id of the exercise"]
    group: Annotated[str, "version that the plan names for the sets; empty for the others"]
    version: Annotated[str, "id of the version"]
    setup: Annotated[str, "set-up: name=value unit, ; between"]
    load_kg: Annotated[float | None, "load, kg"]
    reason: Annotated[str, "why"]
    session_id: Annotated[str | None, "session that brought it, if one did"]
    # Columns that an older file lacks.
    on: Annotated[date | None, "local date of the decision"] = None
    decision_id: Annotated[str, "id of the decision"] = ""
    replaces: Annotated[str, "id of the decision that it replaces"] = ""
    known_from: Annotated[str, "first session opened after this decision was known"] = ""


def weeks_of_record(record: Record, trainee: str, period: Period) -> list[tuple[Week, Planned]]:
    """A trainee's weeks, each with what its last session's plan says of a week."""
    sessions = record.sessions(trainee=trainee, **period)
    plans = PlansAsTheyWere(record)
    by_id = {session.session_id: session.plan_hash for session in sessions}

    def pattern(session: str, exercise: str) -> str:
        return plans[by_id[session]].patterns.get(exercise, "") if session in by_id else ""

    latest = {session.iso_week: session.plan_hash for session in sessions}
    weeks = weeks_of(record.period(trainee, **period), pattern)
    return [(week, plans[latest[week.iso_week]]) for week in weeks]


class PlansAsTheyWere(dict[str, Planned]):
    """Stored plans by their hash, each read once."""

    def __init__(self, record: Record) -> None:
        super().__init__()
        self._record = record

    def __missing__(self, plan_hash: str) -> Planned:
        self[plan_hash] = planned(self._record.plan_text(plan_hash))
        return self[plan_hash]


def session_lines(record: Record, trainees: Iterable[str], period: Period) -> Iterator[SessionLine]:
    """The sessions of these trainees, one after the other, each by local date and start."""
    for trainee in trainees:
        rows = record.period(trainee, **period)
        numbers = {
            session: _done_and_left_out(of_session)
            for session, of_session in groupby(rows, key=lambda row: row.session_id)
        }
        for session in record.sessions(trainee=trainee, **period):
            yield _session_line(session, *numbers.get(session.session_id, (0, 0)))


def _done_and_left_out(rows: Iterable[SetRow]) -> tuple[int, int]:
    """How many work sets of one session were done, and how many have no side done."""
    done, met = set(), set()
    for row in rows:
        if row.kind == "work":
            met.add((row.exercise, row.set))
        if counts_for_week(row):
            done.add((row.exercise, row.set))
    return len(done), len(met - done)


def _session_line(session: SessionRow, done: int, left_out: int) -> SessionLine:
    length = session.length_s
    rpe = session.rpe
    return SessionLine(
        session.session_id,
        session.session_start,
        session.session_end,
        session.iso_week,
        session.plan,
        session.session,
        session.trainee,
        session.status,
        session.complete,
        done,
        left_out,
        length,
        rpe,
        session_load(rpe, None if length is None else length / 60),
        session.mass_kg,
        session.note,
    )


def week_lines(record: Record, trainees: Iterable[str], period: Period) -> Iterator[WeekLine]:
    """The weeks of these trainees, one after the other; muscles in the order of `MUSCLES`."""
    for trainee in trainees:
        for week, plan in weeks_of_record(record, trainee, period):
            for muscle, sets in week.by_muscle.items():
                target = plan.target(muscle)
                low, high = target or AIM
                yield WeekLine(
                    trainee,
                    week.iso_week,
                    week.monday,
                    week.sessions,
                    muscle,
                    sets,
                    low,
                    high,
                    "published" if target is None else "plan",
                    judged(sets, target),
                )


def decision_lines(
    record: Record, trainees: Iterable[str], period: Period
) -> Iterator[DecisionLine]:
    """The decisions of these trainees, by exercise, group and time.

    With a plan: those brought by its sessions. One made without a session belongs to no plan.
    """
    for trainee in trainees:
        sessions = {s.session_id for s in record.sessions(trainee=trainee, **period)}
        for decision in record.level_decisions(trainee):
            free = decision.session_id is None and _within(decision.local_date, period)
            if free or decision.session_id in sessions:
                yield DecisionLine(*decision)


def _within(day: date, period: Period) -> bool:
    since, until = period.get("since"), period.get("until")
    inside = (since is None or day >= since) and (until is None or day <= until)
    return inside and period.get("plan") is None


def write_named(
    what: str, record: Reader, trainees: Sequence[str], period: Period, stream: TextIO
) -> None:
    """Write the table of that name: sessions, weeks or held."""
    if not isinstance(record, Record):
        raise TypeError(f"a record that is read for its sets alone has no {what}")
    if what == "sessions":
        write_table(session_lines(record, trainees, period), SessionLine, stream)
    elif what == "weeks":
        write_table(week_lines(record, trainees, period), WeekLine, stream)
    else:
        write_table(decision_lines(record, trainees, period), DecisionLine, stream)


def write_table(lines: Iterable[Line], kind: type[Line], stream: TextIO) -> int:
    """Write a header and the lines as RFC 4180 asks, texts guarded; returns how many lines."""
    forms = [_form(name, hint) for name, hint in get_type_hints(kind).items()]
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(get_type_hints(kind))
    count = 0
    for line in lines:
        pairs = zip(forms, line, strict=True)
        writer.writerow(["" if value is None else form(value) for form, value in pairs])
        count += 1
    return count


def _form(name: str, hint: object) -> Callable[[Any], str]:
    """How to write a column."""
    if hint is str:
        return guard
    if name in ("length_s", "session_load", "sets"):
        return lambda value: f"{value:.1f}"
    return load_text if "float" in str(hint) else str


# The tables by their names.

TABLES = ("sets", "sessions", "weeks", "held")


def open_for(what: str, path: Path) -> Reader:
    """A record from which to read that table; for sets it loads nothing that the others need."""
    if what == "sets":
        return Reader.open_readonly(path)
    from runner.record.record import Record  # noqa: PLC0415 - it loads the session machine

    return Record.open_readonly(path)


def write_what(
    what: str, record: Reader, trainee: str | None, period: Period, stream: TextIO
) -> None:
    """Write one of the tables; of all trainees where none is named.

    For a table other than the sets pass a record from `open_for`, or a `Record`.
    """
    if what == "sets":
        write_csv(record.rows(trainee=trainee, **period), stream)
        return

    write_named(what, record, [trainee] if trainee else record.trainees(), period, stream)
