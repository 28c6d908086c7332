"""What a trainee decided: answers to advice, and decisions on working levels."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from datetime import date, datetime
from typing import NamedTuple

from runner.law.workout import Level, setup_text
from runner.progress.adjust import Adjustment
from runner.progress.answers import Answer
from runner.record import errors
from runner.record.past import DecisionRow, level_decisions
from runner.record.rows import utc_text
from runner.record.schema import decision_id
from runner.session.events import Event, Opened
from runner.text import clean, clean_data


class LevelDecision(NamedTuple):
    """The working level decided for an exercise and a group of sets, or for a part of a group."""

    exercise: str
    group: str
    level: Level
    reason: str


class DecidedAt(NamedTuple):
    """When a decision was made, and after which session."""

    utc: str  # when it was written down
    on: date  # the local date for which it holds
    session: int | None = None  # its key


def insert_answer(
    connection: sqlite3.Connection, trainee: str, answer: Answer, utc: str, session: int | None
) -> None:
    """Add an answer; runs inside a transaction."""
    change = json.dumps(clean_data(dict(answer.change)), ensure_ascii=False, separators=(",", ":"))
    connection.execute(
        """INSERT INTO answer
        (trainee, exercise, "group", rule, reason, change, accepted, local_date, utc, session)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
        (
            trainee,
            answer.exercise,
            answer.group,
            answer.rule,
            clean(answer.reason),
            change,
            int(answer.accepted),
            answer.on.isoformat(),
            utc,
            session,
        ),
    )


def insert_decisions(
    connection: sqlite3.Connection,
    trainee: str,
    decisions: Iterable[LevelDecision],
    at: DecidedAt,
) -> None:
    """Add decisions; runs inside a transaction."""
    for one in decisions:
        key = (trainee, one.exercise, one.group)
        before = _replaced(connection, key)
        name = decision_id(connection, trainee, at.utc, one.exercise, one.group)
        connection.execute(
            """INSERT INTO held
            (trainee, exercise, "group", version, setup, load_kg, since, reason, session,
            local_date, decision_id, replaces)
            VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
            (
                *key,
                one.level.version,
                setup_text(one.level.setup),
                one.level.load,
                at.utc,
                clean(one.reason),
                at.session,
                at.on.isoformat(),
                name,
                before,
            ),
        )


def _replaced(connection: sqlite3.Connection, key: tuple[str, str, str]) -> str:
    """The decision that a new one replaces; `a;b` where two sides made one each."""
    found = [one for one in heads(connection, key[0], key[1]) if one[1] == key[2]]
    if found and found[0][2]:
        return ";".join(sorted(one.decision_id for one in found[0][2]))
    newest = connection.execute(
        """SELECT decision_id FROM held WHERE (trainee, exercise, "group") = (?, ?, ?)
        ORDER BY since DESC, key DESC LIMIT 1""",
        key,
    ).fetchone()
    return "" if newest is None else str(newest[0])


def heads(
    connection: sqlite3.Connection, trainee: str, exercise: str | None = None
) -> list[tuple[str, str, list[DecisionRow]]]:
    """By exercise and group: the decisions that no other replaces, the one in force first.

    There are several where two sides decided without knowing of each other. An older file of
    decisions does not say what replaces what, so its rows are left out.
    """
    unsaid = {
        name
        for (name,) in connection.execute(
            "SELECT decision_id FROM held WHERE trainee = ? AND imported = 1 AND replaces = ''",
            (trainee,),
        )
    }
    groups: dict[tuple[str, str], list[DecisionRow]] = {}
    for one in level_decisions(connection, trainee, exercise):
        groups.setdefault((one.exercise, one.group), []).append(one)
    found = []
    for (name, group), all_ in groups.items():
        gone = {old for one in all_ for old in one.replaces.split(";")} | unsaid
        open_ = [one for one in all_ if one.decision_id not in gone]
        open_.sort(key=lambda one: (one.local_date, one.since, one.decision_id), reverse=True)
        found.append((name, group, open_))
    return found


def bring_in(connection: sqlite3.Connection, lines: Iterable[DecisionRow]) -> None:
    """Add the decisions of another record; runs inside a transaction."""
    for one in lines:
        connection.execute("INSERT OR IGNORE INTO trainee (name) VALUES (?)", (one.trainee,))
        connection.execute(
            """INSERT INTO held
            (trainee, exercise, "group", version, setup, load_kg, since, reason, session,
            local_date, decision_id, replaces, known_from, imported)
            VALUES (?, ?, ?, ?, ?, ?, ?, ?, (SELECT key FROM session WHERE id = ?), ?, ?, ?, ?, 1)
            """,
            (
                one.trainee,
                one.exercise,
                one.group,
                one.version,
                one.setup,
                one.load_kg,
                one.since,
                one.reason,
                one.session_id,
                one.local_date.isoformat(),
                one.decision_id,
                one.replaces,
                one.known_from,
            ),
        )


def note_known(
    connection: sqlite3.Connection, trainee: str, session_id: str, events: Iterable[Event]
) -> None:
    """Note the first session that was opened with these decisions known."""
    news = [one for e in events if isinstance(e, Opened) for one in e.history.get("news", ())]
    connection.executemany(
        """UPDATE held SET known_from = ?
        WHERE (trainee, decision_id) = (?, ?) AND known_from = ''""",
        [(session_id, trainee, one) for one in news],
    )


def answers(
    connection: sqlite3.Connection, trainee: str, before: datetime | None = None
) -> list[Answer]:
    """A trainee's answers, the oldest first."""
    found = connection.execute(
        """SELECT exercise, "group", rule, reason, change, accepted, local_date FROM answer
        WHERE trainee = ? AND utc <= ? ORDER BY utc, key""",
        (trainee, "9" if before is None else utc_text(before)),  # "9": after every year
    )
    with errors.as_written("an answer"):
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
    """By session id: how the session differed from its plan, for those that did."""
    found = connection.execute(
        "SELECT id, adjusted FROM session WHERE trainee = ? AND adjusted <> ''", (trainee,)
    )
    with errors.as_written("an adjustment"):
        return {id_: tuple(map(Adjustment.from_data, json.loads(text))) for id_, text in found}
