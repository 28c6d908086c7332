"""What a session has brought, on manual time: three sessions of a plan whose row has two groups."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from runner.live.session_summary import SessionComparison, counts_text, verdict_text
from runner.progress.history import PastSession, PastSet, Use
from runner.record.decisions import LevelDecision
from tests.live.mornings import Hut
from tests.plans import loads, plan, versions

PLAN = plan(
    "Kestrel Hut, two groups",
    {
        "press": {"short": "PRESS", "version": versions("near")},
        "row": {
            "short": "ROW",
            "version": [
                {"id": "light", "name": "rucksack", "load": loads(4, 12, 2)},
                {
                    "id": "slow",
                    "name": "rucksack, slow",
                    "load": loads(4, 12, 2),
                    "tempo": "3-0-1",
                },
            ],
        },
    },
    [{"press": 2, "row": {"sets": 3, "versions": ["slow", "light", "light"]}}],
    week={"sessions": [1, 2], "sets": [4, 8]},
)


def said(after: SessionComparison, title: str) -> tuple[str, ...]:
    return next((one.lines for one in after.sections() if one.title == title), ())


@pytest.fixture
def hut(tmp_path: Path) -> Hut:
    return Hut(tmp_path, PLAN)


def test_each_group_of_sets_is_judged_against_itself(hut: Hut) -> None:
    hut.done({"press": (12, 10), "row": (10, 14, 12)})
    with hut.session({"press": (13, 10), "row": (8, 15, 13)}) as after:
        assert said(after, "Beaten") == (
            "PRESS 1 of 2 (total 1 more), ROW (slow) 0 of 1 (total 2 less), ROW (light) 2 of 2",
        )
        assert said(after, "Sets") == (
            "Press at the post  13 10   1 beaten, total 23, beat 22",
            "Rucksack row (slow)  8   total 8 of 10",
            "Rucksack row (light)  15 13   2 beaten, total 28, beat 26",
        )


def test_the_sheet_counts_as_the_record_does_and_names_what_is_not_judged(hut: Hut) -> None:
    hut.done({"press": (12, 10), "row": (10, 14, 12)})
    with hut.session({"press": (13, 11), "row": (11, 15, 13)}, rest_s=5.0) as after:
        rows = list(after._live.rows())
        assert [row.beaten for row in rows] == ["yes"] * 5
        # press and row alternate, each set taking half a minute and each rest five seconds
        assert said(after, "Beaten") == (
            "PRESS 2 of 2 (1 not judged: recovery 0:40 of 1:45), ROW (slow) 1 of 1, "
            "ROW (light) 2 of 2 (2 not judged: recovery 0:40 of 1:45)",
        )
        third = after._live.driver.state.rows[2]
        assert verdict_text(after.verdict(third)) == (
            "beaten (it was 10); not judged: recovery 0:40 of 1:45."
        )


def test_no_lighter_week_comes_of_sets_that_are_not_judged(hut: Hut) -> None:
    for rest_s, offered in ((None, True), (5.0, False)):
        hut.day += 60
        for count in (16, 12, 8):
            with hut.session({"press": (16, count), "row": (16, count, count)}, rest_s=rest_s) as a:
                lighter = a.advisor().lighter
        assert (lighter is not None) == offered


def test_what_is_worth_saying_stands_under_advice_once(hut: Hut) -> None:
    told = []
    for _ in range(5):
        with hut.session({"press": ((12, 5), (11, 5)), "row": (10, 14, 12)}) as after:
            told.append([one for one in said(after, "Advice") if "reserve" in one])
    line = (
        "Press at the post: effort (our choice): you stop with 5 in reserve and the aim is 2: do "
        "more repetitions"
    )
    assert told == [[], [], [line], [], []]


def test_advice_that_nobody_answers_shows_in_full_when_new_and_after_three_sessions(
    hut: Hut,
) -> None:
    told, asked, waits = [], [], []
    for _ in range(8):
        with hut.session({"press": (12, 10), "row": (10, 31, 31)}) as after:
            said_of = [one for one in said(after, "Advice") if "(light)" in one]
            told.append(["; load" in one for one in said_of])
            asked.append(next((s.names for s in after.sections() if s.title == "Advice"), ()))
            waits.append(after.advisor().find("row/light").proposes)
    assert [n for n, full in enumerate(told, 1) if full == [True]] == [2, 5, 8]
    assert [n for n, full in enumerate(told, 1) if full == [False]] == [3, 4, 6, 7]
    assert [n for n, names in enumerate(asked, 1) if "Rucksack row (light)" in names] == [2, 5, 8]
    assert waits == [False] + [True] * 7  # `next` always shows it


def test_a_lighter_week_that_nobody_answers_does_not_show_after_each_session(hut: Hut) -> None:
    told, waits = [], []
    for count in (20, 18, 16, 14, 12, 10):
        with hut.session({"press": (count, count), "row": (count, count, count)}) as after:
            told.append(any("got worse" in one for one in said(after, "Advice")))
            waits.append(after.advisor().lighter is not None)
    assert told == [False, False, True, False, False, True]
    assert waits == [False, False, True, True, True, True]


def test_first_times_are_named_together(hut: Hut) -> None:
    with hut.session({"press": (12, 10), "row": (10, 14, 12)}) as after:
        assert said(after, "Beaten") == ()
        assert said(after, "To beat") == ("first counts: PRESS, ROW (slow), ROW (light)",)


def test_an_exercise_that_holds_back_keeps_no_other_from_being_judged(hut: Hut) -> None:
    for _ in range(3):
        hut.done({"press": (12, 10), "row": (10, 14, 12)})
    hut.done({"press": (12, 10), "row": (10,)}, pain="row")
    with hut.session({"press": (13, 11), "row": (12, 16)}, take="lighter") as after:
        assert said(after, "Beaten") == ("PRESS 2 of 2",)
        items = {one.id: one.advice.reason for one in after.advisor().items}
        assert "left elbow, 8 Nov: no harder level until 2 sessions" in items["row/slow"]
        assert "held back" not in items["press"]


def test_a_session_is_as_long_as_from_its_begin_to_its_close(hut: Hut) -> None:
    counts = {"press": (12, 10), "row": (10, 14, 12)}
    hut.done(counts)  # every set takes 30 s, so that is the forecast the next time
    with hut.session(counts, read_s=300.0) as after:
        assert said(after, "Session")[0] == "6:55 long, forecast 6:55"


def test_the_seconds_of_a_hold_have_their_unit() -> None:
    use = Use("knees")
    sets = tuple(PastSet(number, use, value) for number, value in enumerate((45.0, 40.0), 1))
    held = PastSession("a", date(2026, 11, 23), "plank", sets, measure="hold")
    assert counts_text(held) == "45 40 s"
    assert counts_text(replace(held, measure="reps")) == "45 40"


def test_recovery_really_had_stands_against_the_one_aimed_at(hut: Hut) -> None:
    # press, row, press, row, row of 30 s with 9 s between: 9 + 30 + 9 twice, then 9.
    had = "recovery 0:35 on average, aimed at 2:00, 3 under the least"
    with hut.session({"press": (12, 10), "row": (10, 14, 12)}, rest_s=9.0) as after:
        assert had in said(after, "Session")
    with hut.session({"press": (12, 10), "row": (10, 14, 12)}) as after:
        (line,) = (one for one in said(after, "Session") if one.startswith("recovery"))
        assert "under" not in line


def test_a_week_with_more_sessions_than_aimed_at_says_so(hut: Hut) -> None:
    told = []
    for _ in range(3):  # Monday, Wednesday, Friday
        with hut.session({"press": (12, 10), "row": (10, 14, 12)}) as after:
            told.append(said(after, "Week"))
    assert told[1] == ("chest 4, upper-back 6 of 4-8", "session 2 of 1-2 this week")
    assert told[2] == (
        "chest 6, upper-back 9 of 4-8",
        "session 3 of 1-2 this week (more than aimed at)",
    )


def test_what_hurt_and_what_falls_back_stand_under_advice(hut: Hut) -> None:
    for count in (16, 14):
        hut.done({"press": (count, count), "row": (count, count, count)})
    with hut.session({"press": (12, 12), "row": (12, 12, 12)}) as after:
        (line,) = (one for one in said(after, "Advice") if "got worse two sessions running" in one)
        assert line.startswith("lighter week (common practice): Press at the post and Rucksack row")
    with hut.session({"press": (12, 12), "row": (12, 12, 12)}, pain="press") as after:
        (line,) = (one for one in said(after, "Advice") if "pain" in one)
        assert line.startswith(
            "Press at the post: pain (our choice): left elbow, 8 Nov: no harder level"
        )


def test_why_there_is_nothing_to_beat_is_said_of_the_sets_that_it_is_about(hut: Hut) -> None:
    def why(after: SessionComparison) -> list[str]:
        return [after.new_count(row) for row in after._live.driver.state.rows]

    counts = {"press": (12, 10), "row": (10, 14, 12)}
    with hut.session(counts) as after:
        assert why(after) == [""] * 5  # the first time needs no word
    with hut.opened() as (opening, clock):
        heavier = next(r for r in opening.workout.exercises["row"].progression if r.load == 6)
        held = LevelDecision("row", "light", heavier, "set by hand")
        opening.record.agree("Ada", None, [held], clock.local())
    with hut.session(counts) as after:  # press, row slow, press, row light twice
        new = "load 4 kg -> 6 kg: a new count to beat"
        assert why(after) == ["", "", "", new, new]
        (press, slow, _, light, _) = (
            verdict_text(after.verdict(row), after.new_count(row))
            for row in after._live.driver.state.rows
        )
    assert (press, slow) == ("as last time, 12 to beat stays.", "as last time, 10 to beat stays.")
    assert light == f"{new}."
