"""Sheets that were printed or sent: each page is known by a short id.

An id stands for one page: person, plan, session, levels and adjustments. It is computed from these.
So the same page made again has the same id in every copy of the record, and a mistyped id is hardly
ever that of another page.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Final

from msgspec import Struct

from runner.law.course import GroupKey
from runner.law.workout import setup_text
from runner.progress.adjust import Adjustment
from runner.progress.history import Use
from runner.record import errors, write
from runner.record.rows import utc_text
from runner.session.state import State

LETTERS: Final = "23456789abcdefghjkmnpqrstuvwxyz"  # none looks like another on paper
LENGTH: Final = 6  # letters: 900 million ids; our choice
COLUMNS: Final = ("id", "trainee", "plan", "plan_hash", "session", "levels", "changes", "made")


class Sheet(Struct, frozen=True):
    """One page: its trainee, plan and session, and the levels printed on it."""

    trainee: str
    plan: str  # its title
    plan_text: str  # as it was, with what it takes from shelves
    session: str
    levels: Mapping[GroupKey, Use]  # by exercise and group of sets
    changes: tuple[Adjustment, ...] = ()  # how it differs from the plan

    @classmethod
    def of(cls, state: State, plan_text: str, trainee: str) -> Sheet:
        """The page of a session in which nothing is done yet."""
        levels = {
            (one.exercise, one.group): Use(
                one.level.version, setup_text(one.level.setup), one.level.load
            )
            for one in state.course.planned_sets
            if one.kind == "work"
        }
        workout = state.workout
        return cls(
            trainee, workout.plan, plan_text, workout.session, levels, state.baseline.changes
        )

    @property
    def id(self) -> str:
        """The short id."""
        content = [self.trainee, self.plan, self.plan_hash, self.session, *self._kept]
        digest = hashlib.sha256(json.dumps(content).encode()).digest()
        number, letters = int.from_bytes(digest, "big"), ""
        for _ in range(LENGTH):
            number, digit = divmod(number, len(LETTERS))
            letters += LETTERS[digit]
        return letters

    @property
    def plan_hash(self) -> str:
        """The hash under which the record stores its plan."""
        return hashlib.sha256(self.plan_text.encode()).hexdigest()

    @property
    def _kept(self) -> tuple[str, str]:
        levels = [
            [*key, use.version, use.setup, use.load] for key, use in sorted(self.levels.items())
        ]
        changes = [one.as_data() for one in self.changes]
        return _dump(levels), _dump(changes)

    def row(self, made: datetime) -> tuple[str, ...]:
        """Its row in the table."""
        return (
            *(self.id, self.trainee, self.plan, self.plan_hash, self.session),
            *(*self._kept, utc_text(made)),
        )


def _dump(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def keep(connection: sqlite3.Connection, sheets: Iterable[Sheet], made: datetime) -> None:
    """Store the ids; one that is stored already stays. Runs inside a transaction."""
    for one in sheets:
        write.insert_trainee(connection, one.trainee)
        connection.execute(
            "INSERT OR IGNORE INTO plan (hash, content) VALUES (?, ?)",
            (one.plan_hash, one.plan_text),
        )
        connection.execute(
            f"INSERT OR IGNORE INTO sheet ({', '.join(COLUMNS)}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",  # noqa: S608 - names above
            one.row(made),
        )


def find(connection: sqlite3.Connection, id_: str) -> Sheet | None:
    """The page with that id, as a person types it; None without one."""
    found = connection.execute(
        """SELECT s.trainee, s.plan, p.content, s.session, s.levels, s.changes
        FROM sheet s JOIN plan p ON p.hash = s.plan_hash WHERE s.id = ?""",
        (id_.strip().casefold(),),
    ).fetchone()
    if found is None:
        return None
    with errors.as_written(f"sheet {id_}"):
        return of_row(found)


def of_row(row: tuple[str, ...]) -> Sheet:
    """A page from stored values: trainee, plan, its text, session, levels and changes.

    Raises ValueError, KeyError or TypeError for values of a wrong form.
    """
    trainee, plan, text, session, kept, differs = row
    levels = {(e, g): Use(v, setup, load) for e, g, v, setup, load in json.loads(kept)}
    changes = tuple(map(Adjustment.from_data, json.loads(differs)))
    return Sheet(trainee, plan, text, session, levels, changes)
