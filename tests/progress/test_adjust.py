"""A session as agreed: what is different from the plan, and the plan as it was."""

from __future__ import annotations

import json
from datetime import date

import pytest
from msgspec.structs import replace

from runner.law.course import list_planned_sets
from runner.law.workout import Level, Workout
from runner.planning.forecast import begin_course
from runner.progress import answers
from runner.progress.adjust import Adjustment, Baseline, Offer, adjusted, beat_key
from runner.progress.phases import Phase, phase_changes, phase_of_week, week_of_plan
from runner.session import events as ev, verb as cmd
from tests.law.builders import exercise, part, timing, workout
from tests.session.mat import Mat, reps, through_json

LEVELS = tuple(Level(name, name) for name in ("a", "b", "c", "d"))
PRESS = exercise("press", measure="reps", progression=LEVELS, rep_range=(8.0, 20.0))
ROW = exercise("row", measure="reps", progression=LEVELS, rep_range=(8.0, 20.0), sides="left first")
BENCH = exercise("bench", measure="reps")


def hut(sets: int = 3, **item: object) -> Workout:
    return workout([part(PRESS, sets, **item), part(ROW, sets)], beside=[BENCH])


def changed(*changes: Adjustment, plan: Workout | None = None) -> Workout:
    return adjusted(plan or hut(), {}, changes)[0]


def sets(plan: Workout) -> dict[str, int]:
    return {item.exercise: item.sets for block in plan.blocks for item in block.items}


def test_nothing_changed_is_the_plan() -> None:
    assert changed() == hut()


@pytest.mark.parametrize(
    ("change", "left"),
    [
        (Adjustment("sets", "press", number=1), {"press": 4, "row": 3}),
        (Adjustment("sets", "press", number=-1), {"press": 2, "row": 3}),
        (Adjustment("sets", number=-9), {"press": 1, "row": 1}),
        (Adjustment("share", number=2 / 3), {"press": 2, "row": 2}),
        (Adjustment("swap", "press", to="bench"), {"bench": 3, "row": 3}),
        (Adjustment("swap", "press", to="row"), {"press": 3, "row": 3}),  # it is there already
        (Adjustment("swap", "press", to="gone"), {"press": 3, "row": 3}),
    ],
)
def test_sets_and_exercises(change: Adjustment, left: dict[str, int]) -> None:
    assert sets(changed(change)) == left


@pytest.mark.parametrize(("planned", "left"), [(1, 1), (2, 1), (3, 2), (4, 3), (5, 3), (6, 4)])
def test_a_third_fewer_sets_to_the_nearest_whole_and_at_least_one(planned: int, left: int) -> None:
    change = Adjustment("sets", "press", number=planned - 3)
    share = next(one for one in answers.LIGHTER if one.kind == "share")
    assert sets(adjusted(hut(), {}, [change, share])[0])["press"] == left


def test_of_named_versions_the_last_of_a_group_goes() -> None:
    plan = hut(versions=("b", "a", "a"))
    items = changed(Adjustment("sets", "press", "b", number=-1), plan=plan).blocks[0].items
    assert items[0].versions == ("a", "a")
    more = changed(Adjustment("sets", "press", "b", number=1), plan=plan).blocks[0].items
    assert more[0].versions == ("b", "a", "a", "b")


def test_a_longer_recovery_keeps_its_proportions() -> None:
    law = changed(Adjustment("recovery", "press", number=30.0)).blocks[0].timing
    assert law["press"].recovery == pytest.approx(150.0)
    assert law["press"].recovery_least == pytest.approx(150.0 * 7 / 8)
    assert law["press"].recovery_cross == pytest.approx(150.0 * 3 / 4)
    assert law["row"] == timing()


def test_positions_easier_and_never_under_the_first() -> None:
    held = {("press", ""): 2}
    _, lower = adjusted(hut(), held, [Adjustment("easier", number=1)])
    assert (lower["press", ""], lower["row", ""]) == (1, 0)
    _, lower = adjusted(hut(), {("gone", ""): 2, **held}, [Adjustment("easier", number=1)])
    assert (lower["press", ""], lower["gone", ""]) == (1, 2)  # no exercise of this session


def test_the_first_set_and_the_later_ones_may_be_held_apart() -> None:
    held = {("press", ""): 1, ("press", "first:"): 2, ("row", "later:"): 0, ("row", ""): 3}
    planned_sets = list_planned_sets(hut(), held)
    found = {
        name: [(s.level.version, s.group) for s in planned_sets if s.exercise == name]
        for name in ("press", "row")
    }
    assert found["press"] == [("c", "first:"), ("b", ""), ("b", "")]
    assert found["row"] == [("d", ""), ("a", "later:"), ("a", "later:")]


def test_what_was_agreed_travels_with_the_first_event() -> None:
    offer = Offer("lighter", "hold back", ("first session",), (Adjustment("share", number=0.5),))
    baseline = Baseline(changes=(Adjustment("sets", "press", number=1),), offers=(offer,))
    data = json.loads(json.dumps(baseline.as_data()))
    assert Baseline.from_data(data) == baseline
    assert sets(begin_course(hut(), baseline).workout) == {"press": 4, "row": 3}
    assert "changes" not in Baseline().as_data()


def test_a_session_whose_record_could_not_be_read_still_knows_so_once_it_is_replayed() -> None:
    mat = Mat(hut(), Baseline(unread=True))
    (opened,) = through_json(mat.events)
    assert isinstance(opened, ev.Opened)
    assert Baseline.from_data(opened.history).unread
    assert not Baseline.from_data(Baseline().as_data()).unread


LIGHTER = Offer(
    "lighter",
    "a third fewer sets, two more in reserve, no count to beat",
    ("first session of this plan",),
    (
        Adjustment("share", number=2 / 3),
        Adjustment("reserve", number=2),
        Adjustment("no count"),
    ),
)
PLACE = Offer("place", "find the version", (), (Adjustment("placing", "press", number=3),))
BASELINE = Baseline(
    working_levels={("press", ""): 2},
    to_beat={beat_key("press", LEVELS[2], 1, "both"): 11.0},
    offers=(LIGHTER, PLACE),
)


def test_an_offer_is_taken_and_given_back() -> None:
    mat = Mat(hut(), BASELINE).do(cmd.Take("lighter"))
    assert len(mat.state.course.planned_sets) == 4
    assert mat.state.workout.exercises["press"].reserve == 4
    assert (mat.state.taken, mat.names) == (("lighter",), ["adjusted"])
    assert mat.begin().start().row.to_beat is None
    again = Mat(hut(), BASELINE).do(cmd.Take("lighter")).do(cmd.Take(""))
    assert (again.state.workout, again.state.taken) == (hut(), ())
    assert again.begin().start().row.to_beat == 11.0


def test_what_was_used_before_an_offer_is_taken_stays_used() -> None:
    mat = Mat(hut(), BASELINE).do(cmd.Use(load=8.0)).do(cmd.Take("lighter"))
    assert mat.state.course.planned_sets[0].level.load == 8.0


def test_offers_that_cannot_be_taken() -> None:
    mat = Mat(hut(), BASELINE)
    assert "not on offer today; on offer: lighter, place" in mat.refused(cmd.Take("more"))
    assert mat.refused(cmd.Take("")) == "no offer is taken; the session runs as planned"
    mat.do(cmd.Take("lighter"))
    assert mat.refused(cmd.Take("lighter")) == "lighter is taken already; planned gives it back"
    assert "before the start" in mat.begin().refused(cmd.Take("place"))


def test_a_version_is_found_set_by_set() -> None:
    """From the easiest up: the coming sets follow what each count shows."""
    mat = Mat(workout([part(PRESS, 4)]), BASELINE).do(cmd.Take("place")).begin().start()
    assert (mat.row.planned_set.level.version, mat.row.to_beat) == ("a", None)
    mat.do(cmd.Proceed(), after=20.0).do(cmd.Enter("reps", (cmd.Count(24, 4),)))
    assert "version" in mat.names
    moved = mat.start().row.planned_set.level.version
    assert moved in ("b", "c", "d")
    mat.do(cmd.Proceed(), after=20.0).do(reps(14))  # with three left, inside the band
    assert mat.start().row.planned_set.level.version == moved


def test_taking_back_a_count_takes_its_step_back_too() -> None:
    mat = Mat(workout([part(PRESS, 4)]), BASELINE).do(cmd.Take("place")).begin().set()
    mat.do(cmd.Enter("reps", (cmd.Count(24, 4),))).do(cmd.Undo())
    assert {s.level.version for s in mat.state.course.planned_sets} == {"a"}
    assert isinstance(mat.events[1], ev.Adjusted)


def test_one_level_easier_is_never_a_heavier_load() -> None:
    quick = [Level("quick", "quick", load=kg) for kg in (4.0, 8.0)]
    slow = [Level("slow", "slow", load=kg, tempo="3-0-1") for kg in (6.0, 8.0)]
    curl = exercise("curl", progression=(*quick, *slow))
    plan = workout([part(curl)])
    _, lower = adjusted(plan, {("curl", ""): 2}, [Adjustment("easier", number=1)])
    assert lower["curl", ""] == 0


# Phases of a plan.

PHASES = (Phase(2), Phase(1, sets=1), Phase(1, sets=-1, reserve=4))


def test_phases_follow_each_other_week_by_week_again_and_again() -> None:
    said = [(now.number, now.week) for now in (phase_of_week(PHASES, n) for n in range(9)) if now]
    assert said == [(1, 1), (1, 2), (2, 1), (3, 1)] * 2 + [(1, 1)]
    texts = [now.text for now in (phase_of_week(PHASES, n) for n in (1, 2, 7)) if now]
    assert texts == [
        "phase 1 of 3, week 2 of 2: as planned",
        "phase 2 of 3, week 1 of 1: 1 set more of each exercise",
        "phase 3 of 3, week 1 of 1: 1 set fewer of each exercise, 4 in reserve",
    ]
    assert phase_of_week((), 3) is None


def test_a_phase_ends_on_a_sunday_and_weeks_are_those_of_the_calendar() -> None:
    friday = date(2026, 11, 6)  # ISO week 45
    assert friday.isocalendar() == (2026, 45, 5)
    days = [date(2026, 11, 1), friday, date(2026, 11, 8), date(2026, 11, 9), date(2027, 1, 4)]
    assert [week_of_plan(friday, day) for day in days] == [0, 0, 0, 1, 9]
    assert week_of_plan(None, friday) == 0
    first, second = phase_of_week(PHASES, 0), phase_of_week(PHASES, 1)
    assert first is not None
    assert second is not None
    assert first.last_day(friday) == date(2026, 11, 15)
    assert second.last_day(date(2026, 11, 15)) == date(2026, 11, 15)


def test_what_a_phase_changes() -> None:
    assert phase_changes(PHASES[0], hut()) == ()
    more = changed(*phase_changes(PHASES[1], hut()))
    assert (sets(more), more.nothing_to_beat) == ({"press": 4, "row": 4}, frozenset())
    light = changed(*phase_changes(PHASES[2], hut()))
    assert sets(light) == {"press": 2, "row": 2}
    assert {one.reserve for one in light.exercises.values()} == {4}
    assert light.nothing_to_beat == {"press", "row", "bench"}


def test_a_reserve_of_a_phase_is_that_of_every_exercise_whatever_the_plan_has() -> None:
    press = replace(PRESS, reserve=4)
    plan = workout([part(press), part(ROW)])
    found = phase_changes(Phase(1, reserve=4), plan)
    assert found == (Adjustment("reserve", "row", number=2.0),)
    assert {one.reserve for one in changed(*found, plan=plan).exercises.values()} == {4}
    assert phase_changes(Phase(1, reserve=2), hut()) == ()
