"""A rehearsal at the real speed speaks as the session does; at any other it is silent."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from runner.live.clock import FastClock
from runner.live.rehearsal import RehearsedDriver, prepare_rehearsal
from runner.live.sound_controls import Speaker
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.planning import trainee as person
from runner.progress.adjust import Baseline
from runner.session import verb as cmd
from runner.session.phrases import Mode
from runner.testing import ManualClock
from tests.live.fakes import ROOT, CuePlayer, Rig, Speech, rig

PLAN = "plans/kestrel-hut.toml"


@dataclass
class Spoken:
    """A rehearsal on manual time that speaks."""

    real: ManualClock
    driver: RehearsedDriver
    speaker: Speaker
    speech: Speech
    player: CuePlayer

    def go(self, until: float) -> None:
        """Let real time pass as a screen does."""
        while self.driver.state.phase != "closed" and self.driver.now() < until:
            wait = self.driver.seconds_to_wake()
            assert wait is not None
            self.real.advance(min(wait, until - self.driver.now()))
            self.driver.tick()


def spoken(mode: Mode = "on") -> Spoken:
    text = (ROOT / PLAN).read_text(encoding="utf-8")
    workout = compile_session(parse_plan(text, PLAN), "B")
    real = ManualClock()
    opening = prepare_rehearsal(
        workout, Baseline(), path=Path("nowhere"), trainee="Ada", clock=FastClock(real, 1.0)
    )
    player, speech = CuePlayer(real), Speech(real)
    speaker = Speaker(speech, mode)
    driver = opening.begin(player, speaker).driver
    assert isinstance(driver, RehearsedDriver)
    driver.open()
    driver.send(cmd.Proceed())
    opening.record.close()
    return Spoken(real, driver, speaker, speech, player)


def live(until: float) -> Rig:
    """The session itself, by a trainee who does everything on time."""
    made = rig(PLAN, "B", mode="on")
    made.go_on()
    while made.clock.seconds < until:
        due, waits = person.due(made.driver.state), made.phase in ("warm-up", "set")
        assert due is not None
        if waits and due <= until:
            made.until(due - 0.001)
            made.clock.advance(0.001)  # the act comes before anybody looks at the clock
            made.go_on()
        made.until(min(due, until))
    return made


def test_at_the_real_speed_it_says_what_the_session_says_and_when() -> None:
    here, there = spoken(), live(900.0)
    here.go(900.0)
    assert len(there.speech.said) > 15
    assert here.speech.said == there.speech.said
    assert here.player.cues == there.player.cues


def test_silent_it_says_nothing_and_looks_for_nothing() -> None:
    here = spoken()
    here.speaker.silent = True
    here.go(630.0)
    assert not here.speech.said
    here.speaker.silent = False
    here.go(900.0)
    assert here.speech.said == [one for one in live(900.0).speech.said if one[0] > 630.0]


def test_after_a_jump_it_says_again_what_is_to_be_said_there() -> None:
    here = spoken()
    here.go(600.0)
    first = [text for _, text in here.speech.said]
    for _ in range(50):
        here.driver.to_set_before()
    assert here.driver.now() < 300
    here.speech.said.clear()
    here.go(600.0)
    again = [text for _, text in here.speech.said]
    assert again == first[-len(again) :]
    assert len(again) > 10


def test_what_is_passed_over_is_not_said_late() -> None:
    here = spoken()
    for _ in range(6):
        here.driver.to_next_set()
    said = [text for _, text in here.speech.said]
    assert not [text for text in said if text.startswith("next, ")]
