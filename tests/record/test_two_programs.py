"""Two programs with one record, and programs that are killed."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path

import pytest

from runner.errors import Exit
from runner.record import errors as faults, rows as set_rows, schema
from runner.record.record import Record, Unwritable
from runner.session import verb as cmd

from .hut import Sitting, later, morning
from .programs import start


@pytest.fixture(autouse=True)
def _short_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    """Locks are waited for no longer than needed; `test_files` looks at the real time."""
    monkeypatch.setattr(faults, "BUSY_SECONDS", 0.05)


@pytest.fixture
def locked(path: Path) -> Iterator[sqlite3.Connection]:
    """Another program that has the file to itself."""
    Record.open(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield other


def test_a_locked_record_is_told(path: Path, locked: sqlite3.Connection) -> None:
    with pytest.raises(Unwritable, match="locked") as caught:
        Record.open(path)
    assert caught.value.code == Exit.IO
    locked.execute("ROLLBACK")
    Record.open(path).close()


def test_a_record_locked_in_mid_session_takes_the_events_later(path: Path, kept: Record) -> None:
    sitting = Sitting(kept).begin()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(Unwritable, match="locked"):
            sitting.do(cmd.Proceed(), after=20)
        assert kept.events(sitting.info.id) == tuple(sitting.events)
        other.execute("ROLLBACK")
    sitting.do(cmd.Proceed())
    assert kept.events(sitting.info.id) == tuple(sitting.events)


def test_two_sessions_at_once_do_not_mix(path: Path, kept: Record) -> None:
    with Record.open(path) as other:
        one, two = Sitting(kept), Sitting(other, trainee="Odd")
        for sitting in (one, two, one, two):
            sitting.begin() if sitting.state.phase == "ready" else sitting.set(9)
        one.do(cmd.End())
        two.do(cmd.End())
        assert kept.events(one.info.id) == tuple(one.events)
        assert kept.events(two.info.id) == tuple(two.events)
        rows = list(kept.rows())
        assert sorted(rows) == sorted(one.rows + two.rows)
        assert kept.integrity() == "ok"


def test_one_session_gone_on_with_twice_keeps_what_came_first(path: Path, kept: Record) -> None:
    first = Sitting(kept).begin().set(10)
    with Record.open(path) as other:
        second = Sitting(other, token="twin")
        found = other.unfinished("Runa", first.info.plan)
        assert found is not None
        # The same session, taken up by a second program that knows its events so far.
        second.info, second.events = first.info, list(first.events)
        second.state, second.now = first.state, first.now
        first.set(9)
        with pytest.raises(Unwritable, match="another matside"):
            second.do(cmd.Note("mine"))
        assert kept.events(first.info.id) == tuple(first.events)
        first.do(cmd.End())
        second.events, second.state = list(first.events[:-1]), first.state
        with pytest.raises(Unwritable, match="another matside"):
            other.append(first.info.id, [(len(first.events) + 1, first.events[0])], first.state)
        assert kept.events(first.info.id) == tuple(first.events)
        assert kept.session_rows(first.info.id) == first.rows


def test_an_id_that_is_taken_is_refused(kept: Record) -> None:
    Sitting(kept, token="same")
    with pytest.raises(Unwritable):
        Sitting(kept, trainee="Odd", token="same")
    assert kept.trainees() == ["Runa"]


def test_a_slow_reader_keeps_no_session_from_writing(
    path: Path, kept: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(set_rows, "PAGE", 3)
    done = Sitting(kept).whole()
    running = Sitting(kept, at=later()).begin().set(10)
    with Record.open_readonly(path) as reader:
        rows = reader.rows()
        first = list(islice(rows, 5))
        running.set(9)  # raises if the reader holds its lock
        rest = list(rows)
    assert first + rest == done.rows + running.rows


def test_a_set_done_anew_while_it_is_read_comes_once(
    path: Path, kept: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(set_rows, "PAGE", 2)
    sitting = Sitting(kept, morning()).begin().set(10).set(9).set(8)
    before = sitting.rows
    with Record.open_readonly(path) as reader:
        rows = reader.rows()
        first = list(islice(rows, 2))
        # Back into the first set, which goes on: every set after it begins later than before.
        sitting.do(*[cmd.Undo()] * 6).set(12, 90).set(7).set(6)
        rest = list(rows)
    assert first == before[:2]
    assert rest == sitting.rows[2:]
    assert sitting.rows[1] != before[1]


def test_two_programs_at_once_lose_and_double_nothing(path: Path) -> None:
    programs = [start("keep", path, name, 2) for name in ("Runa", "Odd")]
    assert [program.wait(120) for program in programs] == [0, 0]
    with Record.open(path) as record:
        assert record.integrity() == "ok"
        for name in ("Runa", "Odd"):
            rows = list(record.rows(trainee=name))
            assert len(rows) == 14
            assert len({(r.session_id, r.exercise, r.set, r.side) for r in rows}) == 14


@pytest.mark.parametrize("form", [0, 1])
def test_first_starts_at_once_keep_every_session(
    path: Path, form: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On an empty folder, or on a file of an earlier form: several wait for one to make it."""
    monkeypatch.undo()
    if form:
        path.parent.mkdir()
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            schema.migrate(connection, schema.MIGRATIONS[:form])
    for turn in range(2):
        here = path.parent.parent / f"data{turn}" / path.name
        if form:
            shutil.copytree(path.parent, here.parent)
        names = [f"Guest {number}" for number in range(5)]
        programs = [start("at-once", here, name, stdin=subprocess.PIPE) for name in names]
        for program in programs:
            assert program.stdin is not None
            program.stdin.write(b"now\n")
            program.stdin.close()
        assert [program.wait(120) for program in programs] == [0] * 5
        with Record.open(here) as record:
            assert record.integrity() == "ok"
            assert record.trainees() == names
        assert len(list(here.parent.glob("copies/*"))) == form


def test_what_a_crash_left_half_written_is_rolled_back_before_it_is_read(path: Path) -> None:
    with Record.open(path) as record:
        done = Sitting(record).whole().rows
        cut_off = Sitting(record, at=later()).begin().set(10)
        begun = cut_off.rows
    before = path.read_bytes()
    assert start("die", path).wait(60) == 9
    assert path.with_name("record.db-journal").stat().st_size > 0
    assert path.read_bytes() != before
    with Record.open_readonly(path) as record:
        assert list(record.rows()) == done + begun
        assert record.integrity() == "ok"
    with Record.open(path) as record:
        found = record.unfinished("Runa", cut_off.info.plan)
        assert found is not None
        assert found.events == tuple(cut_off.events)
