"""What a trainee has agreed to: answers to advice, and what is held without a session."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from datetime import date, datetime
from typing import NamedTuple

from runner.core.adjust import Adjustment
from runner.core.progress.answers import Answer
from runner.core.values import setup_text
from runner.core.workout import Rung
from runner.record import faults
from runner.record.info import utc_text
from runner.record.text import clean, clean_data


class Hold(NamedTuple):
    """What is held from now on in an exercise and a group of sets, or a part of one."""

    exercise: str
    group: str
    rung: Rung
    reason: str


def insert_answer(
    connection: sqlite3.Connection, trainee: str, said: Answer, utc: str, session: int | None
) -> None:
    """Add an answer; runs inside a transaction."""
    change = json.dumps(clean_data(dict(said.change)), ensure_ascii=False, separators=(",", ":"))
    connection.execute(
        """INSERT INTO answer
        (trainee, exercise, "group", rule, reason, change, accepted, local_date, utc, session)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
        (
            trainee,
            said.exercise,
            said.group,
            said.rule,
            clean(said.reason),
            change,
            int(said.accepted),
            said.on.isoformat(),
            utc,
            session,
        ),
    )


def insert_held(
    connection: sqlite3.Connection,
    trainee: str,
    held: Iterable[Hold],
    utc: str,
    session: int | None,
) -> None:
    """Add changes of what is held; runs inside a transaction."""
    connection.executemany(
        """INSERT INTO held
        (trainee, exercise, "group", version, setup, load_kg, since, reason, session)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)""",
        [
            (
                trainee,
                one.exercise,
                one.group,
                one.rung.version,
                setup_text(one.rung.setup),
                one.rung.load,
                utc,
                clean(one.reason),
                session,
            )
            for one in held
        ],
    )


def answers(
    connection: sqlite3.Connection, trainee: str, before: datetime | None = None
) -> list[Answer]:
    """A trainee's answers, the oldest first."""
    found = connection.execute(
        """SELECT exercise, "group", rule, reason, change, accepted, local_date FROM answer
        WHERE trainee = ? AND utc <= ? ORDER BY key""",
        (trainee, "9" if before is None else utc_text(before)),  # "9": after every year
    )
    with faults.as_written("an answer"):
        return [
            Answer(
                exercise,
                group,
                rule,
                reason,
                json.loads(change),
                bool(accepted),
                date.fromisoformat(on),
            )
            for exercise, group, rule, reason, change, accepted, on in found
        ]


def adjustments(connection: sqlite3.Connection, trainee: str) -> dict[str, tuple[Adjustment, ...]]:
    """By session id: what was different from the plan, of those sessions where something was."""
    found = connection.execute(
        "SELECT id, adjusted FROM session WHERE trainee = ? AND adjusted <> ''", (trainee,)
    )
    with faults.as_written("what was different from a plan"):
        return {id_: tuple(map(Adjustment.from_data, json.loads(text))) for id_, text in found}
