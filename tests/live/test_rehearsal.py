"""The rehearsed session without a screen: the forecast's events, the timeline's cues, jumps."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st
from msgspec.structs import replace

from runner.law.workout import Workout
from runner.live.clock import FastClock
from runner.live.rehearsal import LEAD_S, RehearsedDriver, prepare_rehearsal
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan, read_whole
from runner.planning import forecast
from runner.progress.adjust import Baseline
from runner.reports.timeline import as_data
from runner.session import verb as cmd
from runner.session.events import Event, Started
from runner.testing import ManualClock
from tests.oracle.cues import expected_cues

ROOT = Path(__file__).parents[2]
PLANS = {
    "B": ROOT / "plans" / "kestrel-hut.toml",
    "A": ROOT / "tests" / "data" / "every-key.toml",
    "demo": ROOT / "plans" / "demo.toml",
}


@dataclass
class Watched:
    """A rehearsal on manual time, and what was heard in it: (session second, cue)."""

    real: ManualClock
    clock: FastClock
    driver: RehearsedDriver
    asked: list[tuple[float, str]] = field(default_factory=list)
    late: list[float] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)

    def play(self, name: str, late_s: float = 0.0) -> None:
        self.late.append(late_s)
        self.asked.append((self.driver.now() - late_s * self.clock.speed, name))

    def go(self, *, late_s: float = 0.0, to: str = "closed", until: float = 1e9) -> None:
        """Let real time pass as a screen does, every wake `late_s` real seconds late."""
        while self.driver.state.phase != to and self.driver.now() < until:
            wait = self.driver.seconds_to_wake()
            assert wait is not None
            self.real.advance(wait / self.clock.speed + late_s)
            self.driver.tick()


def watched(
    session: str = "B", speed: float = 60.0, baseline: Baseline | None = None, tempo: str = ""
) -> Watched:
    path = PLANS[session]
    workout = compile_session(parse_plan(path.read_text(encoding="utf-8"), path.name), session)
    if tempo:
        workout = at_a_tempo(workout, tempo)
    real = ManualClock()
    real.advance(17.25)
    clock = FastClock(real, speed)
    opening = prepare_rehearsal(
        workout, baseline or Baseline(), path=Path("nowhere"), trainee="Ada", clock=clock
    )
    made = Watched(real, clock, None)  # type: ignore[arg-type]
    driver = opening.begin(made).driver
    assert isinstance(driver, RehearsedDriver)
    made.driver = driver
    driver.listen(lambda shown: made.events.extend(one.event for one in shown))
    driver.open()
    driver.send(cmd.Proceed())
    opening.record.close()
    return made


def oracle(session: str) -> list[tuple[float, str]]:
    path = PLANS[session]
    text = read_whole(path)[1]  # with what it takes from the shelf
    workout = compile_session(parse_plan(text, path.name), session)
    return expected_cues(as_data(workout, Baseline()), text)


def close_to(cues: list[tuple[float, str]]) -> list[tuple[object, str]]:
    return [(pytest.approx(at, abs=0.01), name) for at, name in cues]


@pytest.mark.parametrize("session", PLANS)
@pytest.mark.parametrize("late_s", [0.0, 0.004, 0.25])
def test_every_cue_of_the_timeline_is_asked_for_once_at_its_instant(
    session: str, late_s: float
) -> None:
    here = watched(session)
    here.go(late_s=late_s)
    wanted = oracle(session)
    # By time first: cues of one wake are asked for in their order, but never twice.
    assert sorted(here.asked) == close_to(sorted(wanted))
    assert len(here.asked) == len(wanted)
    assert all(0 <= late <= late_s + 0.002 for late in here.late)


def test_the_events_are_those_of_the_forecast() -> None:
    here = watched("B")
    here.go(late_s=0.01)
    steps = [s for s in forecast.session_steps(here.driver.state.workout) if s.kind == "set"]
    rows = [(row.start, row.end) for row in here.driver.state.rows]
    assert rows == [(pytest.approx(s.start), pytest.approx(s.end)) for s in steps]
    assert here.driver.state.complete is True


def at_a_tempo(workout: Workout, tempo: str) -> Workout:
    """Everything at this tempo, and expected to take as long as before."""
    exercises = {
        name: replace(
            one, progression=tuple(replace(level, tempo=tempo) for level in one.progression)
        )
        for name, one in workout.exercises.items()
    }
    return replace(workout, exercises=exercises)


def test_the_pacer_ticks_in_a_rehearsal_unless_it_would_rattle() -> None:
    here = watched("B", speed=1, tempo="2-0-1")
    here.driver.pace(on=True)
    here.go()
    ticks = [round(at, 3) for at, name in here.asked if name == "tick"]
    state = here.driver.state
    sets = [row for row in state.rows if state.exercise(row).measure == "reps"]
    due = [
        row.start + 3.0 * number + phase
        for row in sets
        for number in range(60)
        for phase in (0.0, 2.0)
        if row.start is not None and row.end is not None
        if 0 < 3.0 * number + phase < row.end - row.start
    ]
    assert len(due) > 100
    assert ticks == [pytest.approx(at, abs=0.01) for at in due]
    assert sorted(one for one in here.asked if one[1] != "tick") == close_to(sorted(oracle("B")))
    fast = watched("B", speed=20, tempo="2-0-1")
    fast.driver.pace(on=True)
    fast.go()
    assert {name for _, name in fast.asked} == {name for _, name in oracle("B")}


def test_lateness_is_that_of_real_time() -> None:
    here = watched("B", speed=20)
    here.real.advance(0.5)  # ten seconds of the rehearsal, half a real one
    here.driver.tick()
    here.go(to="rest")
    assert here.late[-1] == pytest.approx(0, abs=0.001)
    here.real.advance((here.driver.seconds_to_wake() or 0) / 20 + 0.31)
    here.driver.tick()
    late = (0.31, 0.26, 0.21, 0.16)  # the count-down and the start, a second of twenty apart
    assert here.late[-4:] == [pytest.approx(x, abs=0.002) for x in late]


def test_to_the_next_set_and_the_set_before() -> None:
    here = watched("B")
    starts = [s.start for s in forecast.session_steps(here.driver.state.workout) if s.kind == "set"]
    here.clock.stand_still(still=True)
    here.asked.clear()
    for start in starts[:5]:
        assert here.driver.to_next_set()
        assert here.driver.now() == pytest.approx(start - LEAD_S, abs=0.002)
        assert here.driver.state.phase == "rest"
    assert here.asked == []  # a jump makes no sound
    for start in reversed(starts[:4]):
        assert here.driver.to_set_before()
        assert here.driver.now() == pytest.approx(start - LEAD_S, abs=0.002)
        assert here.driver.state.phase == "rest"
    assert here.driver.to_set_before()  # before the first set lies the warm-up
    assert (here.driver.state.phase, here.driver.now()) == ("warm-up", 0.0)
    here.clock.stand_still(still=False)
    here.go()
    once_each = sorted(oracle("B")[1:])  # it stands after the begin
    assert sorted(here.asked) == close_to(once_each)
    assert not here.driver.to_next_set()
    assert here.driver.to_set_before()
    assert here.driver.state.phase == "rest"


def test_a_rest_shorter_than_the_lead_is_entered_at_its_begin() -> None:
    here = watched("A")  # gaps of a second between the sides
    here.clock.stand_still(still=True)
    while here.driver.state.running is None or here.driver.state.running.side != "left":
        here.clock.stand_still(still=False)
        here.go(to="set")
        if here.driver.state.running is not None and here.driver.state.running.side == "left":
            break
        here.go(to="rest")
    end = here.driver.next_wake() or 0.0
    assert here.driver.to_next_set()
    assert here.driver.now() == pytest.approx(end, abs=0.002)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.sampled_from(["next", "before", "on", "faster"]), max_size=12))
def test_whatever_way_leads_there_the_session_stands_as_on_the_straight_way(
    ways: list[str],
) -> None:
    here = watched("A", speed=10)
    for way in ways:
        if way == "next":
            here.driver.to_next_set()
        elif way == "before":
            here.driver.to_set_before()
        elif way == "faster":
            here.clock.run_at(here.clock.speed + 1)
        else:
            here.real.advance(0.37)
            here.driver.tick()
    now = here.driver.now()
    straight = watched("A", speed=1)
    if now > 0:
        straight.real.advance(now)
        straight.driver.tick()
    mine, theirs = here.driver.state, straight.driver.state
    assert mine.phase == theirs.phase
    assert [(r.index, r.side, r.status) for r in mine.rows] == [
        (r.index, r.side, r.status) for r in theirs.rows
    ]
    assert [r.start for r in mine.rows] == pytest.approx([r.start for r in theirs.rows])


def test_after_an_undo_the_set_ends_again() -> None:
    here = watched("demo")
    here.go(to="set")
    here.go(to="rest")
    here.driver.send(cmd.Undo())
    here.go()
    assert here.driver.state.complete is True
    assert sum(isinstance(e, Started) for e in here.events) == 7
