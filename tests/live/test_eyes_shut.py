"""A whole session with closed eyes: at each moment a listener knows what he must know.

The listener and what he must know stand in `tests/oracle/listener.py`, which imports nothing of the
program. Here the session is walked, and its state turned into the moments that he is held against.
"""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from msgspec.structs import replace

from runner.law.workout import Workout
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.progress.adjust import Baseline, beat_key
from runner.session import verb as cmd
from runner.session.events import Undone
from runner.session.state import State
from runner.sound.sounds import CUES
from tests.live.fakes import ROOT, Rig, rig_of
from tests.live.test_speaker import BASELINE, hut
from tests.oracle.listener import Listener, Moment, ignorance

STEP_S = 0.5


def shipped(plan: str, session: str) -> Workout:
    text = (ROOT / "plans" / f"{plan}.toml").read_text(encoding="utf-8")
    return compile_session(parse_plan(text, plan), session)


def moment(state: State, at: float) -> Moment:
    """What is so, in plain values."""

    def named(exercise: str) -> str:
        return state.workout.exercises[exercise].name

    coming, hold = state.coming, False
    target: tuple[float, ...] = ()
    beat: float | None = None
    if coming is not None:
        planned_set, side = coming
        exercise = state.workout.exercises[planned_set.exercise]
        beat = state.baseline.to_beat.get(
            beat_key(planned_set.exercise, planned_set.level, planned_set.number, side)
        )
        beat = None if planned_set.kind == "ramp" else beat
        target = tuple(dict.fromkeys(exercise.rep_range)) if beat is None else (beat,)
        hold = exercise.measure == "hold"
    open_row = state.open_rows[0] if state.open_rows else None
    return Moment(
        at=at,
        phase=state.phase,
        due=None if coming is None else (named(coming[0].exercise), coming[1], coming[0].number),
        target=target,
        beat=beat is not None,
        hold=hold,
        missing=None
        if open_row is None
        else (named(open_row.planned_set.exercise), open_row.side, open_row.planned_set.number),
        rest_s=(state.until or at) - (state.rest_from or 0.0) if state.phase == "rest" else 0.0,
        until=state.until,
        undone=bool(state.log) and isinstance(state.log[-1], Undone),
    )


class Walk:
    """A session on manual time, and a listener who hears it."""

    def __init__(self, workout: Workout, baseline: Baseline, *, voice: bool) -> None:
        self.live: Rig = rig_of(workout, baseline=baseline, mode="on" if voice else None)
        self.voice = voice
        names = {e.name: (e.name, e.short.lower()) for e in workout.exercises.values()}
        self.ears = Listener(names)
        self.heard = [0, 0]
        self.since = 0.0
        self.was: object = None
        self.faults: list[str] = []
        self.false: list[str] = []

    def until(self, at: float) -> None:
        """Let time pass in small steps, and hold what is known against what is so."""
        live = self.live
        while live.clock.seconds < at - 1e-6:
            live.until(min(live.clock.seconds + STEP_S, at))
            self.look()

    def look(self) -> None:
        live = self.live
        state, now = live.driver.state, live.clock.seconds
        cues, said = live.player.cues[self.heard[0] :], live.speech.said[self.heard[1] :]
        self.heard = [len(live.player.cues), len(live.speech.said)]
        # Heard with their ends: what is cut before is not.
        items = [(at, "", name) for at, name in cues] + [(at, text, "") for at, text in said]
        for at, text, name in sorted(items):
            self.ears.cue(at, name) if name else self.ears.phrase(text)
        here = moment(state, now)
        key = (here.phase, here.due, len(state.log))
        if key != self.was:
            self.since, self.was = now, key
        wrong = ignorance(self.ears, dataclasses.replace(here, since=self.since), voice=self.voice)
        if wrong:
            self.faults.append(f"{now:.2f} {wrong}")
        for _, text, name in items:
            if not name and not true_now(text, here):
                self.false.append(f"{now:.2f} {text!r} in {here}")

    def go_on(self, command: cmd.Command | None = None) -> None:
        self.live.go_on(command)
        self.look()

    def to_set(self) -> None:
        while self.live.phase != "set":
            self.until(self.live.clock.seconds + STEP_S)


def true_now(text: str, now: Moment) -> bool:
    """Whether a phrase is true when it is said."""
    if text == "paused":
        return now.phase == "paused"
    if text.startswith("next, ") or text.endswith(" goes on"):
        return now.due is not None and now.due[0] in text
    if text.endswith("how many?"):
        return now.missing is not None and now.missing[0] in text
    if text == "all done, press to close":
        return now.phase == "wrap-up" and now.missing is None
    return True


Does = Callable[[Walk, int], None]


def count_it(walk: Walk, after: float = 3.0) -> None:
    """Type the oldest count, so long after the end of its set."""
    state = walk.live.driver.state
    if state.open_rows:
        walk.until(walk.live.clock.seconds + after)
        row = walk.live.driver.state.open_rows[0]
        measure = walk.live.driver.state.exercise(row).measure
        walk.go_on(cmd.Enter(measure, (cmd.Count(4),)))


def nothing(walk: Walk, number: int) -> None:
    count_it(walk)


def counts_late(walk: Walk, number: int) -> None:
    """Now and then a count is forgotten, so that the older ones are asked for."""
    if number % 3 == 2:
        while walk.live.driver.state.open_rows and walk.live.phase != "set":
            count_it(walk, 1.0)


def pauses(walk: Walk, number: int) -> None:
    count_it(walk)
    walk.until(walk.live.clock.seconds + 1.0)
    if walk.live.phase == "rest":
        walk.go_on(cmd.Pause())
        walk.until(walk.live.clock.seconds + (1.0 if number % 2 else 12.0))
        walk.go_on()
        walk.until(walk.live.clock.seconds + 4.0)


def changes(walk: Walk, number: int) -> None:
    """Skip, drop, undo, redo, each now and then, and always taken back."""
    count_it(walk)
    walk.until(walk.live.clock.seconds + 1.0)
    if walk.live.phase != "rest":
        return
    act = (cmd.Skip(), cmd.Drop(), cmd.Undo(), cmd.Ask(15.0))[number % 4]
    walk.go_on(act)
    walk.until(walk.live.clock.seconds + (0.5 if number % 3 else 7.0))
    if not isinstance(act, cmd.Undo):
        walk.go_on(cmd.Undo())
        walk.until(walk.live.clock.seconds + 7.0)
    elif number % 8 == 2:
        walk.go_on(cmd.Redo())
        walk.until(walk.live.clock.seconds + 7.0)
    else:
        count_it(walk)


def ends_again(walk: Walk, number: int) -> None:
    """The key came too early: the end is taken back and the set goes on."""
    if number % 2 == 0 and walk.live.phase in ("rest", "wrap-up"):
        walk.until(walk.live.clock.seconds + 4.0)
        walk.go_on(cmd.Undo())
        walk.until(walk.live.clock.seconds + 8.0)
        if walk.live.phase == "set":
            walk.go_on()
    count_it(walk)


DOES: dict[str, Does] = {
    "as planned": nothing,
    "counts late": counts_late,
    "pauses": pauses,
    "changes": changes,
    "ends again": ends_again,
}


def sessions() -> Iterator[tuple[str, Workout, Baseline]]:
    yield "demo", shipped("demo", "demo"), Baseline()
    yield "kestrel-hut", shipped("kestrel-hut", "B"), Baseline()
    yield (
        "hut",
        replace(hut(), warm_up=30.0, warm_up_moves=("Arm circles",), cool_down=20.0),
        BASELINE,
    )
    yield "without a cool-down", hut(), BASELINE


SESSIONS = {name: (plan, baseline) for name, plan, baseline in sessions()}


def whole(name: str, does: Does, *, voice: bool) -> Walk:
    """Every set 20 s long, or 8 s in the demo, whose rests are so short."""
    plan, baseline = SESSIONS[name]
    walk = Walk(plan, baseline, voice=voice)
    walk.until(2.0)
    walk.go_on()
    if walk.live.phase == "warm-up":
        walk.until(walk.live.clock.seconds + plan.warm_up + 4.0)
        walk.go_on()
    number = 0
    while walk.live.phase != "wrap-up":
        walk.to_set()
        walk.until(walk.live.clock.seconds + 20.0)
        walk.go_on()
        number += 1
        does(walk, number)
        if walk.live.phase == "set":
            walk.until(walk.live.clock.seconds + 20.0)
            walk.go_on()
    walk.until(walk.live.clock.seconds + plan.cool_down + 20.0)
    while walk.live.driver.state.open_rows:
        count_it(walk)
        walk.until(walk.live.clock.seconds + 8.0)
    walk.until(walk.live.clock.seconds + 6.0)
    walk.go_on()
    walk.until(walk.live.clock.seconds + 3.0)
    return walk


LONG = ("as planned", "changes")  # of a session of an hour; it has all that the others have
WALKS = [(n, d) for n in SESSIONS for d in DOES if n != "kestrel-hut" or d in LONG]


@pytest.mark.parametrize("voice", [True, False], ids=["voice", "cues alone"])
@pytest.mark.parametrize(("name", "does"), WALKS)
def test_at_each_moment_a_listener_knows_what_he_must(name: str, does: str, *, voice: bool) -> None:
    walk = whole(name, DOES[does], voice=voice)
    assert walk.live.phase == "closed"
    assert walk.faults == []
    assert walk.false == []
    assert len(walk.ears.done) == 1 or does == "changes", "only what was undone is done again"


@pytest.mark.parametrize("name", SESSIONS)
def test_done_is_heard_once_all_is_done_and_not_before_the_cool_down(name: str) -> None:
    walk = whole(name, DOES["as planned"], voice=False)
    plan = SESSIONS[name][0]
    shown = [one.event for one in walk.live.shown]
    last_set = max(event.at for event in shown if event.name == "ended")
    last_count = max(event.at for event in shown if event.name == "entered")
    (done,) = walk.ears.done
    assert done == pytest.approx(max(last_set + plan.cool_down, last_count), abs=0.01)


def test_every_move_of_warm_up_and_cool_down_is_said_in_its_time() -> None:
    walk = whole("kestrel-hut", DOES["as planned"], voice=True)
    said = walk.ears.told
    first = said.index("next, Split squat, left, without a load")
    plan = SESSIONS["kestrel-hut"][0]
    for move in plan.warm_up_moves:
        assert move.replace("10", "ten") in said[:first]
    sets_done = said.index("all sets done")
    for move in plan.cool_down_moves:
        assert move in said[sets_done:]


OWN = {
    "paused": "pause", "resumed": "resume", "skipped": "skip", "dropped": "drop",
    "undone": "undo", "redone": "redo", "begun": "begin",
}  # fmt: skip


def test_a_listener_who_hears_nothing_does_not_know() -> None:
    """The oracle can fail: in each phase something is missed by one who has heard nothing."""
    deaf = Listener({"Row": ("Row", "row")})
    for phase in ("warm-up", "rest", "set", "paused", "wrap-up", "closed"):
        assert ignorance(deaf, Moment(10.0, phase), voice=False)
    deaf.phases = frozenset({"rest", "set"})
    here = Moment(20.0, "set", ("Row", "left", 2), (8.0, 20.0), missing=("Row", "right", 1))
    assert "is thought to" in ignorance(deaf, here, voice=True)
    deaf.phrase("next, Row, left, four kilos")
    deaf.phases = frozenset({"set"})
    assert ignorance(deaf, here, voice=True) == "'aim for eight to twenty', and None is known"
    deaf.cue(1.0, "start")
    deaf.phrase("aim for eight to twenty")
    assert ignorance(deaf, here, voice=True) == ""
    deaf.cue(2.0, "ended")
    assert "has no count" in ignorance(deaf, dataclasses.replace(here, phase="rest"), voice=True)


@pytest.mark.parametrize("does", DOES)
def test_every_act_has_a_cue_of_its_own(does: str) -> None:
    walk = whole("kestrel-hut", DOES[does], voice=False)
    heard = dict(walk.live.player.cues)
    shown = [one.event for one in walk.live.shown]
    acts = {event.act: [e for e in shown if e.act == event.act] for event in shown}
    wanted: Counter[str] = Counter()
    for events in acts.values():
        names = {event.name for event in events}
        for name, cue in OWN.items():
            if name in names and not (name == "skipped" and "dropped" in names):
                wanted[cue] += 1
                # What leaves out the last set ends the session's work, and sounds so.
                assert heard[round(events[0].at, 3)] == (
                    "block" if "dropped" in names and "resting" not in names else cue
                )
    ended = {round(e.at, 3) for e in shown if e.name == "ended"}
    assert {heard[at] for at in ended} <= {"ended", "switch", "block"}
    typed = {round(e.at, 3) for e in shown if e.name == "entered" and e.by == "person"}
    assert {heard[at] for at in typed} <= {"logged", "done"}
    assert set(wanted) <= set(CUES)
    assert wanted["begin"] == 1
