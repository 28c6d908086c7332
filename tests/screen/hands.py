"""The whole app without a terminal: keys in, drawn rows out, on a clock that only tests move."""

from __future__ import annotations

import csv
import io
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from textual.pilot import Pilot

from runner.live.session_setup import prepare
from runner.live.sound_controls import SoundOptions
from runner.record.csvfile import write_csv
from runner.screen.app import LiveApp
from runner.screen.paint import Mat
from runner.session.state import State
from runner.testing import ManualClock
from tests.screen.piloted import piloted

ROOT = Path(__file__).parents[2]
EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"
DESIGN = (80, 24)


@dataclass
class Hands:
    """Somebody at the keys; every press comes `pause` seconds after the one before."""

    app: LiveApp
    clock: ManualClock
    pilot: Pilot[int]
    pause: float = 1.0

    @property
    def state(self) -> State:
        assert self.app.controller.live is not None
        return self.app.controller.live.driver.state

    async def wait(self, seconds: float) -> None:
        """Let time pass, and the app look at it."""
        self.clock.advance(seconds)
        if self.app.controller.live is not None:
            self.app.controller.tick()
            self.app.refresh_view()

    async def press(self, *keys: str) -> None:
        for key in keys:
            await self.wait(self.pause)
            await self.pilot.press(key)
        await self.pilot.pause()

    async def write(self, text: str) -> None:
        """Type a text into a dialog, and enter."""
        await self.pilot.press(*(_KEYS.get(sign, sign) for sign in text))
        await self.press("enter")

    async def hold(self, key: str, repeats: int = 12) -> None:
        """Keep a key down: one press, then after 500 ms one every 33 ms."""
        await self.press(key)
        self.clock.advance(0.467)
        for _ in range(repeats):
            self.clock.advance(0.033)
            await self.pilot.press(key)

    async def until(self, phase: str) -> None:
        """Let time pass until the clock has brought a phase about."""
        assert self.app.controller.live is not None
        for _ in range(20):
            if self.state.phase == phase:
                return
            await self.wait(self.app.controller.live.driver.seconds_to_wake() or 0.0)
        raise AssertionError(f"{phase} never came; it is {self.state.phase}")

    async def do_set(self, *keys: str, lasts: float = 12.0) -> None:
        """Wait for the next set, do it, end it, and type what is to be typed."""
        await self.until("set")
        await self.wait(lasts)
        await self.press("space", *keys)

    @property
    def rows(self) -> list[str]:
        """What is drawn on the mat, row by row."""
        mat = self.app.screen_stack[0].query_one(Mat)
        return [mat.render_line(y).text for y in range(mat.size.height)]

    @property
    def text(self) -> str:
        return "\n".join(row.rstrip() for row in self.rows)

    @property
    def over(self) -> str:
        """What is written on the page or dialog that lies over the mat."""
        return "\n".join(
            "".join(segment.text for segment in strip)
            for strip in self.app.screen._compositor.render_strips()
        )

    @property
    def csv(self) -> list[dict[str, str]]:
        assert self.app.controller.live is not None
        out = io.StringIO(newline="")
        write_csv(self.app.controller.live.rows(), out)
        return list(csv.DictReader(io.StringIO(out.getvalue(), newline="")))


_KEYS = {
    " ": "space",
    "=": "equals_sign",
    ".": "full_stop",
    ",": "comma",
    "[": "left_square_bracket",
}


@asynccontextmanager
async def at_the_mat(
    data: Path,
    plan: Path | str = "demo",
    *,
    size: tuple[int, int] = DESIGN,
    yes: bool = True,
    resume: bool | None = None,
    clock: ManualClock | None = None,
    within: float | None = None,
    session: str | None = None,
) -> AsyncIterator[Hands]:
    """The app on the ready sheet of a plan, without sound."""
    clock = clock or ManualClock()
    opening = prepare(str(plan), data=data, trainee="Ada", clock=clock, session=session)
    opening.within = within
    with patch("runner.screen.app.SOUND_LOOK", 3600.0):
        app = LiveApp(opening, resume=resume, yes=yes, wanted=SoundOptions(mute=True))
        async with piloted(app, size) as pilot:
            yield Hands(app, clock, pilot)
    opening.record.close()


async def to_first_rest(hands: Hands) -> None:
    """Begin, and leave the warm-up."""
    await hands.press("space", "space")
    assert hands.state.phase == "rest"
