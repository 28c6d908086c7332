"""A session on manual time, with a voice that remembers and a store that can fail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from runner.core.memory import Memory
from runner.core.session import commands as cmd, decide
from runner.core.session.events import Event
from runner.core.session.state import State
from runner.errors import Exit, MatsideError
from runner.live.clock import ManualClock
from runner.live.driver import Driver, Shown
from runner.live.keeper import Keeper
from runner.plan.compile import compile_session
from runner.plan.read import parse_plan
from runner.record.info import SessionInfo

ROOT = Path(__file__).parents[2]


@dataclass
class Voice:
    """Remembers cues: (clock seconds at which they were due, name, seconds late)."""

    clock: ManualClock
    asked: list[tuple[float, str, float]] = field(default_factory=list)

    def play(self, name: str, late_s: float = 0.0) -> None:
        self.asked.append((round(self.clock.seconds - late_s, 3), name, round(late_s, 3)))

    @property
    def cues(self) -> list[tuple[float, str]]:
        return [(at, name) for at, name, _ in self.asked]


@dataclass
class Store:
    """Keeps events in a list, fails while `broken`, and takes `slow_s` for each commit."""

    clock: ManualClock
    broken: bool = False
    slow_s: float = 0.0
    started: list[str] = field(default_factory=list)
    kept: list[tuple[int, Event]] = field(default_factory=list)

    def start(self, info: SessionInfo) -> None:
        self._work()
        self.started.append(info.id)

    def append(self, session_id: str, events: Sequence[tuple[int, Event]], state: State) -> None:
        self._work()
        assert session_id in self.started
        assert state.log[-1] == events[-1][1]  # the state after the last of them
        self.kept += events

    def _work(self) -> None:
        self.clock.advance(self.slow_s)
        if self.broken:
            raise MatsideError("record.db: the disk is full", code=Exit.IO)


@dataclass
class Rig:
    """A driver and everything around it."""

    clock: ManualClock
    voice: Voice
    store: Store
    keeper: Keeper
    driver: Driver
    shown: list[Shown] = field(default_factory=list)

    @property
    def phase(self) -> str:
        return self.driver.state.phase

    @property
    def names(self) -> list[str]:
        return [one.event.name for one in self.shown]

    def go_on(self, command: cmd.Command | None = None) -> None:
        self.driver.send(command or cmd.Proceed())

    def until(self, at: float) -> None:
        """Let time pass to an instant as a face does: from one wake to the next."""
        while True:
            self.driver.tick()
            wait = self.driver.seconds_to_wake()
            left = at - self.clock.seconds
            if wait is None or wait >= left:
                break
            self.clock.advance(wait)
        self.clock.advance(max(left, 0.0))
        self.driver.tick()

    def until_phase(self, phase: str) -> None:
        """Let time pass until it has brought a phase about."""
        self.driver.tick()
        while self.phase != phase:
            wait = self.driver.seconds_to_wake()
            assert wait is not None, f"nothing leads from {self.phase} to {phase}"
            self.clock.advance(wait)
            self.driver.tick()


def rig(plan: str = "plans/demo.toml", session: str = "demo") -> Rig:
    """A new session of a plan, opened at second 0."""
    text = (ROOT / plan).read_text(encoding="utf-8")
    workout = compile_session(parse_plan(text, plan), session)
    clock = ManualClock()
    voice, store = Voice(clock), Store(clock)
    info = SessionInfo.opened(clock.local(), workout, text, "Ada")
    keeper = Keeper(store, info)
    state = decide.initial(workout, Memory())
    driver = Driver(state, keeper=keeper, clock=clock, voice=voice, origin=clock.now())
    made = Rig(clock, voice, store, keeper, driver)
    driver.listen(made.shown.extend)
    driver.open()
    return made
