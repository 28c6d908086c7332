"""The layout: nothing overflows in any size, and what gives way first where rows are short."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

import pytest

from runner.screen import glyphs
from runner.screen.layout import WORDS, Area, Layout, layout
from runner.session.state import Phase

PHASES: tuple[Phase, ...] = get_args(Phase)
# One phase for each way of standing, and both ways a set can be shown.
KINDS: tuple[tuple[Phase, bool], ...] = (
    ("rest", False),
    ("warm-up", False),
    ("paused", False),
    ("ready", False),
    ("ready", True),
)


def cells(area: Area) -> Iterator[tuple[int, int]]:
    for y in range(area.y, area.y + area.height):
        for x in range(area.x, area.x + area.width):
            yield x, y


def overlap(one: Area, other: Area) -> bool:
    aside = one.x + one.width <= other.x or other.x + other.width <= one.x
    above = one.y + one.height <= other.y or other.y + other.height <= one.y
    return not (aside or above)


def faults(areas: Layout, cols: int, rows: int) -> list[str]:
    found = []
    seen: list[Area] = []
    for part, area in areas.items():
        inside = area.x + area.width <= cols and area.y + area.height <= rows
        if not (inside and area.x >= 0 and area.y >= 0 and area.width > 0 and area.height > 0):
            found.append(f"{part} leaves {cols}x{rows}: {area}")
        if area.glyph > area.height:
            found.append(f"{part} is higher than its slot: {area}")
        found.extend(f"{part} on {old.part} at {cols}x{rows}" for old in seen if overlap(area, old))
        seen.append(area)
    return found


@pytest.mark.parametrize(("phase", "tryout"), KINDS)
def test_nothing_overflows_in_any_size(phase: Phase, *, tryout: bool) -> None:
    for cols in range(10, 201):
        for rows in range(3, 61):
            assert faults(layout(cols, rows, phase, tryout=tryout), cols, rows) == []


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("clock", ["0:00", "100:00", "1000:00"])
@pytest.mark.parametrize("cols", [1, 5, 9, 17, 50, 80, 300])
def test_nor_at_the_edges(phase: Phase, clock: str, cols: int) -> None:
    for rows in (1, 2, 3, 5, 24, 100):
        assert faults(layout(cols, rows, phase, clock=clock), cols, rows) == []


def test_the_check_finds_what_overflows() -> None:
    assert faults({"info": Area("info", 0, 0, 81, 1)}, 80, 24)
    two: Layout = {"info": Area("info", 0, 0, 9, 2), "entry": Area("entry", 8, 1, 5, 1)}
    assert faults(two, 80, 24)


@pytest.mark.parametrize("phase", ["rest", "set"])
@pytest.mark.parametrize(("cols", "rows"), [(80, 24), (120, 40), (160, 45)])
def test_what_the_mat_needs_is_large(phase: Phase, cols: int, rows: int) -> None:
    areas = layout(cols, rows, phase)
    assert areas["time"].glyph == glyphs.time_rows(rows)
    assert areas["time"].style == "wide"
    for part in ("word", "count", "name"):
        assert areas[part].glyph == glyphs.word_rows(rows)  # type: ignore[index]
    for part in ("head", "rule", "label", "info", "entry", "keys"):
        assert part in areas


@pytest.mark.parametrize("phase", ["warm-up", "paused", "wrap-up"])
@pytest.mark.parametrize(("cols", "rows"), [(80, 24), (120, 40), (160, 45)])
def test_time_and_word_stand_alone(phase: Phase, cols: int, rows: int) -> None:
    areas = layout(cols, rows, phase)
    assert areas["time"].glyph == glyphs.time_rows(rows)
    assert areas["word"].glyph == glyphs.word_rows(rows)
    assert areas["word"].width == glyphs.width(WORDS[phase], areas["word"].glyph)


def test_at_the_design_size_there_is_room_for_seven_lines() -> None:
    areas = layout(80, 24, "rest")
    assert areas["info"].height == 7
    assert areas["entry"].height == 2


def test_nothing_jumps_between_set_and_rest() -> None:
    for cols, rows in ((80, 24), (120, 40), (60, 24), (40, 12), (20, 5)):
        assert layout(cols, rows, "rest") == layout(cols, rows, "set")
        assert layout(cols, rows, "rest", clock="9:59") == layout(cols, rows, "rest", clock="10:00")


def parts(rows: int, cols: int = 80, phase: Phase = "rest") -> set[str]:
    return set(layout(cols, rows, phase))


def test_what_gives_way_first_where_rows_are_short() -> None:
    whole = {"head", "rule", "time", "word", "label", "count", "name", "info", "entry", "keys"}
    assert parts(24) == whole
    assert parts(16) == whole
    assert parts(15) == whole - {"rule"}
    assert parts(14) == whole - {"rule", "keys"}
    assert parts(13) == parts(12) == whole - {"rule", "keys", "head"}
    assert parts(11) == whole - {"rule", "keys", "name"}  # three rows of name make room for text
    assert parts(9) == whole - {"rule", "keys", "head", "name"}
    assert parts(8) == {"time", "aside", "info", "entry"}
    assert parts(5) == {"time", "aside", "info", "entry"}
    assert parts(3) == {"time", "aside"}
    assert parts(2) == {"time", "aside", "entry"}
    assert parts(1) == {"time", "aside"}


def test_the_time_keeps_its_height_before_its_width() -> None:
    shapes = {
        (80, 24): (7, "wide"),
        (54, 24): (7, "wide"),
        (49, 24): (7, "narrow"),
        (32, 24): (7, "narrow"),
        (29, 24): (3, "wide"),
        (20, 5): (3, "slim"),
        (17, 24): (5, "slim"),
        (16, 24): (0, "wide"),
        (80, 8): (6, "wide"),
        (80, 5): (3, "wide"),
        (80, 4): (3, "wide"),
        (80, 3): (3, "wide"),
        (80, 2): (0, "wide"),
    }
    for (cols, rows), shape in shapes.items():
        time = layout(cols, rows, "set")["time"]
        assert ((cols, rows), (time.glyph, time.style)) == ((cols, rows), shape)


def test_more_rows_never_take_the_large_time_away() -> None:
    for cols in (20, 40, 80, 120, 200):
        heights = [layout(cols, rows, "set")["time"].glyph for rows in range(3, 61)]
        assert heights == sorted(heights)


def test_where_the_word_has_no_room_beside_the_time_it_stands_below() -> None:
    areas = layout(60, 24, "set")
    assert areas["word"].y >= areas["time"].y + areas["time"].height
    assert areas["count"].y == areas["word"].y
