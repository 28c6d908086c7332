"""Writes rows as CSV (RFC 4180) and reads them back.

A text that a spreadsheet would run as a formula gets an apostrophe in front. A text that already
looks guarded gets one too, so taking one off always gives the text again. Streams are text in
UTF-8, opened with `newline=""`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime
from functools import cache
from types import UnionType
from typing import Any, Literal, NoReturn, TextIO, TypeVar, get_args, get_origin, get_type_hints

from runner.errors import Exit, MatsideError
from runner.law.workout import load_text
from runner.progress.history import SetRow
from runner.record.rows import COLUMNS, NEEDED_COLUMNS
from runner.text import YEARS, read_day, shown

MOST_FAULTS = 1000  # faults listed of a file; our choice, so that a wrong file ends
MORE_FAULTS = "and perhaps more: matside did not read on"
MOST_CHARACTERS = 1 << 24  # longest field that is read

_SHOWN = 300  # characters shown of an unknown column name; our choice
_RISKY = re.compile(r"'*[=+\-@\t\r\n]")
_GUARDED = re.compile(r"'+[=+\-@\t\r\n]")
_FIRST_RISKY = frozenset("'=+-@\t\r\n")  # nothing else can begin a risky text


def guard(text: str) -> str:
    """The text made harmless for a spreadsheet."""
    return f"'{text}" if _RISKY.match(text) else text


def unguard(text: str) -> str:
    """The text that `guard` was given."""
    return text[1:] if _GUARDED.match(text) else text


# Writing

_HINTS = get_type_hints(SetRow)
_TEXTS = tuple(i for i, name in enumerate(COLUMNS) if _HINTS[name] is str)
_SECONDS = tuple(COLUMNS.index(n) for n in ("hold_s", "work_s", "rest_before_s", "recovery_s"))
_LOAD, _TO_BEAT = COLUMNS.index("load_kg"), COLUMNS.index("to_beat")
_MEASURE = COLUMNS.index("measure")


def write_csv(rows: Iterable[SetRow], stream: TextIO) -> int:
    """Write a header and the rows; returns how many rows. The header stands without rows too."""
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    count = 0
    for row in rows:
        writer.writerow(_fields(row))
        count += 1
    return count


def _fields(row: SetRow) -> list[Any]:
    """The row as the CSV writer takes it: texts guarded, decimals rounded as they are shown."""
    values: list[Any] = list(row)
    for index in _TEXTS:
        text = values[index]
        if text and text[0] in _FIRST_RISKY:
            values[index] = guard(text)
    for index in _SECONDS:
        if values[index] is not None:
            values[index] = f"{values[index]:.1f}"
    values[_LOAD] = load_text(values[_LOAD])
    if values[_TO_BEAT] is not None:
        form = ".1f" if values[_MEASURE] == "hold" else ".10g"
        values[_TO_BEAT] = format(values[_TO_BEAT], form)
    return values


# Reading

Line = TypeVar("Line", bound=tuple[Any, ...])
ReadField = Callable[[str], Any]


class _Fault(ValueError):
    """What is wrong with a field, and what to write instead."""


def _whole(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text, re.ASCII):
        raise _Fault("write a whole number, digits 0 to 9 only")
    return int(text)


def _number(text: str) -> float:
    if not re.fullmatch(r"-?[0-9]{1,9}(\.[0-9]{1,9})?", text, re.ASCII):
        raise _Fault("write a number with a decimal point: 12.5")
    return float(text)


def _stamp(text: str) -> str:
    try:
        # Python reads more forms than RFC 3339 has; take only one that it writes back unchanged.
        stamp = datetime.fromisoformat(text)
        parts = "milliseconds" if "." in text else "seconds"
        whole = stamp.tzinfo is not None and stamp.isoformat(timespec=parts) == text
        if whole and stamp.year in YEARS:
            return text
    except ValueError:
        pass
    raise _Fault("write a time with its offset: 2026-11-25T06:30:00+01:00")


def _utc(text: str) -> str:
    if re.fullmatch(r"[^Z]{23}Z", text, re.ASCII):
        try:
            return f"{_stamp(f'{text[:23]}+00:00')[:23]}Z"
        except _Fault:
            pass
    raise _Fault("write a UTC time with milliseconds: 2026-11-25T05:30:00.000Z")


def _day(text: str) -> date:
    day = read_day(text)
    if day is None:
        raise _Fault("write a date: 2026-11-25")
    return day


def _week(text: str) -> str:
    match = re.fullmatch(r"([0-9]{4})-W([0-9]{2})", text, re.ASCII)
    try:
        if match is not None:
            date.fromisocalendar(int(match[1]), int(match[2]), 1)
            return text
    except ValueError:
        pass
    raise _Fault("write an ISO week: 2026-W48")


def _one_of(choices: tuple[str, ...]) -> ReadField:
    def read(text: str) -> str:
        if text not in choices:
            raise _Fault(f"write {' or '.join(choices)}")
        return text

    return read


def _or_empty(read: ReadField) -> ReadField:
    return lambda text: read(text) if text else None


def _filled(read: ReadField) -> ReadField:
    def filled(text: str) -> Any:
        if not text:
            raise _Fault("write a value; this one is empty")
        return read(text)

    return filled


def _reader(name: str, hint: Any) -> ReadField:
    """How a column is read, by its type in `SetRow`."""
    if get_origin(hint) is UnionType or type(None) in get_args(hint):
        inner = next(arg for arg in get_args(hint) if arg is not type(None))
        return _or_empty(_plain(name, inner))
    return unguard if hint is str and name not in _FORMS else _filled(_plain(name, hint))


def _plain(name: str, hint: Any) -> ReadField:
    if name in _FORMS:
        return _FORMS[name]
    if get_origin(hint) is Literal:
        # A row in the table may be `running`; a row in a file never is.
        return _one_of(tuple(c for c in get_args(hint) if c != "running"))
    return {int: _whole, float: _number, str: unguard}[hint]


_FORMS: dict[str, ReadField] = {
    "session_start": _stamp,
    "set_start": _stamp,
    "corrected_at": _stamp,
    "iso_week": _week,
    "since": _utc,
    "on": _day,
}


@cache
def _readers(kind: type[Any]) -> dict[str, ReadField]:
    """How each column of a kind of row is read."""
    return {name: _reader(name, hint) for name, hint in get_type_hints(kind).items()}


def read_csv(
    stream: TextIO, strange: Callable[[list[str]], None] | None = None
) -> Iterator[SetRow]:
    """The rows of a file that `write_csv` wrote, one by one.

    Raises MatsideError, as `read_table` does.
    """
    return read_table(stream, SetRow, NEEDED_COLUMNS, strange)


def read_table(
    stream: TextIO,
    kind: type[Line],
    needed: Sequence[str],
    strange: Callable[[list[str]], None] | None = None,
) -> Iterator[Line]:
    """The rows of an exported table, one by one; `kind` is a NamedTuple of its columns.

    Columns may stand in any order. A column that is missing and not `needed` is read as empty, for
    older files lack it. Unknown columns are ignored; `strange` gets their names.

    Raises MatsideError (65): at once for a wrong header, at the end for faulty rows, with a line
    for each: line and column, what is wrong, what to write. Faulty rows are not yielded. A caller
    that wants all rows or none takes the whole list first.
    """
    csv.field_size_limit(MOST_CHARACTERS)
    reader = csv.reader(stream, strict=True)
    found: list[str] = []
    try:
        header = next(reader, [])
        unknown = _check_header(header, tuple(_readers(kind)), needed)
        if unknown and strange is not None:
            strange(unknown)
        for fields in reader:
            row = _row(kind, header, fields)
            if not isinstance(row, str):
                yield row
                continue
            found.append(f"line {reader.line_num}: {row}")
            if len(found) == MOST_FAULTS:
                found.append(MORE_FAULTS)
                break
    except (csv.Error, UnicodeDecodeError) as error:
        found.append(f"line {reader.line_num + 1}: this is not a CSV in UTF-8: {shown(error)}")
    if found:
        raise MatsideError(*found, code=Exit.DATA)


def _check_header(header: list[str], known: Sequence[str], needed: Sequence[str]) -> list[str]:
    """The unknown columns of a header. Raises MatsideError for a column missing or given twice."""
    missing = [name for name in needed if name not in header]
    if missing:
        _refuse(f"these columns are missing: {', '.join(missing)}")
    twice = [name for name in known if header.count(name) > 1]
    if twice:
        _refuse(f"these columns appear twice: {', '.join(twice)}")
    return [shown(name[:_SHOWN]) for name in header if name not in known]


def _refuse(why: str) -> NoReturn:
    raise MatsideError(f"line 1: {why}", code=Exit.DATA)


def _row(kind: type[Line], header: list[str], fields: list[str]) -> Line | str:
    """The row, or what is wrong with it."""
    if len(fields) != len(header):
        return f"{len(fields)} fields; the header has {len(header)}, write as many"
    values: dict[str, Any] = {}
    faults = []
    for name, text in zip(header, fields, strict=True):
        read = _readers(kind).get(name)
        if read is None:
            continue
        try:
            values[name] = read(text)
        except _Fault as fault:
            faults.append(f"{name}: {shown(text[:20])!r}: {fault}")
    return "; ".join(faults) if faults else kind(**values)
