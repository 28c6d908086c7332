"""From every earlier form to today's, whole or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from runner.law.workout import Item
from runner.progress.adjust import Adjustment, Offer
from runner.record import schema
from runner.record.decisions import LevelDecision
from runner.record.record import Record
from runner.record.rows import COLUMNS, NEEDED_COLUMNS, SESSION_COLUMNS
from runner.session import verb as cmd

from .hut import MONDAY, ROW, Sitting, later, morning


@pytest.fixture
def empty(path: Path) -> Iterator[sqlite3.Connection]:
    path.parent.mkdir()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        yield connection


def tables(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    return connection.execute("SELECT name, sql FROM sqlite_master ORDER BY name").fetchall()


def test_the_tables_have_every_column_of_the_csv(kept: Record) -> None:
    def columns(table: str) -> set[str]:
        found = kept._connection.execute(f"PRAGMA table_info({table})")
        return {name for _, name, *_ in found}

    assert set(COLUMNS[len(SESSION_COLUMNS) :]) <= columns("set_row")
    assert set(SESSION_COLUMNS[1:]) | {"id"} <= columns("session")


@pytest.mark.parametrize("form", range(schema.VERSION))
def test_every_earlier_form_becomes_todays(
    path: Path, empty: sqlite3.Connection, form: int
) -> None:
    schema.migrate(empty, schema.MIGRATIONS[:form])
    assert schema.form_of(empty) == (schema.APPLICATION_ID if form else 0, form)
    with Record.open_readonly(path) as record:  # read as today's, and left as it is
        assert record.trainees() == []
    assert schema.form_of(empty)[1] == form
    with Record.open(path) as record:
        assert schema.form_of(record._connection) == (schema.APPLICATION_ID, schema.VERSION)
        assert Sitting(record).whole().rows
    with Record.in_memory() as fresh:
        assert tables(fresh._connection) == tables(empty)


def test_a_migration_that_fails_leaves_the_file_as_it_was(empty: sqlite3.Connection) -> None:
    good = ["CREATE TABLE hut (name)"]
    bad = ["CREATE TABLE stove (name)", "INSERT INTO hut VALUES ('Kestrel')", "NONSENSE"]
    with pytest.raises(sqlite3.OperationalError):
        schema.migrate(empty, [good, bad])
    assert schema.form_of(empty) == (0, 0)
    assert tables(empty) == []
    assert not empty.in_transaction
    schema.migrate(empty, [good, bad[:2]])
    assert schema.form_of(empty)[1] == 2
    assert empty.execute("SELECT name FROM hut").fetchall() == [("Kestrel",)]


def test_a_migration_is_done_once(empty: sqlite3.Connection) -> None:
    for _ in range(2):
        schema.migrate(empty, [["CREATE TABLE hut (name)"]])
    assert schema.form_of(empty)[1] == 1


def test_rows_of_an_earlier_form_say_what_the_record_knows_of_them(path: Path) -> None:
    lighter = (Adjustment("no count", "row"), Adjustment("placing", "plank"))
    with Record.open(path) as record:
        sitting = Sitting(record, offers=(Offer("lighter", "fewer", (), lighter),))
        sitting.do(cmd.Take("lighter")).begin().set(10).set(9).set(9, on=False)
        sitting.do(cmd.Swap()).wait().do(cmd.Undo(), cmd.Undo())  # it leaves nothing behind
        sitting.do(cmd.Swap()).wait().set(10, on=False).do(cmd.Hurt("left shoulder")).wait()
        sitting.set(9).set(9).set(None, 30).close()
        rows = sitting.rows
    assert {r.exercise for r in rows if r.deload} == {"row"}
    assert {r.exercise for r in rows if r.level_finding} == {"plank"}
    assert {(r.exercise, r.swapped_for, r.pain_where) for r in rows if r.swapped_for} == {
        ("bench", "press", "left shoulder")
    }
    as_before_its_columns(path)
    with Record.open_readonly(path) as record:
        assert record.session_rows(sitting.info.id) == rows
    with Record.open(path) as record:
        assert record.session_rows(sitting.info.id) == rows


def as_before_its_columns(path: Path) -> None:
    """Make a record of the form that had none of the later columns of a row."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TABLE sheet")
        connection.execute("DROP TABLE aside")
        connection.execute("ALTER TABLE event DROP COLUMN id")
        connection.execute("DROP INDEX set_row_of_group")
        connection.execute("DROP INDEX held_by_id")
        for name in ("local_date", "decision_id", "replaces", "known_from", "imported"):
            connection.execute(f"ALTER TABLE held DROP COLUMN {name}")
        for name in COLUMNS[len(NEEDED_COLUMNS) :]:
            connection.execute(f"ALTER TABLE set_row DROP COLUMN {name}")
        connection.execute("PRAGMA user_version = 3")
        connection.commit()


def test_what_an_earlier_form_held_is_a_decision(path: Path) -> None:
    row = morning((Item("row", 1),))
    with Record.open(path) as record:
        first = Sitting(record, row).whole(9)
        decided = [(1, "first used", 0), (2, "set by hand", 2)]
        for day, why, index in decided:
            hold = LevelDecision("row", "", ROW.progression[index], why)
            record.agree("Runa", None, [hold], later(day), first.info.id if day == 1 else None)
        knowing = Sitting(record, row, at=later(3)).whole(9)
        assert record.baseline("Runa", row).working_levels == {("row", ""): 2}
        last = Sitting(record, row, at=later(4)).begin().do(cmd.Use(load=6.0)).set(9).set(9)
        last_rows = last.close().rows
        before = record.level_decisions()
    as_before_its_columns(path)
    with Record.open(path) as record:
        assert record.baseline("Runa", row).working_levels == {("row", ""): 1}
        one, two = record.level_decisions()
        # A decision after a session is of that session's date, any other of its own.
        assert [one.local_date, two.local_date] == [MONDAY.date(), later(2).date()]
        assert [one.known_from, two.known_from] == [knowing.info.id] * 2
        assert [d.decision_id for d in (one, two)] == [d.decision_id for d in before]
        assert two.replaces == one.decision_id
        assert record.session_rows(last.info.id) == last_rows


@pytest.mark.parametrize("known", [True, False])
def test_the_groups_of_old_rows_are_those_of_their_plan(path: Path, known: bool) -> None:  # noqa: FBT001
    workout = morning((Item("row", 2, ramp=1, versions=("slow", "light")),))
    item = '{ exercise = "row", sets = 2, ramp = 1, versions = ["slow", "light"] }'
    text = f'[[session]]\nid = "A"\nblock = [{{ do = [{item}] }}]\n' if known else "versions = 1"
    with Record.open(path) as record:
        rows = Sitting(record, workout, text=text).whole(9).rows
    assert [r.set_group for r in rows if r.side == "left"] == ["slow", "slow", "light"]
    as_before_its_columns(path)
    with Record.open(path) as record:
        found = record.session_rows(rows[0].session_id)
    assert found == (rows if known else [r._replace(set_group="") for r in rows])
