"""Settings tried without editing the file: the same as a file edited so."""

from __future__ import annotations

import re

import pytest

from runner.core.workout import Timing
from runner.errors import Exit, MatsideError
from runner.plan.compile import compile_session
from runner.plan.models import Plan
from runner.plan.read import parse_plan
from runner.plan.trying import check_timing, with_changeover, with_pace, with_recovery

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
    assert [rung.seconds_a_rep for rung in exercises["press"].ladder] == [2.5, 4.0]
    assert [rung.seconds_a_rep for rung in exercises["row"].ladder] == [2.5]


def test_the_plan_itself_stays_as_it_is() -> None:
    one = plan()
    with_recovery(with_changeover(with_pace(one, 3.0), (1.0, 2.0)), 60.0)
    assert one == plan()


def test_a_least_over_the_recovery_is_refused() -> None:
    check_timing(with_recovery(plan(), 80.0), "A", "--recovery 1:20")
    with pytest.raises(MatsideError) as caught:
        check_timing(with_recovery(plan(), 70.0), "A", "--recovery 1:10")
    assert caught.value.code == Exit.USAGE
    assert caught.value.lines == (
        "--recovery 1:10: the plan fixes recovery_cross for press, and "
        '"1:20" is longer than the recovery of "1:10" here; try a longer recovery',
    )
    check_timing(with_recovery(plan(), 70.0), "Z", "--recovery 1:10")  # no such session: no sets
