"""Remarks on the content: each where it belongs, and none where it does not."""

from __future__ import annotations

import pytest

from runner.plan.file import parse_plan
from runner.plan.review import ContentWarning, content_warnings, render_warnings
from tests.plan.plans import plan, varied

TWO = """\
title = "Hut"
[station.bench]
name = "Bench"
bears_body_weight = true
check = "Lean on it."
[exercise.press]
name = "Press"
pattern = "horizontal push"
prime = ["chest"]
assist = ["triceps"]
instead = ["away"]
[[exercise.press.version]]
id = "a"
name = "a"
load = { from = 2, to = 4, by = 2 }
[exercise.row]
name = "Row"
pattern = "horizontal pull"
prime = ["upper-back"]
assist = ["biceps"]
instead = ["away"]
[[exercise.row.version]]
id = "a"
name = "a"
[[exercise.row.version]]
id = "b"
name = "b"
[exercise.away]
name = "Away"
pattern = "other"
prime = ["neck"]
[[exercise.away.version]]
id = "a"
name = "a"
[[exercise.away.version]]
id = "b"
name = "b"
[[session]]
id = "A"
[[session.block]]
do = [{ exercise = "press", sets = 3 }, { exercise = "row", sets = 3 }]
"""


def remarks(*changes: tuple[str, str]) -> list[str]:
    found = content_warnings(parse_plan(varied(*changes, text=TWO), "hut.toml"))
    return [line.removeprefix("hut.toml: ") for line in render_warnings("hut.toml", found)]


def test_nothing_to_remark() -> None:
    assert remarks() == []


def test_the_plan_with_every_key() -> None:
    assert content_warnings(plan()) == [
        ContentWarning("exercise.row", "no substitute", "write instead = [ … ] in exercise.row"),
        ContentWarning(
            "exercise.bench-push-up",
            "the progression has one level",
            "add a harder or easier version, or a range of loads",
        ),
    ]


BLOCK = "session.A.block 1: warning: "
APART = "; put one of them in another block"
ROW_PRIME = 'prime = ["upper-back"]'


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (
            [(ROW_PRIME, 'prime = ["upper-back", "chest"]')],
            [BLOCK + "press and row have the same main muscle: chest" + APART],
        ),
        (
            [('assist = ["biceps"]', 'assist = ["biceps", "chest"]')],
            [BLOCK + "press trains a helping muscle of row: chest" + APART],
        ),
        (
            [('assist = ["triceps"]', 'assist = ["triceps", "upper-back"]')],
            [BLOCK + "row trains a helping muscle of press: upper-back" + APART],
        ),
        (
            [('assist = ["biceps"]', 'sides = "left first"\nboth_sides = ["chest"]')],
            [BLOCK + "press trains a helping muscle of row: chest" + APART],
        ),
        (
            [('assist = ["biceps"]', 'assist = ["biceps", "triceps"]')],
            [BLOCK + "press and row have the same helping muscle: triceps" + APART],
        ),
        (
            [
                ('name = "Press"', 'name = "Press"\nshort = "X"'),
                ('name = "Row"', 'name = "Row"\nshort = "x"'),
            ],
            [
                BLOCK + "press and row have the same short name, X; "
                "write another short for one of them"
            ],
        ),
        (
            [('{ exercise = "press", sets = 3 }, ', "")],
            [],
        ),
        (
            [('instead = ["away"]', 'instead = ["row"]')],
            [
                BLOCK + "every substitute of press is in the same block; "
                "add another to instead in exercise.press"
            ],
        ),
        (
            [('instead = ["away"]', 'instead = ["row", "away"]')],
            [],
        ),
        (
            [('instead = ["away"]\n', "")],
            ["exercise.press: warning: no substitute; write instead = [ … ] in exercise.press"],
        ),
        (
            [("load = { from = 2, to = 4, by = 2 }\n", "")],
            [
                "exercise.press: warning: the progression has one level; "
                "add a harder or easier version, or a range of loads"
            ],
        ),
        (
            [('check = "Lean on it."\n', "")],
            [
                "station.bench: warning: it bears body weight, and the plan names no check of it; "
                'write check = "what to try before the first set"'
            ],
        ),
        ([('check = "Lean on it."\n', ""), ("bears_body_weight = true\n", "")], []),
        (
            [('name = "Press"', 'name = "Press"\nload_on = "back"')],
            [
                "exercise.press: warning: a load on the back without a way out of a failed "
                'repetition; write way_out = "…"'
            ],
        ),
        (
            [('name = "Press"', 'name = "Press"\nload_on = "overhead"')],
            [
                "exercise.press: warning: a load overhead without a way out of a failed "
                'repetition; write way_out = "…"'
            ],
        ),
        ([('name = "Press"', 'name = "Press"\nload_on = "back"\nway_out = "Sit down."')], []),
        ([('name = "Press"', 'name = "Press"\nload_on = "hands"')], []),
        (
            [('name = "Press"', 'name = "Press"\nreps = [8, 41]')],
            [
                "exercise.press: warning: up to 41 repetitions, over the rep limit of 40; "
                "lower the second number of reps, or raise hard_ceiling"
            ],
        ),
        (
            [("load = {", 'tempo = "6-1-4"\nload = {')],
            [
                "exercise.press: warning: 11 seconds a repetition in version a; "
                "write a tempo of 0.5 to 8 seconds"
            ],
        ),
        ([("load = {", 'tempo = "6-0-4"\nload = {')], []),
    ],
)
def test_a_remark_and_its_remedy(changes: list[tuple[str, str]], expected: list[str]) -> None:
    assert remarks(*changes) == expected


def test_muscles_that_nobody_trains_are_left_alone() -> None:
    assert remarks(('{ exercise = "press", sets = 3 }, ', "")) == []


# Sets of 2 s a repetition: 8 to 30 repetitions are expected to take 38 s. W + k·c2 < L + w.
ROUND = "session.A.block 1: warning: in round 1 changeovers of "


def seconds(press: int, row: int) -> list[tuple[str, str]]:
    return [
        ('assist = ["triceps"]', f"reps = [{press}, {press}]\nseconds_a_rep = 1"),
        ('assist = ["biceps"]', f"reps = [{row}, {row}]\nseconds_a_rep = 1"),
    ]


@pytest.mark.parametrize(
    ("press", "row", "needed"),
    [
        (15, 15, None),
        (14, 14, "46s"),
        (10, 10, "48s"),
        (10, 20, "48s"),
        (5, 14, "50s"),
        (1, 40, "52s"),
        (20, 15, None),
    ],
)
def test_changeovers_too_short_for_the_least_recovery(
    press: int, row: int, needed: str | None
) -> None:
    # Least recovery 105, two changeovers of at most 45: the shorter of the two sets must fill 15.
    found = remarks(*seconds(press, row))
    lacking = 105 + max(press, row) - (press + row + 90)
    assert (lacking > 0) == (needed is not None)
    if needed is not None:
        assert found == [
            f'{ROUND}"45s" are too short for the least recovery: they will be longer; '
            f'write "{needed}" for the second changeover, or add an exercise'
        ]
    else:
        assert found == []


def test_the_changeover_that_is_proposed_is_long_enough() -> None:
    block = ("[[session.block]]\n", '[[session.block]]\nchangeover = ["30s", "48s"]\n')
    assert remarks(*seconds(10, 10), block) == []


def test_a_breather_that_fills_the_round_is_counted() -> None:
    pause = ('instead = ["away"]', 'instead = ["away"]\nbreather = "50s"')
    assert remarks(*seconds(10, 10), pause) == []


def test_both_sides_and_their_gap_fill_a_round() -> None:
    one_sided = ('name = "Row"', 'name = "Row"\nsides = "left first"')
    assert remarks(*seconds(10, 10), one_sided) == []


def test_a_shorter_ramp_set_is_judged_in_its_own_round() -> None:
    changes = [
        ('assist = ["triceps"]', "reps = [4, 26]\nseconds_a_rep = 1"),
        ('assist = ["biceps"]', "reps = [4, 26]\nseconds_a_rep = 1"),
        ('"press", sets = 3', '"press", sets = 3, ramp = 1'),
    ]
    found = remarks(*changes)
    assert len(found) == 1
    assert found[0].startswith(ROUND)
    ramp_last = [('"row", sets = 3', '"row", sets = 1')]
    assert remarks(*changes[:2], *ramp_last) == []


def test_straight_sets_have_no_changeover() -> None:
    alone = 'do = [{ exercise = "press", sets = 3 }]\n[[session.block]]\ndo = [{ exercise = "row"'
    change = ('do = [{ exercise = "press", sets = 3 }, { exercise = "row"', alone)
    assert remarks(*seconds(1, 1), change) == []


def test_the_same_remark_stands_once() -> None:
    again = '[[session]]\nid = "B"\n[[session.block]]\ndo = [{ exercise = "press", sets = 1 }]\n'
    text = varied(('instead = ["away"]\n', ""), text=TWO) + again
    found = content_warnings(parse_plan(text, "hut.toml"))
    assert [remark.place for remark in found] == ["exercise.press"]


@pytest.mark.parametrize(("recovery", "told"), [("2", True), ('"5s"', True), ("6", False)])
def test_a_recovery_of_seconds_where_minutes_were_meant(recovery: str, told: bool) -> None:  # noqa: FBT001
    found = remarks(("[station.bench]", f"[timing]\nrecovery = {recovery}\n[station.bench]"))
    said = [line for line in found if "to recover" in line]
    assert bool(said) is told
    if told:
        assert said[0].endswith('; if minutes are meant, write recovery = "2:00"')
