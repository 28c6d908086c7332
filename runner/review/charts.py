"""Charts as rows of text, drawn by plotext without any colour; markers tell things apart.

plotext keeps one figure; every chart here begins by clearing it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import cycle, pairwise
from typing import Any

import plotext  # type: ignore[import-untyped]

SAME_PLACE = "*"  # two sets or more lie here: our choice
BAR, FROM, TO = "█", "[", "]"
LEAST, SHORTEST = 40, 8  # columns and rows below which no chart is drawn; our choice


@dataclass(frozen=True, slots=True)
class Dot:
    """One session of a trend: its day and the count of each set, first to last."""

    on: date
    values: Sequence[float]
    new: bool = False  # something was changed before it
    numbers: Sequence[int] = ()  # which set each value is of; by default 1, 2, 3 …


def trend(dots: Sequence[Dot], width: int, height: int) -> list[str]:
    """Counts over days: each set stands as its number, `*` where several lie on one place.

    A dotted line stands before a session that something was changed for.
    """
    figure = _cleared(width, height)
    days = [dot.on.toordinal() for dot in dots]
    low = int(min(min(dot.values) for dot in dots))
    high = int(max(max(dot.values) for dot in dots) + 0.999)
    places: dict[tuple[int, float], list[int]] = {}
    for day, dot in zip(days, dots, strict=True):
        numbers = dot.numbers or range(1, len(dot.values) + 1)
        for number, value in zip(numbers, dot.values, strict=True):
            places.setdefault((day, value), []).append(number)
    for (day, value), numbers in places.items():
        marker = str(numbers[0] % 10) if len(numbers) == 1 else SAME_PLACE
        figure.draw(figure.signal([day], [value], marker=marker))
    for (before, day), dot in zip(pairwise(days), dots[1:], strict=True):
        if dot.new:
            figure.line((before + day) / 2, "v", style="dotted")
    margin = max((days[-1] - days[0]) / 40, 0.5)
    figure.ruler("x").lim(days[0] - margin, days[-1] + margin)
    marked = _spread(days, max(2, width // 16))
    names = [date.fromordinal(day).isoformat()[5:] for day in marked]
    figure.ruler("x").ticks(marked, names)
    figure.ruler("y").lim(low - 0.5, high + 0.5)
    counts = _whole_steps(low, high, height - 3)
    figure.ruler("y").ticks(counts, [str(count) for count in counts])
    return _rows(figure)


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar with the band that it is held against."""

    label: str
    value: float
    band: tuple[float, float]


def bars(given: Sequence[Bar], width: int) -> list[str]:
    """Bars from left to right, a row each; `[` and `]` stand at the ends of each one's band."""
    figure = _cleared(width, len(given) + 3)
    top = max(1.0, *(max(bar.value, bar.band[1]) for bar in given)) * 1.1
    steps = 2 * width  # finer than a column, so that none is left out
    for row, bar in enumerate(reversed(given), 1):
        along = [top * step / steps for step in range(1, int(steps * bar.value / top) + 1)]
        if along:
            figure.draw(figure.signal(along, [row] * len(along), marker=BAR))
        for edge, marker in zip(bar.band, (FROM, TO), strict=True):
            figure.draw(figure.signal([edge], [row], marker=marker))
    figure.ruler("x").lim(0, top)
    scale = _whole_steps(0, int(top), 8)
    figure.ruler("x").ticks(scale, [str(mark) for mark in scale])
    width_of_labels = max(len(bar.label) for bar in given)
    figure.ruler("y").lim(0.5, len(given) + 0.5)
    labels = [bar.label.ljust(width_of_labels) for bar in reversed(given)]
    figure.ruler("y").ticks(list(range(1, len(given) + 1)), labels)
    return _rows(figure)


def _cleared(width: int, height: int) -> Any:
    figure = plotext.figure
    figure.clear()
    figure.theme("colorless")
    figure.plot_size(max(width, LEAST), height)
    return figure


def _rows(figure: Any) -> list[str]:
    return [row.rstrip() for row in figure.build().string(colorless=True).splitlines()]


def _spread(days: Sequence[int], most: int) -> list[int]:
    """At most so many of the days, spread over them, the first and the last among them."""
    last = len(days) - 1
    if last < most:
        return list(dict.fromkeys(days))
    return list(dict.fromkeys(days[round(last * n / (most - 1))] for n in range(most)))


def _whole_steps(low: int, high: int, most: int) -> list[int]:
    """Whole numbers from `low` to `high` by the smallest of 1, 2, 5, 10 … that fits `most`."""
    step, factors = 1, cycle((2, 2.5, 2))
    while (high - low) / step >= most:
        step = int(step * next(factors))
    return list(range(low, high + 1, step))
