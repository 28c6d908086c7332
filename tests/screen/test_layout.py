"""The layout: nothing overflows in any size, and what gives way first where rows are short."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

import pytest

from runner.screen import glyphs
from runner.screen.layout import FRAMED, WORDS, Area, Layout, large_rows, layout
from runner.session.state import Phase
from tests.screen.test_glyphs import BEST, CELLS, GOOD, minutes_of

PHASES: tuple[Phase, ...] = get_args(Phase)
# One phase for each way of standing, and both ways a set can be shown.
KINDS: tuple[tuple[Phase, bool], ...] = (
    ("rest", False),
    ("set", False),
    ("warm-up", False),
    ("paused", False),
    ("ready", False),
    ("ready", True),
)
SCREENS = ((80, 24), (120, 40), (160, 45))


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
@pytest.mark.parametrize("large", ["8+", "0:00", "100:00", "1000:00", "9999999"])
@pytest.mark.parametrize("cols", [1, 5, 9, 17, 50, 55, 56, 80, 300])
def test_nor_at_the_edges(phase: Phase, large: str, cols: int) -> None:
    for rows in (1, 2, 3, 5, 24, 100):
        assert faults(layout(cols, rows, phase, large=large), cols, rows) == []


def test_the_check_finds_what_overflows() -> None:
    assert faults({"info": Area("info", 0, 0, 81, 1)}, 80, 24)
    two: Layout = {"info": Area("info", 0, 0, 9, 2), "entry": Area("entry", 8, 1, 5, 1)}
    assert faults(two, 80, 24)


@pytest.mark.parametrize(("cols", "rows"), SCREENS)
def test_what_the_mat_needs_is_large(cols: int, rows: int) -> None:
    for phase, sample in (("rest", "0:00"), ("set", "12"), ("paused", "0:00")):
        areas = layout(cols, rows, phase, large=sample)  # type: ignore[arg-type]
        assert areas["large"].glyph == large_rows(rows, in_set=phase == "set")
        assert areas["large"].style == "wide"
        for part in ("word", "frame", "name", "small"):
            assert areas[part].glyph == glyphs.word_rows(rows)  # type: ignore[index]
        for part in ("head", "rule", "label", "info", "entry", "keys"):
            assert part in areas


@pytest.mark.parametrize(("screen", "cell"), CELLS.items())
def test_the_largest_piece_has_31_minutes_at_the_mat_and_the_others_22(
    screen: tuple[float, int], cell: float
) -> None:
    """Heights in arc minutes by h = 2d·tan(a/2); ISO 9241-303 recommends 22 to 31."""
    cols = {24: 80, 40: 120, 45: 160}[screen[1]]
    for phase, sample in (("rest", "0:00"), ("rest", "10:00"), ("set", "12"), ("set", "0:00")):
        areas = layout(cols, screen[1], phase, large=sample)  # type: ignore[arg-type]
        assert minutes_of(areas["large"].glyph * cell) >= BEST
        for part in ("word", "frame", "name", "small"):
            assert minutes_of(areas[part].glyph * cell) >= GOOD  # type: ignore[index]


def test_large_terminals_grow_the_number_of_a_set_first() -> None:
    heights = {rows: layout(200, rows, "set", large="12") for rows in range(24, 61)}
    for rows, areas in heights.items():
        rest = layout(200, rows, "rest", large="0:00")
        assert areas["large"].glyph >= rest["large"].glyph
        assert areas["word"].glyph == rest["word"].glyph
    grown = [areas["large"].glyph - areas["word"].glyph for areas in heights.values()]
    assert grown[0] == 4
    assert grown[-1] >= 12


@pytest.mark.parametrize(("cols", "rows"), SCREENS)
def test_the_word_of_a_warm_up_stands_in_the_place_of_a_name(cols: int, rows: int) -> None:
    areas = layout(cols, rows, "warm-up", large="0:00")
    assert areas["large"].glyph == glyphs.time_rows(rows)
    assert areas["name"].glyph == glyphs.word_rows(rows)
    assert not {"word", "frame", "small"} & set(areas)
    assert areas["name"].width >= glyphs.width(WORDS["warm-up"], areas["name"].glyph)


@pytest.mark.parametrize("cols", [60, 80, 120, 200])
def test_the_frame_holds_the_longest_title_and_three_digits(cols: int) -> None:
    for rows in (20, 24, 40, 60):
        frame = layout(cols, rows, "rest", large="10:00")["frame"]
        assert frame.width >= FRAMED == len("┌ SPLITTT R 12: how many? ┐")
        assert frame.height == frame.glyph + 2
        assert frame.width - 4 >= glyphs.width("000", frame.glyph)


@pytest.mark.parametrize("phase", ["ready", "wrap-up", "closed"])
def test_a_page_has_room_for_ten_exercises(phase: Phase) -> None:
    areas = layout(80, 24, phase)
    assert areas["info"].height >= 20
    assert {"head", "info", "entry", "keys"} == set(areas)
    assert set(layout(80, 5, phase)) == {"info", "entry", "keys"}


def test_at_the_design_size_a_row_below_the_bar_is_free() -> None:
    for phase in ("rest", "set"):
        areas = layout(80, 24, phase, large="0:00")  # type: ignore[arg-type]
        assert areas["rule"].y == 1
        assert areas["large"].y == 3
        assert areas["info"].height == 5
        assert areas["entry"].height == 2


def test_nothing_jumps_between_set_and_rest() -> None:
    for cols, rows in ((80, 24), (60, 20), (40, 12), (20, 5)):
        assert layout(cols, rows, "rest", large="0:00") == layout(cols, rows, "set", large="0:00")


def parts(rows: int, cols: int = 80, phase: Phase = "rest") -> set[str]:
    return set(layout(cols, rows, phase, large="0:00"))


def texts(rows: int) -> int:
    areas = layout(80, rows, "rest", large="0:00")
    return areas["info"].height if "info" in areas else 0


def test_what_gives_way_first_where_rows_are_short() -> None:
    whole = {
        "head", "rule", "large", "beside", "word", "frame", "label", "name", "small label", "small",
        "info", "entry", "keys",
    }  # fmt: skip
    for rows in range(17, 25):
        assert parts(rows) == whole
    # Blank rows, one of them in the text and one in the entry; then tips, aim, next, set-up, bar.
    assert [texts(rows) for rows in range(24, 16, -1)] == [5, 4, 4, 4, 4, 3, 2, 1]
    assert layout(80, 20, "rest", large="0:00")["large"].y == 2
    assert parts(16) == whole - {"info"}
    assert parts(15) == whole - {"info", "rule"}
    assert parts(14) == whole - {"info", "rule", "head"}
    assert parts(13) == whole - {"info", "rule", "head", "label", "small label"}
    named = {"name", "small", "label", "small label"}
    assert parts(12) == whole - named - {"rule"}
    assert parts(11) == whole - named - {"rule", "head"}
    assert parts(10) == whole - named - {"rule", "head", "frame"}
    assert parts(6) == {"large", "beside", "word", "info", "entry", "keys"}
    assert parts(5) == {"large", "beside", "word", "entry", "keys"}
    assert parts(4) == {"large", "beside", "word", "entry"}
    assert parts(3) == {"large", "beside", "word"}
    assert parts(2) == {"large", "beside", "entry"}
    assert parts(1) == {"large", "beside"}


def test_the_smallest_terminal_has_the_time_the_count_and_the_keys() -> None:
    for phase, sample in (("rest", "0:00"), ("set", "12")):
        areas = layout(20, 5, phase, large=sample)  # type: ignore[arg-type]
        assert areas["large"].glyph == 3
        assert set(areas) - {"beside"} == {"large", "entry", "keys"}


def test_the_time_keeps_its_height_before_its_width() -> None:
    shapes = {
        (120, 24): (7, "wide"),
        (80, 24): (7, "narrow"),
        (60, 20): (7, "narrow"),
        (54, 24): (7, "wide"),
        (49, 24): (7, "narrow"),
        (32, 24): (7, "narrow"),
        (29, 24): (3, "wide"),
        (20, 5): (3, "slim"),
        (17, 24): (5, "slim"),
        (16, 24): (0, "wide"),
        (80, 8): (5, "wide"),
        (80, 5): (3, "wide"),
        (80, 3): (3, "wide"),
        (80, 2): (0, "wide"),
    }
    for (cols, rows), shape in shapes.items():
        time = layout(cols, rows, "rest", large="00:00")["large"]
        assert ((cols, rows), (time.glyph, time.style)) == ((cols, rows), shape)


def test_more_rows_never_take_the_large_piece_away() -> None:
    for cols in (20, 40, 80, 120, 200):
        for phase in ("rest", "set"):
            tall = [layout(cols, rows, phase, large="0:00") for rows in range(3, 61)]  # type: ignore[arg-type]
            heights = [min(areas["large"].glyph, 7) for areas in tall]
            assert heights == sorted(heights), (cols, phase)


def test_where_the_word_has_no_room_beside_the_large_piece_it_stands_below() -> None:
    areas = layout(44, 24, "set", large="12")
    assert areas["word"].y >= areas["large"].y + areas["large"].height
    assert "frame" not in areas
