"""The place of everything on a terminal of any size, and what gives way first on a small one.

Pure: columns, rows and phase in, areas out. Areas never overlap and never leave the terminal. What
is read from the mat is large: in a rest the time, the word, the name and side of the next set and
its number to beat; in a set the number to beat, and smaller the word, the name and the time. In a
timed hold, time and number change places. Beside the large piece is the frame for a count. Text is
for a person at the keys.

80x24 is the design size. Where rows are short, parts are left out from the end of `_WORK` upwards:
blank rows, tips, aim, next, set-up, bar, and then what is only helpful. Where there are many, the
number of a set grows first. Ready, wrap-up and the end are pages of text.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Literal

from msgspec import Struct

from runner.screen import glyphs
from runner.session.state import Phase

Part = Literal[
    "head",  # where we are, and how far
    "rule",  # the phase's shape
    "large",  # the time; in a set the number to beat
    "word",  # the phase
    "frame",  # the count that is asked for
    "beside",  # ordinary text beside the large piece
    "label",  # of the name
    "name",  # short name and side; in a warm-up the word
    "small label",
    "small",  # in a rest the next number to beat, in a set the time
    "info",
    "entry",  # messages, and the count where there is no frame
    "keys",
]
Plan = Literal["work", "page"]


class Area(Struct, frozen=True):
    """A rectangle in cells; `glyph` is the height of its large glyphs, 0 for ordinary text."""

    part: Part
    x: int
    y: int
    width: int
    height: int
    glyph: int = 0
    style: glyphs.Style = "wide"


Layout = Mapping[Part, Area]

PLANS: Mapping[Phase, Plan] = {
    "ready": "page",
    "warm-up": "work",
    "rest": "work",
    "set": "work",
    "paused": "work",
    "wrap-up": "page",
    "closed": "page",
}

# The word for the phase; a hold and a rest that waits for a key have their own.
WORDS: Mapping[Phase, str] = {
    "ready": "READY",
    "warm-up": "WARM-UP",
    "rest": "REST",
    "set": "SET",
    "paused": "PAUSED",
    "wrap-up": "WRAP-UP",
    "closed": "DONE",
}
_WIDEST = "REST"  # no word of a set or a rest is wider, so nothing jumps between them
FRAMED = 27  # columns of the frame: its title holds `SPLIT R 2: how many?` and longer
_ROOMY = 70  # columns from which margins are two columns wide
_ASIDE = 8  # columns without which text beside a large piece is no use
_LEAST_TIME = "0:00"  # narrow, in seven rows: what must have room beside the frame
_WIDE, _TALL = 100, 30  # columns and rows from which free rows are used
# A page of text is what these rows leave of it.
_PAGE: tuple[tuple[Part, int], ...] = (
    ("info", 1), ("keys", 1), ("entry", 1), ("info", 3), ("head", 1), ("info", 8),
)  # fmt: skip


def layout(
    cols: int, rows: int, phase: Phase, *, large: str = "00:00", tryout: bool = False
) -> Layout:
    """The areas for a terminal of that many columns and rows, each at least 1.

    `large` is the large piece as it will be shown, for its length; `tryout` shows a set before
    there is one. Parts that have no room are missing.
    """
    margin = 2 if cols >= _ROOMY else 1 if cols >= 40 else 0
    if not tryout and PLANS[phase] == "page":
        return _page(cols, rows, margin)
    frames = [
        _Frame(cols, rows, margin, word, phase, large, tryout=tryout)
        for word in range(glyphs.word_rows(rows), glyphs.LEAST_WORD_ROWS - 1, -1)
    ]
    frame = max(frames, key=_worth)
    return _place(frame, _heights(frame))


def is_roomy(cols: int, rows: int) -> bool:
    """Whether free rows are used for what comes after, what was, and what recovers."""
    return cols >= _WIDE and rows >= _TALL


def large_rows(rows: int, *, in_set: bool) -> int:
    """Height of the large piece where there is room for it: a set's number grows first."""
    grown = rows // 3 - 1 + glyphs.spare_rows(rows) * 2 // 3
    return max(glyphs.LEAST_TIME_ROWS, grown) if in_set else glyphs.time_rows(rows)


class _Frame(Struct, frozen=True, dict=True):
    cols: int
    rows: int
    margin: int
    word: int  # rows of a large word
    phase: Phase
    sample: str  # the large piece
    tryout: bool

    @property
    def inner(self) -> int:
        return self.cols - 2 * self.margin

    @property
    def worded(self) -> bool:
        """Whether the word stands beside the time; the warm-up's is too wide."""
        return self.phase != "warm-up"

    @cached_property
    def right(self) -> int:
        """Columns beside the large piece, for word and frame; 0 where there is no room."""
        framed = max(FRAMED, glyphs.width("000", self.word) + 4)
        wide = max(framed, glyphs.width(_WIDEST, self.word) + 2) + (self.cols >= _ROOMY)
        sample = self.sample if ":" in self.sample else _LEAST_TIME
        least = glyphs.width(sample, glyphs.LEAST_TIME_ROWS, "narrow") + 1
        return wide if self.worded and self.inner - wide >= least else 0

    @property
    def most(self) -> int:
        """Rows of the large piece, as far as rows go: a line below it always stays."""
        in_set = self.phase == "set" or self.tryout
        wanted = large_rows(self.rows, in_set=in_set)
        return min(wanted, self.rows if self.rows < 4 else max(self.rows - 3, 3))

    @cached_property
    def large(self) -> _Large:
        """The large piece as high as it goes: height is worth more than width.

        Above a quarter of the terminal it is not: there a wide piece may be a little lower.
        """
        room = self.inner - (self.right + 1 if self.right else 0)
        styles: tuple[glyphs.Style, ...] = ("wide", "narrow")
        enough = max(self.rows // 4, glyphs.LEAST_TIME_ROWS)
        sizes: list[tuple[int, glyphs.Style]] = [
            *((glyph, "wide") for glyph in range(self.most, enough - 1, -1)),
            *((glyph, style) for glyph in range(self.most, 2, -1) for style in styles),
        ]
        slim: list[tuple[int, glyphs.Style]] = [
            (glyph, "slim") for glyph in range(min(self.most, 5), 2, -1)
        ]
        for glyph, style in (*sizes, *slim):
            width = glyphs.width(self.sample, glyph, style)
            if width <= room:
                return _Large(glyph, style, width)
        return _Large(0, "wide", min(len(self.sample), max(room, 1)))


class _Large(Struct, frozen=True):
    glyph: int  # 0: text
    style: glyphs.Style
    width: int


def _worth(frame: _Frame) -> tuple[bool, bool, int]:
    """What words of this height leave: the large piece, the frame beside it, and its height."""
    glyph = frame.large.glyph
    return glyph >= glyphs.LEAST_TIME_ROWS, frame.right > 0, glyph


def _wishes(frame: _Frame) -> Iterator[tuple[str, int]]:
    """What there is room for, the most needed first, with its rows; `info` and `entry` add up."""
    word, large = frame.word, frame.large
    beside = 2 * word + 2  # a word, and the frame below it
    named = frame.rows >= max(large.glyph, beside if frame.right else 0) + word + 2
    yield from (("entry", 1), ("keys", 1))
    if not named:
        yield "info", 1
    yield from (("large", 1) for _ in range(3, large.glyph))
    if frame.right:
        yield "large", max(beside - max(large.glyph, 3), 0)
    elif frame.worded:
        yield "word", word
    if named:
        yield "name", word
    yield from (("label", 1), ("head", 1), ("rule", 1))
    yield from (("info", 1) for _ in range(4))
    yield from (("entry", 1), ("gap rule", 1), ("gap name", 1), ("info", 1))
    if frame.rows >= _TALL + 2:
        yield "gap large", 1


def _heights(frame: _Frame) -> dict[str, int]:
    """Rows of each part and gap, with what is left over given to the text."""
    heights = {"large": min(frame.rows, max(min(frame.large.glyph, 3), 1))}
    free = frame.rows - heights["large"]
    for what, rows in _wishes(frame):
        if rows > free or not _wanted(frame, heights, what):
            continue
        heights[what] = heights.get(what, 0) + rows
        free -= rows
    if "info" in heights:
        heights["info"] += free
    return heights


def _wanted(frame: _Frame, heights: Mapping[str, int], what: str) -> bool:
    """Whether a part makes sense at all in this width and beside what there is."""
    if what in ("label", "gap name"):
        return "name" in heights
    if what == "gap rule":
        return "rule" in heights
    if what == "word":
        return glyphs.width(_WIDEST, frame.word) <= frame.inner
    if what == "name":
        return glyphs.width("ABC L", frame.word) <= frame.inner
    return True


def _place(frame: _Frame, heights: Mapping[str, int]) -> Layout:
    """Areas from top to bottom."""
    areas: dict[Part, Area] = {}
    order: tuple[Part, ...] = (
        "head", "rule", "large", "word", "label", "name", "info", "entry", "keys",
    )  # fmt: skip
    y = 0
    for part in order:
        height = heights.get(part, 0)
        if not height:
            continue
        if part == "large":
            areas.update(_beside(frame, y, height))
        elif part in ("label", "name"):
            areas.update(_named(frame, part, y, height))
        else:
            glyph = frame.word if part == "word" else 0
            areas[part] = Area(part, frame.margin, y, frame.inner, height, glyph)
        y += height + heights.get(f"gap {part}", 0)
    return areas


def _beside(frame: _Frame, y: int, height: int) -> dict[Part, Area]:
    """The large piece, the word beside it, and below the word the frame."""
    x, word, large = frame.margin, frame.word, frame.large
    glyph = min(large.glyph, height)
    areas: dict[Part, Area] = {
        "large": Area("large", x, y, large.width, max(glyph, 1), glyph, large.style)
    }
    right = frame.cols - frame.margin - frame.right
    end = right if frame.right else frame.cols - frame.margin
    if frame.right and frame.worded and height >= word:
        sample = "SET" if frame.tryout else WORDS[frame.phase]
        wide = max(glyphs.width(sample, word), frame.right - 2)
        at = frame.cols - frame.margin - wide  # a long word needs some of the room before it
        at = at if at >= x + large.width + 1 else right + 2
        areas["word"] = Area("word", at, y, frame.cols - frame.margin - at, word, word)
        end = min(end, at)
    aside = x + large.width + 1
    if end - aside >= _ASIDE:
        low = max(glyph, 1) if glyph < word else 1
        areas["beside"] = Area("beside", aside, y + max(glyph, 1) - low, end - aside, low)
    if frame.right and height >= 2 * word + 2:
        wide = max(FRAMED, glyphs.width("000", word) + 4)
        areas["frame"] = Area("frame", right, y + word, wide, word + 2, word)
    return areas


def _named(frame: _Frame, part: Part, y: int, height: int) -> dict[Part, Area]:
    """The name on the left, the small number on the right below word and frame."""
    glyph = frame.word if part == "name" else 0
    areas: dict[Part, Area] = {part: Area(part, frame.margin, y, frame.inner, height, glyph)}
    if frame.right and frame.worded:
        x = frame.cols - frame.margin - frame.right + 2
        small: Part = "small" if part == "name" else "small label"
        areas[part] = Area(part, frame.margin, y, x - frame.margin - 2, height, glyph)
        areas[small] = Area(small, x, y, frame.cols - frame.margin - x, height, glyph)
    return areas


def _page(cols: int, rows: int, margin: int) -> Layout:
    """A page of text: head, text, what there is to say, keys."""
    heights: dict[str, int] = {}
    free = rows
    for part, wanted in _PAGE:
        take = min(wanted, free) if part == "info" else wanted
        if take and take <= free:
            heights[part] = heights.get(part, 0) + take
            free -= take
    heights["info"] += free
    gap = int("head" in heights and heights["info"] > 12)
    heights["info"] -= gap
    areas: dict[Part, Area] = {}
    y = 0
    parts: tuple[Part, ...] = ("head", "info", "entry", "keys")
    for part in parts:
        if part in heights:
            areas[part] = Area(part, margin, y, cols - 2 * margin, heights[part])
            y += heights[part] + (gap if part == "head" else 0)
    return areas
