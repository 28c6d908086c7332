"""A set more where the planned week is under its aim, and a lighter week at its time."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from runner.live.advice import Advisor
from runner.live.advice_lines import exercise_lines
from runner.plan.compile import compile_plan
from runner.plan.file import parse_plan
from runner.progress.adjust import begin_course
from runner.progress.answers import Answer
from runner.reports.roster import is_stalled
from tests.live.mornings import Hut
from tests.plans import plan, versions

PLAN = plan(
    "Kestrel Hut, one exercise",
    {"press": {"measure": "reps", "version": versions("near")}},
    [{"press": 5}],
)


@pytest.mark.parametrize(("aim", "more"), [(11, True), (10, False)])
def test_a_set_more_only_where_the_planned_week_is_under_its_aim(
    tmp_path: Path,
    aim: int,
    more: bool,  # noqa: FBT001
) -> None:
    week = f"[week]\nsessions = [2, 2]\nsets = [{aim}, 20]\n"
    hut = Hut(tmp_path, PLAN.replace("[exercise.press]", week + "[exercise.press]", 1))
    for day in (0, 7, 14, 21, 22, 23):  # what was done says nothing of what is planned
        hut.day = day
        hut.done({"press": (12, 11, 11, 11, 10)})
    with hut.opened() as (opening, clock):
        now, plan = clock.local() + timedelta(hours=1), parse_plan(opening.text, "x")
        (item,) = Advisor(opening.record, "Ada", [opening.workout], now, plan=plan).items
    assert item.advice.rule == ("one set more" if more else "flat")
    assert ("more sets" in [change.kind for change in item.changes]) == more


def test_two_substitutes_of_each_other_do_not_change_places(tmp_path: Path) -> None:
    names = {"press": "row", "row": "press"}
    text = plan(
        "Kestrel Hut, two sessions",
        {n: {"version": versions("near"), "instead": [to]} for n, to in names.items()},
        [{"press": 2}],
        [{"row": 2}],
    )
    hut = Hut(tmp_path, text)
    for day in range(0, 48, 4):
        hut.day = day
        hut.done(dict.fromkeys(names, (12, 11)))

    def swaps(advisor: Advisor, name: str) -> list[str | None]:
        return [one.exercise for one in advisor.find(name).changes if one.kind == "swap"]

    with hut.opened() as (opening, clock):
        week = compile_plan(parse_plan(opening.text, "x"))
        advisor = Advisor(opening.record, "Ada", week, clock.local())
        assert (swaps(advisor, "press"), swaps(advisor, "row")) == (["row"], ["press"])
        choice = [one.kind for one in advisor.find("press").changes].index("swap") + 1
        advisor.accept(advisor.find("press"), choice)
        assert swaps(advisor, "row") == []


@pytest.mark.parametrize("apart", [True, False])
def test_of_two_swaps_accepted_for_each_other_neither_is_done(
    tmp_path: Path, *, apart: bool
) -> None:
    """An earlier version took both: then both sessions had the press, and none the row."""
    text = plan(
        "Kestrel Hut, two that hang together",
        {
            n: {"version": versions("near"), "instead": [to]}
            for n, to in (("press", "row"), ("row", "press"))
        },
        *([[{"press": 2}], [{"row": 2}]] if apart else [[{"press": 2}, {"row": 2}]]),
    )
    hut = Hut(tmp_path, text)
    change = {"kind": "swap", "text": "the other instead"}
    with hut.opened() as (opening, clock):
        for name, to in (("press", "row"), ("row", "press")):
            data = {**change, "exercise": to}
            said = Answer(name, "", "flat", "", data, accepted=True, on=clock.local().date())
            opening.record.agree("Ada", said, [], clock.local())
    with hut.opened() as (opening, clock):
        week = compile_plan(parse_plan(opening.text, "x"))
        planned = [
            planned_set.exercise
            for one in week
            for planned_set in begin_course(one, opening.record.baseline("Ada", one)).planned_sets
        ]
        advisor = Advisor(opening.record, "Ada", week, clock.local())
        press = advisor.find("press")
        lines = list(exercise_lines(1, press))
        assert planned == ["press"] * 2 + ["row"] * 2  # was: press four times
        assert any("Rucksack row instead is left out" in line for line in lines), lines
        assert any("Rucksack row instead is left out" in line for line in opening.warnings)
        advisor.as_planned(press)  # then the other one is done
        assert advisor.find("press").left_out == ()


def test_nobody_is_stalled_while_away(tmp_path: Path) -> None:
    hut = Hut(tmp_path, PLAN)
    for day in (0, 7, 14, 21, 22, 23):
        hut.day = day
        hut.done({"press": (12, 11, 11, 11, 10)})
    with hut.opened() as (opening, clock):
        for days, stalled in ((0, True), (20, False)):
            now = clock.local() + timedelta(days=days)
            advisor = Advisor(opening.record, "Ada", [opening.workout], now)
            assert is_stalled(advisor.find("press"), advisor.past) == stalled


def test_two_exercises_of_a_session_at_most_get_a_set_more(tmp_path: Path) -> None:
    names = ("press", "row", "squat", "curl")
    one = PLAN[PLAN.index("[exercise.press]") : PLAN.index("[[session]]")]
    do = ", ".join(f'{{ exercise = "{name}", sets = 2 }}' for name in names)
    plan = "".join(one.replace("press", name) for name in names)
    hut = Hut(
        tmp_path, f'title = "Four"\n{plan}[[session]]\nid = "A"\nblock = [{{ do = [{do}] }}]\n'
    )
    for day in (0, 7, 14, 21, 22, 23):
        hut.day = day
        hut.done(dict.fromkeys(names, (12, 11)))

    def more(advisor: Advisor) -> list[str]:
        return [s.id for s in advisor.items if s.advice.rule == "one set more"]

    with hut.opened() as (opening, clock):
        now = clock.local() + timedelta(hours=1)
        advisor = Advisor(opening.record, "Ada", [opening.workout], now)
        assert more(advisor) == ["press", "row"]
        advisor.accept(advisor.find("press"))
        assert more(advisor) == ["row"]
        advisor.refuse(advisor.find("row"))  # it rests; another may have it
        assert more(advisor) == ["squat"]


def test_a_lighter_week_taken_for_a_flat_exercise_is_one(tmp_path: Path) -> None:
    other = PLAN[PLAN.index("[exercise.press]") : PLAN.index("[[session]]")]
    plan = PLAN.replace("[[session]]", other.replace("press", "row") + "[[session]]")
    plan = plan.replace("sets = 5 }", 'sets = 2 }, { exercise = "row", sets = 2 }')
    hut = Hut(tmp_path, plan.replace('prime = ["chest"]\nmeasure', 'prime = ["lats"]\nmeasure', 1))
    for count in (16, 14, 12):
        hut.done({"press": (count, count), "row": (count, count)})
    with hut.opened() as (opening, clock):
        now = clock.local()
        advisor = Advisor(opening.record, "Ada", [opening.workout], now)
        assert advisor.lighter is not None
        taken = {"kind": "lighter week", "text": "a lighter week"}
        said = Answer("press", "", "flat", "", taken, accepted=True, on=now.date())
        opening.record.agree("Ada", said, [], now)
        advisor.again()
        assert advisor.lighter is None
        later = Advisor(opening.record, "Ada", [opening.workout], now + timedelta(days=21))
        assert later.lighter is not None
