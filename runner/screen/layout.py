"""Where things stand on a terminal of any size, and what gives way first where it is small.

Pure: columns, rows and phase in, areas out. Areas never overlap and never leave the terminal.
What has to be read from the mat is large: in a set the time, the phase and the count, in a rest
the time, the phase and the name and side of what comes next. Text is for the hands on the keys.

80x24 is the design size. Larger terminals get larger glyphs. Where rows are short, parts are left
out from the end of `KEPT` upwards, so the large time is what stays; below some fifteen columns or
three rows even it becomes text.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct

from runner.screen import glyphs
from runner.session.state import Phase

Part = Literal[
    "head",  # plan, session, block; progress and time left
    "rule",  # the phase's shape
    "time",
    "word",  # the phase
    "label",  # of the count
    "count",
    "name",  # short name and side
    "aside",  # ordinary text beside a large piece that stands alone
    "info",
    "entry",
    "keys",
]
Plan = Literal["work", "alone", "sheet"]


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
    "ready": "sheet",
    "warm-up": "alone",
    "rest": "work",
    "set": "work",
    "paused": "alone",
    "wrap-up": "alone",
    "closed": "sheet",
}

Wish = tuple[str, int]  # part (or "gap below" one), rows; -1: as high as its glyphs

# What there is room for, the most needed first; a part that does not fit is left out, and the
# next one gets its chance. "info" and "entry" add up. The time comes before all of them.
KEPT: Mapping[Plan, tuple[Wish, ...]] = {
    "work": (
        ("entry", 1),
        ("info", 1),
        ("word", -1),  # where it stands beside the time it costs nothing
        ("name", -1),
        ("info", 1),
        ("head", 1),
        ("keys", 1),
        ("rule", 1),
        ("info", 2),
        ("gap time", 1),
        ("entry", 1),
        ("gap name", 1),
        ("info", 3),
        ("gap rule", 1),
        ("gap info", 1),
    ),
    "alone": (
        ("entry", 1),
        ("info", 1),
        ("word", -1),
        ("head", 1),
        ("keys", 1),
        ("rule", 1),
        ("info", 2),
        ("gap time", 1),
        ("gap word", 1),
        ("entry", 1),
        ("info", 3),
        ("gap rule", 1),
        ("gap info", 1),
    ),
    "sheet": (
        ("info", 1),
        ("keys", 1),
        ("entry", 1),
        ("info", 4),
        ("word", -1),
        ("rule", 1),
        ("info", 4),
        ("gap word", 1),
        ("gap rule", 1),
        ("gap info", 1),
    ),
}

_ORDER: Mapping[Plan, tuple[Part, ...]] = {
    "work": ("head", "rule", "time", "word", "name", "info", "entry", "keys"),
    "alone": ("head", "rule", "time", "word", "info", "entry", "keys"),
    "sheet": ("rule", "word", "info", "entry", "keys"),
}

# The word for the phase, large; a hold and a rest that waits for a key have their own.
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
_ASIDE = 14  # columns without which text beside a large piece is no use
_RULED = 14  # rows below which a rule or a gap would only take the place of a text
_BETWEEN = 3  # columns between two large pieces


def layout(
    cols: int, rows: int, phase: Phase, *, clock: str = "00:00", tryout: bool = False
) -> Layout:
    """The areas for a terminal of so many columns and rows, each at least 1.

    `clock` is the time as it will be shown, for its length; `tryout` shows a set before there
    is one. Parts that have no room are missing.
    """
    plan: Plan = "work" if tryout else PLANS[phase]
    margin = 2 if cols >= 60 else 1 if cols >= 40 else 0
    sample = _WIDEST if plan == "work" else WORDS[phase]
    frame = _Frame(cols, rows, margin, glyphs.word_rows(rows), sample)
    time = None if plan == "sheet" else _time(frame, plan, clock)
    heights = _heights(frame, plan, time)
    return _place(frame, plan, time, heights)


class _Frame(Struct, frozen=True):
    cols: int
    rows: int
    margin: int
    word: int  # rows of a large word
    sample: str  # the word for the phase, or one as wide

    @property
    def inner(self) -> int:
        return self.cols - 2 * self.margin

    def fits(self, text: str, besides: int = 0) -> bool:
        """Whether a large word fits the width, beside so many columns of other things."""
        return self.rows > self.word and glyphs.width(text, self.word) + besides <= self.inner


class _Time(Struct, frozen=True):
    glyph: int  # 0: text
    style: glyphs.Style
    width: int
    beside: bool  # word and count stand beside it
    height: int


def _time(frame: _Frame, plan: Plan, clock: str) -> _Time:
    """The largest time that leaves a line for the rest of the world, two where there are five."""
    most = frame.rows if frame.rows < 5 else frame.rows - 2
    most = 3 if frame.rows == 4 else min(most, glyphs.time_rows(frame.rows))
    sample = clock if len(clock) > 5 else "00:00"
    for glyph, style in _sizes(most):
        width = glyphs.width(sample, glyph, style)
        if width <= frame.inner:
            return _beside(frame, plan, glyph, style, width)
    return _Time(0, "wide", min(len(sample), frame.cols), beside=False, height=1)


def _sizes(most: int) -> list[tuple[int, glyphs.Style]]:
    """Heights and styles of the time, the best first: height is worth more than width."""
    styles: tuple[glyphs.Style, ...] = ("wide", "narrow")
    tall = [(glyph, style) for glyph in range(most, 2, -1) for style in styles]
    return [*tall, *((glyph, "slim") for glyph in range(min(most, 5), 2, -1))]


def _beside(frame: _Frame, plan: Plan, glyph: int, style: glyphs.Style, width: int) -> _Time:
    both = 2 * frame.word + 1
    fits = plan == "work" and frame.fits(frame.sample, width + _BETWEEN)
    fits = fits and both <= frame.rows - 2
    return _Time(glyph, style, width, beside=fits, height=max(glyph, both) if fits else glyph)


def _heights(frame: _Frame, plan: Plan, time: _Time | None) -> dict[str, int]:
    """Rows of each part and gap, by `KEPT`, with what is left over given to the text."""
    heights: dict[str, int] = {}
    left = frame.rows
    if time is not None:
        heights["time"] = time.height
        left -= heights["time"]
    for what, wanted in KEPT[plan]:
        cost = frame.word if wanted < 0 else wanted
        if cost > left or not _wanted(frame, time, heights, what):
            continue
        heights[what] = heights.get(what, 0) + cost
        left -= cost
    if "info" in heights:
        heights["info"] += left
    return heights


def _wanted(frame: _Frame, time: _Time | None, heights: Mapping[str, int], what: str) -> bool:
    """Whether a part makes sense at all in this width and beside what there is."""
    if what in ("rule", "gap info") and frame.rows < _RULED:
        return False
    if what.startswith("gap "):
        return what.removeprefix("gap ") in heights
    if what == "word":
        return frame.fits(frame.sample) and not (time is not None and time.beside)
    if what == "name":
        return frame.fits("ABC L")
    return True


def _place(frame: _Frame, plan: Plan, time: _Time | None, heights: Mapping[str, int]) -> Layout:
    """Areas from top to bottom."""
    areas: dict[Part, Area] = {}
    y = 0
    for part in _ORDER[plan]:
        height = heights.get(part, 0)
        if not height:
            continue
        if part == "time" and time is not None:
            areas.update(_time_areas(frame, plan, time, y))
        elif part == "word":
            areas.update(_word_areas(frame, plan, y))
        else:
            glyph = frame.word if part == "name" else 0
            areas[part] = Area(part, frame.margin, y, frame.inner, height, glyph)
        y += height + heights.get(f"gap {part}", 0)
    return areas


def _time_areas(frame: _Frame, plan: Plan, time: _Time, y: int) -> dict[Part, Area]:
    """The time, and in a set or rest what stands beside it: the word above, the count below."""
    x = frame.margin
    areas: dict[Part, Area] = {
        "time": Area("time", x, y, time.width, max(time.glyph, 1), time.glyph, time.style)
    }
    aside = x + time.width + _BETWEEN
    width = frame.cols - frame.margin - aside
    if time.beside:
        low = y + time.height - frame.word
        areas["word"] = Area("word", aside, y, width, frame.word, frame.word)
        areas["label"] = Area("label", aside, low - 1, width, 1)
        areas["count"] = Area("count", aside, low, width, frame.word, frame.word)
    elif width >= _ASIDE and (plan == "work" or frame.rows < 5):
        areas["aside"] = Area("aside", aside, y, width, max(time.glyph, 1))
    return areas


def _word_areas(frame: _Frame, plan: Plan, y: int) -> dict[Part, Area]:
    """A word in a line of its own; in a set with the count behind it, else with text."""
    x, word = frame.margin, frame.word
    width = glyphs.width(frame.sample, word)
    areas: dict[Part, Area] = {"word": Area("word", x, y, width, word, word)}
    behind = x + width + _BETWEEN
    left = frame.cols - frame.margin - behind
    if plan == "work" and left >= glyphs.width("00", word):
        areas["count"] = Area("count", behind, y, left, word, word)
    elif plan != "work" and left >= _ASIDE:
        areas["aside"] = Area("aside", behind, y, left, word)
    return areas
