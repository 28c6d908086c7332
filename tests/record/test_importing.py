"""What an export brings back: the same rows, byte for byte; all of a file or none."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from runner.errors import MatsideError
from runner.progress.history import SetRow
from runner.record import importing
from runner.record.csvfile import read_csv, write_csv
from runner.record.record import Record
from runner.session import flow, verb as cmd
from runner.text import trainee_name

from .hut import BERLIN, MONDAY, Sitting, later, morning

NIGHT = datetime(2026, 10, 24, 23, 58, 30, 500_000, tzinfo=BERLIN)  # before the clocks go back


def csv_of(record: Record) -> str:
    stream = io.StringIO(newline="")
    write_csv(record.rows(), stream)
    return stream.getvalue()


def rows_of(text: str) -> list[SetRow]:
    return list(read_csv(io.StringIO(text, newline="")))


def bring(path: Path, text: str) -> importing.ImportPreview:
    with Record.open_readonly(path) as record:
        preview = importing.preview(record, rows_of(text))
    importing.bring_in(path, preview, trial=False)
    return preview


@pytest.fixture
def full() -> Iterator[Record]:
    """Everything that a row may hold: two people at once, over midnight, left out, corrected."""
    with Record.in_memory() as record:
        Sitting(record, at=NIGHT).whole([10, 9, 8, 12, 11, 11, 30])
        sitting = Sitting(record, at=later(1)).do(cmd.Weigh(74.5)).begin()
        sitting.do(cmd.Note("=1+1")).set(12).set(9).do(cmd.Skip()).do(cmd.Hurt("-elbow"))
        sitting.close()
        second = Sitting(record, trainee="Odd", at=later(1) + timedelta(seconds=31)).whole(14)
        second = Sitting(record, trainee="Odd", at=later(3)).whole(15)
        assert second.rows[0].to_beat == 14
        third = Sitting(record, at=later(8)).begin().set(20)
        third.do(cmd.Fix(1, "reps", cmd.Count(21, 3))).close()
        yield record


def test_export_import_export_is_the_same_to_the_byte(full: Record, tmp_path: Path) -> None:
    text = csv_of(full)
    assert "'=1+1" in text
    assert len(rows_of(text)) > 20
    preview = bring(tmp_path / "record.db", text)
    assert len(preview.new) == 5
    with Record.open_readonly(tmp_path / "record.db") as again:
        assert csv_of(again) == text
        assert again.integrity() == "ok"
        # Read back, they count like any others.
        assert again.trainees() == ["Odd", "Runa"]
        assert again.baseline("Odd", morning()).to_beat == full.baseline("Odd", morning()).to_beat


def test_again_it_adds_nothing(full: Record, tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    bring(path, csv_of(full))
    before = path.read_bytes()
    preview = bring(path, csv_of(full))
    assert (len(preview.new), len(preview.there)) == (0, 5)
    assert path.read_bytes() == before


def test_only_what_is_missing_comes(full: Record, tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    rows = rows_of(csv_of(full))
    odd = [row for row in rows if row.trainee == "Odd"]
    stream = io.StringIO(newline="")
    write_csv(odd, stream)
    bring(path, stream.getvalue())
    preview = bring(path, csv_of(full))
    assert {a.rows[0].trainee for a in preview.new} == {"Runa"}
    with Record.open_readonly(path) as again:
        assert sorted(again.rows()) == sorted(rows)


def test_an_import_can_be_imported_into_the_record_it_came_from(
    full: Record,
) -> None:
    preview = importing.preview(full, rows_of(csv_of(full)))
    assert preview.new == ()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"trainee": "Odd", "iso_week": "2026-W01"}, "disagree about"),
        ({"iso_week": "2026-W01"}, "iso_week"),
        ({"trainee": "Somebody"}, "disagree about trainee"),
        ({"trainee": " "}, "disagree about trainee"),
        ({"session_id": ""}, "are empty"),
    ],
)
def test_one_fault_and_nothing_comes_in(
    full: Record, tmp_path: Path, change: dict[str, object], said: str
) -> None:
    path = tmp_path / "record.db"
    rows = rows_of(csv_of(full))
    kept = [row for row in rows if row.session_id == rows[-1].session_id]
    stream = io.StringIO(newline="")
    write_csv(kept, stream)
    bring(path, stream.getvalue())
    before = path.read_bytes()
    spoilt = [*rows[:-1], rows[-1]._replace(**change)]
    with Record.open_readonly(path) as record, pytest.raises(MatsideError) as fault:
        importing.preview(record, spoilt)
    assert any(said in line for line in fault.value.lines)
    assert fault.value.code == 65
    assert path.read_bytes() == before


def test_the_same_row_twice(full: Record) -> None:
    rows = rows_of(csv_of(full))
    with pytest.raises(MatsideError, match="a set appears twice"):
        importing.preview(full, [*rows, rows[0]])


def test_all_or_none_when_the_record_fails_half_way(
    full: Record, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "record.db"
    with Record.in_memory() as empty:
        preview = importing.preview(empty, rows_of(csv_of(full)))
    real, calls = importing._insert, []

    def fail(*given: object, **named: object) -> None:
        calls.append(given)
        if len(calls) == 3:
            raise OSError("the disk has gone")
        real(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(importing, "_insert", fail)
    with pytest.raises(OSError, match="gone"):
        importing.bring_in(path, preview, trial=False)
    with Record.open_readonly(path) as record:
        assert record.trainees() == []


SIGNS = "'\"=+-@\n\r\t,; \u202e\u200b\x00\x1b\U0001f600e\u0301\ufeff\u2028"
texts = st.text(st.sampled_from(SIGNS), max_size=6) | st.text(
    st.characters(codec="utf-8"), max_size=8
)


@settings(max_examples=20, deadline=None)
@given(
    st.lists(
        st.tuples(
            texts | st.sampled_from(["Runa", "Odd"]),  # who
            st.integers(0, 4000),  # milliseconds: several at once, some at the very same
            st.integers(0, 2),  # sets left out first
            st.integers(1, 60),  # the count
            texts,  # the note
        ),
        min_size=1,
        max_size=4,
    ),
)
def test_whatever_was_done(
    tmp_path_factory: pytest.TempPathFactory, drawn: list[tuple[str, int, int, int, str]]
) -> None:
    path = tmp_path_factory.mktemp("import") / "record.db"
    with Record.in_memory() as record:
        for number, (who, ms, left_out, count, note) in enumerate(drawn):
            begun = MONDAY + timedelta(milliseconds=ms)
            name = trainee_name(who) or "Runa"
            sitting = Sitting(record, trainee=name, at=begun, token=f"{number:04}")
            sitting.do(cmd.Proceed(), *[cmd.Skip()] * left_out).wait().set(count)
            if note.strip():
                sitting.do(cmd.Note(note))
            sitting.close()
        text = csv_of(record)
    bring(path, text)
    with Record.open_readonly(path) as again:
        assert csv_of(again) == text
        assert importing.preview(again, rows_of(text)).new == ()


@pytest.mark.parametrize("later_by", [0, 700])
def test_two_at_once_stay_in_their_order(tmp_path: Path, later_by: int) -> None:
    """One has left out a set: at the very instant of the other's, or just after its begin."""
    with Record.in_memory() as record:
        first = Sitting(record, at=MONDAY, token="aaaa").do(cmd.Proceed())
        begun = MONDAY + timedelta(milliseconds=later_by)
        second = Sitting(record, trainee="Odd", at=begun, token="bbbb")
        second.do(cmd.Proceed(), cmd.Skip()).wait().set(10).close()
        if later_by:  # its first set begins in the second in which the other is opened
            first.do(cmd.StartNow(), after=0.5).set(9).close()
        else:
            first.wait().set(9).close()
        text = csv_of(record)
    bring(tmp_path / "record.db", text)
    with Record.open_readonly(tmp_path / "record.db") as again:
        assert csv_of(again) == text


def test_a_file_in_no_order_comes_in_all_the_same(tmp_path: Path) -> None:
    with Record.in_memory() as record:
        for name in ("Runa", "Odd"):
            Sitting(record, trainee=name).begin().set(9).set(8).close()
        rows = rows_of(csv_of(record))
    stream = io.StringIO(newline="")
    assert rows[0].set_start == rows[1].set_start
    write_csv([rows[0], rows[1], rows[3], rows[2]], stream)
    assert len(bring(tmp_path / "record.db", stream.getvalue()).new) == 2


def test_sides_with_and_without_a_load_are_known_again(full: Record, tmp_path: Path) -> None:
    """Such rows cannot be put in an order by their values: a load may be None."""
    row = next(iter(full.rows()))
    stream = io.StringIO(newline="")
    sides = [row._replace(side="left", load_kg=None), row._replace(side="right", load_kg=5.0)]
    write_csv(sides, stream)
    path = tmp_path / "record.db"
    assert len(bring(path, stream.getvalue()).new) == 1
    again = bring(path, stream.getvalue())
    assert (len(again.new), len(again.there)) == (0, 1)


# What the record has already, or a part of it


def cut_off(path: Path, *, counted: bool) -> str:
    """The CSV of a session of which the record has two sets, the second with its count or not."""
    with Record.in_memory() as baseline:
        Sitting(baseline, token="aaaa").begin().set(12).set(9).set(11).set(8).close()
        text = csv_of(baseline)
    with Record.open(path) as record:
        Sitting(record, token="aaaa").begin().set(12).set(9 if counted else None)
    return text


@pytest.mark.parametrize("counted", [True, False])
def test_a_session_cut_off_is_completed_from_its_own_csv(tmp_path: Path, counted: bool) -> None:  # noqa: FBT001 - parametrised
    path = tmp_path / "record.db"
    text = cut_off(path, counted=counted)
    rows = rows_of(text)
    preview = bring(path, text)
    assert [a.cut_off for a in preview.more] == [True]
    with Record.open_readonly(path) as record:
        assert record.session_rows(rows[0].session_id) == rows
        assert not record.is_open(rows[0].session_id)
        assert record.unfinished("Runa", rows[0].plan) is None
        assert csv_of(record) == text
        assert record.integrity() == "ok"
    again = bring(path, text)
    assert not again.changes
    assert len(again.there) == 1


def done_again(path: Path, *, counted: bool) -> list[SetRow]:
    """The rescue CSV's rows of a session that was resumed: it was cut off in its second set.

    The record's second set was ended later, with its count or not; the third was done anew.
    """
    with Record.in_memory() as baseline:
        Sitting(baseline, token="aaaa").begin().set(12).set(9).set(11).do(cmd.End())
        rows = rows_of(csv_of(baseline))
    with Record.open(path) as record:
        sitting = Sitting(record, token="aaaa").begin().set(12)
        sitting.set(9 if counted else None, seconds=300.0).set(
            10 if counted else None, seconds=33.0
        ).close()
    return rows


@pytest.mark.parametrize("counted", [True, False])
def test_a_rescue_csv_after_the_session_was_resumed(tmp_path: Path, counted: bool) -> None:  # noqa: FBT001 - parametrised
    path = tmp_path / "record.db"
    rows = done_again(path, counted=counted)
    with Record.open_readonly(path) as record:
        before = list(record.rows())
        preview = importing.preview(record, rows)
    assert before[1].work_s == 300.0 != rows[1].work_s
    missing = [(True, "row 1 left: - → 9"), (True, "row 1 right: - → 11")]
    asked = [(False, "row 1 right: 10 → 11")]
    assert [(u.newer, u.text.removeprefix("Runa, 2026-11-23, ")) for u in preview.updates] == (
        asked if counted else missing
    )
    # The record's times stay.
    assert all(u.row.work_s == before[u.entry - 1].work_s for u in preview.updates)


def test_the_remedy_of_a_fault_is_true(tmp_path: Path) -> None:
    """What to write instead is written: then the rest of the row comes in."""
    path = tmp_path / "record.db"
    rows = done_again(path, counted=False)
    wrong = rows[1]._replace(load_kg=99.0, note="heavy")
    with Record.open_readonly(path) as record:
        with pytest.raises(MatsideError) as fault:
            importing.preview(record, [rows[0], wrong])
        assert fault.value.lines == (
            f"session {rows[0].session_id}, row 1 left: an import corrects counts alone; write "
            "what the record has, load_kg 4, note empty, or take the line out of the file",
        )
        right = importing.preview(record, [rows[0], wrong._replace(load_kg=4.0, note="")])
        assert [u.text for u in right.updates] == ["Runa, 2026-11-23, row 1 left: - → 9"]
        assert not importing.preview(record, rows[:1]).changes


def test_a_set_that_was_left_out_takes_no_count(tmp_path: Path) -> None:
    with Record.in_memory() as baseline:
        Sitting(baseline, token="aaaa").begin().set(12).set(9).close()
        rows = rows_of(csv_of(baseline))
    with Record.open(tmp_path / "record.db") as record:
        Sitting(record, token="aaaa").begin().set(12, on=False).do(cmd.Skip()).close()
        with pytest.raises(
            MatsideError, match="left out in the record, so it has no count; remove the line"
        ):
            importing.preview(record, rows)
        assert not importing.preview(record, rows[:1]).changes


def test_a_newer_correction_is_an_update(tmp_path: Path) -> None:
    """Fixed on one machine, exported, imported on another that has the session as it was."""
    with Record.in_memory() as record:
        sitting = Sitting(record).begin().set(12).set(9).close()
        before = csv_of(record)
        at = sitting.now + 3600
        result = flow.correct(sitting.state, cmd.Fix(1, "reps", cmd.Count(20, 1)), at)
        events = [one.event for one in result.events]
        numbered = list(enumerate(events, len(sitting.events) + 1))
        record.correct(sitting.info.id, numbered, result.state)
        after = csv_of(record)
    path = tmp_path / "record.db"
    bring(path, before)
    preview = bring(path, after)
    assert [(u.newer, u.events, u.text) for u in preview.updates] == [
        (True, False, "Runa, 2026-11-23, press 1: 12 → 20/1")
    ]
    with Record.open_readonly(path) as again:
        assert csv_of(again) == after
        old = importing.preview(again, rows_of(before))
    assert not old.changes
    assert [u.text for u in old.older] == ["Runa, 2026-11-23, press 1: 20/1 → 12"]


def test_a_count_without_a_time_of_correction_is_asked_about(tmp_path: Path) -> None:
    with Record.in_memory() as record:
        Sitting(record).begin().set(12).set(9).close()
        text = csv_of(record)
    path = tmp_path / "record.db"
    bring(path, text)
    changed = [r._replace(reps=15) if r.reps == 12 else r for r in rows_of(text)]
    with Record.open_readonly(path) as again:
        preview = importing.preview(again, changed)
    assert [(u.newer, u.text) for u in preview.updates] == [
        (False, "Runa, 2026-11-23, press 1: 12 → 15")
    ]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"load_kg": 4.0}, "write what the record has, load_kg empty, or"),
        ({"set": 9}, "is closed and lacks this set"),
        ({"trainee": "Odd"}, "disagree about trainee"),
    ],
)
def test_more_than_a_count_is_no_correction_of_a_session_with_events(
    tmp_path: Path, change: dict[str, object], said: str
) -> None:
    path = tmp_path / "record.db"
    with Record.open(path) as record:
        Sitting(record).begin().set(12).set(9).close()
        rows = list(record.rows())
        with pytest.raises(MatsideError) as fault:
            importing.preview(record, [rows[0]._replace(**change), *rows[1:]])
    assert any(said in line for line in fault.value.lines)


def test_an_id_of_another_session_is_refused(tmp_path: Path) -> None:
    with Record.in_memory() as record:
        Sitting(record).begin().set(12).close()
        rows = [row._replace(trainee="Odd") for row in record.rows()]
        with pytest.raises(MatsideError, match="another session with this id"):
            importing.preview(record, rows)
