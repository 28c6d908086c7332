"""The rows of a session, as they are derived and kept."""

from __future__ import annotations

from runner.law.workout import Item
from runner.progress.adjust import Adjustment, Offer
from runner.progress.history import SetRow
from runner.record.record import Record
from runner.record.rows import COLUMNS, SESSION_COLUMNS
from runner.record.write import set_row
from runner.session import verb as cmd

from .hut import Sitting, later, morning

# The columns of the CSV in their order, as they are promised to other programs.
PROMISED = [
    "session_id",
    "session_start",
    "iso_week",
    "plan",
    "session",
    "trainee",
    "block",
    "round",
    "exercise",
    "exercise_name",
    "prime_movers",
    "synergists",
    "version",
    "setup",
    "load_kg",
    "set",
    "kind",
    "side",
    "status",
    "measure",
    "reps",
    "hold_s",
    "reserve",
    "reserve_aimed",
    "set_start",
    "started_by",
    "work_s",
    "rest_before_s",
    "recovery_s",
    "to_beat",
    "beaten",
    "tempo",
    "pain",
    "note",
    "corrected",
    "set_group",
    "deload",
    "level_finding",
    "today_only",
    "swapped_for",
    "pain_where",
    "corrected_at",
]


def test_the_columns_are_those_promised() -> None:
    assert list(COLUMNS) == PROMISED
    assert SESSION_COLUMNS == (
        "session_id", "session_start", "iso_week", "plan", "session", "trainee",
    )  # fmt: skip


def test_a_set_of_repetitions_has_every_column(record: Record) -> None:
    sitting = Sitting(record, token="aaaa").begin()
    sitting.do(cmd.Proceed(), after=20.04).do(cmd.Enter("reps", (cmd.Count(12, 2),)))
    assert sitting.rows == [
        SetRow(
            session_id="20261123-053000-aaaa",
            session_start="2026-11-23T06:30:00+01:00",
            iso_week="2026-W48",
            plan="Kestrel Hut, morning",
            session="A",
            trainee="Runa",
            block=1,
            round=1,
            exercise="press",
            exercise_name="Standing band press",
            prime_movers="chest",
            synergists="triceps;front-shoulder",
            version="mark-1",
            setup="anchor=100 cm",
            load_kg=None,
            set=1,
            kind="work",
            side="both",
            status="done",
            measure="reps",
            reps=12,
            hold_s=None,
            reserve=2,
            reserve_aimed=2,
            set_start="2026-11-23T06:30:02.000+01:00",
            started_by="clock",
            work_s=20.0,
            rest_before_s=None,
            recovery_s=None,
            to_beat=None,
            beaten=None,
            tempo="",
            pain=None,
            note="",
            corrected="no",
        )
    ]


def test_each_side_has_a_row_with_its_rest_and_recovery(record: Record) -> None:
    sitting = Sitting(record).begin().set(10).set(9).set(8).set(10).set(7)
    left_1, right_1, left_2 = (r for r in sitting.rows if r.exercise == "row")
    assert [(r.side, r.set, r.load_kg, r.reps) for r in (left_1, right_1, left_2)] == [
        ("left", 1, 4.0, 9),
        ("right", 1, 4.0, 8),
        ("left", 2, 4.0, 7),
    ]
    assert (right_1.rest_before_s, right_1.recovery_s) == (1.0, None)
    # From the end of the first left side: the right one (1 + 20), the press (2 + 20), and 2.
    assert (left_2.rest_before_s, left_2.recovery_s) == (2.0, 45.0)


def test_a_hold_has_seconds_and_no_repetitions(record: Record) -> None:
    sitting = Sitting(record, morning((Item("plank", 1),))).begin().set(seconds=31.26)
    (row,) = sitting.rows
    assert (row.measure, row.hold_s, row.reps, row.work_s) == ("hold", 31.3, None, 31.3)


def test_a_count_left_open_or_not_counted_is_empty(record: Record) -> None:
    sitting = Sitting(record).begin().set(None).do(cmd.NoCount()).set(None)
    assert [(r.status, r.reps) for r in sitting.rows] == [("done", None)] * 2


def test_a_bout_under_way_is_in_the_table_and_in_no_export(record: Record) -> None:
    sitting = Sitting(record).begin()
    running = sitting.state.running
    assert running is not None
    assert set_row(sitting.info, sitting.state, running).status == "running"
    kept = record._connection.execute("SELECT status, set_start, work_s FROM set_row").fetchall()
    assert kept == [("running", "2026-11-23T06:30:02.000+01:00", None)]
    assert sitting.rows == list(record.rows()) == record.last_time("Runa", sitting.info.plan, "A")
    sitting.do(cmd.Proceed(), after=10)
    assert [r.status for r in record.rows()] == ["done"]


def test_a_bout_given_up_is_broken_and_keeps_its_times(record: Record) -> None:
    sitting = Sitting(record).begin().do(cmd.Skip(), after=7)
    (row,) = sitting.rows
    assert (row.status, row.work_s, row.reps, row.set_start is None) == ("broken", 7.0, None, False)


def test_a_skipped_set_has_a_row_with_empty_times(record: Record) -> None:
    sitting = Sitting(record).begin().set(10, on=False).do(cmd.Skip())
    left, right = sitting.rows[1:]
    for row in (left, right):
        assert row.status == "skipped"
        empty = (row.set_start, row.started_by, row.work_s, row.rest_before_s, row.recovery_s)
        assert empty == (None,) * 5
    assert (left.side, right.side) == ("left", "right")


def test_a_set_cut_off_has_no_length(record: Record) -> None:
    sitting = Sitting(record).begin().do(cmd.Return(), after=500)
    (row,) = sitting.rows
    assert (row.status, row.work_s) == ("done", None)


def test_pain_a_note_and_a_correction_show(record: Record) -> None:
    sitting = Sitting(record).begin().set(10, on=False)
    sitting.do(cmd.Fix(1, "reps", cmd.Count(11)), cmd.Note("band\r\nslipped\x07"))
    sitting.do(cmd.Hurt("left shoulder"))
    (row,) = sitting.rows
    assert (row.reps, row.corrected, row.pain) == (11, "yes", "yes")
    assert row.note == "band\nslipped\npain: left shoulder"


def test_pain_is_kept_out_of_bests(record: Record) -> None:
    Sitting(record).whole()
    sitting = Sitting(record, at=later()).begin().set(11, on=False)
    assert [(r.to_beat, r.beaten) for r in sitting.rows] == [(10, "yes")]
    sitting.do(cmd.Hurt("elbow"))
    assert [(r.to_beat, r.beaten) for r in sitting.rows[:1]] == [(10, None)]


def test_what_was_really_used_is_what_is_kept(record: Record) -> None:
    sitting = Sitting(record).begin().set(10).do(cmd.Use(load=5.5)).set(9)
    assert (sitting.rows[1].load_kg, sitting.rows[1].version) == (5.5, "light")
    kept = record._connection.execute("SELECT load FROM set_row WHERE entry = 2").fetchone()
    assert kept == ("5.5",)


def test_a_row_never_contradicts_itself(record: Record) -> None:
    workout = morning((Item("plank", 1),))
    Sitting(record, workout).begin().set(seconds=31.26).close()
    # Both are 31.3 s as they are kept: no more than the last time.
    sitting = Sitting(record, workout).begin().set(seconds=31.34)
    (row,) = sitting.rows
    assert (row.hold_s, row.to_beat, row.beaten) == (31.3, 31.3, "no")


def test_a_row_says_its_group_its_deload_and_when_it_was_corrected(record: Record) -> None:
    named = morning((Item("row", 2, versions=("slow", "light")),))
    sitting = Sitting(record, named).begin().set(9, on=False)
    sitting.do(cmd.Fix(1, "reps", cmd.Count(10)), after=5.0)
    (row,) = sitting.rows
    assert (row.set_group, row.deload, row.level_finding) == ("slow", None, None)
    assert row.corrected_at == "2026-11-23T06:30:27+01:00"
    assert Sitting(record, named, at=later()).whole().rows[2].set_group == "light"


def test_a_row_of_a_lighter_session_is_a_deload(record: Record) -> None:
    lighter = Adjustment("no count", "press")
    sitting = Sitting(record, offers=(Offer("lighter", "fewer", (), (lighter,)),))
    sitting.do(cmd.Take("lighter")).whole()
    assert {(r.exercise, r.deload) for r in sitting.rows} == {
        ("press", "yes"), ("row", None), ("plank", None),
    }  # fmt: skip


def test_a_row_says_what_it_was_swapped_in_for_and_where_it_hurt(record: Record) -> None:
    sitting = Sitting(record).begin().set(10, on=False).wait().set(9).set(9, on=False)
    sitting.do(cmd.Swap()).wait().set(10, on=False).do(cmd.Hurt("left shoulder"))
    assert [
        (r.exercise, r.swapped_for, r.pain_where) for r in sitting.rows if r.side == "both"
    ] == [
        ("press", "", ""),
        ("bench", "press", "left shoulder"),
    ]
