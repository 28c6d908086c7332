"""Checks that every stored value has a form this program writes, by SQLite alone.

Its own checks see damaged pages and rows that belong to nothing. What they do not see is another
value in a sound page: a text that is no date, a text where a number stands. Whoever reads such a
value would fail in the middle of something else.

SQLite notices a damaged page only where it meets it. So a record of up to 4 MiB, some years of one
person, is checked whole when it is opened; a larger one would make the start wait. After a session
the file is opened anew and the session read back; what is not there as it was kept goes into a
CSV. Nothing sees a changed digit inside an old row: there are no checksums.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import NamedTuple

MOST = 10**10  # of any number but an instant: seconds, keys, kilograms; our choice
_INSTANT = 10**15  # milliseconds since 1970, far beyond every calendar

# Without a step, SQLite gives a 30th of February back as it came.
# The years are our choice: dates near the calendar's ends leave no room to reckon with.
_YEARS = "substr({0}, 1, 4) BETWEEN '1900' AND '2999'"
_DAY = f"date({{0}}, '+0 days') IS {{0}} AND {_YEARS}"
# To the second alone: SQLite reckons milliseconds as a float, and versions round differently.
_TIME = (
    f"{_YEARS} AND substr({{0}}, 11, 1) = 'T' "
    "AND date(substr({0}, 1, 10), '+0 days') IS substr({0}, 1, 10) "
    "AND time(substr({0}, 12, 8)) IS substr({0}, 12, 8)"
)
_MS, _BY = ".[0-9][0-9][0-9]", "[+-][0-2][0-9]:[0-5][0-9]*"
_UTC = f"{_TIME} AND substr({{0}}, 20) GLOB '{_MS}Z'"
_LOCAL = f"{_TIME} AND (substr({{0}}, 20) GLOB '{_BY}' OR substr({{0}}, 20) GLOB '{_MS}{_BY}')"
_OFFSET = "abs({0}) < 86400"
# The Thursday of a date's week names its year (ISO 8601); of that year it is the n-th day.
_THURSDAY = "date(local_date, '-3 days', 'weekday 4')"
_WEEK = (
    f"{{0}} = strftime('%Y', {_THURSDAY}) || '-W' || "
    f"substr('0' || ((strftime('%j', {_THURSDAY}) - 1) / 7 + 1), -2)"
)

# By table and column, what must be true of a value besides its type, {0} standing for it. Of
# texts that are compared and shown, and never read as a time, the type is enough.
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

    Of a `trainee`, their lines alone are looked at: of events and sets those of `sessions`, by key.
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
    """By column: a condition that is true of what may stand there, an empty field among it."""
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
    """The lines of a table that are looked at."""

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
