"""The past as the rules read it, from rows of the record."""

from __future__ import annotations

from datetime import date

from msgspec.structs import replace

from runner.law.workout import Level, Workout
from runner.progress.history import SessionFacts, Use, groups_of, sessions_of
from runner.progress.rules import CurrentLevel, advise
from tests.law.builders import exercise, part, timing, workout
from tests.progress.past import PUSH_UP, session
from tests.rows import START, row


def test_rows_become_sessions_in_their_order() -> None:
    later = {"session_id": "b", "session_start": "2026-11-27T06:30:00+01:00"}
    rows = [row(**later), row(), row(set=2, reps=10, reserve=1, pain="yes", corrected="yes")]
    (sessions,) = sessions_of(rows).values()
    assert [s.on for s in sessions] == [date(2026, 11, 25), date(2026, 11, 27)]
    assert [(s.number, s.value) for s in sessions[0].sets] == [(1, 12.0), (2, 10.0)]
    second = sessions[0].sets[1]
    assert (second.reserve, second.pain, second.corrected) == (1, True, True)


def test_the_date_is_the_local_one_of_the_start() -> None:
    late = row(session_start="2026-11-25T23:50:00+01:00")  # its last sets lie after midnight
    early = row(session_id="b", session_start="2026-11-26T00:10:00+13:00")  # still the 25th in UTC
    (sessions,) = sessions_of([late, early]).values()
    # By instants the one with the later date came first.
    assert [s.on.day for s in sessions] == [26, 25]


def test_two_sessions_on_one_day_are_two() -> None:
    evening = row(session_id="a-later", session_start="2026-11-25T18:00:00+01:00")
    (sessions,) = sessions_of([evening, row()]).values()
    assert [s.start for s in sessions] == [START, "2026-11-25T18:00:00+01:00"]


def test_the_hour_that_comes_twice() -> None:
    # Berlin, 25 October 2026: 02:30 comes at +02:00 and an hour later again at +01:00.
    second = row(session_id="b", session_start="2026-10-25T02:10:00+01:00")
    first = row(session_id="c", session_start="2026-10-25T02:50:00+02:00")
    (sessions,) = sessions_of([second, first]).values()
    assert [s.session_id for s in sessions] == ["c", "b"]


def test_groups_and_the_least_recovery_come_from_the_workout() -> None:
    two = exercise("push-up", measure="reps", progression=PUSH_UP.progression, rep_range=(8, 20))
    plan: Workout = workout([part(two, 2, timing(120), versions=("v3", "v1"))])
    assert groups_of(plan) == {("push-up", 1): "v3", ("push-up", 2): "v1"}
    rows = [row(version="v3"), row(set=2)]
    known = sessions_of(rows, SessionFacts({rows[0].session_id: plan}))
    assert set(known) == {("push-up", "v3"), ("push-up", "v1")}
    assert known["push-up", "v3"][0].sets[0].recovery_least == 105.0
    unknown = sessions_of(rows)
    assert set(unknown) == {("push-up", "")}
    assert unknown["push-up", ""][0].sets[0].recovery_least is None


def test_what_is_told_of_a_session() -> None:
    name = row().session_id
    told = SessionFacts(level_finding={(name, "push-up")}, deload={(name, "")})
    (sessions,) = sessions_of([row()], told).values()
    assert (sessions[0].level_finding, sessions[0].deload) == (True, True)
    by_itself = SessionFacts(deload={(name, "press")})
    (others,) = sessions_of([row()], by_itself).values()
    (its_own,) = sessions_of([row(exercise="press")], by_itself).values()
    assert (others[0].deload, its_own[0].deload) == (False, True)


def test_skipped_and_uncounted_sets_and_holds() -> None:
    rows = [
        row(status="skipped", reps=None),
        row(set=2, reps=None),
        row(set=3, reps=0),
        row(set=4, measure="hold", reps=None, hold_s=41.5),
    ]
    (sessions,) = sessions_of(rows[:3]).values()
    assert [s.number for s in sessions[0].counted] == [3]
    (holds,) = sessions_of(rows[3:]).values()
    assert holds[0].counted[0].value == 41.5


def test_the_use_of_a_session_is_that_of_most_sets() -> None:
    rows = [row(), row(set=2, version="v2"), row(set=3, version="v2")]
    (sessions,) = sessions_of(rows).values()
    assert sessions[0].use == Use("v2")
    assert session(PUSH_UP, (None,)).use is None


def test_a_version_that_the_plan_no_longer_has() -> None:
    assert Use("v3").index_in(PUSH_UP) == 2
    assert Use("gone").index_in(PUSH_UP) is None
    (sessions,) = sessions_of([row(version="gone")]).values()
    given = advise(CurrentLevel(PUSH_UP, 2), sessions)
    assert (given.rule, given.reason) == ("stay", "no session at this level yet")


def test_a_use_in_words_and_its_place_on_the_progression() -> None:
    use = Use("rucksack", "height=45 cm", 12.5, "3-1-1")
    assert use.text == "rucksack, height 45 cm, 12.5 kg, tempo 3-1-1"
    levels = tuple(
        Level("rucksack", "on the back", (("height", "45 cm"),), kg, tempo="3-1-1")
        for kg in (10.0, 12.0, 14.0)
    )
    loaded = replace(PUSH_UP, progression=levels)
    assert use.index_in(loaded) == 1
    assert [Use.of(r).index_in(loaded) for r in levels] == [0, 1, 2]
