"""SVG elements of which pictures are made, and the strip chart as such a picture.

A picture needs nothing from elsewhere, no fonts or scripts, and has axes, legend and title. The
standard library's ElementTree escapes every text. Things differ by height, shape and pattern as
well as by hue: hues of Okabe and Ito's palette for colour-blind readers (Color Universal Design,
2008; values from memory). Colours are attributes, and a rule for each gives the colour that
replaces it for readers who prefer dark (CSS Media Queries 5, `prefers-color-scheme`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final
from xml.etree import ElementTree as ET

from runner.law.workout import Workout
from runner.planning.forecast import Step, total
from runner.planning.muscle_timeline import STATES, MuscleTimeline, State, bout_of, muscle_timelines
from runner.reports.chart import WORDS
from runner.reports.timeline import clipped, instant, set_name
from runner.text import clean, clock

Point = tuple[float, float]
INK, PAPER = "#222222", "#FFFFFF"
GRID, BAND = "#C8C8C8", "#DCDCDC"
BLUE, SKY, ORANGE, GREY = "#0072B2", "#56B4E9", "#E69F00", "#767676"
# On dark paper: as far from it, and from each other, as the others are from white.
DARK: Final = {
    INK: "#E8E8E8",
    PAPER: "#15181C",
    GRID: "#454A52",
    BAND: "#343A42",
    BLUE: "#56B4E9",
    SKY: "#2B6F97",
    GREY: "#7C828A",
    "#000000": "#FFFFFF",
    "#D55E00": "#FF9A57",
    "#009E73": "#4FD8AE",
    "#8A4F7D": "#E0A3D2",
    "#5C5C5C": "#B9B9B9",
}


def drawing(width: float, height: float, title: str) -> ET.Element:
    """An empty picture, that many pixels wide and high; `title` is what a viewer calls it."""
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": px(width),
            "height": px(height),
            "viewBox": f"0 0 {px(width)} {px(height)}",
            "role": "img",
            "font-family": "sans-serif",
            "font-size": "12",
            "fill": INK,
        },
    )
    titled(root, title)
    rules = "".join(
        f'[{what}="{light}"]{{{what}:{dark}}}'
        for light, dark in DARK.items()
        for what in ("fill", "stroke")
    )
    ET.SubElement(root, "style").text = f"@media (prefers-color-scheme: dark){{{rules}}}"
    ET.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": PAPER})
    return root


def written(root: ET.Element) -> str:
    """The picture as the text of a file."""
    ET.indent(root, " ")
    return ET.tostring(root, encoding="unicode") + "\n"


def titled(element: ET.Element, title: str) -> None:
    """The text that a viewer shows under the pointer."""
    ET.SubElement(element, "title").text = clean(title)


def line(parent: ET.Element, start: Point, end: Point, ink: str = INK, dash: str = "") -> None:
    """A line one pixel wide; `dash` has the lengths of its dashes and gaps."""
    path = "L".join(f"{px(x)} {px(y)}" for x, y in (start, end))
    data = {"d": f"M{path}", "stroke": ink}
    ET.SubElement(parent, "path", data | ({"stroke-dasharray": dash} if dash else {}))


def box(parent: ET.Element, corner: Point, size: Point, fill: str, **more: str) -> ET.Element:
    """A rectangle from its upper left corner; `more` are attributes of its element."""
    (x, y), (width, height) = corner, size
    attributes = {"x": px(x), "y": px(y), "width": px(width), "height": px(height)}
    return ET.SubElement(parent, "rect", more | attributes | {"fill": fill})


def text(
    parent: ET.Element,
    at: Point,
    words: str,
    *,
    anchor: str = "start",
    size: str = "",
    weight: str = "",
) -> None:
    """A text whose line begins (or has its middle or end, by `anchor`) at a point."""
    x, y = px(at[0]), px(at[1])
    data = {"x": x, "y": y}
    if anchor != "start":
        data["text-anchor"] = anchor
    if size:
        data["font-size"] = size
    if weight:
        data["font-weight"] = weight
    ET.SubElement(parent, "text", data).text = clean(words)


def px(value: float) -> str:
    """A length in pixels, to the hundredth, as short as it goes."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


# The strip chart.

# Pixels; all our choice.
_A_SECOND = 0.3
_NARROWEST, _WIDEST = 640.0, 2400.0  # of the time axis
_LEFT, _RIGHT, _TOP = 130.0, 30.0, 128.0
_NAMED = 3  # exercises of a block's head, before it says how many more
_LETTER, _LINE = 5.9, 13.0  # wide, high: of the texts of a head
_ROW = 22.0
_UNDER = 96.0  # for the axis and the legend
_TICK_ROOM = 70.0

_HEIGHT: Final[dict[State, float]] = {"work": 16.0, "help": 10.0, "recovery": 6.0, "ready": 2.0}
_FILL: Final[dict[State, str]] = {
    "work": BLUE,
    "help": SKY,
    "recovery": "url(#hatch)",
    "ready": GREY,
}
_TICKS: Final = (10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 21600)  # seconds


def picture(workout: Workout, steps: Sequence[Step], at: int | None = None) -> str:
    """The chart as the text of an SVG file.

    A row a muscle, as in the chart of signs. Each stretch is a `rect` of class work, help,
    recovery or ready. `at`, the second of the day at which the session begins, turns the axis'
    minutes into times of day.
    """
    length = total(list(steps))
    rows = muscle_timelines(steps)
    across = min(max(length * _A_SECOND, _NARROWEST), _WIDEST)
    bottom = _TOP + _ROW * len(rows)
    root = _root(_LEFT + across + _RIGHT, bottom + _UNDER, workout.heading)
    scale = across / length if length else 0.0
    _title(root, workout, length, across, at)
    _axis(root, length, scale, bottom, at)
    _blocks(root, workout, steps, scale, bottom)
    for number, timeline in enumerate(rows, 1):
        group = _timeline(root, timeline, _TOP + _ROW * number, scale)
        _name_sets(
            group,
            timeline,
            [step for step in steps if _loads(step, timeline.muscle)],
            workout,
            at=at,
        )
    _legend(root, bottom + 72)
    return written(root)


def _root(width: float, height: float, title: str) -> ET.Element:
    root = drawing(width, height, title)
    defs = ET.Element("defs")
    root.insert(2, defs)  # before what uses it
    pattern = {"id": "hatch", "width": "4", "height": "4", "patternUnits": "userSpaceOnUse"}
    hatch = ET.SubElement(defs, "pattern", pattern)
    ET.SubElement(hatch, "path", {"d": "M0 4L4 0", "stroke": ORANGE, "stroke-width": "2"})
    return root


def _title(
    root: ET.Element, workout: Workout, length: float, across: float, at: int | None
) -> None:
    big = clipped(workout.heading, int(across / 8))
    text(root, (_LEFT, 24), big, size="16", weight="bold")
    when = "" if at is None else f", {instant(0, at)} to {instant(length, at)}"
    text(root, (_LEFT, 44), f"Forecast length {clock(length)}{when}")


def _axis(root: ET.Element, length: float, scale: float, bottom: float, at: int | None) -> None:
    """The time axis with its marks, and the axis on which the muscles stand."""
    group = ET.SubElement(root, "g", {"class": "axis"})
    step = next((t for t in _TICKS if t * scale >= _TICK_ROOM), _TICKS[-1])
    offset = at or 0
    seconds = math.ceil(offset / step) * step - offset
    while seconds <= length:
        x = _LEFT + seconds * scale
        line(group, (x, _TOP), (x, bottom), GRID)
        line(group, (x, bottom), (x, bottom + 5), INK)
        text(group, (x, bottom + 18), _tick(seconds, step, at), anchor="middle")
        seconds += step
    end = _LEFT + length * scale
    line(group, (_LEFT, bottom), (end, bottom), INK)
    line(group, (_LEFT, _TOP), (_LEFT, bottom), INK)
    what = "minutes from the beginning" if at is None else "time of day"
    text(group, ((_LEFT + end) / 2, bottom + 38), what, anchor="middle")
    text(group, (_LEFT - 8, _TOP - 8), "muscle", anchor="end")


def _tick(seconds: int, step: int, at: int | None) -> str:
    if at is not None:
        clock_time = instant(seconds, at)
        return clock_time if step < 60 else clock_time[:5]
    return clock(seconds) if step < 60 else f"{seconds // 60}"


def _blocks(
    root: ET.Element, workout: Workout, steps: Iterable[Step], scale: float, bottom: float
) -> None:
    """A line where each block's first set begins; on top its number and its exercises."""
    group = ET.SubElement(root, "g", {"class": "blocks"})
    begins: dict[int, float] = {}
    end = 0.0
    for step in steps:
        if step.planned_set is not None:
            begins.setdefault(step.planned_set.block, step.start)
        end = step.end
    edges = [*list(begins.values())[1:], end]
    for (block, begin), until in zip(begins.items(), edges, strict=False):  # none: no edge
        x = _LEFT + begin * scale
        line(group, (x, _TOP - 4), (x, bottom), INK, dash="2 3")
        room = max(int((until - begin) * scale / _LETTER), 4)
        for up, words in enumerate(reversed(list(_head(workout, block)))):
            text(group, (x, _TOP - 8 - _LINE * up), clipped(words, room), size="11")


def _head(workout: Workout, block: int) -> Iterator[str]:
    """A block's number, and its exercises a line each."""
    yield f"block {block}"
    names = [workout.exercises[item.exercise].name for item in workout.blocks[block - 1].items]
    yield from names[:_NAMED]
    if len(names) > _NAMED:
        yield f"and {len(names) - _NAMED} more"


def _timeline(root: ET.Element, timeline: MuscleTimeline, foot: float, scale: float) -> ET.Element:
    """One muscle: its name, and its stretches standing on one line, in four heights."""
    group = ET.SubElement(root, "g", {"class": "muscle", "data-muscle": timeline.muscle})
    text(group, (_LEFT - 8, foot - 6), timeline.muscle, anchor="end")
    for span in timeline.spans:
        width = (span.end - span.start) * scale
        _bar(group, span.state, _LEFT + span.start * scale, foot - 2, width)
    return group


def _name_sets(
    group: ET.Element,
    timeline: MuscleTimeline,
    sets: Sequence[Step],
    workout: Workout,
    *,
    at: int | None,
) -> None:
    """What a viewer shows of a bout under the pointer: which set it is, from when to when."""
    for rect, span in zip(group.iter("rect"), timeline.spans, strict=True):
        if span.state not in ("work", "help"):
            continue
        names = [
            set_name(workout, step)
            for step in sets
            if step.start < span.end and step.end > span.start
        ]
        begin, end = instant(span.start, at), instant(span.end, at)
        titled(rect, f"{', '.join(names)}, {begin} to {end}")


def _loads(step: Step, muscle: str) -> bool:
    if step.timed is None:
        return False
    bout = bout_of(step.timed, step.side)
    return any(muscle == loaded for loaded, _ in bout.prime | bout.synergist)


def _legend(root: ET.Element, foot: float) -> None:
    group = ET.SubElement(root, "g", {"class": "legend"})
    x = _LEFT
    for state in STATES:
        _bar(group, state, x, foot, 28)
        text(group, (x + 34, foot), WORDS[state])
        x += 110


def _bar(parent: ET.Element, state: State, x: float, foot: float, width: float) -> ET.Element:
    height = _HEIGHT[state]
    more = {"class": state}
    return box(parent, (x, foot - height), (width, height), _FILL[state], **more)
