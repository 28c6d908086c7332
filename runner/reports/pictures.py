"""The past as pictures: a trend for each exercise, and one of the weekly sets of all muscles.

Sets differ by the shape of their points and by dashes, and only then by colour. A line of a trend
ends where the level changes, for counts on both sides do not compare.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from itertools import groupby, pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

from msgspec import Struct

from runner.errors import Exit, MatsideError
from runner.law.weekly_sets import judged
from runner.output import new_file, refuse_to_replace
from runner.reports import charts, pages, svg
from runner.reports.past import Past, Point, Trend, WeekSpan
from runner.reports.timeline import clipped
from runner.text import shown

LONGEST_NAME = 100  # of what a file is called by; our choice, file systems have 255 bytes
WIDTH, HEIGHT = 900, 420  # of a trend, in user units; our choice, as are the margins
LEFT, RIGHT, TOP, BOTTOM = 60, 110, 92, 50
# Okabe and Ito's colours that stand out on white; shape and dash come first.
_COLOURS = ("#000000", svg.BLUE, "#D55E00", "#009E73", "#8A4F7D", "#5C5C5C")
_DASHES = ("", "6 3", "2 3", "9 3 2 3", "1 4", "12 4")
_LINE = 14  # between texts below each other
_POINT = 10.0  # width of a point
_NAMES = 3  # lines on which names of levels stand in turn


def write_pictures(
    past: Past,
    trends: Sequence[Trend],
    folder: Path,
    *,
    force: bool = False,
    data: Path | None = None,
    today: date | None = None,
) -> list[Path]:
    """Write a picture for each exercise, and one of the weeks where all exercises are wanted.

    Raises MatsideError (73) before anything is written where one exists, unless `force`. `data`
    is the data directory in use. The week of `today` is not judged, for it is not over.
    """
    drawn = {f"trend-{_slug(t.exercise)}.svg": trend_picture(past, t) for t in trends}
    if len(trends) == len(past.trends):
        drawn["weeks.svg"] = weeks_picture(past, today)
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
    top: float  # of the axis, on the picture
    bottom: float

    def y(self, value: float) -> float:
        """From a value to a height on the picture."""
        share = (value - self.low) / ((self.high - self.low) or 1.0)
        return self.bottom - share * (self.bottom - self.top)


# Trends


def trend_picture(past: Past, trend: Trend) -> str:
    """Counts of each set over the days of the sessions, broken where the level changes."""
    points = [point for point in trend.points if point.values]
    days = [point.past.on.toordinal() for point in points] or [past.since.toordinal()]
    first, last = min(days), max(days)
    values = [value for point in points for value in point.values] or [0.0]
    span = (last - first) or 1

    def across(day: float) -> float:
        return LEFT + 12 + (day - first) / span * (WIDTH - LEFT - RIGHT - 24)

    title = f"{trend.name}, {past.trainee}, {past.since} to {past.until}"
    unit = "seconds held" if trend.hold else "repetitions"
    root = svg.drawing(WIDTH, HEIGHT, title)
    svg.text(root, (LEFT, 26), title, size="16", weight="bold")
    svg.text(root, (LEFT, 44), unit)
    frame = Frame(root, min(values) - 1, max(values) + 1, across, TOP, HEIGHT - BOTTOM)
    _grid(frame)
    _days(frame, days)
    runs = list(_levels(points))
    _changes(frame, runs)
    most = max((max(point.numbers) for point in points), default=0)
    ends: dict[int, tuple[float, float]] = {}
    apart = min((across(b) - across(a) for a, b in pairwise(sorted({*days}))), default=WIDTH)
    for number in range(most):
        for run in runs:
            dots = [
                (
                    across(p.past.on.toordinal()) + _beside(p, which, apart),
                    frame.y(value),
                    f"{p.past.on}: {value:g}",
                )
                for p in run
                for which, value in zip(p.numbers, p.values, strict=True)
                if which == number + 1
            ]
            _series(root, dots, number)
            if dots:
                ends[number] = dots[-1][:2]
    _labels(frame, ends)
    return svg.written(root)


def _beside(point: Point, number: int, apart: float) -> float:
    """How far a set's point stands from its day, for sets of one session with the same count.

    They stand beside each other, closer where the days are near: none covers another.
    """
    values = dict(zip(point.numbers, point.values, strict=True))
    alike = [one for one, value in values.items() if value == values[number]]
    step = min(_POINT, apart / (len(alike) + 1))
    return (alike.index(number) - (len(alike) - 1) / 2) * step


def _levels(points: Sequence[Point]) -> Iterator[list[Point]]:
    """The sessions in runs at one level."""
    run: list[Point] = []
    for point in points:
        if run and point.new:
            yield run
            run = []
        run.append(point)
    if run:
        yield run


def _grid(frame: Frame) -> None:
    for value in _ticks(frame.low, frame.high):
        y = frame.y(value)
        svg.line(frame.root, (LEFT, y), (WIDTH - RIGHT, y), svg.GRID)
        svg.text(frame.root, (LEFT - 8, y + 4), f"{value:g}", anchor="end")
    svg.line(frame.root, (LEFT, TOP), (LEFT, frame.bottom))
    svg.line(frame.root, (LEFT, frame.bottom), (WIDTH - RIGHT, frame.bottom))


def _ticks(low: float, high: float) -> Iterator[int]:
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 500, 5000, 10**9) if (high - low) / s <= 10)
    value = -(-int(low) // step) * step
    while value <= high:
        if value >= low:
            yield value
        value += step


def _days(frame: Frame, days: Sequence[int]) -> None:
    """A tick for each session under the axis, and the days of as many as have room."""
    for day in days:
        x = frame.across(day)
        svg.line(frame.root, (x, frame.bottom), (x, frame.bottom + 4))
    for day in charts.spread(days, 7):
        x = frame.across(day)
        svg.line(frame.root, (x, frame.bottom), (x, frame.bottom + 8))
        text = date.fromordinal(day).isoformat()
        svg.text(frame.root, (x, frame.bottom + 22), text, anchor="middle")


def _changes(frame: Frame, runs: Sequence[Sequence[Point]]) -> None:
    """A dotted line between two levels; above it the name of each, before and after it.

    Names stand in turn on some lines, so that those that follow each other quickly have room.
    """
    edges = [frame.across(run[0].past.on.toordinal()) for run in runs]
    between = [
        (frame.across(before[-1].past.on.toordinal()) + edges[number]) / 2
        for number, (before, _) in enumerate(pairwise(runs), 1)
    ]
    for x in between:
        high = TOP - 4 - _LINE * (_NAMES - 1)
        svg.line(frame.root, (x, high), (x, frame.bottom), svg.INK, dash="3 3")
    starts = [float(LEFT), *between]
    ends = [*between, float(WIDTH - RIGHT)]
    for number, run in enumerate(runs):
        use = run[0].past.use
        if use is None or (len(runs) == 1 and not use.text):
            continue
        over = ends[min(number + _NAMES - 1, len(ends) - 1)]  # where the next one on its line is
        words = clipped(use.text, max(int((over - starts[number]) / 5.8), 1))
        at = (starts[number] + 4, TOP - 6 - _LINE * (number % _NAMES))
        svg.text(frame.root, at, words, size="11")


def _series(root: ET.Element, dots: Sequence[tuple[float, float, str]], number: int) -> None:
    colour = _COLOURS[number % len(_COLOURS)]
    if len(dots) > 1:
        path = " ".join(f"{svg.px(x)},{svg.px(y)}" for x, y, _ in dots)
        line = {"points": path, "fill": "none", "stroke": colour, "stroke-width": "1"}
        ET.SubElement(root, "polyline", line | {"stroke-dasharray": _DASHES[number % len(_DASHES)]})
    for x, y, text in dots:
        svg.titled(_dot(root, x, y, number), f"{text}, set {number + 1}")


def _dot(root: ET.Element, x: float, y: float, number: int) -> ET.Element:
    """A point: circle, square, triangle, diamond, then the same hollow."""
    colour = _COLOURS[number % len(_COLOURS)]
    fill = colour if number % 8 < 4 else svg.PAPER
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


def _labels(frame: Frame, ends: Mapping[int, tuple[float, float]]) -> None:
    """Each line's name beside its end, or as near as the others leave room."""
    y = frame.top - _LINE
    x = WIDTH - RIGHT + 16
    for number, (_, end) in sorted(ends.items(), key=lambda one: one[1][1]):
        y = max(y + _LINE, end)
        _dot(frame.root, x, y, number)
        svg.text(frame.root, (x + 12, y + 4), f"set {number + 1}")


# Weeks

_PANELS = 3  # side by side
_PANEL, _HIGH = 300.0, 128.0  # of a panel, with its margins
_INSIDE = (38.0, 16.0, 40.0, 22.0)  # margins: left, right, top, bottom
_HEAD = 64.0


def weeks_picture(past: Past, today: date | None = None) -> str:
    """Each muscle's sets in each week against the band aimed at, small and side by side.

    All panels have one scale. Weeks in a row without a work set share a place.
    """
    muscles, runs = pages.every_muscle(past), past.week_runs
    rows = -(-len(muscles) // _PANELS)
    title = f"Weekly sets, {past.trainee}, {past.since} to {past.until}"
    root = svg.drawing(_PANEL * _PANELS, _HEAD + _HIGH * max(rows, 1), title)
    svg.text(root, (16, 26), title, size="16", weight="bold")
    svg.box(root, (16, 40), (14, 10), svg.BLUE)
    svg.text(root, (36, 50), "sets in a week")
    svg.box(root, (140, 40), (14, 10), svg.BAND)
    svg.text(root, (160, 50), "aimed at; the verdict is the last whole week's")
    top = max([1.0, *(max(r.sets(m), r.band(m)[1]) for r in runs for m in muscles)])
    for number, muscle in enumerate(muscles):
        row, column = divmod(number, _PANELS)
        group = ET.SubElement(root, "g", {"class": "muscle", "data-muscle": muscle})
        corner = (column * _PANEL, _HEAD + row * _HIGH)
        _week_panel(group, corner, muscle, runs, top)
        at = (corner[0] + _INSIDE[0], corner[1] + _INSIDE[2] - 8)
        svg.text(group, at, _verdict(muscle, runs, today), size="11")
    return svg.written(root)


def _week_panel(
    root: ET.Element,
    corner: tuple[float, float],
    muscle: str,
    runs: Sequence[WeekSpan],
    most: float,
) -> None:
    left, right, top, bottom = _INSIDE
    begin, end = corner[0] + left, corner[0] + _PANEL - right
    step = (end - begin) / max(len(runs), 1)
    frame = Frame(
        root, 0, most, lambda n: begin + n * step, corner[1] + top, corner[1] + _HIGH - bottom
    )
    svg.text(root, (begin, frame.top - 22), muscle, weight="bold")
    for band, some in groupby(range(len(runs)), lambda number: runs[number].band(muscle)):
        numbers = list(some)
        _box(frame, numbers[0], (0, len(numbers)), band, svg.BAND)
        ends = frame.across(numbers[0]), frame.across(numbers[-1] + 1)
        for edge in band:  # the band alone is faint
            svg.line(root, (ends[0], frame.y(edge)), (ends[1], frame.y(edge)), svg.GREY)
    for number, run in enumerate(runs):
        bar = _box(frame, number, (0.15, 0.85), (0, run.sets(muscle)), svg.BLUE)
        svg.titled(bar, f"{run.name}: {run.sets(muscle):g}")
    for value in sorted({0.0, float(most), *(runs[-1].band(muscle) if runs else ())}):
        if value in (0.0, most) or min(value, most - value) > most / 8:
            svg.text(root, (begin - 6, frame.y(value) + 4), f"{value:g}", anchor="end", size="10")
    svg.line(root, (begin, frame.bottom), (end, frame.bottom))
    svg.line(root, (begin, frame.top), (begin, frame.bottom))
    if runs:
        svg.text(root, (begin, frame.bottom + 13), runs[0].first.isoformat(), size="10")
        last = runs[-1].last.isoformat()
        if len(runs) > 1:
            x = end - 58
            svg.text(root, (x, frame.bottom + 13), last, size="10")


def _verdict(muscle: str, runs: Sequence[WeekSpan], today: date | None) -> str:
    """The last whole week's sets compared with the aim, in words."""
    over = [run for run in runs if today is None or not run.review.runs(today)]
    whole = [run for run in over if not run.review.partly]
    if not whole:
        return "no whole week"
    run = whole[-1]
    low, high = run.band(muscle)
    said = pages.JUDGED[judged(run.sets(muscle), (low, high))]
    return f"{run.sets(muscle):g} of {low:g} to {high:g}: {said}"


def _box(
    frame: Frame, number: int, along: tuple[float, float], up: tuple[float, float], fill: str
) -> ET.Element:
    left, right = (frame.across(number + share) for share in along)
    bottom, top = (frame.y(value) for value in up)
    return svg.box(frame.root, (left, top), (right - left, bottom - top), fill)
