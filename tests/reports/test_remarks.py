"""Warnings that the law lets nobody see, and the sides of a week, from values made up here."""

from __future__ import annotations

from msgspec.structs import replace

from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.planning.forecast import session_steps
from runner.progress.adjust import Baseline
from runner.reports.warnings import remarks
from runner.reports.week import week_lines, week_of
from tests.reports.plans import SMALL

PLAN = parse_plan(SMALL, "hut.toml")


def test_a_recovery_under_the_least_is_told_once_for_each_muscle_with_its_set() -> None:
    workout = compile_session(PLAN, "A")
    steps = session_steps(workout)
    assert not any("under its least" in w.wrong for w in remarks(PLAN, workout, Baseline(), steps))
    # Plank 2 begins 20 s too early: 40 s after plank 1, where 52.5 s are asked for.
    last = max(i for i, step in enumerate(steps) if step.kind == "set")
    early = [*steps[:last], replace(steps[last], start=steps[last].start - 20), *steps[last + 1 :]]
    found = [w for w in remarks(PLAN, workout, Baseline(), early) if "under its least" in w.wrong]
    assert [(w.place, w.wrong, w.remedy) for w in found] == [
        (
            "session.A.block 2",
            "abdomen gets 0:40 before Plank 2, under its least recovery of 0:52",
            "lengthen the changeovers",
        )
    ]


def test_sides_that_take_unequally_long_are_named() -> None:
    lengths = {
        ("row", version, "", side): (seconds,)
        for version in ("low", "high")
        for side, seconds in (("left", 20.0), ("right", 26.0))
    }
    workouts = [compile_session(PLAN, session) for session in "AB"]
    week = week_of(PLAN, [(workout, Baseline(lengths=lengths)) for workout in workouts])
    (row,) = week.one_sided
    assert (row.left, row.right, row.left_s, row.right_s) == (3, 3, 20, 26)
    lines = week_lines(week)
    assert "- Rucksack row: a set is expected to last 0:20 left, 0:26 right" in lines
    assert "Both sides are expected to take equally long." not in lines
    unequal = replace(week, one_sided=(replace(row, right=2.0),))
    assert "Left and right: 3 one-sided sets a week left, 2 right" in week_lines(unequal)
    assert "- Rucksack row: 3 left, 2 right" in week_lines(unequal)
