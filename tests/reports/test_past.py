"""What a look back reads: trends, weeks, sessions, bests, and what has changed since."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from runner.record.record import Record
from runner.reports.past import Past, look_back

from .winter import PLAN, START, some_weeks
from .year import Person, days


def test_trends_are_of_reps_a_set_with_changes_marked(past: Past) -> None:
    trends = {trend.exercise: trend for trend in past.trends}
    assert list(trends) == ["calf", "sack-row", "push-up", "plank"]  # by pattern
    push = trends["push-up"]
    assert [len(point.values) for point in push.points] == [3, 2] * 4
    assert [point.new for point in push.points] == [False] * 4 + [True] + [False] * 3
    first = push.points[0]
    assert first.mean == pytest.approx(sum(first.values) / 3)
    assert (push.pattern, push.hold, push.gone) == ("horizontal push", False, False)
    row = trends["sack-row"].points[0]
    by_set = [[s.value for s in row.past.counted if s.number == n] for n in (1, 2, 3)]
    assert list(row.values) == [sum(filter(None, both)) / 2 for both in by_set]


def test_without_a_period_twelve_weeks_end_with_the_last_session(past: Past) -> None:
    assert (past.until, past.since) == (date(2026, 10, 4), date(2026, 7, 13))
    assert [back.week.iso_week for back in past.weeks] == [f"2026-W{n}" for n in (37, 38, 39, 40)]
    assert not past.asked


def test_a_period_holds_whole_days_and_says_where_it_cuts_a_week(record: Record) -> None:
    found = look_back(record, "Ada", since=date(2026, 9, 10), until=date(2026, 9, 14))
    assert found is not None
    assert [s.local_date.day for s in found.sessions] == [10, 14]
    assert [back.partly for back in found.weeks] == [True, True]
    whole = look_back(record, "Ada", until=date(2026, 9, 14))
    assert whole is not None
    assert whole.bests == found.bests  # of the whole record up to the end
    assert look_back(record, "Ada", since=date(2027, 1, 1)) is None
    assert look_back(record, "Nobody") is None


def test_weeks_are_held_against_the_plan(past: Past) -> None:
    week = past.weeks[0]
    assert week.planned.sessions == (2, 3)
    judged = {m.muscle: (m.sets, m.target, m.judged) for m in week.muscles}
    assert judged["chest"] == (5.0, (4, 8), "in")
    assert judged["low-back"] == (2.5, (4, 8), "little")
    assert judged["calves"] == (2.0, (2, 4), "in")
    assert week.done == {
        "Push-up": 5,
        "Rucksack row": 5,
        "Plank by the stove": 2,
        "Calf raise": 2,
    }
    assert week.week.by_pattern == {
        "calf": 2,
        "horizontal pull": 5,
        "horizontal push": 5,
        "trunk": 2,
    }


def test_a_week_without_a_session_stands_between_the_others() -> None:
    with Record.in_memory() as record:
        person = Person(record, "Ada", seed=1)
        for week in (0, 2):
            person.train(PLAN, "A", days(START, (0,), 3)[week])
        found = look_back(record, "Ada")
    assert found is not None
    assert [back.week.sets for back in found.weeks] == [8, 0, 8]
    assert found.weeks[1].planned == found.weeks[0].planned


def test_what_the_plan_trains_is_there_also_where_nothing_was_done_for_it() -> None:
    with Record.in_memory() as record:
        Person(record, "Ada", seed=1).train(PLAN, "A", START)
        found = look_back(record, "Ada")
    assert found is not None
    judged = {m.muscle: (m.sets, m.judged) for m in found.weeks[0].muscles}
    assert judged["calves"] == (0.0, "little")  # only session B has them
    assert found.weeks[0].runs(START.date())
    assert not found.weeks[0].runs(START.date() - timedelta(days=1))


def test_a_session_in_full_has_its_measures(past: Past) -> None:
    newest = past.last[0]
    assert newest.row.session_start == "2026-10-01T06:30:00+02:00"
    assert [name for name, _ in newest.exercises] == ["Push-up", "Rucksack row", "Calf raise"]
    assert newest.length is not None
    assert newest.length.actual == newest.row.length_s
    assert 0.5 < newest.length.forecast / newest.length.actual < 2
    assert newest.recovery is not None
    assert newest.recovery.aimed == 120
    assert newest.row.rpe is not None
    assert len(past.last) == 3


def test_paired_work_is_held_against_the_same_work_alone(past: Past) -> None:
    # In A the push-up takes turns with the row, in B it stands alone.
    (push,) = past.paired
    assert push.exercise == "push-up"
    assert push.sessions == (2, 2)


def test_an_exercise_renamed_or_gone_since_is_still_there() -> None:
    with Record.in_memory() as record:
        person = Person(record, "Ada", seed=1)
        first, second = days(START, (0, 3), 1)
        person.train(PLAN, "A", first)
        renamed = PLAN.replace('name = "Push-up"', 'name = "Press-up"')
        renamed = renamed.replace(
            ', { exercise = "sack-row", sets = 3 }]\n'
            '[[session.block]]\ndo = [{ exercise = "plank", sets = 2 }]',
            "]",
        )
        start, end = renamed.index("[exercise.plank]"), renamed.index("[exercise.calf]")
        person.train(renamed[:start] + renamed[end:], "A", second)
        found = look_back(record, "Ada")
    assert found is not None
    trends = {trend.exercise: trend for trend in found.trends}
    assert (trends["push-up"].name, trends["push-up"].earlier) == ("Press-up", ("Push-up",))
    assert [trend.gone for trend in trends.values()] == [False, False, True]
    assert trends["plank"].gone
    assert list(trends)[-1] == "plank"


def test_sets_of_a_session_that_was_cut_off_were_done_all_the_same() -> None:
    with Record.in_memory() as record:
        person = Person(record, "Ada", seed=1)
        person.train(PLAN, "A", START)
        run = person.train(PLAN, "B", days(START, (3,), 1)[0], close=False)
        assert run.state.phase == "wrap-up"
        found = look_back(record, "Ada")
    assert found is not None
    assert [s.status for s in found.sessions] == ["closed", "open"]
    assert found.weeks[0].week.sets == 14
    assert found.last[0].length is None


def test_two_people_do_not_mix() -> None:
    with Record.in_memory() as record:
        some_weeks(record, weeks=1)
        some_weeks(record, "Odd", weeks=2)
        ada, odd = look_back(record, "Ada"), look_back(record, "Odd")
    assert ada is not None
    assert odd is not None
    assert (len(ada.sessions), len(odd.sessions)) == (2, 4)
