"""What a plan holds, as data and in lines."""

from __future__ import annotations

from runner.plan.compile import compile_session
from runner.plan.models import Plan
from runner.plan.review import detail_lines, summary_lines, tally
from tests.plan.plans import SMALL, plan


def lines(of: Plan) -> list[str]:
    workouts = [compile_session(of, session.id) for session in of.session]
    return [*summary_lines(of, workouts), *detail_lines(of, workouts)]


def test_sets_count_whole_for_prime_movers_and_half_for_synergists() -> None:
    sets = tally([compile_session(plan(), "A")])
    assert (sets.exercises, sets.work_sets, sets.ramp_sets) == (2, 4, 0)
    assert sets.by_muscle == {
        "chest": 2,
        "front-shoulder": 1,
        "upper-back": 2,
        "biceps": 1,
        "triceps": 1,
        "low-back": 1,
    }
    assert sets.by_pattern == {"horizontal push": 2, "horizontal pull": 2}


def test_six_direct_and_four_assisting_sets_are_eight() -> None:
    """Pelland et al. 2025, Sports Med: 6 + 4 / 2."""
    changes = [
        ('{ exercise = "press", sets = 2 }', '{ exercise = "press", sets = 6 }'),
        ('sets = 2, ramp = 0, versions = ["slow", "light"]', "sets = 4"),
        ('assist = ["biceps"]', 'assist = ["chest"]'),
    ]
    assert tally([compile_session(plan(*changes), "A")]).by_muscle["chest"] == 8


def test_ramp_sets_stand_apart_and_a_muscle_counts_once_a_set() -> None:
    changes = [
        ("ramp = 0", "ramp = 2"),
        ('both_sides = ["low-back"]', 'both_sides = ["upper-back", "biceps"]'),
    ]
    sets = tally([compile_session(plan(*changes), "A")])
    assert (sets.work_sets, sets.ramp_sets) == (4, 2)
    assert (sets.by_muscle["upper-back"], sets.by_muscle["biceps"]) == (2, 1)


def test_the_lines_of_a_plan() -> None:
    assert lines(plan(("ramp = 0", "ramp = 1"))) == [
        "Kestrel Hut, morning (trial)",
        "Band, rucksack, low bar and bench.",
        "1 session, 2 exercises, 4 sets and 1 warm-up set",
        "Session A, Morning: 2 exercises, 4 sets and 1 warm-up set",
        "  block 1: Standing band press 2 · Rucksack row 1 + 2 a side",
        "Sets a week for each muscle (3 sessions, in turn; main muscles count 1, helping muscles "
        "0.5):",
        "  chest            6.0  aim 10-20, under",
        "  front-shoulder   3.0  aim 10-20, little",
        "  upper-back       6.0  aim 10-20, under",
        "  biceps           3.0  aim 10-20, little",
        "  triceps          3.0  aim 10-20, little",
        "  low-back         3.0  aim 10-20, little",
        "Sets for each pattern:",
        "  horizontal push  2",
        "  horizontal pull  2",
    ]


def test_the_lines_of_a_small_plan() -> None:
    second = '[[session]]\nid = "B"\n[[session.block]]\ndo = [{ exercise = "row", sets = 1 }]\n'
    assert lines(plan(text=SMALL + second)) == [
        "Hut",
        "2 sessions, 1 exercise, 4 sets",
        "Session A: 1 exercise, 3 sets",
        "  block 1: Row 3",
        "Session B: 1 exercise, 1 set",
        "  block 1: Row 1",
        "Sets a week for each muscle (all sessions once; main muscles count 1, helping muscles "
        "0.5):",
        "  upper-back   4.0",
        "Sets for each pattern:",
        "  horizontal pull  4",
    ]
