"""Placing, holding back, breaks, and what is said before the start."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from runner.law.workout import Level
from runner.progress.deload import TrainingSoFar, deload, exercise_deload, gaps
from runner.progress.history import Use
from runner.progress.layoff import BEFORE_THE_START, away, falling_back, lighter_week
from runner.progress.level_finding import (
    Trial,
    goes_on_at,
    next_trial,
    trials_of,
    wants_level_finding,
)
from runner.progress.week_aims import against_targets, often, usual_sets, warnings
from runner.progress.weeks import TrainedMuscle, Week
from tests.progress.past import PLANK, PUSH_UP, ROW, hurt, loads, past, session

# -- placing ---------------------------------------------------------------------------------


def test_from_the_easiest_up_until_repetitions_and_reserve_lie_in_the_band() -> None:
    trials: list[Trial] = []
    able = (34, 27, 19)  # what could be done at each version
    found = next_trial(PUSH_UP, trials)
    assert (found.outcome, found.index) == ("harder", 0)
    for could in able:
        trials.append(Trial(found.index, could - 4, 4))
        found = next_trial(PUSH_UP, trials)
    assert [t.index for t in trials] == [0, 1, 2]
    assert (found.outcome, found.index, found.settled) == ("placed", 2, True)
    assert found.text == "working level found here: about 17 with 2 in reserve, between 8 and 20"


@pytest.mark.parametrize(("value", "reserve"), [(6, 4), (16, 4), (7, 3), (7, None), (17, None)])
def test_both_ends_of_the_band_are_inside(value: float, reserve: int | None) -> None:
    assert next_trial(PUSH_UP, [Trial(1, value, reserve)]).settled


def test_a_level_where_the_usual_reserve_would_end_under_the_bottom_is_too_hard() -> None:
    found = next_trial(PUSH_UP, [Trial(1, 5, 4)])  # nine in all, and seven with two in reserve
    assert (found.outcome, found.index, found.settled) == ("easier", 0, False)


def test_too_hard_after_something_easier_goes_back_there() -> None:
    found = next_trial(PUSH_UP, [Trial(1, 20, 3), Trial(2, 3, 3)])
    assert (found.outcome, found.index, found.settled) == ("placed", 1, True)


def test_too_hard_from_the_start_tries_the_one_before() -> None:
    found = next_trial(PUSH_UP, [Trial(3, 2, 3)])
    assert (found.outcome, found.index, found.settled) == ("easier", 2, False)
    # and does not climb back to what was too hard
    again = next_trial(PUSH_UP, [Trial(3, 2, 3), Trial(2, 20, 4)])
    assert (again.outcome, again.index) == ("placed", 2)


def test_at_the_ends_of_the_progression() -> None:
    easiest = next_trial(PUSH_UP, [Trial(0, 2, 3)])
    assert (easiest.index, easiest.settled) == (0, True)
    hardest = next_trial(PUSH_UP, [Trial(5, 30, 4)])
    assert (hardest.index, hardest.settled) == (5, True)


def test_in_a_range_some_positions_may_be_passed_but_no_version() -> None:
    row = replace(ROW, progression=(*loads(4, 6, 8, 10, 12), *PUSH_UP.progression))
    assert next_trial(row, [Trial(0, 10, 4)]).index == 1  # 14 of 12: just over
    assert (
        next_trial(row, [Trial(0, 12, 10)]).index == 2
    )  # far over, and no more than double the load
    assert next_trial(row, [Trial(1, 12, 10)]).index == 4  # three positions at once at most
    assert next_trial(row, [Trial(3, 12, 10)]).index == 4
    assert next_trial(row, [Trial(4, 12, 10)]).index == 5
    assert next_trial(row, [Trial(1, 12, 50)]) == next_trial(row, [Trial(1, 12, 10)])
    between = next_trial(row, [Trial(1, 12, 10), Trial(4, 2, 3)])
    assert (between.index, between.settled) == (2, True)


def test_three_positions_of_a_range_of_set_ups_at_once_at_most() -> None:
    knots = tuple(Level("grip", "grip", (("knot", str(n)),)) for n in range(1, 7))
    raised = replace(PUSH_UP, rep_range=(4.0, 8.0), progression=knots)
    assert [next_trial(raised, [Trial(0, 8, left)]).index for left in (1, 2, 4, 6, 10)] == [
        1,
        2,
        3,
        3,
        3,
    ]


def test_a_trial_is_stopped_at_the_ceiling() -> None:
    assert (
        next_trial(PUSH_UP, []).text
        == "start here; stop with 3 or 4 in reserve, at 20 at the latest"
    )
    assert (
        next_trial(PLANK, []).text
        == "start here; stop while the hold is steady, at 60 s at the latest"
    )
    assert next_trial(PUSH_UP, [Trial(0, 20, 1)]).outcome == "harder"
    assert next_trial(PUSH_UP, [Trial(0, 20, 0)]).outcome == "placed"
    assert next_trial(PLANK, [Trial(0, 60)]).outcome == "harder"


def test_a_hold_is_placed_by_its_seconds() -> None:
    assert next_trial(PLANK, [Trial(0, 45)]).settled
    assert next_trial(PLANK, [Trial(0, 75)]).index == 1


@given(st.lists(st.integers(0, 60), min_size=20, max_size=20))
def test_placing_always_comes_to_an_end(counts: list[int]) -> None:
    trials: list[Trial] = []
    for count in counts:
        found = next_trial(PUSH_UP, trials)
        if found.settled:
            break
        trials.append(Trial(found.index, count, 3))
    assert next_trial(PUSH_UP, trials).settled
    assert 0 <= next_trial(PUSH_UP, trials).index < len(PUSH_UP.progression)
    assert len(trials) <= len(PUSH_UP.progression) + 1


def test_a_session_too_short_for_placing_goes_on_the_next_time() -> None:
    first = session(
        PUSH_UP, (22, 24), level_finding=True
    )  # both over the ceiling with what is left
    sets = tuple(replace(s, use=Use.of(PUSH_UP.progression[n])) for n, s in enumerate(first.sets))
    first = replace(first, sets=sets)
    assert [t.index for t in trials_of(PUSH_UP, first)] == [0, 1]
    assert goes_on_at(PUSH_UP, [first]) == 2
    assert goes_on_at(PUSH_UP, []) == 0
    gone = replace(first, sets=tuple(replace(s, use=Use("gone")) for s in sets))
    assert goes_on_at(PUSH_UP, [gone]) == 0


def test_placing_is_wanted_where_nothing_is_held_and_nothing_was_done() -> None:
    assert wants_level_finding([], None)
    assert wants_level_finding([session(PUSH_UP, (None,))], None)
    assert not wants_level_finding([session(PUSH_UP, (9,))], None)
    assert wants_level_finding([session(PUSH_UP, (20,), level_finding=True)], None)
    assert not wants_level_finding([], 0)


# -- holding back ----------------------------------------------------------------------------


def test_the_first_sessions_of_a_plan_hold_back() -> None:
    held = [deload(TrainingSoFar(done, days_away=2)) for done in (0, 1, 2)]
    assert [bool(h) for h in held] == [True, True, False]
    assert held[0].reasons == ("first session of this plan",)
    assert "dark urine" in held[0].caution  # CDC/NIOSH on rhabdomyolysis
    assert held[2].caution == ""


def test_an_exercise_holds_back_while_it_is_new_and_after_pain() -> None:
    done = past(PUSH_UP, (9,), (9,), (9,))
    assert [bool(exercise_deload(done[:n])) for n in (0, 1, 2)] == [True, True, False]
    assert "it hurt last time" in exercise_deload([*done, hurt(session(PUSH_UP, (9,), 9))])


def test_the_first_two_sessions_after_a_break_hold_back() -> None:
    today = date(2026, 12, 1)
    days = [today - timedelta(days=n) for n in (40, 38, 38)]
    assert gaps(days, today) == (38, 2)
    assert gaps([*days, today - timedelta(days=2)], today) == (2, 36)
    assert gaps(days[:1], today) == (40, None)
    assert gaps([today], today) == (None, None)
    back = [deload(TrainingSoFar(20, *g)) for g in ((36, 2), (2, 36), (2, 2))]
    assert [bool(b) for b in back] == [True, True, False]
    assert [b.easier for b in back] == [True, False, False]
    assert back[1].reasons == ("second session after 36 days away",)


@pytest.mark.parametrize(("sets", "holds"), [(65, False), (66, True)])
def test_a_week_with_over_thirty_percent_more_sets_holds_back(sets: int, holds: bool) -> None:  # noqa: FBT001
    found = deload(TrainingSoFar(9, 2, week_sets=sets, usual_sets=50))
    assert bool(found) is holds
    if holds:
        assert found.reasons == ("32 % more sets this week than usual",)


def test_without_a_usual_week_there_is_no_jump() -> None:
    assert not deload(TrainingSoFar(9, 2, week_sets=60, usual_sets=None))
    assert not deload(TrainingSoFar(9, 2, week_sets=60, usual_sets=0.0))


def test_what_is_usual() -> None:
    def week(number: int, sets: int) -> Week:
        return Week(f"2026-W{number}", 3, sets, {}, {})

    weeks = [week(40, 9), *(week(n, 50 + n) for n in (41, 42, 43, 45, 46)), week(47, 70)]
    assert usual_sets(weeks, "2026-W47") == 94  # of 92, 93, 95 and 96
    assert usual_sets(weeks[:3], "2026-W47") == 91.5  # the first week on file may be a part of one
    assert usual_sets(weeks[:2], "2026-W47") is None


# -- breaks ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "fewer_sets", "easier", "level_finding"),
    [
        (None, False, False, False),
        (14, False, False, False),
        (15, True, False, False),
        (28, True, False, False),
        (29, True, True, False),
        (56, True, True, False),
        (57, True, False, True),
    ],
)
def test_breaks(days: int | None, fewer_sets: bool, easier: bool, level_finding: bool) -> None:  # noqa: FBT001
    found = away(days)
    assert (found.fewer_sets, found.easier) == (fewer_sets, easier)
    assert found.level_finding == level_finding
    back = deload(TrainingSoFar(20, days))
    assert bool(back) is fewer_sets
    assert back.easier is easier


def test_the_question_before_the_start_defers_to_doctors() -> None:
    signs = " ".join(BEFORE_THE_START.signs)
    assert all(word in signs for word in ("fever", "chest", "dizziness", "new pain"))
    answer = " ".join(BEFORE_THE_START.answer)
    assert all(word in answer for word in ("not train", "emergency", "doctor", "physiotherapist"))


def test_two_exercises_that_fall_back_twice_running() -> None:
    down = past(PUSH_UP, (15, 14, 13), (14, 13, 12), (13, 12, 11))
    once = past(PUSH_UP, (15, 14, 13), (14, 13, 12), (15, 12, 11))
    assert falling_back(down)
    assert not falling_back(once)
    assert not falling_back(down[:2])
    assert not falling_back(past(PUSH_UP, (40, 40, 40), (39, 39, 39), (38, 38, 38)))  # 2.5 %
    both = {("push-up", ""): down, ("row", ""): down}
    offered = lighter_week(both)
    assert offered is not None
    assert offered.exercises == ("push-up", "row")
    assert "a third fewer sets" in offered.text
    named = lighter_week(both, names={"push-up": "Push-up", "row": "Rucksack row"})
    assert named is not None
    assert named.text.startswith("Push-up and Rucksack row got worse")
    assert lighter_week({("push-up", ""): down, ("row", ""): once}) is None


def test_two_groups_of_one_exercise_are_one_exercise() -> None:
    down = past(PUSH_UP, (15, 14, 13), (14, 13, 12), (13, 12, 11))
    assert lighter_week({("push-up", ""): down, ("push-up", "v1"): down}) is None


def test_a_harder_version_is_no_falling_back() -> None:
    moved = [*past(PUSH_UP, (20, 19, 18), (14, 13, 12)), session(PUSH_UP, (9, 8, 8), 9, level=1)]
    assert not falling_back(moved)


# -- the week --------------------------------------------------------------------------------

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)


def trained(**hours: float) -> dict[str, TrainedMuscle]:
    return {m: TrainedMuscle(m, NOW - timedelta(hours=h)) for m, h in hours.items()}


def test_the_same_muscle_within_a_day_and_a_second_session() -> None:
    last = trained(chest=23.9, lats=24.0, calves=-1.0)
    assert warnings(["chest", "lats", "neck", "calves"], last, NOW, 0) == [
        "Trained 23 h ago; better after 48 h: chest."
    ]
    assert warnings([], last, NOW, 1) == ["This is session 2 today."]
    assert warnings(["lats"], last, NOW, 0) == []
    (soon,) = warnings(["chest"], trained(chest=0.5), NOW, 0)
    assert soon == "Trained less than 1 h ago; better after 48 h: chest."


def test_a_week_against_its_targets() -> None:
    week = Week("2026-W48", 2, 12, {"chest": 8.0, "triceps": 3.5}, {})
    found = against_targets(week, {"triceps": (2, 6), "calves": (6, 12)}, (10, 20), ["lats"])
    assert [(m.muscle, m.sets, m.judged) for m in found] == [
        ("chest", 8.0, "under"),
        ("triceps", 3.5, "in"),
        ("calves", 0.0, "little"),
        ("lats", 0.0, "little"),
    ]
    assert [often(n, (3, 4)) for n in (2, 3, 4, 5)] == ["fewer", "in", "in", "more"]
    assert often(2, None) is None
