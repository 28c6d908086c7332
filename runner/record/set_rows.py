"""Rows of sets as they are read back: those of one session, and all that a filter wants."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import date
from typing import Any, NamedTuple, Self

from runner.record.columns import COLUMNS, OWN_COLUMNS, SESSION_COLUMNS, SetRow
from runner.record.text import trainee_name

PAGE = 1000  # rows read at a time; our choice

ROW_COLUMNS = ", ".join(  # of a `SetRow`: `s` a session, `r` a row
    [
        *(f's."{"id" if name == "session_id" else name}"' for name in SESSION_COLUMNS),
        *(f'r."{name}"' for name in OWN_COLUMNS),
    ]
)
_WIDTH = len(COLUMNS)


def session_rows(connection: sqlite3.Connection, key: int) -> list[SetRow]:
    """The rows of one session in their order, without a bout still running."""
    return [row for _, row in numbered_rows(connection, key) if row.status != "running"]


def numbered_rows(connection: sqlite3.Connection, key: int) -> list[tuple[int, SetRow]]:
    """The same by their running numbers, a bout still running too."""
    found = connection.execute(
        f"""SELECT {ROW_COLUMNS}, r.entry FROM set_row r JOIN session s ON s.key = r.session
        WHERE r.session = ? ORDER BY r.entry""",  # noqa: S608 - names of columns
        (key,),
    )
    return [(int(row[-1]), SetRow._make(row[:-1])) for row in found]


class Filter(NamedTuple):
    """Which rows are wanted; None for all. Local dates of the sessions, both included."""

    trainee: str | None = None
    plan: str | None = None
    since: date | None = None
    until: date | None = None

    @classmethod
    def of(
        cls,
        trainee: str | None,
        plan: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> Self:
        """For a trainee as typed. Raises MatsideError where that is no name."""
        return cls(None if trainee is None else trainee_name(trainee), plan, since, until)

    @property
    def values(self) -> dict[str, str | int]:
        """The parameters of the conditions."""
        given = {
            "trainee": self.trainee,
            "plan": self.plan,
            "since": self.since,
            "until": self.until,
        }
        return {name: str(value) for name, value in given.items() if value is not None}

    @property
    def by_index(self) -> str:
        """The condition that chooses the index by which rows are read, in their order."""
        return "" if self.trainee is None else "r.trainee = :trainee AND "

    @property
    def condition(self) -> str:
        """What else must be true of a row."""
        tests = {
            "plan": "s.plan = :plan",
            "since": "s.local_date >= :since",
            "until": "s.local_date <= :until",
        }
        return "".join(f" AND {test}" for name, test in tests.items() if name in self.values)


_PLACE = "(r.place, r.session, r.entry)"
_AFTER = f"{_PLACE} > (:place, :session, :entry)"
_UP_TO = f" AND {_PLACE} <= (:to_place, :to_session, :to_entry)"
_ORDER = "ORDER BY r.place, r.session, r.entry"


def rows_wanted(connection: sqlite3.Connection, wanted: Filter) -> Iterator[SetRow]:
    """All rows by the start of their sets; those left out stand in their order in the session.

    Read page by page, each a short transaction, so that a slow reader never keeps a session
    from writing. A session that goes on meanwhile appears as it was when its rows were read.
    """
    seen: dict[int, int] = {}  # of open sessions: the last entry given out
    for page in _pages(connection, wanted):
        for row in page:
            status, session, entry = row[_WIDTH:]
            if status == "open":
                # Undone and done again while this is read, a set must not come twice.
                if entry <= seen.get(session, 0):
                    continue
                seen[session] = entry
            yield SetRow._make(row[:_WIDTH])


def _pages(connection: sqlite3.Connection, wanted: Filter) -> Iterator[list[tuple[Any, ...]]]:
    """So many rows of the index at a time, of those the wanted ones, in their order."""
    end_of_page = f"""SELECT place, session, entry FROM set_row r
        WHERE {wanted.by_index}{_AFTER} {_ORDER} LIMIT 1 OFFSET {PAGE - 1}"""  # noqa: S608 - constants
    query = f"""SELECT {ROW_COLUMNS}, s.status, r.session, r.entry
        FROM set_row r CROSS JOIN session s ON s.key = r.session
        WHERE {wanted.by_index}{_AFTER}{{}} AND r.status <> 'running'{wanted.condition}
        {_ORDER}"""  # noqa: S608 - constants
    values = wanted.values
    values["place"], values["session"], values["entry"] = -(2**62), 0, 0
    while True:
        end = connection.execute(end_of_page, values).fetchone()
        if end is None:
            yield connection.execute(query.format(""), values).fetchall()
            return
        values["to_place"], values["to_session"], values["to_entry"] = end
        yield connection.execute(query.format(_UP_TO), values).fetchall()
        values["place"], values["session"], values["entry"] = end
