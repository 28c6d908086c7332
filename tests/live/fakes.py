"""A session on manual time, with a player that remembers and a store that can fail."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from runner.errors import Exit, MatsideError
from runner.law.workout import Workout
from runner.live.driver import Driver, Keeper, SettledEvent
from runner.live.sound_controls import Speaker
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.progress.adjust import Baseline
from runner.record.rows import SessionInfo
from runner.session import verb as cmd
from runner.session.apply import initial
from runner.session.events import Event
from runner.session.phrases import Mode
from runner.session.state import State
from runner.testing import ManualClock

ROOT = Path(__file__).parents[2]


@dataclass
class CuePlayer:
    """Remembers cues: (clock seconds at which they were due, name, seconds late)."""

    clock: ManualClock
    asked: list[tuple[float, str, float]] = field(default_factory=list)
    lead_s: float = 0.0

    def play(self, name: str, late_s: float = 0.0) -> None:
        self.asked.append((round(self.clock.seconds - late_s, 3), name, round(late_s, 3)))

    def cut(self, name: str) -> None:
        """It sounds at once."""

    @property
    def cues(self) -> list[tuple[float, str]]:
        return [(at, name) for at, name, _ in self.asked]


@dataclass
class Speech:
    """Says phrases of so many seconds a letter and remembers them: (clock seconds, text)."""

    clock: ManualClock
    letter_s: float = 0.07
    started: int = 0
    wanted: list[str] = field(default_factory=list)
    said: list[tuple[float, str]] = field(default_factory=list)
    missing: set[str] = field(default_factory=set)  # not rendered yet
    hushed: list[float] = field(default_factory=list)

    def start(self) -> None:
        self.started += 1

    def want(self, texts: Iterable[str], *, soon: bool = False) -> None:
        del soon
        self.wanted += texts

    def length(self, text: str) -> float | None:
        assert text in self.wanted, "it has to be rendered before"
        return None if text in self.missing else self.lasts(text)

    def lasts(self, text: str) -> float:
        return round(len(text) * self.letter_s, 3)

    def coming(self, text: str) -> bool:
        return text in self.missing

    def say(self, text: str) -> None:
        assert text not in self.missing
        self.said.append((round(self.clock.seconds, 3), text))

    def hush(self) -> None:
        """Cut what is in its quiet lead; what sounds already was heard."""
        self.hushed.append(round(self.clock.seconds, 3))

    @property
    def texts(self) -> list[str]:
        return [text for _, text in self.said]


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

    def acknowledge(self, *_: object) -> None:
        self._work()

    def close(self) -> None:
        """There is nothing to close."""

    def _work(self) -> None:
        self.clock.advance(self.slow_s)
        if self.broken:
            raise MatsideError("record.db: the disk is full", code=Exit.IO)


@dataclass
class Rig:
    """A driver and everything around it."""

    clock: ManualClock
    player: CuePlayer
    store: Store
    keeper: Keeper
    driver: Driver
    shown: list[SettledEvent] = field(default_factory=list)
    speech: Speech = field(default_factory=lambda: Speech(ManualClock()))

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


def rig(plan: str = "plans/demo.toml", session: str = "demo", mode: Mode | None = None) -> Rig:
    """A new session of a plan, opened at second 0; with a `mode` it speaks."""
    text = (ROOT / plan).read_text(encoding="utf-8")
    return rig_of(compile_session(parse_plan(text, plan), session), text=text, mode=mode)


def rig_of(
    workout: Workout,
    *,
    text: str = "",
    baseline: Baseline | None = None,
    mode: Mode | None = None,
    lead_s: float = 0.0,
) -> Rig:
    """A new session, opened at second 0."""
    clock = ManualClock()
    player, store, speech = CuePlayer(clock, lead_s=lead_s), Store(clock), Speech(clock)
    info = SessionInfo.opened(clock.local(), workout, text, "Ada")
    keeper = Keeper(store, info)
    driver = Driver(
        initial(workout, baseline or Baseline()),
        keeper=keeper,
        clock=clock,
        player=player,
        origin=clock.now(),
        speaker=None if mode is None else Speaker(speech, mode),
    )
    made = Rig(clock, player, store, keeper, driver, speech=speech)
    driver.listen(made.shown.extend)
    driver.open()
    return made
