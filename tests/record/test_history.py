"""What is read back of a trainee's past, and that it stays quick."""

from __future__ import annotations

import tomllib
from datetime import date, datetime, timedelta

from runner.law.workout import Item
from runner.record import past, rows as set_rows
from runner.record.decisions import LevelDecision
from runner.record.record import Record
from runner.session import flow, verb as cmd
from tests.plan.plans import whole

from .hut import BERLIN, MONDAY, PRESS, TITLE, Sitting, later, morning


def test_a_session_is_a_row_with_its_length_by_the_clock_of_the_mat(record: Record) -> None:
    sitting = Sitting(record).begin()
    for count in (12, 10, 10, 11, 9, 9):
        sitting.set(count)
    sitting.set(seconds=30).do(cmd.Rate(7)).close()
    (found,) = record.sessions(trainee="Runa")
    assert found.session_start == "2026-11-23T06:30:00+01:00"
    assert found.session_end is not None
    passed = datetime.fromisoformat(found.session_end) - MONDAY
    assert found.length_s == sitting.now  # begun as soon as it was opened
    assert passed == timedelta(seconds=int(sitting.now))
    assert (found.iso_week, found.local_date) == ("2026-W48", date(2026, 11, 23))
    assert (found.plan, found.session, found.status, found.complete) == (
        TITLE,
        "A",
        "closed",
        "yes",
    )
    assert found.rpe == 7


def test_an_open_session_has_no_end(record: Record) -> None:
    Sitting(record).begin().set(9)
    (found,) = record.sessions()
    assert (found.status, found.session_end, found.length_s) == ("open", None, None)
    assert [r.reps for r in record.period("Runa")] == [9]


def test_a_session_over_a_clock_change_is_as_long_as_it_really_was(record: Record) -> None:
    # On 2026-10-25 Berlin's clocks go from 3:00 back to 2:00.
    start = datetime(2026, 10, 25, 2, 30, tzinfo=BERLIN)
    sitting = Sitting(record, morning((Item("press", 1),)), at=start)
    sitting.do(cmd.Proceed(), after=3600).wait().set(9).close()
    (found,) = record.sessions()
    assert found.session_start == "2026-10-25T02:30:00+02:00"
    assert found.session_end is not None
    assert found.session_end.startswith("2026-10-25T02:3")
    assert found.session_end.endswith("+01:00")
    assert found.length_s == sitting.now - 3600  # an hour passed before it was begun


def test_the_night_in_which_a_session_was_cut_off_is_not_its(record: Record) -> None:
    sitting = Sitting(record, morning((Item("press", 3),)))
    sitting.keep(flow.opened(sitting.state))
    sitting.do(cmd.Return(), after=500)  # before it was begun: that is not its anyway
    sitting.do(cmd.Proceed(), after=100).wait().set(9, seconds=20)
    # In the second set, which ends for the law when it is expected to: after 20 s.
    sitting.do(cmd.Return(), after=40_000).wait().set(8).close()
    (found,) = record.sessions()
    assert sitting.now > 40_600
    assert found.length_s == round(sitting.now - 600 - (40_000 - 20), 1)
    assert sitting.state.lasted == found.length_s


def test_a_period_is_by_the_local_dates_of_the_sessions(record: Record) -> None:
    for day in (0, 3, 7):
        Sitting(record, at=later(day)).whole()
    Sitting(record, trainee="Odd", at=later(3)).whole()
    some = record.sessions(trainee="Runa", since=date(2026, 11, 24), until=date(2026, 11, 30))
    assert [s.local_date.day for s in some] == [26, 30]
    rows = list(record.period("Runa", since=date(2026, 11, 24), until=date(2026, 11, 26)))
    assert {r.session_start[:10] for r in rows} == {"2026-11-26"}
    assert rows == [r for r in record.rows(trainee="Runa") if r.session_start[:10] == "2026-11-26"]
    assert record.last_trained("Runa") == date(2026, 11, 30)
    assert record.last_trained("Nobody") is None
    assert record.sessions(plan="another") == []


def test_what_helps_one_sided_work_on_both_sides_is_a_synergist(record: Record) -> None:
    rows = Sitting(record).whole().rows
    assert {r.synergists for r in rows if r.exercise == "row"} == {"biceps;low-back"}


def test_every_decision_comes_back(record: Record) -> None:
    done = Sitting(record).whole()
    for index, why in ((1, "harder"), (0, "set by hand")):
        level = LevelDecision("press", "", PRESS.progression[index], why)
        record.agree("Runa", None, [level], later(2 - index), done.info.id, on=date(2026, 11, 22))
    first, second = record.level_decisions("Runa")
    assert (first.version, first.reason, first.session_id) == ("mark-2", "harder", done.info.id)
    assert (first.local_date, first.replaces) == (date(2026, 11, 22), "")
    assert first.decision_id == "20261124-053000.000-press"
    assert second.replaces == first.decision_id
    assert record.level_decisions() == record.level_decisions("Runa")
    assert record.level_decisions("Odd") == []


def test_a_stored_plan_says_patterns_and_targets() -> None:
    text = whole("kestrel-hut")
    plan, told = past.planned(text), tomllib.loads(text)
    assert plan.patterns == {name: e["pattern"] for name, e in told["exercise"].items()}
    assert plan.sessions == (3, 3)
    assert {"chest", "quadriceps", "calves", "obliques"} <= set(plan.muscles)
    assert plan.target("chest") == (10, 20)
    assert plan.target("calves") == (6, 12)


def test_of_a_content_that_is_no_plan_nothing_is_known(record: Record) -> None:
    for text in (
        "",
        "not = [a plan",
        "week = 3\nexercise = []\nsession = 7",
        'week = { sets = ["a"] }',
    ):
        assert past.planned(text).target("chest") is None
    assert record.plan_text("no such hash") == ""


def test_a_period_is_found_by_an_index_and_not_by_reading_the_past(record: Record) -> None:
    wanted = set_rows.Filter("Runa", None, MONDAY.date(), MONDAY.date())
    seen: list[str] = []
    record._connection.set_trace_callback(seen.append)
    past.sessions(record._connection, wanted)
    list(past.rows(record._connection, wanted))
    past.last_trained(record._connection, "Runa")
    record._connection.set_trace_callback(None)
    assert len(seen) == 3
    for query in seen:
        steps = [s[3] for s in record._connection.execute(f"EXPLAIN QUERY PLAN {query}")]
        assert any("session_by_date" in step for step in steps)
        assert not any(step.startswith("SCAN") for step in steps)
        if "set_row" not in query:
            assert not any("TEMP B-TREE" in step for step in steps)
