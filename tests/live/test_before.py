"""What is offered before a session where versions are to be found again, on manual time."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.law.workout import Level
from runner.live.advice import Advisor
from runner.live.offers import LONG_AGO, NO_VERSION, NOT_FOUND
from runner.live.session_setup import Opening
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.progress.adjust import Offer
from runner.record.decisions import LevelDecision
from runner.session import verb as cmd
from runner.session.apply import Refused, initial
from tests.live.mornings import Hut, Silent
from tests.plans import loads, plan, versions

PLAN = plan(
    "Kestrel Hut, two sessions",
    {
        "press": {
            "version": versions(
                "near",
                "far",
                "low",
                "feet",
                low={"name": "post set low"},
                feet={"name": "feet on the bench"},
            ),
        },
        "row": {"version": versions("light", light={"name": "rucksack", "load": loads(4, 12, 2)})},
    },
    [{"press": 2}],
    [{"row": 2}],
    effort={"reps": [8, 12]},
)
LIGHT, RIGHT = (20, 20), (8, 8)  # counts over the band, and inside it with three in reserve


@pytest.fixture
def hut(tmp_path: Path) -> Hut:
    return Hut(tmp_path, PLAN)


def offered(hut: Hut) -> Offer | None:
    """The offer to find versions, on that morning."""
    with hut.opened() as (opening, _):
        return next((one for one in opening.baseline.offers if one.kind == "place"), None)


def reasons(hut: Hut) -> tuple[str, ...]:
    offer = offered(hut)
    return () if offer is None else offer.reasons


def test_a_long_break_is_over_for_each_exercise_by_itself(hut: Hut) -> None:
    assert reasons(hut) == (f"{NO_VERSION}: Press at the post",)
    for _ in range(2):
        hut.done({"press": RIGHT})
        hut.done({"row": RIGHT})
    assert reasons(hut) == ()
    hut.day += 60
    assert reasons(hut) == (f"{LONG_AGO}: Press at the post",)
    hut.done({"press": RIGHT})  # the other session comes two days later
    assert reasons(hut) == (f"{LONG_AGO}: Rucksack row",)
    hut.done({"row": RIGHT})
    assert reasons(hut) == ()


def test_what_was_set_by_hand_since_is_no_old_version(hut: Hut) -> None:
    hut.done({"press": RIGHT})
    hut.day += 60
    with hut.opened() as (opening, _):
        hold(opening, "far")
    hut.done({"row": RIGHT})
    assert reasons(hut) == ()


def test_what_is_not_found_after_a_break_is_looked_for_again(hut: Hut) -> None:
    hut.done({"press": RIGHT})
    hut.done({"row": RIGHT})
    hut.day += 60
    hut.done({"press": LIGHT}, take="place")  # two sets, both too light: nothing is found
    hut.done({"row": RIGHT})
    offer = offered(hut)
    assert offer is not None
    assert offer.reasons == (f"{NOT_FOUND}: Press at the post",)
    assert [(one.exercise, one.index) for one in offer.adjustments] == [("press", 2)]
    hut.done({"press": RIGHT}, take="place")  # it goes on there, and finds it
    hut.done({"row": RIGHT})
    assert reasons(hut) == ()
    with hut.opened() as (opening, _):
        assert opening.baseline.working_levels["press", ""] == 2


def test_after_the_next_break_it_begins_at_the_easiest(hut: Hut) -> None:
    hut.done({"press": RIGHT})
    hut.done({"row": RIGHT})
    hut.day += 60
    hut.done({"press": LIGHT}, take="place")
    hut.done({"row": RIGHT})
    hut.day += 60
    offer = offered(hut)
    assert offer is not None
    assert [(one.exercise, one.index) for one in offer.adjustments] == [("press", 0)]


def test_a_version_set_by_hand_ends_the_looking(hut: Hut) -> None:
    hut.done({"press": RIGHT})
    hut.done({"row": RIGHT})
    hut.day += 60
    hut.done({"press": LIGHT}, take="place")
    with hut.opened() as (opening, _):
        hold(opening, "low")
    hut.done({"row": RIGHT})
    assert reasons(hut) == ()


def test_what_is_found_after_a_break_is_held_in_the_first_set_too(hut: Hut) -> None:
    hut.done({"press": RIGHT})
    hut.done({"row": RIGHT})
    with hut.opened() as (opening, _):
        hold(opening, "feet", "first:")  # a bridge was under way
    hut.day += 60
    hut.done({"press": RIGHT}, take="place")
    hut.done({"row": RIGHT})
    with hut.opened() as (opening, _):
        planned_sets = initial(opening.workout, opening.baseline).course.planned_sets
        assert [planned_set.level.version for planned_set in planned_sets] == ["near", "near"]


def test_a_week_with_far_more_sets_than_usual_is_offered_lighter(hut: Hut) -> None:
    def lighter() -> list[str]:
        with hut.opened() as (opening, _):
            return [r for o in opening.baseline.offers if o.kind == "lighter" for r in o.reasons]

    for week in range(5):
        hut.day = 7 * week
        hut.done({"press": RIGHT})
        assert week < 2 or lighter() == []  # with this one it is as many as in any week: four
        hut.done({"row": RIGHT})
    assert lighter() == ["50 % more sets this week than usual"]  # a third one, on Friday


def said(hut: Hut) -> list[str]:
    with hut.opened() as (opening, _):
        return list(opening.warnings)


def test_the_next_start_names_pain_of_the_last_two_weeks(hut: Hut) -> None:
    hut.done({"press": RIGHT}, pain="press")  # Monday 2 November
    for day, named in ((2, True), (14, True), (15, False)):
        hut.day = day
        line = "Press at the post: pain, left elbow, 2 Nov."
        assert [one for one in said(hut) if "pain" in one] == [line] * named


def test_thirty_weeks_away_are_counted_and_what_was_done_before_is_there(hut: Hut) -> None:
    for _ in range(9):
        hut.done({"press": (12, 12)})
        hut.done({"row": (14, 14)})
    hut.day += 63
    with hut.opened() as (opening, clock):  # begun and ended on the ready sheet: nothing was done
        live = opening.begin(Silent())
        live.driver.open()
        live.driver.send(cmd.End())
    hut.day += 147  # the last session was 212 days before
    with hut.opened() as (opening, clock):
        (lighter,) = (one for one in opening.baseline.offers if one.kind == "lighter")
        assert lighter.reasons == ("212 days away",)
        line = "212 days away: an exercise gets no harder level until 2 sessions of it reach the"
        assert [one for one in opening.warnings if one.startswith(line)]
        sessions = [opening.workout, compile_session(parse_plan(opening.text, "x"), "B")]
        advisor = Advisor(opening.record, "Ada", sessions, clock.local())
        assert len({row.session_id for row in advisor.past.rows}) == 18
        for item in advisor.items:
            assert (item.advice.rule, item.changes) == ("layoff", ())
            assert item.advice.reason.startswith("212 days away: no harder level until 2 sessions")
        with pytest.raises(Refused, match="no change is advised: 212 days away"):
            advisor.accept(advisor.find("row"))


def test_after_a_layoff_the_start_says_so_until_both_exercises_are_back(hut: Hut) -> None:
    for _ in range(3):
        hut.done({"press": (12, 12)})
        hut.done({"row": (14, 14)})
    hut.day += 20
    waits = []
    for _ in range(3):
        hut.done({"press": (12, 12)}, take="lighter" if not waits else "")
        waits.append(any("22 days away until 4 Dec" in line for line in said(hut)))
        hut.done({"row": (14, 14)})
    assert waits == [True, True, False]  # of the row: nothing, once, twice


def hold(opening: Opening, version: str, group: str = "") -> None:
    """As `matside next --set` does, on that morning."""
    said = LevelDecision("press", group, Level(version, version), "set by hand")
    opening.record.agree("Ada", None, [said], opening.clock.local())
