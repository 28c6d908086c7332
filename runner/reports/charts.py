"""Charts as rows of text: counts over days in braille dots, bars in blocks.

A braille sign is two dots wide and four high. In a trend a column of dots is one day and a row one
count, so no two counts share a dot, however long the period: a long one is drawn in several panels
below each other. The label of a row names the lowest and the highest count of its four rows of
dots.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import chain
from math import ceil, floor

from msgspec import Struct

BAR, HALF, FROM, TO, CHANGED = "█", "▌", "[", "]", "┊"
SIGNS = f"{BAR}{HALF}{CHANGED}⋮│└┬─⠿"  # that no encoding but Unicode's has
LEAST = 40  # columns below which no chart is drawn; our choice
MOST_ROWS = 16  # of a panel, before a dot sums up several counts; our choice
HIGH = 4  # dots of a braille sign, from top to bottom
# Bits of a braille sign by column and row of its dots: Unicode 16.0, chapter 21.1.
BRAILLE, _BITS = 0x2800, ((0, 1, 2, 6), (3, 4, 5, 7))


class Dot(Struct, frozen=True):
    """One session of a trend: its day, the count of each set, and at which level."""

    on: date
    values: Sequence[float]
    new: bool = False  # another level than in the session before
    level: str = ""


def trend(dots: Sequence[Dot], width: int) -> list[str]:
    """Counts over days, oldest first: a dot for each, in panels of at most `width` columns.

    `⋮` stands for counts that nobody did. Under a panel stand days, levels (each from its first
    session on) and the days from and to. [] without any count.
    """
    dots = [dot for dot in dots if dot.values]
    if not dots:
        return []
    scale = _Scale([value for dot in dots for value in dot.values])
    margin = max(len(scale.label(scale.row(v))) for dot in dots for v in dot.values)
    return [
        line
        for panel in _panels(dots, 2 * (width - margin - 2))
        for line in _panel(panel, scale, margin, width - margin - 2)
    ]


def _panels(dots: Sequence[Dot], days: int) -> Iterator[list[Dot]]:
    """The sessions in runs of at most that many days."""
    panel: list[Dot] = []
    for dot in dots:
        if panel and (dot.on - panel[0].on).days >= days:
            yield panel
            panel = []
        panel.append(dot)
    yield panel


def _panel(dots: Sequence[Dot], scale: _Scale, margin: int, room: int) -> Iterator[str]:
    first, last = dots[0].on, dots[-1].on
    columns = (last - first).days // 2 + 1
    bits: dict[tuple[int, int], int] = {}
    for dot in dots:
        column, right = divmod((dot.on - first).days, 2)
        for value in dot.values:
            row, up = divmod(scale.of(value), HIGH)
            at = (row, column)
            bits[at] = bits.get(at, 0) | 1 << _BITS[right][HIGH - 1 - up]
    for here in _with_gaps(sorted({row for row, _ in bits}, reverse=True)):
        label = "⋮" if here is None else scale.label(here)
        drawn = [] if here is None else [bits.get((here, column)) for column in range(columns)]
        signs = "".join(" " if bit is None else chr(BRAILLE + bit) for bit in drawn)
        yield f"{label:>{margin}} │{signs}".rstrip()
    by_column = [((dot.on - first).days // 2, dot) for dot in dots]
    days = _names([(column, f"{dot.on:%m-%d}") for column, dot in by_column], room)
    ticks = "".join("┬" if c in dict(days) else "─" for c in range(columns))
    yield f"{'':{margin}} └{ticks}"
    yield f"{'':{margin}}  {_written(days)}"
    levels = [(0, dots[0].level)]
    levels += [(column, CHANGED + dot.level) for column, dot in by_column[1:] if dot.new]
    if any(name for _, name in levels):
        yield f"{'':{margin}}  {_written(levels)[:room]}"
    yield f"{'':{margin}}  {first} to {last}" if first != last else f"{'':{margin}}  {first}"


def _names(found: Iterable[tuple[int, str]], room: int) -> list[tuple[int, str]]:
    """Those of the texts that have room behind the one before, and before the edge."""
    kept: list[tuple[int, str]] = []
    for column, text in found:
        free = not kept or column > kept[-1][0] + len(kept[-1][1])
        if free and column + len(text) <= room:
            kept.append((column, text))
    return kept


def _written(texts: Iterable[tuple[int, str]]) -> str:
    """Texts from their columns on; each ends where the next one begins."""
    line = ""
    for column, text in texts:
        line = line[:column].ljust(column) + text
    return line


def _with_gaps(rows: Sequence[int]) -> Iterator[int | None]:
    """The rows from the highest on; a long way without a count is one row of its own, None."""
    above = rows[0]
    for row in rows:
        if above - row > 2:
            yield None
        else:
            yield from range(above - 1, row, -1)
        yield row
        above = row


class _Scale:
    """The rows of dots from the least count up: one count each, or several of too many."""

    def __init__(self, values: Sequence[float]) -> None:
        # Counts are whole; the mean of two sides has a half, of two holds a twentieth.
        self._unit = next((u for u in (1.0, 0.5, 0.1, 0.05) if _all_on(values, u)), 0.05)
        self._least = round(min(values) / self._unit)
        for self._step in _steps():
            rows = sorted({self.row(value) for value in values}, reverse=True)
            if len(list(_with_gaps(rows))) <= MOST_ROWS:
                break

    def of(self, value: float) -> int:
        """The row of dots, a greater number for a greater count."""
        return (round(value / self._unit) - self._least) // self._step

    def row(self, value: float) -> int:
        """The row of signs."""
        return self.of(value) // HIGH

    def label(self, row: int) -> str:
        """From the lowest to the highest count of a row of signs."""
        low = self._least + row * HIGH * self._step
        high = low + HIGH * self._step - 1
        return f"{round(low * self._unit, 2):g}-{round(high * self._unit, 2):g}"


def _steps() -> Iterator[int]:
    """Yield 1, 2, 5, 10, 20, 50 and so on."""
    power = 1
    while True:
        yield from (power, 2 * power, 5 * power)
        power *= 10


def _all_on(values: Sequence[float], unit: float) -> bool:
    return all(abs(value / unit - round(value / unit)) < 1e-6 for value in values)


class Bar(Struct, frozen=True):
    """One bar with the band that it is held against."""

    label: str
    value: float
    band: tuple[float, float]


def bars(given: Sequence[Bar], width: int) -> list[str]:
    """Bars from left to right, a row each, and what a block is worth.

    The marks `[` and `]` stand between blocks: a bar that touches `[` has the least of its band,
    one that touches `]` the most. `▌` is a part of a block.
    """
    margin = max(len(bar.label) for bar in given)
    top = max(1.0, *(max(bar.value, bar.band[1]) for bar in given))
    room = max(width - margin - 4, 1)
    block = next(size for size in chain((0.5,), _steps()) if ceil(top / size) <= room)
    rows = [f"{bar.label:{margin}} │{_bar(bar, block)}".rstrip() for bar in given]
    return [*rows, f"{'':{margin}}  {BAR} is {block:g} {'set' if block <= 1 else 'sets'}"]


def _bar(bar: Bar, block: float) -> str:
    whole = floor(bar.value / block)
    blocks = BAR * whole + (HALF if bar.value > whole * block else "")
    low, high = (round(edge / block) for edge in bar.band)
    cells = blocks.ljust(max(high, len(blocks)))
    return f"{cells[:low]}{FROM}{cells[low:high]}{TO}{cells[high:]}"


def spread(days: Sequence[int], most: int) -> list[int]:
    """At most that many of the days, spread over them, the first and the last among them."""
    last = len(days) - 1
    if last < most:
        return list(dict.fromkeys(days))
    return list(dict.fromkeys(days[round(last * n / (most - 1))] for n in range(most)))
