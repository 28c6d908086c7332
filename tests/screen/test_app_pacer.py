"""The pacer's key: a small word where it is on, and a plain one where it has nothing to do."""

from __future__ import annotations

from pathlib import Path

from tests.screen.hands import EVERY_KEY, at_the_mat

TEMPO = EVERY_KEY.read_text(encoding="utf-8").replace(
    'name = "one stride from the post"', 'name = "one stride from the post"\ntempo = "2-0-1"'
)


async def test_the_key_turns_the_pacer_on_and_off(tmp_path: Path) -> None:
    plan = tmp_path / "tempo.toml"
    plan.write_text(TEMPO, encoding="utf-8")
    async with at_the_mat(tmp_path, plan) as hands:
        await hands.press("space", "space")
        hands.pause = 0.4
        assert "tempo 2-0-1" in hands.text
        assert "pacer" not in hands.text.replace("t pacer", "")
        await hands.press("m", "t")
        assert "Pacer on: 2-0-1 seconds down, held, up." in hands.text
        assert "tempo 2-0-1, pacer on" in hands.text
        await hands.until("set")
        hands.pause = 0.8
        assert "tempo 2-0-1, pacer on" in hands.text
        await hands.press("m", "t")
        assert "Pacer off." in hands.text
        assert "pacer on" not in hands.text


async def test_without_a_tempo_it_says_so(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, EVERY_KEY) as hands:
        await hands.press("space", "space")
        hands.pause = 0.4
        await hands.press("m", "t")
        assert "Pacer on. This exercise has no tempo to keep." in hands.text
        assert "pacer on" not in hands.text


async def test_the_plan_turns_it_on(tmp_path: Path) -> None:
    plan = tmp_path / "paced.toml"
    plan.write_text(TEMPO.replace("pacer = false", "pacer = true"), encoding="utf-8")
    async with at_the_mat(tmp_path, plan) as hands:
        await hands.press("space", "space")
        assert "tempo 2-0-1, pacer on" in hands.text
