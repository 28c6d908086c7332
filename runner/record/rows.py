"""Rows of the record: one side of a set each, and the session that they belong to.

The fields of `SetRow` (see `runner.progress.history`), in order, are the columns of the CSV. It is
the only such list: readers and writers of tables and files use its names and types.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from functools import lru_cache
from typing import Any, NamedTuple, Self, TypedDict
from zoneinfo import ZoneInfo

from msgspec import Struct

from runner import __version__
from runner.law.workout import Workout
from runner.progress.history import SetRow, iso_week
from runner.text import clean, trainee_name

COLUMNS = SetRow._fields
NEEDED_COLUMNS = COLUMNS[: COLUMNS.index("set_group")]  # columns that a file must have
SESSION_COLUMNS = COLUMNS[
    : COLUMNS.index("block")
]  # columns that are equal in all rows of a session
OWN_COLUMNS = COLUMNS[len(SESSION_COLUMNS) :]


# What a session is opened as, and the times of its rows.
#
# An event's instant is the session's start plus its seconds. Date, ISO week and file order follow
# the local date of the session's opening, so a set after midnight still belongs to it.

NOON = time(12)  # the start of a session of which only the date is known
ID_LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"  # of a session's id: none is read as a digit
_TOKEN = 4  # 20 bits within a second; our choice


class SessionInfo(Struct, frozen=True):
    """What a session was opened as."""

    id: str  # sorts by time: 20261125-063000-4f2k
    plan: str  # the plan's title
    plan_text: str  # the plan's content as it was
    plan_hash: str  # SHA-256 of its UTF-8, in hexadecimal
    session: str  # its id within the plan
    trainee: str
    started: datetime  # aware, UTC, whole milliseconds
    offset_s: int  # local time less UTC at the start, in seconds
    zone: str  # the zone's name as the system gave it, "" where it gave none
    local_date: date
    version: str  # version of this program
    trial: bool = False

    @classmethod
    def opened(
        cls,
        now: datetime,
        workout: Workout,
        plan_text: str,
        trainee: str,
        *,
        zone: str | None = None,
        version: str = __version__,
        token: str | None = None,
    ) -> SessionInfo:
        """A new session, opened at the local time `now`.

        `now` must be aware: ValueError if not. `zone` is the zone's name; by default the key of
        `now`'s zone, or its abbreviation. `token` makes the id unique; by default it is random.
        """
        offset = now.utcoffset()
        if offset is None:
            raise ValueError("the start of a session needs a time with its offset")
        started = _whole_ms(now.astimezone(UTC))
        if zone is None:
            zone = str(getattr(now.tzinfo, "key", None) or now.tzname() or "")
        if token is None:
            token = "".join(secrets.choice(ID_LETTERS) for _ in range(_TOKEN))
        return cls(
            id=f"{started:%Y%m%d-%H%M%S}-{token}",
            plan=workout.plan,
            plan_text=plan_text,
            plan_hash=hashlib.sha256(plan_text.encode()).hexdigest(),
            session=workout.session,
            trainee=trainee_name(trainee),
            started=started,
            offset_s=round(offset.total_seconds()),
            zone=clean(zone),
            local_date=now.date(),
            version=version,
            trial=workout.trial,
        )

    @property
    def iso_week(self) -> str:
        """The ISO 8601 week of the local date: 2026-W48."""
        return iso_week(self.local_date)

    @property
    def local_zone(self) -> tzinfo:
        """The zone in which local times are written.

        The named zone, so that a clock change during the session shows. The stored offset where
        this system does not know the name, or gives it another offset (an abbreviation from
        elsewhere).
        """
        stored = timezone(timedelta(seconds=self.offset_s))
        named = _zone(self.zone)
        if named is None:
            return stored
        same = self.started.astimezone(named).utcoffset() == stored.utcoffset(None)
        return named if same else stored

    def utc(self, at: float) -> datetime:
        """The instant of `at` session seconds, UTC, to the nearest millisecond."""
        return self.started + timedelta(milliseconds=round(at * 1000))

    def local(self, at: float) -> datetime:
        """The same in local time, with the offset then in force."""
        return self.utc(at).astimezone(self.local_zone)

    def utc_text(self, at: float) -> str:
        """The same as text: 2026-11-25T06:30:00.000Z."""
        return utc_text(self.utc(at))


def utc_text(instant: datetime) -> str:
    """An aware instant in UTC as text with milliseconds: 2026-11-25T06:30:00.000Z."""
    stamp = instant.astimezone(UTC).isoformat(timespec="milliseconds")
    return stamp.removesuffix("+00:00") + "Z"


def _whole_ms(instant: datetime) -> datetime:
    return instant.replace(microsecond=instant.microsecond // 1000 * 1000)


@lru_cache(maxsize=64)
def _zone(name: str) -> ZoneInfo | None:
    """The IANA zone of that name, if this system knows it."""
    try:
        return ZoneInfo(name) if name else None
    except (LookupError, ValueError, OSError):  # unknown, empty, or a folder of zones
        return None


# Reading rows: those of one session, and all that a filter wants.

PAGE = 1000  # rows read at a time; our choice

ROW_COLUMNS = ", ".join(  # of a `SetRow`: `s` a session, `r` a row
    [
        *(f's."{"id" if name == "session_id" else name}"' for name in SESSION_COLUMNS),
        *(f'r."{name}"' for name in OWN_COLUMNS),
    ]
)
_WIDTH = len(COLUMNS)


def session_rows(connection: sqlite3.Connection, key: int) -> list[SetRow]:
    """The rows of one session in order, without a bout still running."""
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
        """A filter for a trainee as typed. Raises MatsideError where that is no name."""
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
        """The condition by which SQLite chooses the index that has the rows in order."""
        return "" if self.trainee is None else "r.trainee = :trainee AND "

    @property
    def condition(self) -> str:
        """The other conditions on a row."""
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
    """All rows by the start of their sets; skipped sets stand where the session has them.

    Reads page by page, each page in a short transaction, so that a slow reader never blocks a
    session. A session that goes on meanwhile appears as it was when its rows were read.
    """
    seen: dict[int, int] = {}  # last entry given out of each open session
    for page in _pages(connection, wanted):
        for row in page:
            status, session, entry = row[_WIDTH:]
            if status == "open":
                # A set that is undone and done again during the reading must not come twice.
                if entry <= seen.get(session, 0):
                    continue
                seen[session] = entry
            yield SetRow._make(row[:_WIDTH])


def _pages(connection: sqlite3.Connection, wanted: Filter) -> Iterator[list[tuple[Any, ...]]]:
    """The wanted rows in order, read that many rows of the index at a time."""
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


# Which sessions an export or a review wants.


class Period(TypedDict, total=False):
    """Which sessions are wanted; a field left out, or None, is no condition."""

    plan: str | None  # its title
    since: date | None  # local dates of the sessions, both included
    until: date | None
