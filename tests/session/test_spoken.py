"""What is said and when, by the session's state."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from runner.law.workout import Exercise, Level, Station, Workout
from runner.progress.adjust import Baseline, beat_key
from runner.session import phrases, verb as cmd
from runner.session.phrases import ahead, of_events, repertoire
from tests.law.builders import exercise, part, timing, workout
from tests.session.mat import Mat, reps, seconds


def named(name: str, own: str, *args: Any, **changes: Any) -> Exercise:
    return replace(exercise(own, *args, **changes), name=name)


ROW = named(
    "Rucksack row",
    "row", 30.0, measure="reps", sides="left first",
    progression=(Level("pack", "rucksack by its handle", load=12.0, load_step=2.0),
            Level("pack", "rucksack by its handle", load=14.0, load_step=2.0)),
)  # fmt: skip
PRESS = named(
    "Push-up",
    "press", 30.0, measure="reps", station="bench",
    progression=(Level("bench", "hands on the bench", (("height", "60 cm"),)),
            Level("low", "hands on the bench", (("height", "45 cm"),)),
            Level("feet", "on the feet")),
)  # fmt: skip
BRIDGE = named("Hip bridge", "bridge", 30.0)
BENCH = Station("bench", "Bench", change=10.0)


def hut(sets: int = 2, **changes: object) -> Workout:
    pair = [part(PRESS, sets), part(ROW, sets)]
    return workout(pair, [part(BRIDGE, 1)], stations=[BENCH], **changes)


def texts(mat: Mat, mode: phrases.Mode = "on") -> list[str]:
    return [phrase.texts[0] for phrase in ahead(mat.state, mode)]


def said(mat: Mat, command: cmd.Command, after: float = 0.0) -> list[str]:
    mat.wait(after)
    before = mat.state
    mat.do(command)
    return [p.texts[0] for p in of_events(mat.latest, before, "on")]


def test_a_session_as_it_is_announced() -> None:
    mat = Mat(hut()).begin()
    heard = []
    while mat.phase != "wrap-up":
        heard.append(ahead(mat.state, "on")[0].texts[0])
        mat.set(30.0)
    assert heard == [
        "next, Push-up, hands on the bench",
        "next, Rucksack row, left, twelve kilos",
        "switch sides, right",
        "next, Push-up, last set",
        "next, Rucksack row, left, last set",
        "switch sides, right",
        "next, Hip bridge, last set of the session",
    ]


def test_names_only_says_what_comes_and_its_side_and_nothing_else() -> None:
    mat = Mat(hut()).begin()
    heard = []
    while mat.phase != "wrap-up":
        (phrase,) = ahead(mat.state, "names")
        heard.append(phrase.texts[0])
        mat.set(30.0)
        assert of_events(mat.latest, mat.state, "names") == []
    assert heard[:4] == ["Push-up", "Rucksack row, left", "Rucksack row, right", "Push-up"]


def test_off_says_nothing() -> None:
    mat = Mat(hut()).begin()
    assert ahead(mat.state, "off") == ()
    assert list(repertoire(mat.state, "off")) == []
    mat.set()
    assert of_events(mat.latest, mat.state, "off") == []


def test_what_has_to_be_set_differently() -> None:
    mat = Mat(hut(3)).begin().set().set().set()  # push-up, both sides of the row
    mat.do(cmd.Step(1))  # of what comes: the push-up
    assert texts(mat)[0] == ("next, Push-up, hands on the bench, height forty-five centimetres")
    mat.do(cmd.Step(1))
    assert texts(mat)[0] == "next, Push-up, on the feet"
    mat.set()
    mat.do(cmd.Step(1))
    assert texts(mat)[0] == "next, Rucksack row, left, fourteen kilos"
    mat.set()
    assert texts(mat)[0] == "switch sides, right"
    mat.set()
    assert texts(mat)[0] == "next, Push-up, last set"


def test_a_load_is_told_when_the_last_one_lifted_was_another() -> None:
    squat = exercise("squat", 30.0, measure="reps", progression=(Level("a", "a", load=20.0),))
    row = exercise("pull", 30.0, measure="reps", progression=(Level("a", "a", load=7.5),))
    mat = Mat(workout([part(squat, 2), part(row, 2)])).begin()
    assert texts(mat)[0] == "next, Squat at the hut, twenty kilos"
    assert texts(mat.set())[0] == "next, Pull at the hut, seven point five kilos"
    assert texts(mat.set())[0] == "next, Squat at the hut, twenty kilos, last set"


def test_the_instants_of_a_rest() -> None:
    baseline = Baseline(to_beat={beat_key("press", PRESS.progression[0], 1, "both"): 14.0})
    mat = Mat(hut(lead_in=30.0), baseline).begin()
    until = mat.state.until
    assert until == 30.0
    first, ten, beat = ahead(mat.state, "on")
    assert (first.at, first.latest) == (0.0, until)
    assert (ten.texts, ten.at) == (("ten seconds",), until - 10)
    assert ten.latest - ten.at < 0.5, "a time is told when it is true"
    assert (beat.texts, beat.at, beat.latest) == (("fourteen to beat",), until - 7, until)


def test_a_hold_to_beat_is_a_time() -> None:
    baseline = Baseline(to_beat={beat_key("bridge", BRIDGE.progression[0], 1, "both"): 94.2})
    mat = Mat(workout([part(BRIDGE, 1)]), baseline).begin()
    assert texts(mat)[-1] == "one minute thirty-four to beat"


def test_a_ramp_set_is_named_and_has_nothing_to_beat() -> None:
    squat = exercise(
        "squat", 30.0, measure="reps", progression=(Level("a", "a", load=20.0, load_step=5.0),)
    )
    mat = Mat(workout([part(squat, 1, ramp=1)])).begin()
    assert texts(mat) == ["next, Squat at the hut, ten kilos, warm-up set", "aim for fifteen"]


def test_a_short_lead_in_has_no_ten_seconds() -> None:
    mat = Mat(workout([part(BRIDGE, 1)], lead_in=8.0)).begin()
    assert texts(mat) == ["next, Hip bridge, last set of the session", "aim for thirty seconds"]


def test_more_rest_calls_the_ten_seconds_again() -> None:
    mat = Mat(hut()).begin().set()
    before = ahead(mat.state, "on")[2]
    mat.do(cmd.Ask(15.0))
    after = ahead(mat.state, "on")[2]
    assert after.at == before.at + 15
    assert after.key != before.key
    assert ahead(mat.state, "on")[0].key == ahead(mat.state, "on")[0].key


def test_an_entry_does_not_announce_the_next_set_anew() -> None:
    mat = Mat(hut()).begin().set()
    before = ahead(mat.state, "on")[0]
    assert said(mat, reps(12), after=4.0) == ["logged, twelve"]
    assert ahead(mat.state, "on")[0].key == before.key


def test_what_was_logged() -> None:
    baseline = Baseline(to_beat={beat_key("press", PRESS.progression[0], 1, "both"): 14.0})
    mat = Mat(hut(), baseline).begin().set()
    assert said(mat, reps(15), after=3.0) == ["logged, fifteen, beaten"]
    assert said(mat, cmd.Fix(1, "reps", cmd.Count(13.0)), after=3.0) == ["corrected, thirteen"]
    mat.set().set()
    assert said(mat, reps(12, 14), after=3.0) == ["logged, twelve and fourteen"]
    mat.set()
    assert said(mat, cmd.NoCount(), after=3.0) == ["not counted"]


def test_a_hold_is_logged_by_the_clock_when_it_ends() -> None:
    mat = Mat(workout([part(BRIDGE, 2)])).begin().start()
    assert said(mat, cmd.Proceed(), after=94.2) == ["logged, one minute thirty-four"]
    assert said(mat, seconds(61), after=3.0) == ["corrected, one minute one"]


def test_pause_and_end() -> None:
    mat = Mat(workout([part(BRIDGE, 1)], cool_down=60.0, cool_down_moves=("Walk",))).begin()
    mat.do(cmd.Pause())
    assert texts(mat) == ["paused"]
    mat.do(cmd.Proceed()).start()
    assert said(mat, cmd.Proceed(), after=30.0) == ["logged, thirty seconds"]
    done, down, walk, end = ahead(mat.state, "on")
    assert [p.texts[0] for p in (done, down, walk)] == [
        "all sets done", "cool-down, one minute", "Walk",
    ]  # fmt: skip
    assert (end.texts, end.at) == (("all done, press to close",), mat.state.until)


def test_a_warm_up_says_its_length_its_moves_and_that_it_waits() -> None:
    moves = ("Arm circles", "* * *", "10 squats")  # stars are no words
    plan = workout([part(BRIDGE, 1)], warm_up=240.0, warm_up_moves=moves)
    mat = Mat(plan).do(cmd.Proceed())
    assert texts(mat) == [
        "warm-up, four minutes", "Arm circles", "ten squats", "warm-up time is up, press to go on",
    ]  # fmt: skip
    assert [p.at for p in ahead(mat.state, "on")] == [0.0, 0.0, 0.0, 240.0]


def test_without_a_count_to_beat_the_range_is_said() -> None:
    press = replace(PRESS, rep_range=(8.0, 20.0))
    hold = replace(BRIDGE, rep_range=(20.0, 40.0))
    long = replace(named("Plank", "plank", 60.0), rep_range=(45.0, 120.0))
    mat = Mat(workout([part(press, 1), part(hold, 1), part(long, 1)])).begin()
    heard = []
    while mat.phase != "wrap-up":
        heard.append(texts(mat)[-1])
        mat.set()
    assert heard == [
        "aim for eight to twenty",
        "aim for twenty to forty seconds",
        "aim for forty-five seconds to two minutes",
    ]


def test_which_count_is_missing() -> None:
    mat = Mat(hut(cool_down=60.0)).begin().set().set().set()
    missing = next(p for p in ahead(mat.state, "on") if p.texts[0].endswith("how many?"))
    assert missing.texts == ("Push-up, set one, how many?",), "the oldest first"
    mat.do(reps(12))
    mat.do(reps(12, 12)).to_the_end()
    asked = [p for p in ahead(mat.state, "on") if p.texts[0].endswith("how many?")]
    assert [p.texts[0] for p in asked] == ["Push-up, set two, how many?"] * 2
    assert "all done, press to close" not in texts(mat)
    for counts in ((12,), (11, 11)):
        mat.do(reps(*counts))
    assert "all done, press to close" in texts(mat)


def test_no_part_of_a_name_is_said_twice() -> None:
    progression = (
        Level("knees", "hands on the bench, knees on the floor"),
        Level("feet", "hands on the bench, on the feet"),
    )
    push = named(
        "Push-up, hands on the bench", "push", 30.0, measure="reps", progression=progression
    )
    mat = Mat(workout([part(push, 2)])).begin()
    assert texts(mat)[0] == "next, Push-up, hands on the bench, knees on the floor"


def test_an_undo_says_what_it_took_back_and_what_goes_on() -> None:
    mat = Mat(hut()).begin().set()
    assert said(mat, cmd.Undo()) == ["taken back, Push-up, set one, the end of the set"]
    assert mat.phase == "set"
    assert "Push-up goes on" in texts(mat)
    mat.do(cmd.Proceed())
    assert said(mat, cmd.Skip(), after=3.0) == ["Rucksack row, set one, skipped"]
    assert said(mat, cmd.Drop(), after=3.0) == ["Push-up dropped"]
    assert said(mat, cmd.Ask(15.0), after=3.0) == ["fifteen seconds more"]
    assert said(mat, cmd.Ask(-15.0), after=3.0) == ["fifteen seconds less"]
    assert said(mat, cmd.StartNow(), after=3.0) == []


def test_text_of_a_plan_is_data() -> None:
    hostile = named("Row\x1b[31m $(touch x)\n-w /etc/x 'a' \"b\"", "x")
    mat = Mat(workout([part(hostile, 1)])).begin()
    said_first = "next, Row thirty-one metres touch x -w etc x 'a' b, last set of the session"
    assert texts(mat)[0] == said_first


@pytest.mark.parametrize("mode", ["on", "names"])
def test_the_repertoire_holds_all_that_a_session_as_planned_says(mode: phrases.Mode) -> None:
    baseline = Baseline(
        to_beat={beat_key("press", PRESS.progression[0], n, "both"): 14.0 for n in (1, 2)}
    )
    for warm_up in (0.0, 60.0):
        plan = workout(
            [part(PRESS, 2), part(ROW, 2, timing(side_gap=5.0))], [part(BRIDGE, 1)],
            stations=[BENCH], warm_up=warm_up, by_key=warm_up > 0,
            cool_down=60.0, cool_down_moves=("Hang from the beam",),
        )  # fmt: skip
        mat = Mat(plan, baseline)
        ready = set(repertoire(mat.state, mode))
        mat.begin()
        while mat.phase != "wrap-up":
            for phrase in ahead(mat.state, mode):
                assert ready >= set(phrase.texts)
            mat.wait(mat.left)
            mat.do(cmd.StartNow()) if mat.phase == "rest" else None
            before = mat.state
            mat.do(cmd.Proceed(), after=20.0)
            for phrase in of_events(mat.latest, before, mode):
                assert ready >= set(phrase.texts) or "seconds" in phrase.texts[0]
            if mat.state.open_rows:
                before = mat.state
                mat.do(reps(15))
                for phrase in of_events(mat.latest, before, mode):
                    assert ready >= set(phrase.texts)
        for phrase in ahead(mat.state, mode):
            assert ready >= set(phrase.texts)


def test_the_repertoire_begins_with_what_is_needed_first() -> None:
    first = repertoire(Mat(hut()).state, "on")
    assert (next(first), next(first)) == ("next, Push-up, hands on the bench", "next, Push-up")


def test_a_closed_session_has_nothing_more_to_announce() -> None:
    closed = Mat(hut()).begin().do(cmd.End())
    assert closed.phase == "closed"
    assert texts(closed) == []
    assert not any("Push-up" in text for text in repertoire(closed.state, "names"))
