"""Large glyphs: high enough for the mat, no two alike, and as they were drawn."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, strategies as st

from runner.screen.glyphs import (
    CHARACTERS,
    Style,
    drawable,
    fold,
    render,
    time_rows,
    width,
    word_rows,
)
from tests.screen.golden_text import same

# Height of a cell in mm, full screen: diagonal in inches, then rows of the terminal.
CELLS = {
    (13.3, 24): 6.86,
    (13.3, 40): 4.12,
    (13.3, 45): 3.58,
    (14.0, 24): 7.23,
    (14.0, 40): 4.34,
    (14.0, 45): 3.77,
    (15.6, 24): 7.45,
    (15.6, 40): 4.47,
    (15.6, 45): 3.97,
}
DISTANCE = 2500.0  # mm, from the mat
LEAST, GOOD, BEST = 16, 22, 31  # ISO 9241-3; DIN EN ISO 9241-303, from and to
INK = sorted(CHARACTERS - {" "})


def height_of(minutes: float, distance: float = DISTANCE) -> float:
    """h = 2d·tan(a/2), in the unit of the distance."""
    return 2 * distance * math.tan(math.radians(minutes / 60) / 2)


def minutes_of(height: float, distance: float = DISTANCE) -> float:
    return math.degrees(2 * math.atan(height / 2 / distance)) * 60


def pixels(text: str, height: int, style: Style = "wide") -> list[str]:
    """Half rows as `#` and `.`, two to a row of cells."""
    rows = render(text, height, style)
    upper = str.maketrans({"█": "#", "▀": "#", "▄": ".", " ": "."})
    lower = str.maketrans({"█": "#", "▀": ".", "▄": "#", " ": "."})
    return [line for row in rows for line in (row.translate(upper), row.translate(lower))]


def inked(text: str, height: int) -> float:
    """Rows of cells from the first to the last half row that has ink."""
    rows = [index for index, row in enumerate(pixels(text, height)) if "#" in row]
    return (rows[-1] - rows[0] + 1) / 2


@pytest.mark.parametrize(("minutes", "millimetres"), [(16, 11.64), (22, 16.00), (31, 22.54)])
def test_the_formula_gives_its_known_heights(minutes: int, millimetres: float) -> None:
    assert round(height_of(minutes), 2) == millimetres


@pytest.mark.parametrize(("screen", "cell"), CELLS.items())
def test_the_time_is_read_from_the_mat(screen: tuple[float, int], cell: float) -> None:
    rows = time_rows(screen[1])
    for digit in "0123456789":
        assert minutes_of(inked(digit, rows) * cell) >= BEST


@pytest.mark.parametrize(("screen", "cell"), CELLS.items())
def test_words_and_counts_are_read_from_the_mat(screen: tuple[float, int], cell: float) -> None:
    rows = word_rows(screen[1])
    for char in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789":
        assert minutes_of(inked(char, rows) * cell) >= GOOD


@pytest.mark.parametrize(("screen", "cell"), CELLS.items())
def test_ordinary_text_is_not(screen: tuple[float, int], cell: float) -> None:
    """The measure can fail: a line of text, or glyphs one row lower, are below it."""
    assert minutes_of(cell) < LEAST
    if screen == (13.3, 40):
        assert minutes_of((word_rows(40) - 1) * cell) < GOOD


@pytest.mark.parametrize(
    ("rows", "time", "word"),
    [(3, 7, 3), (24, 7, 3), (31, 7, 4), (40, 10, 4), (45, 11, 5), (60, 22, 6)],
)
def test_heights_by_the_rows_of_the_terminal(rows: int, time: int, word: int) -> None:
    assert (time_rows(rows), word_rows(rows)) == (time, word)


@pytest.mark.parametrize("height", range(7, 31))
def test_strokes_of_the_time(height: int) -> None:
    """A seventh to an eighth of the height, as near as half rows allow."""
    top = pixels("0", height)
    stroke = next(index for index, row in enumerate(top) if "." in row)
    nearest = min(range(1, 12), key=lambda half: abs(half / (2 * height) - 1 / 7.5))
    assert stroke == nearest
    assert 1 / 9 <= stroke / (2 * height) <= 1 / 6.5


def test_in_seven_rows_a_stroke_is_one_full_row() -> None:
    assert set("".join(render("0123456789:", 7))) == {"█", " "}
    assert render("0", 7)[1].strip("█") == render("0", 7)[5].strip("█") == " " * 6


def test_the_time_leaves_room_for_a_word_beside_it_at_80_columns() -> None:
    assert width("00:00", 7) == 50
    assert width("00:00", 7) + 3 + width("REST", 3) <= 76


def test_the_longest_name_and_side_fit_in_80_columns() -> None:
    assert width("WWWWWWW RIGHT", 3) <= 76
    assert width("WWWWWWW RIGHT", 4) <= 116
    assert width("WWWWWWW RIGHT", 5) <= 156


def apart(one: str, other: str, height: int) -> float:
    """Share of half rows by columns that differ where the two lie best on each other."""
    first, second = sorted((pixels(one, height), pixels(other, height)), key=lambda p: len(p[0]))
    wide, narrow = len(second[0]), len(first[0])
    best = min(
        sum(
            a != b
            for row, wider in zip(first, second, strict=True)
            for a, b in zip(("." * at + row).ljust(wide, "."), wider, strict=True)
        )
        for at in range(wide - narrow + 1)
    )
    return best / (2 * height * wide)


@pytest.mark.parametrize("height", [3, 4, 5, 6, 7, 10, 11])
def test_no_two_glyphs_are_alike(height: int) -> None:
    """Seven rows and more are the time: there a digit only ever stands beside digits."""
    close = {}
    for one, other in itertools.combinations(INK, 2):
        mixed = height >= 7 and one.isdigit() != other.isdigit()
        if (share := apart(one, other, height)) < (1 / 14 if mixed else 1 / 12):
            close[one + other] = round(share, 3)
    assert close == {}


@pytest.mark.parametrize("height", [3, 4, 5])
@pytest.mark.parametrize("pair", ["0O", "1I", "17", "5S", "8B", "0D", "2Z", "6G", "08", "38", "56"])
def test_the_usual_mistakes_are_further_apart(pair: str, height: int) -> None:
    assert apart(*pair, height) >= 1 / 8


@pytest.mark.parametrize("style", ["narrow", "slim"])
@pytest.mark.parametrize("height", [3, 5, 7])
def test_digits_of_narrow_times_differ_too(style: Style, height: int) -> None:
    digits = {digit: tuple(render(digit, height, style)) for digit in "0123456789"}
    assert len(set(digits.values())) == 10


@given(
    st.text(alphabet=sorted(CHARACTERS), max_size=8),
    st.integers(3, 30),
    st.sampled_from(["wide", "narrow", "slim"]),
)
def test_every_line_has_the_width_that_was_promised(text: str, height: int, style: Style) -> None:
    rows = render(text, height, style)
    assert len(rows) == height
    assert {len(row) for row in rows} == {width(text, height, style)}
    assert set("".join(rows)) <= set("█▀▄ ")


@pytest.mark.parametrize("height", [3, 4, 5, 7, 10])
def test_digits_are_all_as_wide_as_each_other(height: int) -> None:
    assert len({width(digit, height) for digit in "0123456789"}) == 1


@pytest.mark.parametrize(
    ("text", "folded", "can"),
    [
        ("press", "PRESS", True),
        ("élévé", "ELEVE", True),
        ("STRAßE", "STRASSE", True),
        ("жим", "???", False),
        ("\x1b[1m", "??1M", False),
        ("", "", False),
        ("  ", "  ", False),
        ("GO?", "GO?", True),
    ],
)
def test_what_can_be_drawn(text: str, folded: str, *, can: bool) -> None:
    assert fold(text) == folded
    assert drawable(text) is can


def test_below_three_rows_there_are_no_glyphs() -> None:
    with pytest.raises(ValueError, match="3 rows, not 2"):
        render("0", 2)


@pytest.mark.parametrize("height", [3, 4, 5])
def test_words_look_as_they_were_drawn(height: int) -> None:
    lines: list[str] = []
    for text in ("0123456789", "ABCDEFGHI", "JKLMNOPQR", "STUVWXYZ", "+-/:.?"):
        lines.extend((*render(text, height), ""))
    same(f"words-{height}", lines)


@pytest.mark.parametrize(
    ("height", "style"), [(7, "wide"), (10, "wide"), (11, "wide"), (7, "narrow"), (3, "slim")]
)
def test_times_look_as_they_were_drawn(height: int, style: Style) -> None:
    lines: list[str] = []
    for text in ("01:23", "45:67", "8:90"):
        lines.extend((*render(text, height, style), ""))
    same(f"time-{height}-{style}", lines)
