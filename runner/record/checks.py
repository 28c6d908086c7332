"""Checks that every stored value has a form this program writes, by SQLite alone.

SQLite's own checks find damaged pages and rows without their parent. They do not find a wrong value
in a sound page: a text that is no date, or a text in place of a number. Code that reads such a
value would fail in the middle of something else.

SQLite notices a damaged page only when it reads it. So a record of up to 4 MiB, some years of one
person, is checked whole when it is opened; checking a larger one would delay the start. After a
session the program opens the file anew and reads the session back; rows that are missing or
different go into a CSV. There are no checksums: nothing finds a changed digit in an old row.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from runner.text import YEARS

MOST = 10**10  # bound of every number but instants: seconds, keys, kilograms; our choice
_INSTANT = 10**15  # milliseconds since 1970, far beyond every calendar

# Without a step ('+0 days'), SQLite returns a 30th of February unchanged.
# The years are our choice: dates near the calendar's ends leave no room to reckon with.
_YEARS = f"substr({{0}}, 1, 4) BETWEEN '{YEARS.start}' AND '{YEARS.stop - 1}'"
_DAY = f"date({{0}}, '+0 days') IS {{0}} AND {_YEARS}"
# Only to the second: SQLite computes milliseconds as a float, and its versions round differently.
_TIME = (
    f"{_YEARS} AND substr({{0}}, 11, 1) = 'T' "
    "AND date(substr({0}, 1, 10), '+0 days') IS substr({0}, 1, 10) "
    "AND time(substr({0}, 12, 8)) IS substr({0}, 12, 8)"
)
_MS, _BY = ".[0-9][0-9][0-9]", "[+-][0-2][0-9]:[0-5][0-9]*"
_UTC = f"{_TIME} AND substr({{0}}, 20) GLOB '{_MS}Z'"
_LOCAL = f"{_TIME} AND (substr({{0}}, 20) GLOB '{_BY}' OR substr({{0}}, 20) GLOB '{_MS}{_BY}')"
_OFFSET = "abs({0}) < 86400"
# ISO 8601: a week belongs to the year of its Thursday, whose day number gives the week.
_THURSDAY = "date(local_date, '-3 days', 'weekday 4')"
_WEEK = (
    f"{{0}} = strftime('%Y', {_THURSDAY}) || '-W' || "
    f"substr('0' || ((strftime('%j', {_THURSDAY}) - 1) / 7 + 1), -2)"
)

# By table and column: what must be true of a value, written {0}, besides its type. For texts that
# are only compared and shown, the type is enough.
_FORMS = {
    "trainee": {"mass_date": _DAY},
    "session": {
        "started_utc": _UTC,
        "session_start": _LOCAL,
        "offset_s": _OFFSET,
        "local_date": _DAY,
        "iso_week": _WEEK,
        "ended_utc": _UTC,
        "ended_offset_s": _OFFSET,
        "ended_local_date": _DAY,
    },
    "set_row": {"set_start": _LOCAL, "corrected_at": _LOCAL, "place": f"abs({{0}}) < {_INSTANT}"},
    "held": {"since": _UTC, "local_date": _DAY},
    "answer": {"local_date": _DAY},
    "sheet": {"made": _UTC},
}
_TYPES = {
    "TEXT": "typeof({0}) = 'text'",
    "INTEGER": f"typeof({{0}}) = 'integer' AND abs({{0}}) < {MOST}",
    "REAL": f"typeof({{0}}) IN ('real', 'integer') AND abs({{0}}) < {MOST}",
}
_PLACE = "typeof({0}) = 'integer'"  # an instant is larger than other numbers


def not_as_written(
    connection: sqlite3.Connection, trainee: str | None = None, sessions: Sequence[int] = ()
) -> str | None:
    """The first column that holds a value which no version of this program writes, or None.

    With a `trainee`, only their rows are checked: of events and sets, only those of `sessions`
    (keys).
    """
    keys = json.dumps(sessions)
    for (table,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'"):
        tests = _tests(connection, table)
        where = "1"
        if trainee is not None and table in ("event", "set_row"):
            where = "session IN (SELECT value FROM json_each(:keys))"
        elif trainee is not None and table != "plan":
            where = "name = :trainee" if table == "trainee" else "trainee = :trainee"
        of = _Of(connection, table, where, {"trainee": trainee, "keys": keys})
        if tests and of.breaks(" AND ".join(tests.values())):
            wrong = [name for name, test in tests.items() if of.breaks(test)]
            return f"{table}.{wrong[0]} holds a value that matside does not write"
    return None


def _tests(connection: sqlite3.Connection, table: str) -> dict[str, str]:
    """By column: a condition that every allowed value meets, an empty field included."""
    found = {}
    for _, name, kind, *_ in connection.execute(f'PRAGMA table_info("{table}")'):
        if kind not in _TYPES:
            continue
        form = _FORMS.get(table, {}).get(name)
        test = _PLACE if name == "place" else _TYPES[kind]
        both = test if form is None else f"{test} AND {form}"
        found[name] = f"""("{name}" IS NULL OR ifnull({both.format(f'"{name}"')}, 0))"""
    return found


class _Of(NamedTuple):
    """The rows of a table that are checked."""

    connection: sqlite3.Connection
    table: str
    where: str
    values: Mapping[str, object]

    def breaks(self, condition: str) -> bool:
        found = self.connection.execute(
            f'SELECT 1 FROM "{self.table}" WHERE {self.where} AND NOT ({condition}) LIMIT 1',  # noqa: S608 - names out of our own tables
            self.values,
        )
        return found.fetchone() is not None
