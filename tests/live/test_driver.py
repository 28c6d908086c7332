"""The driver on manual time: cues at their instants, suspends, and what is kept before shown."""

from __future__ import annotations

import threading
import time
from collections import Counter
from datetime import UTC, datetime

import pytest

from runner.live.driver import Keeper, PendingAnswer
from runner.record.rows import SessionInfo
from runner.session import events as ev, verb as cmd
from runner.session.apply import Refused, replay
from tests.live.fakes import Rig, rig

SET_S = 12.5


def whole(live: Rig, length: float = SET_S) -> None:
    """Run a session to its end: each set so long, a count three seconds after each end."""
    live.go_on()
    if live.phase == "warm-up":
        live.until(live.clock.seconds + live.driver.state.workout.warm_up + 1.5)
        live.go_on()
    while live.phase != "wrap-up":
        live.until_phase("set")
        live.until(live.clock.seconds + length)
        live.go_on()
        if live.driver.state.open_rows:
            live.until(live.clock.seconds + 0.25)
            live.go_on(cmd.Enter("reps", (cmd.Count(9),)))
    live.until(live.clock.seconds + live.driver.state.workout.cool_down)
    live.go_on()
    assert live.phase == "closed"


def wanted_cues(live: Rig) -> Counter[tuple[float, str]]:
    """What the events shown ask for, worked out from them alone."""
    state = live.driver.state
    wanted: list[tuple[float, str]] = []
    log = [one.event for one in live.shown]
    for number, event in enumerate(log):
        later = log[number + 1 :]
        if isinstance(event, ev.Started):
            wanted.append((event.at, "start"))
            exercise = state.workout.exercises[event.exercise]
            ended = next(e for e in later if isinstance(e, ev.Ended))
            mark = event.at + exercise.rep_range[0]
            if exercise.measure == "hold" and mark <= ended.at:
                wanted.append((mark, "mark"))
        elif isinstance(event, ev.Ended):
            resting = later[0] if isinstance(later[0], ev.Resting) else None
            if resting is None and event is [e for e in log if isinstance(e, ev.Ended)][-1]:
                wanted.append((event.at, "block"))  # the cool-down comes
            elif resting is not None and resting.why == "side":
                wanted.append((event.at, "switch"))
            else:
                begun = next(e for e in later if isinstance(e, ev.Started))
                wanted.append((event.at, "block" if begun.block > event.block else "ended"))
        elif isinstance(event, ev.Entered) and event.by == "person":
            wanted.append((event.at, "logged"))
        elif isinstance(event, ev.Resting):
            wanted += [(event.until - n, "count") for n in (3, 2, 1) if event.until - n > event.at]
        elif isinstance(event, ev.Begun):
            wanted += [(event.at, "begin"), (event.at + state.workout.warm_up, "mark")]
            wanted += [(later[0].at, "block")]  # the warm-up is over, the first block comes
    ended = [e for e in log if isinstance(e, ev.Ended)][-1]
    wanted.append((ended.at + state.workout.cool_down, "done"))
    return Counter((round(at, 3), name) for at, name in wanted)


def test_every_cue_once_and_at_its_instant() -> None:
    live = rig()
    whole(live)
    assert Counter(live.player.cues) == wanted_cues(live)
    assert {name for _, name in live.player.cues} == {
        "begin", "start", "count", "ended", "logged", "mark", "block", "switch", "done",
    }  # fmt: skip
    assert max(late for _, _, late in live.player.asked) <= 0.001
    instants = Counter(at for at, _ in live.player.cues)
    assert max(instants.values()) == 1


def test_an_entry_in_the_countdown_repeats_no_cue() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    live.until_phase("set")
    live.until(live.clock.seconds + SET_S)
    live.go_on()
    until = live.driver.state.until
    assert until is not None
    live.until(until - 1.5)
    live.go_on(cmd.Enter("reps", (cmd.Count(9),)))
    live.until(until)
    counts = [at for at, name in live.player.cues if name == "count" and at > until - 4]
    assert counts == [round(until - n, 3) for n in (3, 2, 1)]


def test_a_cue_due_while_the_disk_is_slow_comes_late_not_never() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    until = live.driver.state.until
    assert until is not None
    live.until(until - 1.1)
    live.store.slow_s = 0.2
    live.go_on(cmd.Note("slow"))
    live.store.slow_s = 0.0
    live.driver.tick()
    assert live.player.asked[-1] == (round(until - 1, 3), "count", 0.1)


def test_late_cues_say_how_late_and_a_set_starts_at_its_deadline() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    until = live.driver.state.until
    assert until is not None
    live.clock.advance(until - live.clock.seconds + 0.75)  # nobody looked in between
    live.driver.tick()
    assert live.player.asked[-4:] == [
        (round(until - 3, 3), "count", 3.75),
        (round(until - 2, 3), "count", 2.75),
        (round(until - 1, 3), "count", 1.75),
        (round(until, 3), "start", 0.75),
    ]
    assert live.shown[-1].event.at == until


def test_a_suspend_in_a_rest_pauses_from_its_beginning() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    live.until(1.0)
    live.clock.suspend(600)
    live.driver.tick()
    paused = live.shown[-1].event
    assert isinstance(paused, ev.Paused)
    assert (paused.why, paused.at, live.phase) == ("suspend", 1.0, "paused")
    assert live.driver.seconds_to_wake() is None
    live.go_on()
    assert live.driver.state.until == pytest.approx(601 + live.driver.state.workout.lead_in)


def test_a_suspend_ends_the_running_set_where_it_began() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    live.until_phase("set")
    start = live.clock.seconds
    live.until(start + 4)
    live.clock.suspend(3600)
    live.driver.tick()
    assert live.phase == "paused"
    assert live.driver.state.rows[0].work == pytest.approx(4, abs=0.002)


def test_a_short_suspend_is_no_pause() -> None:
    live = rig()
    live.go_on()
    live.clock.suspend(1.0)
    live.driver.tick()
    assert live.phase == "warm-up"


def frozen(live: Rig, seconds: float) -> None:
    """A face waits, and nothing of the process runs for so long; then its wait is over."""
    wait = live.driver.waits(live.driver.seconds_to_wake())
    assert wait is not None
    live.clock.advance(wait + seconds)
    live.driver.tick()


def test_no_set_starts_by_the_clock_while_the_process_is_frozen() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    live.until(1.0)
    frozen(live, 40.0)
    paused = live.shown[-1].event
    assert isinstance(paused, ev.Paused)
    assert (paused.why, paused.at, live.phase) == ("suspend", 1.0, "paused")
    assert "started" not in live.names
    assert not [name for _, name in live.player.cues if name == "start"]
    live.go_on()
    assert live.driver.state.until == pytest.approx(
        live.clock.seconds + live.driver.state.workout.lead_in
    )


def test_a_set_in_which_the_process_was_frozen_has_no_length() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    live.until_phase("set")
    live.until(live.clock.seconds + 6.0)
    before = live.clock.seconds
    frozen(live, 40.0)
    row = live.driver.state.rows[0]
    assert live.phase == "paused"
    assert row.end == pytest.approx(before, abs=0.002)
    assert row.work is None  # so it is no length that anything is expected by
    live.go_on(cmd.Enter("reps", (cmd.Count(9),)))
    assert live.driver.state.rows[0].value == 9


def test_a_busy_machine_is_not_frozen() -> None:
    live = rig()
    live.go_on()
    live.go_on()
    live.until_phase("set")
    for _ in range(10):
        frozen(live, 3.5)
    assert live.phase == "set"


def test_nothing_is_shown_or_heard_before_it_is_kept() -> None:
    live = rig()
    heard: list[tuple[str, int]] = []
    live.driver.listen(lambda shown: heard.append((shown[-1].event.name, len(live.store.kept))))
    live.go_on()
    live.go_on()
    live.until_phase("set")
    live.go_on()
    assert heard == [("begun", 2), ("resting", 3), ("started", 4), ("resting", 6)]
    assert [event.name for _, event in live.store.kept] == live.names
    assert all(one.kept for one in live.shown)


def test_what_could_not_be_kept_says_so_and_is_tried_again_in_order() -> None:
    live = rig()
    live.store.broken = True
    live.go_on()
    assert [one.kept for one in live.shown] == [True, False]
    assert live.keeper.lost
    assert live.keeper.trouble == "record.db: the disk is full"
    live.go_on()
    assert live.phase == "rest"  # the session goes on
    live.store.broken = False
    live.go_on(cmd.Note("again"))
    assert live.shown[-1].kept
    assert not live.keeper.lost
    assert live.keeper.trouble is None
    assert live.keeper.news() == "Kept now: 2 events"
    assert live.keeper.news() is None  # said once
    assert [number for number, _ in live.store.kept] == [1, 2, 3, 4]
    assert [event.name for _, event in live.store.kept] == live.names


def test_a_refusal_keeps_and_shows_nothing() -> None:
    live = rig()
    before = live.driver.state
    with pytest.raises(Refused, match="no rest"):
        live.go_on(cmd.Ask(15))
    with pytest.raises(Refused):
        live.go_on(cmd.Skip())
    assert live.driver.state == before
    assert live.names == ["opened"]


def test_an_hour_in_under_a_second_and_its_replay() -> None:
    live = rig("plans/kestrel-hut.toml", "A")
    began = time.process_time()
    whole(live, 40.0)
    took = time.process_time() - began
    assert live.clock.seconds > 2900
    assert took < 1.0
    state = live.driver.state
    assert state.complete
    kept = [event for _, event in live.store.kept]
    assert replay(state.workout, state.baseline, kept) == state
    assert Counter(live.player.cues) == wanted_cues(live)
    assert max(late for _, _, late in live.player.asked) <= 0.002


def test_an_answer_to_advice_is_tried_again_until_it_is_on_file() -> None:
    """The writer's thread writes it, and says the first time that it could not."""
    live, tries, heard, written = rig(), [], [], threading.Event()

    def write(to: object) -> None:
        assert to is live.store
        assert threading.current_thread().name == "writer"
        tries.append(to)
        if len(tries) <= 2:
            raise OSError("locked")
        written.set()

    keeper = Keeper(
        live.store, SessionInfo.opened(datetime.now(UTC), live.driver.state.workout, "", "A")
    )
    keeper.beside(lambda: live.store, lambda: None)
    keeper.agree(PendingAnswer(write, heard.append))
    assert written.wait(30)
    keeper.close()
    assert [str(one) for one in heard] == ["locked", "None"]
    assert keeper.settled
    assert not keeper.lost
