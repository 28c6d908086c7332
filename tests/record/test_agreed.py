"""What a trainee has agreed to, and what is held without a session."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from runner.progress.adjust import Adjustment
from runner.progress.answers import AS_PLANNED, Answer, in_force, is_answered, positions, refused
from runner.progress.rules import Advice, Change, CurrentLevel
from runner.record.decisions import LevelDecision
from runner.record.record import Record

from .hut import PRESS, Sitting, morning

DAY = date(2026, 11, 23)
NOW = datetime(2026, 11, 23, 7, 0, tzinfo=UTC)


def said(kind: str, *, accepted: bool = True, on: date = DAY, **change: object) -> Answer:
    data = {"kind": kind, "text": "in words", **change}
    return Answer("press", "", "drop", "the last set fell apart", data, accepted, on)


def test_an_answer_comes_back_as_it_was(record: Record) -> None:
    answer = said("recovery", seconds=30.0)
    record.agree("Runa", answer, [], NOW)
    assert record.answers("Runa") == [answer]
    assert record.answers("Ada") == []
    assert record.answers("Runa", before=NOW - timedelta(seconds=1)) == []


def test_what_is_held_needs_no_session(record: Record) -> None:
    record.agree(
        "Runa", None, [LevelDecision("press", "", PRESS.progression[2], "set by hand")], NOW
    )
    assert record.baseline("Runa", morning()).working_levels == {("press", ""): 2}
    change = record.level_decisions("Runa")[-1]
    assert (change.version, change.reason, change.session_id) == ("mark-2", "set by hand", None)
    Sitting(record).whole()
    assert (
        record.baseline("Runa", morning()).working_levels["press", ""] == 2
    )  # not "first used" again


def test_what_was_agreed_is_in_the_next_sessions_memory(record: Record) -> None:
    record.agree("Runa", said("recovery", seconds=30.0), [], NOW)
    record.agree("Runa", said("more sets"), [], NOW)
    sitting = Sitting(record, at=NOW + timedelta(days=1))
    assert sitting.state.workout.blocks[0].timing["press"].recovery == 38.0
    assert sum(s.exercise == "press" for s in sitting.state.course.planned_sets) == 3
    sitting.whole(10)
    assert record.adjustments("Runa") == {
        sitting.info.id: (
            Adjustment("recovery", "press", number=30.0),
            Adjustment("sets", "press", number=1.0),
        )
    }
    assert record.baseline("Runa", morning(), before=NOW - timedelta(days=1)).changes == ()


def test_adjustments_add_up_and_end() -> None:
    more, fewer = said("more sets"), said("fewer sets")
    longer = said("recovery", seconds=30.0)
    assert in_force([longer, longer]) == (Adjustment("recovery", "press", number=60.0),)
    assert in_force([more, fewer]) == ()
    assert in_force([said("more sets", accepted=False)]) == ()
    ended = Answer("press", "", AS_PLANNED, "", {}, accepted=True, on=DAY)
    assert in_force([longer, ended]) == ()
    assert in_force([longer, ended, fewer]) == (Adjustment("sets", "press", number=-1.0),)
    assert in_force([said("swap", exercise="bench")]) == (Adjustment("swap", "press", to="bench"),)


def test_a_lighter_week_is_a_week() -> None:
    week = [said("lighter week")]
    assert in_force(week) == ()
    assert {one.kind for one in in_force(week, DAY + timedelta(days=6))} == {
        "share", "reserve", "no count",
    }  # fmt: skip
    assert in_force(week, DAY + timedelta(days=7)) == ()


def test_which_positions_are_held_after_a_change() -> None:
    current = CurrentLevel(PRESS, 0)
    bridge, move = Change("bridge", "", 1), Change("move", "", 1)
    assert list(positions(current, bridge, {})) == [("first:", 1)]
    assert list(positions(current, Change("easier later", "", 0), {})) == [("later:", 0)]
    assert list(positions(current, move, {})) == [("", 1)]
    # The bridge is crossed: all sets stand together again.
    assert list(positions(current, move, {("press", "first:"): 1})) == [("", 1), ("first:", 1)]
    assert list(positions(current, Change("recovery", "", seconds=30.0), {})) == []


def test_what_was_answered_is_not_offered_until_something_is_done() -> None:
    advice = Advice("press", "", "drop", "why", Change("recovery", "longer", seconds=30.0))
    answers = [Answer.to(advice, DAY, accepted=False)]
    assert answers[0].change == {"kind": "recovery", "text": "longer", "seconds": 30.0}
    assert is_answered(advice, answers, DAY)
    assert not is_answered(advice, answers, DAY + timedelta(days=2))
    assert not is_answered(advice, [], DAY)
    assert refused(answers, "press", "") == {"drop": DAY}
    assert refused(answers, "press", "slow") == {}
