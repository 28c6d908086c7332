"""Somebody who watches a rehearsal: the app without a terminal, on time that only tests move."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

from textual.pilot import Pilot

from runner.live.clock import FastClock
from runner.live.rehearsal import prepare_rehearsal
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.record.record import Record
from runner.screen.paint import Mat
from runner.screen.rehearsal_app import Banner, RehearsalApp
from runner.session.state import State
from runner.sound.player import Player
from runner.testing import ManualClock
from tests.screen.piloted import piloted


class Listener(Player):
    """A player that notes when it was asked for what: (real second, cue, seconds late)."""

    def __init__(self, app: RehearsalApp, real: ManualClock) -> None:
        self.__dict__.update(app.hearing.player.__dict__)
        self._real = real
        self.asked: list[tuple[float, str, float]] = []

    def play(self, name: str, late_s: float = 0.0) -> None:
        self.asked.append((self._real.seconds, name, late_s))


@dataclass
class Watcher:
    app: RehearsalApp
    real: ManualClock
    pilot: Pilot[int]
    heard: Listener
    drawn: list[str] = field(default_factory=list)

    @property
    def state(self) -> State:
        assert self.app.controller.live is not None
        return self.app.controller.live.driver.state

    @property
    def second(self) -> float:
        assert self.app.controller.live is not None
        return self.app.controller.live.driver.now()

    async def wait(self, seconds: float) -> None:
        """Let real time pass, and the app look at it."""
        self.real.advance(seconds)
        self.app._ring()
        await self.pilot.pause()

    async def go(self, phase: str) -> None:
        """Let the app ring its own alarms until a phase has come."""
        for _ in range(20_000):
            if self.state.phase == phase:
                return
            assert self.app.controller.live is not None
            wake = self.app.controller.live.driver.seconds_to_wake()
            assert wake is not None
            self.real.advance(max(wake / self.app.clock.speed, 0.0005))
            self.app._ring()
        raise AssertionError(f"{phase} never came")

    async def press(self, *keys: str) -> None:
        """Presses a second of real time apart; time does not pass for the rehearsal meanwhile."""
        for key in keys:
            await self.wait(1.0)
            await self.pilot.press(key)
        await self.pilot.pause()

    @property
    def text(self) -> str:
        mat = self.app.screen_stack[0].query_one(Mat)
        return "\n".join(mat.render_line(y).text.rstrip() for y in range(mat.size.height))

    @property
    def top(self) -> str:
        """The top row of what is on the screen, as the terminal gets it."""
        return self.over.split("\n")[0]

    @property
    def over(self) -> str:
        return "\n".join(
            "".join(segment.text for segment in strip)
            for strip in self.app.screen._compositor.render_strips()
        )

    @property
    def banners(self) -> list[str]:
        return [str(b.render()) for b in self.app.screen.query(Banner)]


@asynccontextmanager
async def watching(
    data: Path,
    plan: str = "demo",
    session: str = "demo",
    *,
    speed: float = 20,
    size: tuple[int, int] = (80, 24),
) -> AsyncIterator[Watcher]:
    """The app on its ready sheet."""
    found = read_plan(find_plan(plan, data))
    workout = compile_session(found, session)
    path = data / ("trial.db" if found.trial else "record.db")
    with Record.open_readonly(path) as record:
        baseline = record.baseline("Ada", workout)
    real = ManualClock()
    clock = FastClock(real, speed)
    opening = prepare_rehearsal(workout, baseline, path=path, trainee="Ada", clock=clock)
    with patch("runner.screen.app.SOUND_LOOK", 3600.0):
        app = RehearsalApp(opening, mute=True)
        app.hearing.player = heard = Listener(app, real)
        async with piloted(app, size) as pilot:
            yield Watcher(app, real, pilot, heard)
    opening.record.close()
