"""Settings tried without editing the file: the same as a file edited so."""

from __future__ import annotations

import re

import pytest

from runner.errors import Exit, MatsideError
from runner.law.workout import Timing
from runner.plan.compile import compile_session
from runner.plan.edit import (
    Sets,
    check_timing,
    with_changeover,
    with_pace,
    with_recovery,
    with_sets,
)
from runner.plan.file import parse_plan
from runner.plan.models import Plan

TEXT = """\
title = "Kestrel Hut"
[timing]
recovery = "2:00"
recovery_cross = "1:20"
changeover = ["30s", "45s"]
[exercise.press]
name = "Band press"
pattern = "horizontal push"
prime = ["chest"]
version = [{ id = "a", name = "a" }, { id = "slow", name = "slow", tempo = "3-0-1" }]
[exercise.row]
name = "Rucksack row"
pattern = "horizontal pull"
prime = ["upper-back"]
recovery = "3:00"
recovery_least = "1:15"
seconds_a_rep = 3.0
version = [{ id = "a", name = "a" }]
[[session]]
id = "A"
[[session.block]]
do = [{ exercise = "press", sets = 3 }, { exercise = "row", sets = 3 }]
[[session.block]]
recovery = "1:20"
changeover = ["10s", "20s"]
do = [{ exercise = "press", sets = 3 }]
"""


def plan(text: str = TEXT) -> Plan:
    return parse_plan(text, "hut.toml")


def settings(tried: Plan) -> list[Timing]:
    """In force for the press and the row in the first block, and the press in the second."""
    first, second = compile_session(tried, "A").blocks
    return [first.timing["press"], first.timing["row"], second.timing["press"]]


def test_a_recovery_is_tried_wherever_the_plan_has_one() -> None:
    edited = re.sub(r'(?m)^recovery = ".*"', 'recovery = "1:36"', TEXT)
    assert edited.count('"1:36"') == 3
    assert settings(with_recovery(plan(), 96.0)) == settings(plan(edited))


def test_least_and_cross_follow_where_they_are_not_fixed_beside_it() -> None:
    press, row, other = settings(with_recovery(plan(), 96.0))
    assert [one.recovery for one in (press, row, other)] == [96, 96, 96]
    assert [one.recovery_least for one in (press, row, other)] == [84, 75, 84]
    assert [one.recovery_cross for one in (press, row, other)] == [80, 72, 72]


def test_a_plan_without_a_recovery_has_the_tried_one() -> None:
    bare = re.sub(r"(?m)^recovery.*\n", "", TEXT)
    assert {one.recovery for one in settings(plan(bare))} == {120}
    assert {one.recovery for one in settings(with_recovery(plan(bare), 60.0))} == {60}


def test_a_changeover_is_tried_wherever_the_plan_has_one() -> None:
    found = settings(with_changeover(plan(), (20.0, 40.0)))
    assert {(one.changeover_from, one.changeover_to) for one in found} == {(20, 40)}
    assert [one.recovery for one in found] == [120, 180, 80]


def test_a_pace_is_tried_where_a_version_has_no_tempo() -> None:
    exercises = compile_session(with_pace(plan(), 2.5), "A").exercises
    assert [level.seconds_a_rep for level in exercises["press"].progression] == [2.5, 4.0]
    assert [level.seconds_a_rep for level in exercises["row"].progression] == [2.5]


def numbers(tried: Plan) -> list[tuple[int, int, tuple[str, ...]]]:
    """Work sets, ramp sets and named versions of each exercise in each block."""
    items = [item for block in compile_session(tried, "A").blocks for item in block.items]
    return [(item.sets, item.ramp, item.versions) for item in items]


@pytest.mark.parametrize(
    ("sets", "wanted"),
    [
        (Sets(1, added=True), [4, 2]),
        (Sets(-1, added=True), [2, 1]),
        (Sets(-9, added=True), [1, 1]),
        (Sets(5, added=False), [5, 5]),
        (Sets(100, added=True), [100, 100]),
    ],
)
def test_more_or_fewer_sets_one_at_least_and_ramp_sets_as_they_are(
    sets: Sets, wanted: list[int]
) -> None:
    text = TEXT.replace('press", sets = 3 }, ', 'press", sets = 3, ramp = 1 }, ')
    text = text.replace('row", sets = 3', 'row", sets = 1').partition("[[session.block]]\nrec")[0]
    assert [n for n, _, _ in numbers(plan(text))] == [3, 1]
    tried = numbers(with_sets(plan(text), sets))
    assert [n for n, _, _ in tried] == wanted
    assert [ramp for _, ramp, _ in tried] == [1, 0]


def test_sets_with_named_versions_keep_them_and_repeat_the_last() -> None:
    named = 'sets = 2, versions = ["slow", "a"] }]'
    text = TEXT.partition("[[session.block]]")[0]
    text += f'[[session.block]]\ndo = [{{ exercise = "press", {named}\n'
    more = with_sets(plan(text), Sets(2, added=True))
    assert numbers(more) == [(4, 0, ("slow", "a", "a", "a"))]
    assert numbers(with_sets(plan(text), Sets(1, added=False))) == [(1, 0, ("slow",))]


def test_the_plan_itself_stays_as_it_is() -> None:
    one = plan()
    with_sets(one, Sets(1, added=True))
    with_recovery(with_changeover(with_pace(one, 3.0), (1.0, 2.0)), 60.0)
    assert one == plan()


def test_a_least_over_the_recovery_is_refused() -> None:
    check_timing(with_recovery(plan(), 80.0), "A", "--recovery 1:20")
    with pytest.raises(MatsideError) as caught:
        check_timing(with_recovery(plan(), 70.0), "A", "--recovery 1:10")
    assert caught.value.code == Exit.USAGE
    assert caught.value.lines == (
        "--recovery 1:10: the plan sets recovery_cross for press, and "
        '"1:20" is longer than the recovery of "1:10" here; try a longer recovery',
    )
    check_timing(with_recovery(plan(), 70.0), "Z", "--recovery 1:10")  # no such session: no sets
