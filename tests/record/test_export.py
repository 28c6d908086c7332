"""Which rows an export has, and in which order."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from runner.law.workout import Item
from runner.progress.history import SetRow
from runner.record import rows as set_rows
from runner.record.record import Record
from runner.session import verb as cmd

from .hut import BERLIN, TITLE, Sitting, later, morning


def starts(rows: list[SetRow]) -> list[datetime]:
    return [datetime.fromisoformat(r.set_start) for r in rows if r.set_start is not None]


@pytest.mark.parametrize("page", [1, 2, 3, 14, 1000])
def test_rows_come_by_the_start_of_their_sets(
    record: Record, monkeypatch: pytest.MonkeyPatch, page: int
) -> None:
    monkeypatch.setattr(set_rows, "PAGE", page)
    # Two people at once, begun half a minute apart: their sets come mixed.
    second = Sitting(record, trainee="Odd", at=later(0.0003)).whole()
    first = Sitting(record).whole()
    rows = list(record.rows())
    assert len(rows) == 14
    assert starts(rows) == sorted(starts(rows))
    assert [r.trainee for r in rows] != sorted(r.trainee for r in rows)
    assert [r for r in rows if r.trainee == "Runa"] == first.rows
    assert list(record.rows(trainee="Odd")) == second.rows
    assert list(record.rows(trainee="Nobody")) == []


def test_sets_left_out_stand_in_their_order_in_the_session(record: Record) -> None:
    sitting = Sitting(record).do(cmd.Proceed(), cmd.Skip(), cmd.Skip()).wait()
    sitting.set(9, on=False).do(cmd.Skip()).close()
    order = [(r.exercise, r.set, r.side, r.status) for r in record.rows()]
    assert order == [
        ("press", 1, "both", "skipped"),
        ("row", 1, "left", "skipped"),
        ("row", 1, "right", "skipped"),
        ("press", 2, "both", "done"),
        ("row", 2, "left", "skipped"),
        ("row", 2, "right", "skipped"),
    ]


def test_local_dates_are_both_included(record: Record) -> None:
    press = morning((Item("press", 1),))
    # Half past midnight of the 24th in Berlin is the 23rd in UTC.
    for start in (
        datetime(2026, 11, 22, 23, 50, tzinfo=BERLIN),  # its set is done after midnight
        datetime(2026, 11, 24, 0, 30, tzinfo=BERLIN),
        datetime(2026, 11, 25, 6, 30, tzinfo=BERLIN),
    ):
        Sitting(record, press, at=start).do(cmd.Proceed(), after=700).wait().set(9).close()

    def days(since: date | None = None, until: date | None = None) -> list[str]:
        return [r.session_start[8:10] for r in record.rows(since=since, until=until)]

    assert days() == ["22", "24", "25"]
    assert days(since=date(2026, 11, 24)) == ["24", "25"]
    assert days(until=date(2026, 11, 24)) == ["22", "24"]
    assert days(date(2026, 11, 24), date(2026, 11, 24)) == ["24"]
    assert days(date(2026, 11, 23), date(2026, 11, 23)) == []


def test_one_plan_alone(record: Record) -> None:
    Sitting(record).whole()
    assert len(list(record.rows(plan=TITLE))) == 7
    assert list(record.rows(plan="Kestrel Hut, evening")) == []
    assert len(list(record.rows(plan=TITLE, trainee="Runa", since=date(2026, 11, 23)))) == 7


def test_rows_are_read_by_an_index_and_never_sorted(record: Record) -> None:
    for wanted in (set_rows.Filter(), set_rows.Filter(trainee="Runa", plan=TITLE)):
        seen: list[str] = []
        record._connection.set_trace_callback(seen.append)
        list(set_rows.rows_wanted(record._connection, wanted))
        record._connection.set_trace_callback(None)
        queries = [query for query in seen if query.startswith("SELECT")]
        assert len(queries) == 2
        for query in queries:
            found = record._connection.execute(f"EXPLAIN QUERY PLAN {query}")
            steps = " / ".join(str(row[3]) for row in found)
            assert "TEMP B-TREE" not in steps
            assert "SCAN" not in steps
            index = "set_row_of_trainee" if wanted.trainee else "set_row_in_order"
            assert index in steps
