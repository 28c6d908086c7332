"""Charts as rows of text. Every row has its label, and the label is the value drawn in it.

A chart is a grid of signs that this module fills itself: a sign stands in the row of its count
and in the column of its day, or nowhere. Where there is no room for a row a count, or a column
a day, a row or a column sums up several and says so.

A set is its number, several at one place a `*`, a range two brackets, a change a dotted line:
that works without colour, and colours would say nothing more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import chain, count
from math import ceil, floor

from msgspec import Struct

SAME_PLACE = "*"  # two sets or more lie here: our choice
SIGNS = "123456789abcdefghijklmnopqrstuvwxyz"  # of the first set, the second …
BAR, HALF, FROM, TO, CHANGED = "█", "▌", "[", "]", "┊"
LEAST = 40  # columns below which no chart is drawn; our choice
MOST_ROWS = 32  # of a trend, before a row sums up several counts; our choice
GAP = 3  # so many counts in a row that nobody did become one row; our choice


class Dot(Struct, frozen=True):
    """One session of a trend: its day and the count of each set, first to last."""

    on: date
    values: Sequence[float]
    new: bool = False  # something was changed before it
    numbers: Sequence[int] = ()  # which set each value is of; by default 1, 2, 3 …

    @property
    def sets(self) -> Iterator[tuple[int, float]]:
        """(number of the set, its count)."""
        return zip(self.numbers or count(1), self.values, strict=False)


def trend(dots: Sequence[Dot], width: int) -> list[str]:
    """Counts over days, oldest first: each set stands as its number, `*` where several do.

    A row for each count, the highest on top; `⋮` for counts that nobody did. A dotted column is
    that of a session that something was changed for. The last row names the days. [] without
    any count.
    """
    dots = [dot for dot in dots if dot.values]
    if not dots:
        return []
    rows = _Rows([value for dot in dots for value in dot.values])
    margin = max(len(label) for _, label in rows.labels)
    days = _Days([dot.on for dot in dots], width - margin - 2)
    places: dict[tuple[int, int], list[int]] = {}
    for dot in dots:
        for number, value in dot.sets:
            places.setdefault((rows.of(value), days.column(dot.on)), []).append(number)
    changed = {days.column(dot.on) for dot in dots if dot.new}
    drawn = []
    for row, label in rows.labels:
        cells = [
            _sign(places[row, column])
            if (row, column) in places
            else CHANGED
            if column in changed
            else " "
            for column in range(days.columns)
        ]
        drawn.append(f"{label:>{margin}} │{''.join(cells)}".rstrip())
    axis = "".join("┬" if column in days.ticks else "─" for column in range(days.columns))
    return [
        *drawn,
        f"{'':{margin}} └{axis}",
        f"{'':{margin}}  {days.names}",
        f"{'':{margin}}  {days.scale}",
    ]


def _sign(numbers: Sequence[int]) -> str:
    return SAME_PLACE if len(numbers) > 1 else SIGNS[min(numbers[0], len(SIGNS)) - 1]


class _Rows:
    """The rows of a trend: each is one count, or several where there are too many."""

    def __init__(self, values: Sequence[float]) -> None:
        # Counts are whole; the mean of two sides has a half, of two holds a twentieth.
        self._unit = next((u for u in (1.0, 0.5, 0.1, 0.05) if _all_on(values, u)), 0.05)
        for self._step in _steps():
            used = sorted({self.of(value) for value in values}, reverse=True)
            self.labels = list(self._labels(used))
            if len(self.labels) <= MOST_ROWS:
                break

    def of(self, value: float) -> int:
        """The row that a count is drawn in, a greater number for a greater count."""
        return round(value / self._unit) // self._step

    def _labels(self, used: Sequence[int]) -> Iterator[tuple[int, str]]:
        """(row, label), the highest first; a long way without any count is one row of its own."""
        above = used[0]
        for row in used:
            if above - row > GAP:
                yield above - 1, "⋮"
            else:
                yield from (
                    (between, self._label(between)) for between in range(above - 1, row, -1)
                )
            yield row, self._label(row)
            above = row

    def _label(self, row: int) -> str:
        low, high = (row * self._step * self._unit, ((row + 1) * self._step - 1) * self._unit)
        low, high = round(low, 2), round(high, 2)
        return f"{low:g}" if low == high else f"{low:g}-{high:g}"


def _steps() -> Iterator[int]:
    """Yield 1, 2, 5, 10, 20, 50 and so on."""
    power = 1
    while True:
        yield from (power, 2 * power, 5 * power)
        power *= 10


def _all_on(values: Sequence[float], unit: float) -> bool:
    return all(abs(value / unit - round(value / unit)) < 1e-6 for value in values)


class _Days:
    """The columns of a trend: so many columns a day, or so many days a column."""

    def __init__(self, days: Sequence[date], room: int) -> None:
        self._first = days[0]
        span = (days[-1] - days[0]).days + 1
        self._days = ceil(span / room)
        self._apart = max(min((room - 5) // span, room // 8), 1) if self._days == 1 else 1
        self.columns = self.column(days[-1]) + 1
        # A date takes five columns from its tick on.
        self.ticks: list[int] = []
        names = ""
        for day in days:
            column = self.column(day)
            if column >= len(names) + bool(names) and column + 5 <= room:
                names = f"{names.ljust(column)}{day:%m-%d}"
                self.ticks.append(column)
        self.names = names
        to = f"{days[0]} to {days[-1]}" if span > 1 else f"{days[0]}"
        self.scale = f"from {days[0]}, {self._days} days a column" if self._days > 1 else to

    def column(self, day: date) -> int:
        """The column of a day, from 0."""
        return (day - self._first).days // self._days * self._apart


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
    """At most so many of the days, spread over them, the first and the last among them."""
    last = len(days) - 1
    if last < most:
        return list(dict.fromkeys(days))
    return list(dict.fromkeys(days[round(last * n / (most - 1))] for n in range(most)))
