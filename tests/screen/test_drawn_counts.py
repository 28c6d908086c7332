"""Sessions of random keys, with a model of the field beside them that imports nothing of it.

The model is written from the specification's table alone. It is told which sets are done and what
was kept, and sees each key. Every count in the record must then have been typed or stepped for that
very set, or taken from its suggestion; doubtful ones must have been asked for twice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from runner.live.driver import SettledEvent
from tests.plans import plan, versions
from tests.screen.hands import Hands, at_the_mat, to_first_rest

BOTTOM, TOP = 3, 5
MOST = 999  # more is refused
PLAN = plan(
    "Hut, drawn",
    {
        "press": {"name": "Press", "short": "PRESS", "version": versions("one", "two")},
        "row": {"name": "Row", "short": "ROW", "sides": "left first"},
    },
    {"warm_up": "30s", "block": [{"press": 7, "row": 7}]},
    timing={
        "recovery": "40s",
        "changeover": ["6s", "15s"],
        "block_rest": "10s",
        "side_gap": "4s",
        "position": "2s",
        "lead_in": "5s",
    },
    effort={"reps": [BOTTOM, TOP]},
)
KEYS = (
    *("space",) * 12, *("enter",) * 4, *("pagedown", "right") * 3, *("pageup", "left") * 2,
    *("full_stop", "b") * 4, *"3451234567890" * 2, "backspace", "u", "p", "plus",
    "m k escape", "m c escape", "m e escape",  # by the list; escape closes it if it still is open
)  # fmt: skip
GAPS = (0.1, 0.4, 0.8, 0.8, 0.8, 1.6, 2.2, 2.2, 5.0, 20.0)
MAIN = ("space", "pagedown", "right")
OUT = ("rest", "paused", "wrap-up")


def doubtful(count: int) -> bool:
    """Nobody has a best in a first session."""
    return count == 0 or count > 2 * TOP


@dataclass
class Box:
    """What the model knows of one set: what was typed for it, or opened and stepped."""

    text: str = ""
    opened: bool = False
    anew: bool = False  # the next digit starts a new number
    presses: int = 0  # to save just this


@dataclass
class Model:
    """The field as the specification has it."""

    boxes: dict[int, Box] = field(default_factory=dict)
    fix: Box | None = None
    fixes: int = 0  # the entry that a correction is for
    kept: list[tuple[int, int, int | None]] = field(default_factory=list)  # act, entry, count
    last: int = 0  # the entry counted last
    before: tuple[str, float] = ("", -9.0)
    typed: int = 0
    stepped: int = 0
    doubts: int = 0

    def key(self, key: str, at: float, phase: str, missing: Sequence[int], offered: int) -> bool:
        """See a key before it is pressed; whether it must save something."""
        held = self.before[0] == key and at - self.before[1] < 0.7
        self.before = (key, at)
        box = self.boxes.setdefault(missing[0], Box()) if missing else None
        if box is None:
            box = self.fix
        if key.isdigit():
            self.digit(key, phase, box)
            return False
        if box is None:
            return False
        if box.text and self.edited(box, key, phase, fixes=not missing):
            return False
        if not box.text:
            if key in ("full_stop", "b") and phase in ("rest", "wrap-up") and not held:
                box.text, box.opened, box.presses = str(offered), True, 0
            return False
        refused = int(box.text) > MOST  # and not asked about
        if held or refused or not self.saves(key, phase, fixes=not missing):
            return False
        box.presses += 1
        return not doubtful(int(box.text)) or box.presses > 1

    def edited(self, box: Box, key: str, phase: str, *, fixes: bool) -> bool:
        """Whether the key changes what stands there, which is then done."""
        if key == "backspace":
            box.text, box.opened, box.anew = ("" if box.opened else box.text[:-1]), False, False
            box.presses = 0
        elif key in ("pageup", "left") and not box.opened:
            self.clear(box, fixes=fixes)
        elif key in ("pageup", "left"):
            self.step(box, -1)
        elif key in ("pagedown", "right") and phase in OUT and box.opened:
            self.step(box, 1)
        else:
            return False
        return True

    @staticmethod
    def saves(key: str, phase: str, *, fixes: bool) -> bool:
        """Whether the key saves what stands there, in this phase."""
        if key in ("enter", "full_stop", "b"):
            return True
        return key in MAIN and phase in OUT and not fixes

    def digit(self, key: str, phase: str, box: Box | None) -> None:
        if box is None:
            if phase in OUT and self.last:
                self.fix, self.fixes = Box(key), self.last
            return
        goes_on = not (box.opened or box.anew or box.presses)
        box.text = (box.text if goes_on else "") + key
        box.opened, box.anew, box.presses = False, False, 0

    def step(self, box: Box, by: int) -> None:
        box.text, box.presses = str(max(int(box.text) + by, 0)), 0

    def clear(self, box: Box, *, fixes: bool) -> None:
        if fixes:
            self.fix = None
        box.text, box.anew, box.presses = "", False, 0

    @property
    def counts(self) -> dict[int, int | None]:
        """What each set has, by all that was not taken back."""
        return {entry: reps for _, entry, reps in self.kept}

    def happened(
        self, name: str, act: int, entry: int, reps: int | None, *, missing: Sequence[int]
    ) -> None:
        """See an event; `missing` are the sets without a count before it."""
        if name in ("entered", "corrected"):
            self.kept.append((act, entry, reps))
        if name in ("started", "ended", "skipped", "undone"):
            self.fix = None
            for box in self.boxes.values():
                box.anew, box.presses = bool(box.text) and not box.opened, 0
        if name == "corrected":
            assert self.fix is not None
            assert entry == self.fixes
            self.check(self.fix, entry, reps)
            self.fix = None
        elif name == "entered":
            assert entry == missing[0]
            self.last = entry
            if reps is not None:
                self.check(self.boxes[entry], entry, reps)

    def check(self, box: Box, entry: int, reps: int | None) -> None:
        assert reps is not None
        assert reps == int(box.text), f"entry {entry}: {reps}, and {box} was typed for it"
        if doubtful(reps):
            assert box.presses >= 2, f"entry {entry}: {reps} was not asked for twice"
            self.doubts += 1
        self.typed += not box.opened
        self.stepped += box.opened
        self.last = entry
        box.anew, box.presses = not box.opened, 0


def offered(hands: Hands, missing: Sequence[int]) -> int:
    """What is suggested: the last count of that exercise and level today, else the bottom."""
    rows = hands.csv
    level = ("exercise", "version", "setup", "load_kg")
    for row in reversed(rows if missing else []):
        if row["reps"] and all(row[c] == rows[missing[0] - 1][c] for c in level):
            return int(row["reps"])
    return BOTTOM


async def sit(tmp_path: Path, seed: int, keys: int) -> Model:
    """A session of so many keys, checked key by key; what the model counted."""
    plan = tmp_path / "drawn.toml"
    plan.write_text(PLAN, encoding="utf-8")
    rng, model = random.Random(seed), Model()  # noqa: S311 - a test's own draws
    async with at_the_mat(tmp_path / "data", plan) as hands:
        await to_first_rest(hands)
        seen: list[tuple[str, int, int | None]] = []
        open_before: list[int] = []
        faults: list[str] = []
        trail: list[str] = []

        def listen(shown: Sequence[SettledEvent]) -> None:
            for one in shown:
                event = one.event
                entry, reps = getattr(event, "entry", 0), getattr(event, "reps", None)
                taken_back = getattr(event, "of", None)
                model.kept = [one for one in model.kept if one[0] != taken_back]
                try:
                    model.happened(event.name, event.act, entry, reps, missing=list(open_before))
                except AssertionError as wrong:  # the app must not be the one to end by it
                    faults.append(str(wrong))
                seen.append((event.name, entry, reps))
                open_before[:] = [r.entry for r in hands.state.open_rows]
            done = {r.entry for r in hands.state.rows if r.status == "done"}
            model.kept = [one for one in model.kept if one[1] in done]
            model.boxes = {n: b for n, b in model.boxes.items() if n in done}
            if model.last not in done:
                model.last = model.kept[-1][1] if model.kept else 0

        assert hands.app.controller.live is not None
        hands.app.controller.live.driver._listeners.insert(0, listen)
        for _ in range(keys):
            key = rng.choice(KEYS)
            await hands.wait(rng.choice(GAPS))
            if hands.state.phase == "closed":
                break
            missing = [r.entry for r in hands.state.open_rows]
            open_before[:] = missing
            can = offered(hands, missing)
            will = model.key(key, hands.clock.now(), hands.state.phase, missing, can)
            before = len(seen)
            line = hands.app.controller.line
            text = "" if line is None else f"{line.asked.label} {line.text} {line.mode}"
            trail.append(f"{seed} {hands.clock.now():.1f} {hands.state.phase} {text}: {key}")
            await hands.pilot.press(*key.split())
            await hands.pilot.pause()
            assert not faults, trail[-8:]
            for _ in range(100):  # until it is on file, which takes its time on a loaded machine
                kept = {"entered", "corrected"} & {name for name, *_ in seen[before:]}
                if kept or not will:
                    break
                await hands.pilot.pause(0.01)
            assert kept or not will, trail[-8:]
        counts = {r.entry: int(r.value) for r in hands.state.rows if r.value is not None}
        assert counts == {n: v for n, v in model.counts.items() if v is not None}
    return model


@pytest.mark.parametrize("seed", range(3))
async def test_every_count_was_typed_or_stepped_for_its_set(tmp_path: Path, seed: int) -> None:
    await sit(tmp_path, seed, keys=150)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 112))
async def test_many_drawn_sessions(tmp_path: Path, seed: int) -> None:
    model = await sit(tmp_path, seed, keys=400)
    assert model.typed + model.stepped > 0
