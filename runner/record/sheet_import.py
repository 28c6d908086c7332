"""Reads a coach's own sheet as rows of the record: date, exercise, set and count in a line.

What the sheet lacks stays empty in the rows: times, rests, set-ups. A session is all that one
trainee did on one date; it gets the same id whenever the same sheet is read again.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import TypeVar

from msgspec import Struct, field

from runner.errors import Exit, MatsideError
from runner.law.workout import Exercise, Side
from runner.progress.history import SetRow, iso_week
from runner.record.csvfile import MORE_FAULTS
from runner.record.rows import ID_LETTERS, NOON
from runner.session.apply import Refused
from runner.session.paper import PaperSet, read_counts
from runner.session.verb import Count
from runner.text import YEARS, clean, shown, trainee_name

NEEDED = ("date", "exercise", "set", "reps")
POSSIBLE = ("version", "load_kg", "reserve", "note", "trainee")
MOST_FAULTS = 1000  # faults listed of a sheet; our choice
MOST_SETS = 100  # sets of an exercise on one date, as in plans

_DATES = (
    (re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})", re.ASCII), (1, 2, 3)),
    (re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})", re.ASCII), (3, 2, 1)),
)


class Sheet(Struct, frozen=True):
    """How to read a sheet."""

    plan: str  # the plan's title
    exercises: Mapping[str, Exercise]
    trainee: str  # trainee of a line that names none
    local: Callable[[datetime], datetime]  # a naive local time with its offset
    columns: Mapping[str, str] = field(default_factory=dict)  # our column to the sheet's
    names: Mapping[str, str] = field(
        default_factory=dict
    )  # the sheet's name of an exercise to its id


T = TypeVar("T")


class _Fault(ValueError):
    """What is wrong with a field, and what to write instead."""


class _Line(Struct, frozen=True):
    day: date
    trainee: str
    exercise: Exercise
    number: int
    counts: PaperSet
    version: str
    load: float | None
    reserve: int | None
    note: str


def read_sheet(text: str, sheet: Sheet) -> list[SetRow]:
    """The rows of a sheet with a header; comma, semicolon or tab between fields.

    Raises MatsideError (65) with a line for each fault: line and column, what is wrong, what to
    write.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    found: list[str] = []
    lines: list[_Line] = []
    seen: set[tuple[object, ...]] = set()
    try:
        columns = _column_numbers(next(reader, []), sheet)
        for fields in reader:
            if not any(field.strip() for field in fields):
                continue
            try:
                lines.append(_line(fields, columns, sheet, seen))
            except _Fault as fault:
                found.append(f"line {reader.line_num}: {fault}")
                if len(found) == MOST_FAULTS:
                    found.append(MORE_FAULTS)
                    break
    except csv.Error as error:
        found.append(f"line {reader.line_num + 1}: this is not a CSV: {shown(error)}")
    if found:
        raise MatsideError(*found, code=Exit.DATA)
    return list(_rows(lines, sheet))


def _delimiter(text: str) -> str:
    head = text.partition("\n")[0]
    return max(",;\t", key=head.count)


def _column_numbers(header: list[str], sheet: Sheet) -> dict[str, int]:
    """The place of each of our columns in the sheet."""
    there = {name.strip().casefold(): column for column, name in enumerate(header)}
    columns, missing = {}, []
    for ours in (*NEEDED, *POSSIBLE):
        theirs = sheet.columns.get(ours, ours)
        if theirs.strip().casefold() in there:
            columns[ours] = there[theirs.strip().casefold()]
        elif ours in NEEDED or ours in sheet.columns:
            missing.append(theirs if theirs == ours else f"{theirs} (for {ours})")
    if missing:
        raise MatsideError(
            f"line 1: these columns are missing: {shown(', '.join(missing))}; it has "
            f"{shown(', '.join(header)[:300]) or 'none'}. "
            "Name the columns: --columns date=Day,reps=Count",
            code=Exit.DATA,
        )
    return columns


def _line(
    fields: list[str], columns: Mapping[str, int], sheet: Sheet, seen: set[tuple[object, ...]]
) -> _Line:
    faults: list[str] = []

    def of(name: str) -> str:
        column = columns.get(name)
        return "" if column is None or column >= len(fields) else fields[column].strip()

    def read(name: str, how: Callable[[str], T]) -> T | None:
        try:
            return how(of(name))
        except _Fault as fault:
            faults.append(f"{name}: {shown(of(name)[:30])!r}: {fault}")
            return None

    day = read("date", _day)
    exercise = read("exercise", lambda text: _exercise(text, sheet))
    number = read("set", _number)
    load, reserve = read("load_kg", _load), read("reserve", _reserve)
    if exercise is None or day is None or number is None:
        raise _Fault("; ".join(faults))
    counts = read("reps", lambda text: _counts(text, exercise))
    version = read("version", lambda text: _version(text, exercise))
    if faults or counts is None or version is None:
        raise _Fault("; ".join(faults))
    trainee = trainee_name(of("trainee") or sheet.trainee)
    key = (day, trainee, exercise.id, number)
    if key in seen:
        raise _Fault(f"set {number} of {exercise.id} appears twice on that date")
    seen.add(key)
    return _Line(day, trainee, exercise, number, counts, version, load, reserve, clean(of("note")))


def _day(text: str) -> date:
    for form, order in _DATES:
        found = form.fullmatch(text)
        if found:
            try:
                day = date(*(int(found[group]) for group in order))
            except ValueError:
                break
            if day.year in YEARS:
                return day
    raise _Fault("write a date as 2026-11-25 or 25.11.2026")


def _exercise(text: str, sheet: Sheet) -> Exercise:
    named = sheet.names.get(text, text)
    if named in sheet.exercises:
        return sheet.exercises[named]
    wanted = named.casefold()
    for exercise in sheet.exercises.values():
        if wanted in {exercise.id.casefold(), exercise.name.casefold(), exercise.short.casefold()}:
            return exercise
    raise _Fault(
        f'the plan lacks this exercise; name the one it means: --exercise "{shown(text)}=ID"'
    )


def _number(text: str) -> int:
    if re.fullmatch(r"[0-9]{1,3}", text, re.ASCII) and 1 <= int(text) <= MOST_SETS:
        return int(text)
    raise _Fault(f"write the number of the set, 1 to {MOST_SETS}")


def _counts(text: str, exercise: Exercise) -> PaperSet:
    """The counts of one set in the usual notation: 12, 12/2, left and right 12 14, a hold 45s."""
    try:
        found = read_counts(text, exercise)
    except Refused as refused:
        raise _Fault(str(refused)) from None
    if len(found) > 1:
        raise _Fault(f"{len(found)} sets; write each in a row of its own")
    if not any(found):
        raise _Fault("no count; write the repetitions or seconds done")
    return found[0]


def _load(text: str) -> float | None:
    if not text:
        return None
    if not re.fullmatch(r"[0-9]{1,4}([.,][0-9]{1,3})?", text, re.ASCII):
        raise _Fault("write kilograms: 12.5")
    return float(text.replace(",", "."))


def _reserve(text: str) -> int | None:
    if not text:
        return None
    if not re.fullmatch(r"[0-9]|10", text, re.ASCII):
        raise _Fault("write repetitions in reserve, 0 to 10")
    return int(text)


def _version(text: str, exercise: Exercise) -> str:
    """The version named, or the only one there is; empty where it is unknown."""
    ids = list(dict.fromkeys(level.version for level in exercise.progression))
    if not text:
        return ids[0] if len(ids) == 1 else ""
    if text not in ids:
        raise _Fault(f"unknown version of {exercise.id}; write one of {', '.join(ids)}")
    return text


def _rows(lines: list[_Line], sheet: Sheet) -> Iterator[SetRow]:
    days: dict[tuple[date, str], list[_Line]] = {}
    for line in lines:
        days.setdefault((line.day, line.trainee), []).append(line)
    for (day, _), of_day in sorted(days.items()):
        start = sheet.local(datetime.combine(day, NOON))
        blocks = {name: b for b, name in enumerate(dict.fromkeys(x.exercise.id for x in of_day), 1)}
        for line in sorted(of_day, key=lambda x: (blocks[x.exercise.id], x.number)):
            done = dict(line.counts)
            for side in line.exercise.at(line.version).side_order:
                if side in done:
                    row = _row(line, side, done[side], start, sheet.plan)
                    yield row._replace(block=blocks[line.exercise.id])


def _id(day: date, trainee: str, plan: str) -> str:
    """The id of a sheet's session: of the usual form, and the same whenever the sheet is read."""
    number = int.from_bytes(hashlib.sha256(f"{plan}\n{trainee}".encode()).digest()[:3])
    token = "".join(ID_LETTERS[(number >> shift) & 31] for shift in (15, 10, 5, 0))
    return f"{day:%Y%m%d}-120000-{token}"


def _row(line: _Line, side: Side, count: Count | None, start: datetime, plan: str) -> SetRow:
    exercise = line.exercise.at(line.version)
    hold = exercise.measure == "hold"
    return SetRow(
        session_id=_id(line.day, line.trainee, plan),
        session_start=start.isoformat(timespec="seconds"),
        iso_week=iso_week(line.day),
        plan=plan,
        session="",
        trainee=line.trainee,
        block=1,
        round=line.number,
        exercise=exercise.id,
        exercise_name=exercise.name,
        prime_movers=";".join(exercise.prime),
        synergists=";".join(exercise.helping),
        version=line.version,
        setup="",
        load_kg=line.load,
        set=line.number,
        kind="work",
        side=side,
        status="done",
        measure=exercise.measure,
        reps=None if hold or count is None else int(count.value),
        hold_s=round(count.value, 1) if hold and count is not None else None,
        reserve=line.reserve if count is None or count.reserve is None else count.reserve,
        reserve_aimed=exercise.reserve,
        set_start=None,
        started_by=None,
        work_s=None,
        rest_before_s=None,
        recovery_s=None,
        to_beat=None,
        beaten=None,
        tempo="",
        pain=None,
        note=line.note,
        corrected="no",
    )
