"""The widget: its colours follow the theme, and its first picture is whole."""

from __future__ import annotations

from pathlib import Path

import pytest
from rich.color import Color
from textual.color import Color as Shade
from textual.strip import Strip

from runner.screen.paint import Mat
from runner.screen.theme import COLOURS, DARK, LIGHT
from tests.screen.hands import EVERY_KEY, Hands, at_the_mat


def grounds(hands: Hands) -> set[Color | None]:
    """The grounds of everything that is drawn."""
    mat = hands.app._mat
    assert mat is not None
    strips = [mat.render_line(y) for y in range(mat.size.height)]
    return {s.style.bgcolor for strip in strips for s in strip if s.style and s.text.strip()}


async def test_from_dark_to_light_and_back(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, EVERY_KEY) as hands:
        seen = []
        for name in (DARK, LIGHT, DARK):
            assert grounds(hands) == {Shade.parse(COLOURS[name]["ground"]).rich_color}
            seen.append(name)
            await hands.press("m", "s", "l", "m")
        assert seen == [DARK, LIGHT, DARK]


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_first_picture_is_the_whole_ready_screen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    drawn: list[str] = []
    of_a_line = Mat.render_line

    def noted(self: Mat, y: int) -> Strip:
        strip = of_a_line(self, y)
        drawn.append(strip.text.rstrip())
        return strip

    monkeypatch.setattr(Mat, "render_line", noted)
    async with at_the_mat(tmp_path, EVERY_KEY, size=size) as hands:
        mat = hands.app._mat
        assert mat is not None
        rows = [of_a_line(mat, y).text.rstrip() for y in range(mat.size.height)]
        assert drawn[: len(rows)] == rows
