"""The past as pictures: a trend for each exercise, weekly sets for each muscle.

Sets are told apart by the shape of their points and by dashes, and only then by colour.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

from msgspec import Struct

from runner.errors import Exit, MatsideError
from runner.output import new_file, refuse_to_replace
from runner.reports import charts, pages, svg
from runner.reports.past import Past, Point, Trend
from runner.text import shown

LONGEST_NAME = 100  # of what a file is called by; our choice, file systems have 255 bytes
WIDTH, HEIGHT = 900, 420  # user units; our choice, as are the margins
LEFT, RIGHT, TOP, BOTTOM = 60, 140, 50, 50
WEEK_NAMES = 140  # the margin under bars, with the names of weeks turned in it
_GRID, _BAND = "#c8c8c8", "#dcdcdc"
# Okabe and Ito's colours that stand out on white; shape and dash come first.
_COLOURS = ("#000000", "#0072b2", "#d55e00", "#009e73", "#8a4f7d", "#5c5c5c")
_DASHES = ("", "6 3", "2 3", "9 3 2 3", "1 4", "12 4")


def write_pictures(
    past: Past,
    trends: Sequence[Trend],
    folder: Path,
    *,
    force: bool = False,
    data: Path | None = None,
) -> list[Path]:
    """Write a picture for each exercise, and for each muscle where all exercises are wanted.

    Raises MatsideError (73) before anything is written where one exists, unless `force`. `data`
    is the data directory in use.
    """
    drawn = {f"trend-{_slug(t.exercise)}.svg": trend_picture(past, t) for t in trends}
    if len(trends) == len(past.trends):
        for muscle in pages.every_muscle(past):
            drawn[f"weeks-{_slug(muscle)}.svg"] = week_picture(past, muscle)
    paths = [folder / name for name in drawn]
    there = [path for path in paths if path.exists()]
    if there and not force:
        raise MatsideError(
            f"{shown(there[0])} exists; name another folder, or pass --force to overwrite it",
            code=Exit.CANT_CREATE,
        )
    for path in paths:
        refuse_to_replace(path, force=force, data=data)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        for path, picture in zip(paths, drawn.values(), strict=True):
            with new_file(path, force=force, data=data) as file:
                file.write(picture)
    except OSError as error:
        raise MatsideError(
            f"{shown(folder)}: pictures cannot be written: {error.strerror}", code=Exit.CANT_CREATE
        ) from None
    return paths


def _slug(name: str) -> str:
    """A name that is a file name everywhere."""
    return re.sub(r"[^a-z0-9-]+", "_", name.casefold())[:LONGEST_NAME] or "_"


class Frame(Struct, frozen=True):
    """Where values lie on the picture."""

    root: ET.Element
    low: float
    high: float
    across: Callable[[float], float]
    bottom: float  # of the axis, on the picture

    def y(self, value: float) -> float:
        """From a value to a height on the picture."""
        share = (value - self.low) / ((self.high - self.low) or 1.0)
        return self.bottom - share * (self.bottom - TOP)


def trend_picture(past: Past, trend: Trend) -> str:
    """Counts of each set over the days of the sessions; changes are marked."""
    points = [point for point in trend.points if point.values]
    days = [point.past.on.toordinal() for point in points] or [past.since.toordinal()]
    first, last = min(days), max(days)
    values = [value for point in points for value in point.values] or [0.0]
    span = (last - first) or 1

    def across(day: float) -> float:
        return LEFT + 12 + (day - first) / span * (WIDTH - LEFT - RIGHT - 24)

    title = f"{trend.name}, {past.trainee}, {past.since} to {past.until}"
    unit = "seconds held" if trend.hold else "repetitions"
    frame = _frame(title, unit, (min(values) - 1, max(values) + 1), across)
    _days(frame, days)
    _changes(frame, points)
    most = max((max(point.numbers) for point in points), default=0)
    for number in range(most):
        dots = [
            (across(p.past.on.toordinal()), frame.y(value), f"{p.past.on}: {value:g}")
            for p in points
            for which, value in zip(p.numbers, p.values, strict=True)
            if which == number + 1
        ]
        _series(frame.root, dots, number)
        _legend(frame.root, number, f"set {number + 1}")
    return svg.written(frame.root)


def week_picture(past: Past, muscle: str) -> str:
    """A muscle's sets in each week as bars, with the band aimed at behind them.

    Weeks in a row without a work set share a place, which names them.
    """
    runs = past.week_runs
    step = (WIDTH - LEFT - RIGHT) / max(len(runs), 1)
    top = max([1.0, *(max(run.sets(muscle), run.band(muscle)[1]) for run in runs)]) * 1.1

    def across(number: float) -> float:
        return LEFT + number * step

    title = f"Weekly sets: {muscle}, {past.trainee}, {past.since} to {past.until}"
    frame = _frame(title, "sets a week", (0, top), across, bottom=WEEK_NAMES)
    for number, run in enumerate(runs):
        _box(frame, number, (0, 1), run.band(muscle), _BAND)
    upright = step >= 30  # else texts are turned, so that none lies on another
    every = max(1, round(14 / step))
    for number, run in enumerate(runs):
        sets, x = run.sets(muscle), across(number + 0.5)
        bar = _box(frame, number, (0.2, 0.8), (0, sets), _COLOURS[1])
        svg.titled(bar, f"{run.name}: {sets:g}")
        if number % every == 0 or run.first != run.last:
            svg.text(frame.root, (x + 4, frame.bottom + 10), run.name, anchor="end", turned=True)
        if sets and every == 1:
            place = (x, frame.y(sets) - 5) if upright else (x + 4, frame.y(sets) - 5)
            anchor = "middle" if upright else "start"
            svg.text(frame.root, place, f"{sets:g}", anchor=anchor, turned=not upright)
    x = WIDTH - RIGHT + 12
    for row, (text, colour) in enumerate((("sets done", _COLOURS[1]), ("aimed at", _BAND))):
        spot = (x, TOP + 20 * row - 9)
        svg.box(frame.root, spot, (14, 10), colour, stroke=svg.INK)
        svg.text(frame.root, (x + 22, TOP + 20 * row), text)
    return svg.written(frame.root)


def _frame(
    title: str,
    unit: str,
    values: tuple[float, float],
    across: Callable[[float], float],
    *,
    bottom: int = BOTTOM,
) -> Frame:
    root = svg.drawing(WIDTH, HEIGHT, title)
    svg.text(root, (LEFT, 26), title, size="16")
    svg.text(root, (LEFT - 44, TOP - 10), unit)
    frame = Frame(root, *values, across, HEIGHT - bottom)
    for value in _ticks(*values):
        y = frame.y(value)
        svg.line(root, (LEFT, y), (WIDTH - RIGHT, y), _GRID)
        svg.text(root, (LEFT - 8, y + 4), f"{value:g}", anchor="end")
    svg.line(root, (LEFT, TOP), (LEFT, frame.bottom))
    svg.line(root, (LEFT, frame.bottom), (WIDTH - RIGHT, frame.bottom))
    return frame


def _ticks(low: float, high: float) -> Iterator[int]:
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 500, 5000, 10**9) if (high - low) / s <= 10)
    value = -(-int(low) // step) * step
    while value <= high:
        if value >= low:
            yield value
        value += step


def _days(frame: Frame, days: Sequence[int]) -> None:
    """Days of sessions under the axis, as many as have room."""
    for day in charts.spread(days, 7):
        x = frame.across(day)
        svg.line(frame.root, (x, frame.bottom), (x, frame.bottom + 5))
        text = date.fromordinal(day).isoformat()
        svg.text(frame.root, (x, frame.bottom + 18), text, anchor="middle")


def _changes(frame: Frame, points: Sequence[Point]) -> None:
    row = 0
    for before, point in pairwise(points):
        use = point.past.use
        if point.new and use is not None:
            gap = (point.past.on - before.past.on) / timedelta(days=2)
            x = frame.across(point.past.on.toordinal() - gap)
            svg.line(frame.root, (x, TOP), (x, frame.bottom), svg.INK, dash="3 3")
            # Changes that follow each other quickly must not write over each other.
            svg.text(frame.root, (x + 3, TOP + 10 + 12 * (row % 4)), use.text, size="10")
            row += 1


def _series(root: ET.Element, dots: Sequence[tuple[float, float, str]], number: int) -> None:
    colour = _COLOURS[number % len(_COLOURS)]
    path = " ".join(f"{svg.px(x)},{svg.px(y)}" for x, y, _ in dots)
    line = {"points": path, "fill": "none", "stroke": colour, "stroke-width": "1"}
    ET.SubElement(root, "polyline", line | {"stroke-dasharray": _DASHES[number % len(_DASHES)]})
    for x, y, text in dots:
        svg.titled(_dot(root, x, y, number), f"{text}, set {number + 1}")


def _dot(root: ET.Element, x: float, y: float, number: int) -> ET.Element:
    """A point: circle, square, triangle, diamond, then the same hollow."""
    colour = _COLOURS[number % len(_COLOURS)]
    fill = colour if number % 8 < 4 else "#ffffff"
    shape = number % 4
    look = {"fill": fill, "stroke": colour}
    if shape == 0:
        return ET.SubElement(root, "circle", {"cx": svg.px(x), "cy": svg.px(y), "r": "4"} | look)
    corners = {
        1: ((-4, -4), (4, -4), (4, 4), (-4, 4)),
        2: ((0, -5), (5, 4), (-5, 4)),
        3: ((0, -5), (5, 0), (0, 5), (-5, 0)),
    }[shape]
    path = " ".join(f"{svg.px(x + dx)},{svg.px(y + dy)}" for dx, dy in corners)
    return ET.SubElement(root, "polygon", {"points": path} | look)


def _legend(root: ET.Element, number: int, text: str) -> None:
    x, y = WIDTH - RIGHT + 20, TOP + 20 * number
    _dot(root, x, y - 4, number)
    svg.text(root, (x + 14, y), text)


def _box(
    frame: Frame, number: int, along: tuple[float, float], up: tuple[float, float], fill: str
) -> ET.Element:
    left, right = (frame.across(number + share) for share in along)
    bottom, top = (frame.y(value) for value in up)
    return svg.box(frame.root, (left, top), (right - left, bottom - top), fill)
