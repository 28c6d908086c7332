"""A session that speaks, on manual time: what is heard, in order, and no cue the worse for it."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given, settings, strategies as st

from runner.law.workout import Level, Workout
from runner.progress.adjust import Baseline, beat_key
from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.phrases import BREATH, GAP
from runner.sound.sounds import CUES
from tests.law.builders import exercise, part, timing, workout
from tests.live.fakes import Rig, rig, rig_of
from tests.session.test_session_random import DECK, PLANS, STEPS

PRESS = exercise("press", 30.0, measure="reps", progression=(Level("a", "on the floor"),))
ROW = exercise(
    "row",
    20.0,
    measure="reps",
    sides="left first",
    progression=(Level("a", "by the handle", load=12.0),),
)
HOLD = exercise("bridge", 20.0)
BASELINE = Baseline(
    to_beat={
        beat_key("press", PRESS.progression[0], 1, "both"): 14.0,
        beat_key("bridge", HOLD.progression[0], 1, "both"): 20.0,
    }
)


def hut(**changes: object) -> Workout:
    return workout([part(PRESS, 2), part(ROW, 1)], [part(HOLD, 1)], lead_in=20.0, **changes)


def heard(live: Rig) -> list[tuple[float, str]]:
    """Cues and phrases together, in the order of their instants."""
    cues = [(at, f"({name})") for at, name in live.player.cues]
    return sorted([*cues, *live.speech.said], key=lambda one: one[0])


def whole(live: Rig) -> None:
    """Every set 20 s long, its count entered eight seconds after."""
    live.go_on()
    while live.phase != "wrap-up":
        live.until_phase("set")
        live.until(live.clock.seconds + 20.0)
        live.go_on()
        if live.driver.state.open_rows:
            live.until(live.clock.seconds + 8.0)
            live.go_on(cmd.Enter("reps", (cmd.Count(15),)))
    live.until(live.clock.seconds + 10.0)


def test_a_session_followed_by_ear() -> None:
    live = rig_of(hut(), baseline=BASELINE, mode="on")
    whole(live)
    assert [what for _, what in heard(live)] == [
        "(begin)", "next, Press at the hut",
        "ten seconds",
        "fourteen to beat",
        "(count)", "(count)", "(count)", "(start)",
        "(ended)", "next, Row at the hut, left, twelve kilos, last set",
        "Press at the hut, set one, how many?",
        "(logged)", "logged, fifteen, beaten",
        "ten seconds",
        "aim for ten",
        "(count)", "(count)", "(count)", "(start)",
        "(switch)", "switch sides, right",
        "ten seconds",
        "(logged)", "aim for ten", "aim for ten", "logged, fifteen",  # the entry cuts the first
        "(count)", "(count)", "(count)", "(start)",
        "(ended)", "next, Press at the hut, last set",
        "Row at the hut, right, set one, how many?",
        "(logged)", "logged, fifteen",
        "ten seconds",
        "aim for fifteen",
        "(count)", "(count)", "(count)", "(start)",
        "(block)", "next, Bridge at the hut, last set of the session",
        "Press at the hut, set two, how many?",
        "(logged)", "logged, fifteen",
        "ten seconds",
        "twenty seconds to beat",
        "(count)", "(count)", "(count)", "(start)",
        "(mark)", "(done)", "logged, twenty seconds", "all sets done", "all done, press to close",
    ]  # fmt: skip


def test_names_only_is_what_comes_and_its_side() -> None:
    live = rig_of(hut(), baseline=BASELINE, mode="names")
    whole(live)
    assert live.speech.texts == [
        "Press at the hut", "Row at the hut, left", "Row at the hut, right", "Press at the hut",
        "Bridge at the hut",
    ]  # fmt: skip


def test_off_looks_for_no_voice_and_says_nothing_until_it_is_turned_on() -> None:
    live = rig_of(hut(), mode="off")
    live.go_on()
    live.until(5.0)
    assert (live.speech.started, live.speech.wanted, live.speech.said) == (0, [], [])
    assert live.driver.speaker is not None
    live.driver.speaker.mode = "on"
    assert live.speech.started == 1
    live.until(9.5)
    assert live.speech.said == [(5.0, "next, Press at the hut")]


def test_the_session_is_rendered_before_it_begins() -> None:
    live = rig_of(hut(), baseline=BASELINE, mode="on")
    asked_before = list(live.speech.wanted)
    whole(live)
    assert set(live.speech.texts) <= set(asked_before) | {"logged, twenty seconds"}


def test_an_entry_cuts_a_phrase_which_is_said_again() -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until_phase("set")
    live.until(live.clock.seconds + 20.0)
    live.go_on()
    ended = live.clock.seconds
    live.until(ended + 1.5)
    announced = "next, Row at the hut, left, twelve kilos, last set"
    assert live.speech.texts[-1] == announced
    live.go_on(cmd.Enter("reps", (cmd.Count(12),)))
    live.until(ended + 15)
    assert live.player.cues[-1] == (ended + 1.5, "logged"), "the cue is not held up"
    assert live.speech.texts[-3:] == [announced, announced, "logged, twelve"], "the name first"
    again = live.speech.said[-2][0]
    assert again >= ended + 1.5 + CUES["logged"].length_s + GAP


def test_what_was_taken_back_is_not_said_any_more() -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until_phase("set")
    live.until(live.clock.seconds + 20.0)
    live.go_on()
    live.until(live.clock.seconds + 8.0)
    live.go_on(cmd.Enter("reps", (cmd.Count(12),)))
    live.until(live.clock.seconds + 0.3)  # the cue still sounds
    live.go_on(cmd.Undo())
    live.until(live.clock.seconds + 6.0)
    assert "logged, twelve" not in live.speech.texts
    live.go_on(cmd.Enter("reps", (cmd.Count(13),)))
    live.until(live.clock.seconds + 3.0)
    assert live.speech.texts[-1] == "logged, thirteen"


def test_what_cannot_end_before_the_count_is_not_begun() -> None:
    live = rig_of(workout([part(PRESS, 1)], lead_in=4.0), mode="on")
    live.go_on()
    live.until_phase("set")
    assert live.speech.texts == ["press"], "as short as it is on the screen"
    slow = rig_of(workout([part(PRESS, 1)], lead_in=4.0), mode="on")
    slow.speech.letter_s = 0.3
    slow.go_on()
    slow.until_phase("set")
    assert slow.speech.said == []
    assert [name for _, name in slow.player.cues] == ["begin", *["count"] * 3, "start"]


def test_a_phrase_still_being_rendered_is_said_when_it_is_there() -> None:
    live = rig_of(hut(), mode="on")
    text = "next, Press at the hut"
    live.speech.missing.add(text)
    live.go_on()
    live.until(3.0)
    assert live.speech.said == []
    live.speech.missing.clear()
    live.until(4.0)
    assert [said for _, said in live.speech.said] == [text]
    assert live.speech.said[0][0] <= 3.3


def test_changes_of_plan_are_announced() -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until(4.0)
    live.go_on(cmd.Skip())
    live.until(12.0)
    assert live.speech.texts == [
        "next, Press at the hut", "next, Row at the hut, left, twelve kilos, last set",
        "Press at the hut, set one, skipped",
    ]  # fmt: skip


def test_who_comes_back_from_a_pause_hears_what_is_next() -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until(4.0)
    live.go_on(cmd.Pause())
    live.until(60.0)
    live.go_on()
    live.until(64.0)
    assert live.speech.texts == ["next, Press at the hut", "paused", "next, Press at the hut"]


@pytest.mark.parametrize("after", [0.2, 1.0, 2.0, 3.5])
def test_who_comes_back_at_once_does_not_hear_that_it_is_paused(after: float) -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until(4.0)
    live.go_on(cmd.Pause())
    live.until(4.0 + after)
    live.go_on()
    live.until(12.0)
    back = [text for at, text in live.speech.said if at > 4.0 + after]
    assert back == ["next, Press at the hut"]


@pytest.mark.parametrize("act", [cmd.Skip(), cmd.Drop()])
def test_after_an_undo_the_last_name_heard_is_the_right_one(act: cmd.Command) -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until(4.0)
    live.go_on(act)
    live.until(9.0)
    live.go_on(cmd.Undo())
    live.until(16.0)
    names = [text for text in live.speech.texts if text.startswith("next")]
    right, wrong = "next, Press at the hut", "next, Row at the hut, left, twelve kilos, last set"
    assert names == [right, wrong, right]


def test_an_end_taken_back_names_the_set_that_goes_on() -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until_phase("set")
    live.until(live.clock.seconds + 20.0)
    live.go_on()
    live.until(live.clock.seconds + 5.0)
    assert live.speech.texts[-1].startswith("next, Row")
    live.go_on(cmd.Undo())
    live.until(live.clock.seconds + 6.0)
    assert live.speech.texts[-2:] == [
        "Press at the hut goes on",
        "taken back, Press at the hut, set one, the end of the set",
    ]


def test_a_phrase_in_its_quiet_lead_is_cut_where_it_is_not_true_any_more() -> None:
    live = rig_of(hut(), mode="on", lead_s=1.5)
    live.go_on()
    live.until(9.0)
    assert live.speech.said[-1] == (8.5, "ten seconds"), "heard at ten"
    live.go_on(cmd.Ask(15.0))
    assert live.speech.hushed == [9.0]
    live.until(24.0)
    assert live.speech.said[-1] == (23.5, "ten seconds")


def test_in_a_short_rest_the_name_goes_before_what_confirms() -> None:
    """The demo's five seconds leave room for one phrase before the count."""
    live = rig(mode="on")
    live.go_on()
    live.until(11.5)
    live.go_on()
    live.until_phase("set")
    live.until(live.clock.seconds + 8.0)
    live.go_on()
    live.go_on(cmd.Enter("reps", (cmd.Count(4),)))  # at once
    ended = live.clock.seconds
    live.until(ended + 4.9)
    assert [text for at, text in live.speech.said if at > ended] == ["row left"]
    live.until(ended + 9.0)
    later = [text for at, text in live.speech.said if at > ended + 5.0]
    assert later == ["aim for three to five", "logged, four"], "what a set wants goes first too"


def test_nothing_is_said_twice_when_an_act_changes_nothing_of_it() -> None:
    live = rig_of(hut(), mode="on")
    live.go_on()
    live.until(4.0)
    live.go_on(cmd.Note("cold"))
    live.go_on(cmd.Ask(15.0))
    live.until(16.0)
    assert live.speech.texts == ["next, Press at the hut", "fifteen seconds more"]
    live.until(27.0)
    assert live.speech.said[2:] == [(25.0, "ten seconds")]


def test_the_pacer_leaves_no_room_in_its_set() -> None:
    paced = exercise(
        "press",
        30.0,
        measure="reps",
        progression=(Level("a", "a", tempo="1-0-1", seconds_a_rep=2.0),),
    )
    live = rig_of(workout([part(paced, 2, timing(recovery=20.0))]), mode="on")
    live.driver.pace(on=True)
    live.go_on()
    live.until_phase("set")
    live.go_on(cmd.Proceed())
    live.until_phase("set")
    live.until(live.clock.seconds + 3.1)
    before = len(live.speech.said)
    live.go_on(cmd.Enter("reps", (cmd.Count(12),)))
    live.until(live.clock.seconds + 6)
    assert len(live.speech.said) == before


@settings(max_examples=60, deadline=None)
@given(PLANS, STEPS, st.sampled_from([0.02, 0.07, 0.2]), st.sampled_from(["on", "names"]))
def test_no_phrase_delays_a_cue_or_meets_one_that_was_known(
    name: str, steps: list[tuple[float, cmd.Command]], letter_s: float, mode: str
) -> None:
    speaking = rig_of(DECK[name], mode="on" if mode == "on" else "names")
    speaking.speech.letter_s = letter_s
    silent = rig_of(DECK[name])
    acts: set[float] = set()
    for waits, command in steps:
        for live in (speaking, silent):
            live.until(live.clock.seconds + waits)
            with suppress(Refused):
                live.go_on(command)
        acts.add(round(speaking.clock.seconds, 3))
    for live in (speaking, silent):
        live.until(live.clock.seconds + 60.0)

    assert speaking.player.cues == silent.player.cues, "the same cues at the same instants"
    assert speaking.shown == silent.shown

    # One that comes more than 0.3 s late, as after a suspend, is left out: nothing meets it.
    cues = [(at, cue) for at, cue, late_s in speaking.player.asked if late_s <= 0.3]
    cut = 0.0
    for begin, text in speaking.speech.said:
        end = round(begin + speaking.speech.lasts(text), 3)
        assert begin >= cut, "never two at once"
        met = [at for at, _ in cues if begin <= at < end + GAP - 0.002]
        assert all(at in acts or at - 0.001 in acts for at in met), "only a person comes between"
        cut = end + BREATH - 0.002 if not met else met[0]
        before = [at + CUES[name].length_s for at, name in cues if at < begin]
        assert all(over + GAP <= begin + 0.002 for over in before), "no cue still sounds"


@pytest.mark.parametrize("lead", [0.0, 0.4])
def test_a_quiet_lead_shifts_phrases_as_it_shifts_cues(lead: float) -> None:
    """What is asked for so much earlier is heard at its instant."""
    live = rig_of(hut(), baseline=BASELINE, mode="on", lead_s=lead)
    live.go_on()
    live.until_phase("set")
    ten = next(at for at, text in live.speech.said if text == "ten seconds")
    count = next(at for at, name in live.player.cues if name == "count")
    assert (ten, count) == (pytest.approx(10.0 - lead), pytest.approx(17.0 - lead))
