"""Large letters made of `█▀▄` and spaces, to be read from the mat.

The shapes are our own. Each letter has one master on a grid of strokes and gaps: rows and columns
with an even index are strokes, those with an odd one are gaps. To draw it in a given height, the
strokes get their thickness and the gaps share the rest, so one master serves every height. A cell
holds two pixels, one above the other; they are nearly square, since a cell is about twice as high
as wide.

Heights are in terminal rows. There are two families by height:

- seven rows and more, for the time: strokes a seventh to an eighth of the height (DOD-HDBK-791,
  light on dark), a full cell in seven rows;
- three to six rows, for words and counts: half blocks. Digits have broader upright strokes and
  square shoulders there, so that 0 and O, 5 and S, 8 and B differ even when both are blurred (our
  choice). In five rows strokes are a fifth of the height, as in the optotypes of eye charts (from
  memory).
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import Literal, NamedTuple

Style = Literal["wide", "narrow", "slim"]

LEAST_TIME_ROWS = 7  # 31 arc minutes and more at 2.5 m on every screen we reckon with
LEAST_WORD_ROWS = 3  # 22 arc minutes and more at 2.5 m at 80x24
_ENOUGH_ROWS = 46  # our choice
UNKNOWN = "?"

_MASTERS: dict[str, str] = {
    "0": "##### #...# #...# #...# #####",
    "1": "###.. ..#.. ..#.. ..#.. #####",
    "2": "####. ....# .###. #.... #####",
    "3": "####. ....# ..##. ....# ####.",
    "4": "#...# #...# ##### ....# ....#",
    "5": "##### #.... ##### ....# #####",
    "6": ".#### #.... ####. #...# .###.",
    "7": "##### ....# ...## ..##. ..#..",
    "8": ".###. #...# .###. #...# .###.",
    "9": ".###. #...# .#### ....# ####.",
    "A": ".###. #...# ##### #...# #...#",
    "B": "####. #...# ####. #...# ####.",
    "C": ".#### #.... #.... #.... .####",
    "D": "###.. #..#. #...# #..#. ###..",
    "E": "##### #.... ####. #.... #####",
    "F": "##### #.... ###.. #.... #....",
    "G": ".#### #.... #.### #...# .####",
    "H": "#...# #...# ##### #...# #...#",
    "I": "### .#. .#. .#. ###",
    "J": "..### ....# ....# #...# .###.",
    "K": "#..## #.##. ###.. #.##. #..##",
    "L": "#.... #.... #.... #.... #####",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "##..# ##..# #.#.# #..## #..##",
    "O": ".###. #...# #...# #...# .###.",
    "P": "####. #...# ####. #.... #....",
    "Q": ".###. #...# #.#.# #..#. .##.#",
    "R": "####. #...# ####. #.##. #..##",
    "S": ".#### #.... .###. ....# ####.",
    "T": "##### ..#.. ..#.. ..#.. ..#..",
    "U": "#...# #...# #...# #...# .###.",
    "V": "#...# #...# #...# .#.#. ..#..",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#...# .#.#. ..#.. .#.#. #...#",
    "Y": "#...# .#.#. ..#.. ..#.. ..#..",
    "Z": "##### ...#. ..#.. .#... #####",
    "+": "..... ..#.. ##### ..#.. .....",
    "/": "....# ...#. ..#.. .#... #....",
    "-": "... ... ### ... ...",
    ":": ". # . # .",
    ".": ". . . . #",
    " ": "... ... ... ... ...",
    "?": "####. ....# ..##. ..... ..#..",
}
CHARACTERS = frozenset(_MASTERS)

# Upper and lower pixel of a cell to the block that shows them.
_CELLS = {("#", "#"): "█", ("#", "."): "▀", (".", "#"): "▄", (".", "."): " "}


class _Metrics(NamedTuple):
    """Measures of one glyph: pixels for `bar`, columns for the rest."""

    bar: int  # thickness of a horizontal stroke, in half rows
    post: int  # thickness of an upright stroke
    columns: int  # width of a glyph whose master has five columns
    spacing: int  # between two glyphs


# Rows 3 to 6: metrics of letters and signs, then of digits.
_SMALL: dict[int, tuple[_Metrics, _Metrics]] = {
    3: (_Metrics(1, 1, 5, 1), _Metrics(1, 2, 6, 1)),
    4: (_Metrics(1, 1, 7, 2), _Metrics(1, 2, 8, 2)),
    5: (_Metrics(2, 2, 10, 2), _Metrics(2, 3, 9, 2)),
    6: (_Metrics(2, 2, 10, 2), _Metrics(2, 3, 10, 2)),
}


def time_rows(cells_high: int) -> int:
    """Height of the time in a terminal of that many rows: a quarter of it, seven rows at least.

    And half of the rows that a very high terminal has for nothing else.
    """
    return max(LEAST_TIME_ROWS, cells_high // 4 + spare_rows(cells_high) // 2)


def spare_rows(cells_high: int) -> int:
    """Rows beyond those in which everything there is to say has room."""
    return max(cells_high - _ENOUGH_ROWS, 0)


def word_rows(cells_high: int) -> int:
    """Height of words and counts in a terminal of that many rows: a tenth of it, three at least.

    A tenth of the height of a 13.3 inch screen is 16.5 mm, 22.7 arc minutes at 2.5 m.
    """
    return max(LEAST_WORD_ROWS, -(-cells_high // 10))


def fold(text: str) -> str:
    """The text as glyphs can show it: capitals without accents, `?` for what we cannot draw."""
    plain = unicodedata.normalize("NFKD", text.upper())
    kept = (char for char in plain if not unicodedata.combining(char))
    return "".join(char if char in CHARACTERS else UNKNOWN for char in kept)


def drawable(text: str) -> bool:
    """Whether glyphs can show this text, accents aside, without a stand-in."""
    return bool(text.strip()) and fold(text).count(UNKNOWN) == text.count(UNKNOWN)


def render(text: str, height: int, style: Style = "wide") -> list[str]:
    """The text in large glyphs: `height` lines, each `width(text, height, style)` cells wide.

    `narrow` and `slim` are for the time in terminals that are not wide enough.
    Raises ValueError for a height below three rows.
    """
    glyphs = [_glyph(char, height, style) for char in fold(text)]
    gap = " " * _metrics("A", height, style).spacing
    return [gap.join(glyph[row] for glyph in glyphs) for row in range(height)]


@lru_cache(maxsize=4096)
def width(text: str, height: int, style: Style = "wide") -> int:
    """Columns that `render` takes for the text in this height."""
    widths = [len(_glyph(char, height, style)[0]) for char in fold(text)]
    return sum(widths) + max(0, len(widths) - 1) * _metrics("A", height, style).spacing


def _metrics(char: str, height: int, style: Style) -> _Metrics:
    if height < LEAST_WORD_ROWS:
        raise ValueError(f"glyphs need {LEAST_WORD_ROWS} rows, not {height}")
    # Between a seventh and an eighth of the height, as near as half rows allow.
    stroke = round(2 * height / 7.5)
    if style == "slim":
        return _Metrics(1, 1, 3, 1)
    if style == "narrow":
        post = max(2, stroke)
        return _Metrics(max(1, stroke), post, 3 * post, -(-post // 2))
    if height in _SMALL:
        letters, digits = _SMALL[height]
        return digits if char.isdigit() else letters
    return _Metrics(stroke, stroke, round(height * 10 / 7), stroke)


@lru_cache(maxsize=1024)
def _glyph(char: str, height: int, style: Style) -> tuple[str, ...]:
    """One glyph as `height` lines of equal width."""
    rows = _MASTERS[char].split()
    metrics = _metrics(char, height, style)
    columns = _spread(len(rows[0]), metrics.post, _columns(char, len(rows[0]), metrics))
    lines: list[str] = []
    for row, times in zip(rows, _spread(len(rows), metrics.bar, 2 * height), strict=True):
        line = "".join(mark * wide for mark, wide in zip(row, columns, strict=True))
        lines.extend([line] * times)
    return tuple(
        "".join(_CELLS[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(lines[::2], lines[1::2], strict=True)
    )


def _columns(char: str, master: int, metrics: _Metrics) -> int:
    """Width of a glyph whose master has that many columns: one, three or five."""
    if master == 1:
        return metrics.post
    if char in "- ":
        return max(metrics.columns * 3 // 5, 2 * metrics.post)
    return 3 * metrics.post if master == 3 else metrics.columns


def _spread(lines: int, stroke: int, total: int) -> list[int]:
    """Thickness of each line of a master: strokes as given, gaps share the rest.

    Where it does not go in evenly the later gap gets more: a low middle stroke would look heavy.
    """
    gaps = lines // 2
    rest = total - stroke * (lines - gaps)
    parts = iter([rest * (n + 1) // gaps - rest * n // gaps for n in range(gaps)])
    return [stroke if index % 2 == 0 else next(parts) for index in range(lines)]
