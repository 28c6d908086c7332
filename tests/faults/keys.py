"""Random keys at the screen without a terminal, on a clock that moves between them."""

from __future__ import annotations

import asyncio
import random
from pathlib import Path

from runner.live.driver import SettledEvent
from runner.screen.keys import KEYED
from tests.faults.frame import Fault, Outcome
from tests.faults.hand import events_of, integrity
from tests.faults.storage import DATABASE
from tests.kill.plan import PLAN
from tests.screen.hands import at_the_mat

KEYS_A_RUN = 50
USUAL = ("space", "space", "space", "1", "2", "enter", "enter")
OTHERS = (
    "escape",
    "tab",
    "backspace",
    "y",
    "n",
    "slash",
    "up",
    "down",
    "home",
    "delete",
    "ctrl+q",
    "ctrl+p",
    "f1",
    "pageup",
    "pagedown",
    "left",
    "right",
    "f5",
    "shift+tab",
    "a",
    "ctrl+a",
    "Z",
    "minus",
    "plus",
    "left_square_bracket",
    "ctrl+d",
    "insert",
    "alt+x",
    "8",
)


def random_keys(seed: int, folder: Path) -> Outcome:
    """So many keys; a session that they close is followed by another."""
    plan = folder / "hurry.toml"
    plan.write_text(PLAN, encoding="utf-8")
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    outcome, left = Outcome(), KEYS_A_RUN
    while left > 0:
        left = asyncio.run(_sit(rng, plan, folder / "data", left, outcome))
    if integrity(folder / "data" / DATABASE) != "ok":
        outcome.lost.append(integrity(folder / "data" / DATABASE))
    return outcome


async def _sit(rng: random.Random, plan: Path, data: Path, left: int, outcome: Outcome) -> int:
    """One session, until it is closed or the keys are spent; how many are left."""
    known = (*OTHERS, *(key for action in KEYED for key in action.keys))
    told: list[SettledEvent] = []
    async with at_the_mat(data, plan, resume=False) as hands:
        assert hands.app.controller.live is not None
        hands.app.controller.live.driver.listen(told.extend)
        info = hands.app.controller.live.info
        # These sessions need no power cut to be survived, and a disk's sync takes real time.
        hands.app.controller.opening.record._connection.execute("PRAGMA synchronous = OFF")
        while left > 0 and hands.state.phase != "closed" and hands.app.is_running:
            key = rng.choice(USUAL if rng.random() < 0.5 else known)
            left -= 1
            hands.clock.advance(rng.choice([0.0, 0.03, 0.2, 0.9, 2.0]))
            hands.app.controller.live.driver.tick()
            await hands.pilot.press(key)
        await hands.pilot.pause()
    there = events_of(data / DATABASE, info.id)[1:]  # the first was told before anybody listened
    outcome.acknowledged += len(told)
    if [one.event.name for one in told] != [event.name for event in there]:
        outcome.lost.append(f"told {len(told)} events, on file {len(there)}")
    outcome.lost += [f"told as not kept: {one.event}" for one in told if not one.kept]
    outcome.notes.append(f"session left in the phase {hands.state.phase}")
    return left


FAULTS = (
    Fault("random keys without a terminal", f"{KEYS_A_RUN} a run through the screen, every action",
          random_keys, 200, 1, alone=True),
)  # fmt: skip
