"""One set more is advised where the week before has room for it."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

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
