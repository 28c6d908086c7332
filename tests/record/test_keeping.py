"""What `append` keeps, again and again, and what a replay makes of it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st
from msgspec.structs import replace

from runner.record.record import Record
from runner.record.write import set_row
from runner.session import flow, verb as cmd
from runner.session.apply import Refused, replay

from .hut import Sitting, later, morning


@pytest.fixture
def record(kept: Record) -> Record:
    """Here the file itself is the point."""
    return kept


def everything(record: Record) -> list[str]:
    """The whole file as SQL."""
    return list(record._connection.iterdump())


def derived(sitting: Sitting) -> list[object]:
    rows = (set_row(sitting.info, sitting.state, row) for row in sitting.state.rows)
    return [row for row in rows if row.status != "running"]


def test_a_replay_of_the_kept_events_gives_the_state_again(record: Record) -> None:
    Sitting(record).whole()
    sitting = Sitting(record, at=later())
    sitting.begin().set(11, on=False).do(cmd.Undo(), cmd.Undo()).set(9)
    sitting.do(cmd.Weigh(74.5), cmd.Note("cold hands"), cmd.Step(1)).set(8).set(8).close()
    assert [r.reps for r in sitting.rows] == [9, 8, 8, None]
    kept = record.events(sitting.info.id)
    assert kept == tuple(sitting.events)
    baseline = record.baseline("Nobody yet", sitting.workout)
    assert baseline.to_beat == {}
    assert replay(sitting.workout, sitting.state.baseline, kept) == sitting.state


def test_the_same_events_again_add_nothing(record: Record) -> None:
    sitting = Sitting(record).begin().set(10).set(9)
    before = everything(record)
    record.start(sitting.info)
    record.append(sitting.info.id, sitting.numbered(), sitting.state)
    assert everything(record) == before
    sitting.set(8).close()
    before = everything(record)
    record.append(sitting.info.id, sitting.numbered(), sitting.state)
    record.append(sitting.info.id, sitting.numbered()[-1:], sitting.state)
    assert everything(record) == before


def test_a_number_left_out_is_the_callers_fault_and_keeps_nothing(record: Record) -> None:
    sitting = Sitting(record).begin()
    before = everything(record)
    result = flow.handle(sitting.state, cmd.Proceed(), sitting.now + 9)
    new = [h.event for h in result.events]
    numbered = [(len(sitting.events) + 1, new[0]), (len(sitting.events) + 3, new[1])]
    with pytest.raises(ValueError, match="left out"):
        record.append(sitting.info.id, numbered, result.state)
    assert everything(record) == before


def test_a_session_that_was_not_started_is_the_callers_fault(record: Record) -> None:
    sitting = Sitting(record)
    with Record.in_memory() as other, pytest.raises(KeyError):
        other.append(sitting.info.id, sitting.numbered(), sitting.state)


def test_undo_removes_the_rows_and_not_the_events(record: Record) -> None:
    sitting = Sitting(record).begin().set(10, on=False)
    assert [r.status for r in sitting.rows] == ["done"]
    sitting.do(cmd.Undo(), cmd.Undo())  # the count, then the end
    assert sitting.rows == []
    names = [event.name for event in record.events(sitting.info.id)]
    assert [n for n in names if n in ("ended", "entered", "undone")] == [
        "ended",
        "entered",
        "undone",
        "undone",
    ]
    skipped = Sitting(record, at=later()).begin().set(10, on=False).do(cmd.Skip())
    assert len(skipped.rows) == 3
    skipped.do(cmd.Undo())
    assert len(skipped.rows) == 1


def test_another_connection_that_goes_on_writes_the_same_rows(path: Path, record: Record) -> None:
    sitting = Sitting(record).begin().set(10).set(9)
    with Record.open(path) as other:  # as after a crash: it knows nothing of what is written
        sitting.record = other
        sitting.do(cmd.Undo()).wait().set(7).set(6).close()
        assert sitting.rows == derived(sitting)
    assert record.session_rows(sitting.info.id) == derived(sitting)


ACTS = st.sampled_from(
    [
        cmd.Proceed(), cmd.StartNow(), cmd.Ask(15), cmd.Pause(), cmd.Skip(), cmd.Drop(),
        cmd.Swap(), cmd.Step(1), cmd.Step(-1), cmd.Use(load=7), cmd.Undo(), cmd.Late(),
        cmd.Enter("reps", (cmd.Count(12),)), cmd.NoCount(), cmd.Note("=1+1"), cmd.Hurt("knee"),
        cmd.Fix(1, "reps", cmd.Count(3)), cmd.Weigh(80), cmd.Rate(7), cmd.Return(), cmd.Keep(),
        cmd.Keep(today_only=True),
    ]
)  # fmt: skip


@settings(max_examples=60)
@given(st.lists(st.tuples(ACTS, st.floats(0, 30)), max_size=40))
def test_whatever_is_done_the_table_has_the_rows_of_the_state(
    acts: list[tuple[cmd.Command, float]],
) -> None:
    with Record.in_memory() as record:
        sitting = Sitting(record)
        for command, after in acts:
            sitting.now += after
            due = flow.deadline(sitting.state)
            if due is not None and due <= sitting.now:
                sitting.keep(flow.advance(sitting.state, sitting.now))
            try:
                sitting.do(command)
            except Refused:
                continue
            assert sitting.rows == derived(sitting)
        kept = record.events(sitting.info.id)
        assert replay(sitting.workout, sitting.state.baseline, kept) == sitting.state
        assert record.integrity() == "ok"


def test_the_session_is_kept_with_its_end(record: Record) -> None:
    sitting = Sitting(record).do(cmd.Note("cold hands")).begin().set(10)
    sitting.do(cmd.Weigh(74.5), cmd.Rate(7)).close()
    columns = "status, complete, mass_kg, rpe, ended_utc, ended_offset_s, ended_local_date, note"
    (row,) = record._connection.execute(f"SELECT {columns} FROM session")
    end = sitting.info.utc_text(sitting.now)
    assert row == ("closed", "no", 74.5, 7.0, end, 3600, "2026-11-23", "cold hands")
    Sitting(record, at=later()).whole()
    assert [c for (c,) in record._connection.execute("SELECT complete FROM session")] == [
        "no",
        "yes",
    ]


def test_body_mass_is_that_of_the_newest_session_that_has_one(record: Record) -> None:
    assert record.body_mass("Runa") is None
    Sitting(record).do(cmd.Weigh(74.5)).close()
    assert record.body_mass("Runa") == (74.5, date(2026, 11, 23))
    second = Sitting(record, at=later()).do(cmd.Weigh(75.0))
    assert record.body_mass("Runa") == (75.0, date(2026, 11, 30))
    second.do(cmd.Undo())
    assert record.body_mass("Runa") == (74.5, date(2026, 11, 23))
    assert record.body_mass("Odd") is None


def test_every_event_has_its_utc(record: Record) -> None:
    sitting = Sitting(record).begin().set(10)
    kept = record._connection.execute("SELECT seq, at, utc FROM event ORDER BY seq").fetchall()
    assert kept == [(n, e.at, sitting.info.utc_text(e.at)) for n, e in sitting.numbered()]


def test_the_plan_is_kept_once_and_as_it_was(record: Record) -> None:
    first, second = Sitting(record), Sitting(record, at=later())
    assert record._connection.execute("SELECT content FROM plan").fetchall() == [
        ("title = 'hut'\n",)
    ]
    first.close()
    found = record.unfinished("Runa", second.info.plan)
    assert found is not None
    assert found.info == second.info


def test_texts_are_kept_clean(record: Record) -> None:
    sitting = Sitting(record).do(cmd.Note("a\r\nb\rc\x85d\x00\x1b[31m\x9b\tend\udc80"))
    wanted = "a\nb\nc\nd[31m\tend\ufffd"
    (event,) = (e for e in record.events(sitting.info.id) if e.name == "noted")
    assert event == replace(sitting.events[-1], note=wanted)  # type: ignore[call-arg]
    note = record._connection.execute("SELECT note FROM session").fetchone()
    assert note == (wanted,)
    # The same events again are still the same.
    record.append(sitting.info.id, sitting.numbered(), sitting.state)


def test_a_session_cut_off_is_found_with_its_events(path: Path) -> None:
    with Record.open(path) as record:
        sitting = Sitting(record).begin().set(10).set(9)
    with Record.open(path) as record:
        found = record.unfinished("Runa", sitting.info.plan)
        assert found is not None
        assert (found.info, found.events) == (sitting.info, tuple(sitting.events))
        again = replay(sitting.workout, sitting.state.baseline, found.events)
        assert again == sitting.state
        assert record.unfinished("Odd", sitting.info.plan) is None
        assert record.unfinished("Runa", "Kestrel Hut, evening") is None
        sitting.record = record
        sitting.do(cmd.Return(), after=900).do(cmd.End())
        assert record.unfinished("Runa", sitting.info.plan) is None


def test_the_newest_open_session_is_offered(record: Record) -> None:
    Sitting(record)
    newer = Sitting(record, morning(session="B"), at=later())
    Sitting(record, at=later(14)).close()
    found = record.unfinished("Runa", newer.info.plan)
    assert found is not None
    assert found.info == newer.info
