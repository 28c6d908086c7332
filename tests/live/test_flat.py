"""A set more where the week has room for it, and a lighter week where none has just been."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from runner.core.progress.answers import Answer
from runner.live.standing import Standing
from tests.live.mornings import Hut

PLAN = """
title = "Kestrel Hut, one exercise"
[exercise.press]
name = "Press at the post"
pattern = "horizontal push"
prime = ["chest"]
measure = "reps"
[[exercise.press.version]]
id = "near"
name = "near"
[[session]]
id = "A"
block = [{ do = [{ exercise = "press", sets = 5 }] }]
"""


@pytest.mark.parametrize(("last_week", "room"), [(3, True), (4, False)])
def test_a_set_more_only_where_the_week_has_room(
    tmp_path: Path,
    last_week: int,
    room: bool,  # noqa: FBT001
) -> None:
    hut = Hut(tmp_path, PLAN)  # day 0 is a Monday
    for day in (0, 7, 14, *range(21, 21 + last_week)):
        hut.day = day
        hut.done({"press": (12, 11, 11, 11, 10)})
    hut.day = 29  # 15 sets of the chest last week, or the 20 that are the most aimed at
    with hut.opened() as (opening, clock):
        now = clock.local() + timedelta(hours=1)
        (stand,) = Standing(opening.record, "Ada", [opening.workout], now).stands
    assert stand.advice.rule == "flat"
    assert ("more sets" in [change.kind for change in stand.changes]) == room


def test_a_lighter_week_taken_for_a_flat_exercise_is_one(tmp_path: Path) -> None:
    other = PLAN[PLAN.index("[exercise.press]") : PLAN.index("[[session]]")]
    plan = PLAN.replace("[[session]]", other.replace("press", "row") + "[[session]]")
    plan = plan.replace("sets = 5 }", 'sets = 2 }, { exercise = "row", sets = 2 }')
    hut = Hut(tmp_path, plan.replace('prime = ["chest"]\nmeasure', 'prime = ["lats"]\nmeasure', 1))
    for count in (16, 14, 12):
        hut.done({"press": (count, count), "row": (count, count)})
    with hut.opened() as (opening, clock):
        now = clock.local()
        standing = Standing(opening.record, "Ada", [opening.workout], now)
        assert standing.lighter is not None
        taken = {"kind": "lighter week", "text": "a lighter week"}
        said = Answer("press", "", "flat", "", taken, accepted=True, on=now.date())
        opening.record.agree("Ada", said, [], now)
        standing.again()
        assert standing.lighter is None
        later = Standing(opening.record, "Ada", [opening.workout], now + timedelta(days=21))
        assert later.lighter is not None
