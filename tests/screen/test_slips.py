"""Whole sessions by one finger that slips, and keys that are held down.

The finger means one key in twenty wrongly: it hits one that lies beside it on a keyboard of the
usual layout (ISO/IEC 9995-2, Latin letters; from memory). Whoever sits there looks at the screen
after a slip and mends it, with two presses at most; a wrong count with its digits and enter.
"""

from __future__ import annotations

import random
from itertools import takewhile
from pathlib import Path

import pytest

from runner.screen.dialogs import Overlay, Page, PainPlace, Question
from runner.session import events as ev
from runner.session.state import Phase
from tests.screen.hands import Hands, at_the_mat, to_first_rest

WRONG = 0.05
ROWS = ("1234567890-=", "qwertyuiop[]", "asdfghjkl;'", "zxcvbnm,./")
SIGNS = {
    "-": "minus",
    "=": "equals_sign",
    "[": "left_square_bracket",
    "]": "right_square_bracket",
    ";": "semicolon",
    "'": "apostrophe",
    ",": "comma",
    ".": "full_stop",
    "/": "slash",
}
BESIDE = {"space": "xcvbnm,.", "enter": "]'/="}


def beside(key: str) -> list[str]:
    """The keys that lie beside one, by Textual's names."""
    near = BESIDE.get(key, "")
    if not near:
        at = ROWS[0].index(key)
        near = ROWS[0][max(at - 1, 0) : at + 2].replace(key, "") + ROWS[1][max(at - 1, 0) : at + 1]
    return [SIGNS.get(sign, sign) for sign in near]


class Finger:
    """Presses what it means to, but for one press in twenty, and mends what comes of that."""

    def __init__(self, hands: Hands, seed: int) -> None:
        self.hands = hands
        self.draw = random.Random(seed)  # noqa: S311 - a test's own draws
        self.slips: list[tuple[Phase, str, int]] = []  # where, which key, presses to mend it

    async def press(self, *keys: str) -> None:
        for key in keys:
            if self.draw.random() < WRONG:
                await self.slip(self.draw.choice(beside(key)))
            await self.hands.press(key)

    async def slip(self, key: str) -> None:
        """Press a wrong key, look, and mend."""
        hands, phase = self.hands, self.hands.state.phase
        before, line = hands.state, hands.app.controller.line
        await hands.press(key)
        mended = [*self.away(), *self.back(before.log, line and line.text)]
        for mend in mended:
            await hands.press(mend)
        self.slips.append((phase, key, len(mended)))
        assert len(mended) <= 2, (phase, key, mended)
        assert len(hands.app.screen_stack) == 1
        assert hands.app.controller.more is None

    def away(self) -> list[str]:
        """What closes whatever lies over the session."""
        over = self.hands.app.screen
        if isinstance(over, PainPlace):
            return ["left"]
        if isinstance(over, Question | Page):
            return ["n"]
        assert not isinstance(over, Overlay)
        return [] if self.hands.app.controller.more is None else ["m"]

    def back(self, log: tuple[ev.Event, ...], text: str | None) -> list[str]:
        """What takes back an act, and what was typed."""
        now = self.hands.state.log
        if len(now) < len(log):
            return ["m", "y"]
        # What the clock began meanwhile, and the count that it saved then, are as they should be.
        acts = {
            e.act for e in takewhile(lambda e: getattr(e, "by", "") != "clock", now[len(log) :])
        }
        if len(self.hands.app.screen_stack) == 1 and acts:
            return ["u"] * len(acts)
        line = self.hands.app.controller.line
        if line is not None and line.mode == "typed" and line.text != text:
            return ["backspace"] if len(line.text) > len(text or "") else [(text or "")[-1]]
        return []


async def by_one_finger(data: Path, seed: int) -> list[tuple[Phase, str, int]]:
    """A whole session; the slips in it."""
    wanted: list[str] = []
    async with at_the_mat(data, "kestrel-hut") as hands:
        hands.pause = 0.8
        finger = Finger(hands, seed)
        await finger.press("space")
        await hands.wait(60)
        await finger.press("space")
        while hands.state.phase != "wrap-up":
            await hands.until("set")
            running = hands.state.running
            assert running is not None
            counted = hands.state.exercise(running).measure == "reps"
            await hands.wait(25)
            await finger.press("space")
            if hands.state.phase == "set":  # a slip was undone, and the guard holds for 1.5 s
                await finger.press("space")
            if not counted:
                continue
            count = str(finger.draw.randint(9, 16))
            wanted.append(count)
            await finger.press(*count, "enter")
            row = next(r for r in reversed(hands.state.rows) if r.entry == running.entry)
            if row.value != float(count):  # seen on the sheet: digits and enter
                await hands.press(*count, "enter")
            if hands.state.rows[running.entry - 1].open:  # it was a doubtful one, asked again
                await hands.press("enter")
        await finger.press("space")
        assert hands.state.complete is True
        rows = hands.csv
        assert {row["status"] for row in rows} == {"done"}
        assert not any(row["pain"] or row["note"] for row in rows)
        assert [row["reps"] for row in rows if row["reps"]] == wanted
        return finger.slips


async def test_a_finger_that_slips_gets_every_count_right(tmp_path: Path) -> None:
    assert len(await by_one_finger(tmp_path, 3)) >= 5


@pytest.mark.slow
async def test_many_fingers_that_slip_get_every_count_right(tmp_path: Path) -> None:
    slips = [slip for seed in range(6) for slip in await by_one_finger(tmp_path / f"{seed}", seed)]
    assert {phase for phase, _, _ in slips} >= {"rest", "set"}


# Held down at 20 Hz: the first repeat after half a second, then one every 50 ms.

KEYS = (*"abcdefghijklmnopqrstuvwxyz1", "space", "pagedown", "pageup", "left", "right", "enter",
        "plus", "minus", "full_stop", "comma", "slash", "backspace", "escape", "question_mark",
        "up", "down")  # fmt: skip
MOST_USED = ("space", "pagedown", "m", "x", "p", "plus")
PHASES: tuple[Phase, ...] = ("ready", "warm-up", "rest", "set", "paused", "wrap-up")
# What one press brings about; + and - count once more as the repeats begin, which nobody can tell
# from a second press.
MOST_ACTS = {"plus": 2, "minus": 2}


async def to_phase(hands: Hands, phase: Phase) -> None:
    """A session in this phase for some seconds, with one count missing once a set was done."""
    if phase == "warm-up":
        await hands.press("space")
    elif phase != "ready":
        await to_first_rest(hands)
        await hands.do_set(lasts=9)
        if phase == "set":
            await hands.until("set")
        elif phase == "paused":
            await hands.press("p")
        elif phase == "wrap-up":
            for _ in range(12):
                if hands.state.phase != "wrap-up":
                    await hands.press("m", "d")
    assert hands.state.phase == phase
    await hands.wait(2.5)
    assert hands.state.phase == phase


async def hold(hands: Hands, key: str, seconds: float) -> None:
    """Keep a key down at 20 Hz."""
    await hands.pilot.press(key)
    await hands.wait(0.5)
    for _ in range(int((seconds - 0.5) / 0.05)):
        await hands.pilot.press(key)
        await hands.wait(0.05)
    await hands.pilot.pause()


async def held_down(data: Path, phase: Phase, key: str) -> None:
    """Hold a key in a phase: what one press does is done, and nothing more."""
    async with at_the_mat(data, "kestrel-hut") as hands:
        await to_phase(hands, phase)
        before = hands.state
        await hold(hands, key, 2.0)
        acts = hands.state.acts - before.acts
        assert acts <= MOST_ACTS.get(key, 1), (phase, key, hands.state.log[-3:])
        assert hands.state.phase != "closed", (phase, key)
        assert hands.app.return_value is None
        assert len(hands.state.open_rows) >= len(before.open_rows), (phase, key)  # none is saved
        assert len(hands.app.screen_stack) <= 2


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("key", MOST_USED)
async def test_a_key_held_down_does_what_one_press_does(
    tmp_path: Path, phase: Phase, key: str
) -> None:
    await held_down(tmp_path, phase, key)


@pytest.mark.slow
@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("key", [key for key in KEYS if key not in MOST_USED])
async def test_every_other_key_held_down_does_what_one_press_does(
    tmp_path: Path, phase: Phase, key: str
) -> None:
    await held_down(tmp_path, phase, key)


async def test_enter_and_space_held_down_save_one_count_and_do_no_more(tmp_path: Path) -> None:
    for key in ("enter", "space", "full_stop"):
        async with at_the_mat(tmp_path / key, "kestrel-hut") as hands:
            await to_phase(hands, "rest")
            await hands.press("9")
            await hold(hands, key, 3.0)
            assert (hands.csv[0]["reps"], hands.state.phase) == ("9", "rest")


async def test_letters_beside_the_space_bar_change_nothing(tmp_path: Path) -> None:
    for phase in PHASES:
        async with at_the_mat(tmp_path / phase, "kestrel-hut") as hands:
            await to_phase(hands, phase)
            before, line = hands.state, hands.app.controller.line
            for key in "vnzdghjklwsy":
                await hands.press(key)
                assert f"{key}: press m first" in hands.text
            assert (hands.state, hands.app.controller.line) == (before, line)
            assert len(hands.app.screen_stack) == 1


async def test_a_session_by_digits_and_space_alone(tmp_path: Path) -> None:
    """Three presses a counted set: end, save, go; and the digits."""
    async with at_the_mat(tmp_path, "kestrel-hut") as hands:
        await hands.press("space")
        await hands.wait(60)
        await hands.press("space")
        counts: list[str] = []
        hands.pause = 0.8
        while hands.state.phase != "wrap-up":
            await hands.wait(1.5)  # no key cuts a rest so soon
            await hands.press("space")
            assert hands.state.phase == "set"
            running = hands.state.running
            assert running is not None
            await hands.wait(20)
            await hands.press("space")
            if hands.state.exercise(running).measure == "reps":
                counts.append(str(8 + len(counts) % 9))
                await hands.press(*counts[-1], "space")
        await hands.press("space")
        assert hands.state.complete is True
        assert [row["reps"] for row in hands.csv if row["reps"]] == counts
        await hands.press("space")
        assert hands.app.return_value == 0
