"""When cues are asked for: the pacer, one cue for an instant, outputs that begin late, no drift."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from msgspec.structs import replace

from runner.live.driver import Driver, Keeper
from runner.progress.adjust import Baseline
from runner.record.rows import SessionInfo
from runner.session import verb as cmd
from runner.session.apply import initial
from tests.law.builders import exercise, part, workout
from tests.live.fakes import CuePlayer, Rig, Store, rig
from tests.live.test_driver import SET_S, whole


@dataclass
class LatePlayer(CuePlayer):
    """A player whose output begins `lead_s` after it is asked; notes when it was asked."""

    lead_s: float = 0.5
    heard: list[tuple[float, str]] = field(default_factory=list)  # when it sounds

    def play(self, name: str, late_s: float = 0.0) -> None:
        super().play(name, late_s)
        self.heard.append((round(self.clock.seconds + self.lead_s, 3), name))

    def cut(self, name: str) -> None:
        now = self.clock.seconds
        self.heard = [(at, cue) for at, cue in self.heard if cue != name or at <= now]


def with_lead(lead_s: float) -> Rig:
    """The demo, with an output that begins so much later."""
    live = rig()
    player = LatePlayer(live.clock, lead_s=lead_s)
    state = initial(live.driver.state.workout, Baseline())
    info = SessionInfo.opened(live.clock.local(), state.workout, "", "Ada")
    store = Store(live.clock)
    keeper = Keeper(store, info)
    driver = Driver(state, keeper=keeper, clock=live.clock, player=player, origin=0.0)
    made = Rig(live.clock, player, store, keeper, driver)
    driver.listen(made.shown.extend)
    driver.open()
    return made


def at_a_tempo(tempo: str | None = "2-0-1", *, planned: bool = False, lead_s: float = 0.0) -> Rig:
    """A set of rows at a tempo, begun after the warm-up, in its first second."""
    live = rig()
    live.player = LatePlayer(live.clock, lead_s=lead_s)
    bout = exercise("row", measure="reps", pacer=planned)
    bout = replace(bout, progression=(replace(bout.progression[0], tempo=tempo),))
    state = initial(workout([part(bout, 3)]), Baseline())
    info = SessionInfo.opened(live.clock.local(), state.workout, "", "Ada")
    keeper = Keeper(live.store, info)
    driver = Driver(state, keeper=keeper, clock=live.clock, player=live.player, origin=0.0)
    made = Rig(live.clock, live.player, live.store, keeper, driver)
    driver.listen(made.shown.extend)
    driver.open()
    made.go_on()
    made.until_phase("set")
    assert made.clock.seconds == pytest.approx(10.0)
    live.player.asked.clear()
    return made


def ticks(live: Rig) -> list[float]:
    return [at for at, name in live.player.cues if name == "tick"]


def test_the_pacer_is_off_unless_the_plan_asks() -> None:
    live = at_a_tempo()
    live.until(30.0)
    assert live.player.cues == []
    planned = at_a_tempo(planned=True)
    planned.until(20.0)
    assert ticks(planned) == [12, 13, 15, 16, 18, 19]
    assert max(late for _, _, late in planned.player.asked) <= 0.001


def test_the_person_turns_the_pacer_on_and_off_and_it_stays_so() -> None:
    live = at_a_tempo()
    live.until(14.0)
    live.driver.pace(on=True)
    live.until(17.5)
    assert ticks(live) == [15, 16]  # nothing of what was before
    live.driver.pace(on=False)
    live.until(20.0)
    assert ticks(live) == [15, 16]
    live.driver.pace(on=True)
    live.go_on()
    live.until_phase("set")
    begun = live.clock.seconds
    live.until(begun + 3.5)
    assert ticks(live)[2:] == [begun + 2, begun + 3]
    off = at_a_tempo(planned=True)
    off.driver.pace(on=False)
    off.until(30.0)
    assert ticks(off) == []


def test_nothing_ticks_without_a_tempo_in_a_rest_or_in_a_pause() -> None:
    live = at_a_tempo(None)
    live.driver.pace(on=True)
    live.until(20.0)
    assert live.driver.paced
    assert ticks(live) == []
    live = at_a_tempo(planned=True)
    live.until(14.0)
    live.go_on(cmd.Pause())
    live.clock.advance(20.0)
    live.driver.tick()
    assert ticks(live) == [12, 13]


def test_a_tick_that_meets_another_cue_is_left_out() -> None:
    live = at_a_tempo(planned=True)
    live.until(14.9)
    live.go_on()  # the set ends
    live.until_phase("set")
    begun = live.clock.seconds
    live.player.asked.clear()
    live.until(begun + 1.9)
    live.clock.advance(0.1)  # nobody has looked since, and the count comes at the tick's instant
    live.go_on(cmd.Enter("reps", (cmd.Count(9),)))
    assert live.player.cues == [(begun + 2.0, "logged")]
    live.until(begun + 4.95)
    live.go_on(cmd.Undo())
    live.go_on(cmd.Enter("reps", (cmd.Count(9),)))
    live.until(begun + 6.5)
    assert live.player.cues[1:] == [
        (begun + 3.0, "tick"),
        (begun + 4.95, "undo"),  # the tick at 5 is too near; of two acts the one that says more
        (begun + 6.0, "tick"),
    ]


def test_an_undone_end_ticks_on_from_the_sets_own_start() -> None:
    live = at_a_tempo(planned=True)
    live.until(13.2)
    live.go_on()
    live.until(17.0)
    live.player.asked.clear()
    live.go_on(cmd.Undo())
    assert live.phase == "set"
    live.until(19.5)
    assert live.player.cues == [(17.0, "undo"), (18.0, "tick"), (19.0, "tick")]


def test_acts_of_one_instant_have_one_cue_and_it_is_the_one_that_says_most() -> None:
    """As when a script, or somebody quick, writes one line after the other."""
    live = at_a_tempo()
    live.until(20.0)
    live.go_on()  # the set ends
    live.clock.advance(0.045)
    live.go_on(cmd.Enter("reps", (cmd.Count(9),)))
    assert live.player.cues == [(20.0, "ended")]
    live.clock.advance(0.045)
    live.go_on(cmd.StartNow())
    assert live.player.cues == [(20.0, "ended"), (20.09, "start")]
    live.go_on()
    assert live.player.cues[2:] == []
    live.clock.advance(0.2)
    live.go_on(cmd.Enter("reps", (cmd.Count(8),)))
    assert live.player.cues[2:] == [(20.29, "logged")]


def test_a_command_at_a_counts_own_instant_loses_no_cue_and_doubles_none() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    until = live.driver.state.until
    assert until is not None
    live.until(until - 2.5)
    live.player.asked.clear()
    live.clock.advance(0.5)
    live.go_on(cmd.Note("no cue of its own"))
    assert live.player.cues == [(round(until - 2, 3), "count")]
    live.clock.advance(1.0)
    live.go_on(cmd.Pause())
    assert live.player.cues[1:] == [(until - 1, "pause")]  # nothing counts down any more


@pytest.mark.parametrize("lead_s", [0.0, 0.25, 0.3, 0.7])
def test_what_is_known_beforehand_sounds_at_its_instant_whatever_the_lead(lead_s: float) -> None:
    live = with_lead(lead_s)
    whole(live)
    plain = rig()
    whole(plain)
    known = ("count", "start", "mark", "done")
    # It is asked for when it was due to be, and sounds so much later.
    sounds = [(round(at + lead_s, 2), name) for at, name in live.player.cues if name in known]
    assert sounds == [(round(at, 2), name) for at, name in plain.player.cues if name in known]
    others = [(at, name) for at, name in live.player.cues if name not in known]
    assert others == [(at, name) for at, name in plain.player.cues if name not in known]
    assert max(late for _, _, late in live.player.asked) <= 0.002


def test_a_set_begun_by_hand_while_its_start_is_on_the_way_has_one_start() -> None:
    live = with_lead(0.5)
    live.go_on()
    live.go_on()
    until = live.driver.state.until
    assert until is not None
    live.until(until - 0.2)
    assert live.player.asked[-1][1] == "start"
    live.go_on(cmd.StartNow())
    assert [name for _, name in live.player.cues].count("start") == 1


ENDS_IT: dict[str, list[cmd.Command]] = {
    "more rest": [cmd.Ask(15.0)],
    "pause": [cmd.Pause()],
    "pause and on": [cmd.Pause(), cmd.Proceed()],
    "skip": [cmd.Skip()],
    "drop": [cmd.Drop()],
    "undo": [cmd.Undo()],
    "the end": [cmd.End()],
}


@pytest.mark.parametrize("lead_s", [0.5, 2.0])
@pytest.mark.parametrize("act", ENDS_IT)
def test_no_start_sounds_in_its_lead_where_no_set_begins(act: str, lead_s: float) -> None:
    live = with_lead(lead_s)
    live.go_on()
    live.go_on()
    live.until_phase("set")
    live.until(live.clock.seconds + SET_S)
    live.go_on()
    until = live.driver.state.until
    assert until is not None
    live.until(until - 0.3)
    assert live.player.asked[-1][1] == "start"
    for command in ENDS_IT[act]:
        live.go_on(command)
    player = live.player
    assert isinstance(player, LatePlayer)
    live.until(until + 1.0)
    if live.phase == "rest":
        live.until_phase("set")
    starts = [at for at, name in player.heard if name == "start"]
    begun = [one.event.at for one in live.shown if one.event.name == "started"]
    assert starts == pytest.approx(begun, abs=0.002)
    counts = [at for at, name in player.heard if name == "count" and at > until - 0.3]
    later = [round(at - n, 2) for at in begun if at > until for n in (3, 2, 1)]
    assert {round(at, 2) for at in counts} <= set(later)


@pytest.mark.parametrize("lead_s", [0.5, 2.0])
def test_no_tick_sounds_after_its_set(lead_s: float) -> None:
    live = at_a_tempo(planned=True, lead_s=lead_s)
    live.until(13.9)
    live.go_on()
    player = live.player
    assert isinstance(player, LatePlayer)
    live.until(16.0)
    assert [at for at, name in player.heard if name == "tick" and at > 13.9] == []


def test_who_comes_back_after_a_suspend_hears_that_it_is_paused() -> None:
    """The pause is dated at the lid's closing, but nobody could hear it then."""
    live = rig(mode="on")
    live.go_on()
    live.until(3.0)
    live.clock.suspend(600.0)
    live.driver.tick()
    assert live.phase == "paused"
    assert live.player.asked[-1] == (603.0, "pause", 0.0)
    live.until(606.0)
    assert live.speech.texts[-1] == "paused"


def test_a_rest_cut_to_nothing_has_its_start() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    live.until(live.clock.seconds + 1.0)
    live.go_on(cmd.Ask(-3600.0))
    live.driver.tick()
    assert live.phase == "set"
    assert [name for _, name in live.player.cues].count("start") == 1


def test_an_hour_of_late_alarms_does_not_drift() -> None:
    """Each alarm comes up to 19 ms late; no cue is later than its own alarm."""
    live = rig("plans/kestrel-hut.toml", "A")
    live.go_on()
    live.go_on()
    late = 0
    while live.clock.seconds < 3600 and live.phase != "wrap-up":
        wait = live.driver.seconds_to_wake()
        if wait is None or live.driver.state.phase == "set":
            live.clock.advance(30.0)
            live.go_on()
            continue
        late = (late + 7) % 20
        live.clock.advance(wait + late / 1000)
        live.driver.tick()
    known = [one for one in live.player.asked if one[1] in ("count", "start")]
    assert len(known) > 50
    assert max(late for _, _, late in known) <= 0.020
    counts = [at for at, name, _ in known if name == "count"]
    steps = [round(b - a, 3) for a, b in pairwise(counts) if b - a < 2]
    assert set(steps) == {1.0}
