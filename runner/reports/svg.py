"""The strip chart as a picture that stands by itself: axes, legend, title; readable in grey.

Made with the standard library's ElementTree, which escapes every text. What is drawn is told
apart by height and pattern as well as by hue: blue, sky blue and orange of Okabe and Ito's
palette for colour-blind readers (Color Universal Design, 2008; values from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final
from xml.etree import ElementTree as ET

from runner.law.workout import Workout
from runner.planning.forecast import Step, total
from runner.planning.muscle_timeline import STATES, Lane, State, bout_of, lanes
from runner.reports.chart import WORDS
from runner.reports.timeline import clipped, heading, instant, set_name
from runner.text import clock

_Point = tuple[float, float]

# Pixels; all our choice.
_A_SECOND = 0.3
_NARROWEST, _WIDEST = 640.0, 2400.0  # of the time axis
_LEFT, _RIGHT, _TOP = 130.0, 30.0, 76.0
_ROW = 22.0
_UNDER = 96.0  # for the axis and the legend
_TICK_ROOM = 70.0

_HEIGHT: Final[dict[State, float]] = {"work": 16.0, "help": 10.0, "recovery": 6.0, "ready": 2.0}
_FILL: Final[dict[State, str]] = {
    "work": "#0072B2",
    "help": "#56B4E9",
    "recovery": "url(#hatch)",
    "ready": "#999999",
}
_INK, _FAINT, _PAPER, _ORANGE = "#222222", "#DDDDDD", "#FFFFFF", "#E69F00"
_TICKS: Final = (10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 21600)  # seconds


def picture(workout: Workout, steps: Sequence[Step], at: int | None = None) -> str:
    """The chart as the text of an SVG file.

    A row a muscle, as in the chart of signs. Each stretch is a `rect` of class work, help,
    recovery or ready. `at`, the second of the day at which the session begins, turns the axis'
    minutes into times of day.
    """
    length = total(list(steps))
    rows = lanes(steps)
    across = min(max(length * _A_SECOND, _NARROWEST), _WIDEST)
    bottom = _TOP + _ROW * len(rows)
    root = _root(_LEFT + across + _RIGHT, bottom + _UNDER)
    scale = across / length if length else 0.0
    _title(root, workout, length, across, at)
    _axis(root, length, scale, bottom, at)
    _blocks(root, steps, scale, bottom)
    for number, lane in enumerate(rows, 1):
        group = _lane(root, lane, _TOP + _ROW * number, scale)
        _told(group, lane, [step for step in steps if _loads(step, lane.muscle)], workout, at=at)
    _legend(root, bottom + 72)
    ET.indent(root, " ")
    return ET.tostring(root, encoding="unicode") + "\n"


def _root(width: float, height: float) -> ET.Element:
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": _px(width),
            "height": _px(height),
            "viewBox": f"0 0 {_px(width)} {_px(height)}",
            "role": "img",
            "font-family": "sans-serif",
            "font-size": "12",
            "fill": _INK,
        },
    )
    hatch = ET.SubElement(
        ET.SubElement(root, "defs"),
        "pattern",
        {"id": "hatch", "width": "4", "height": "4", "patternUnits": "userSpaceOnUse"},
    )
    ET.SubElement(hatch, "path", {"d": "M0 4L4 0", "stroke": _ORANGE, "stroke-width": "2"})
    ET.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": _PAPER})
    return root


def _title(
    root: ET.Element, workout: Workout, length: float, across: float, at: int | None
) -> None:
    title = ET.Element("title")
    title.text = heading(workout)
    root.insert(0, title)
    big = clipped(heading(workout), int(across / 8))
    _text(root, _LEFT, 24, big, size="16", weight="bold")
    when = "" if at is None else f", {instant(0, at)} to {instant(length, at)}"
    _text(root, _LEFT, 44, f"Predicted length {clock(length)}{when}")


def _axis(root: ET.Element, length: float, scale: float, bottom: float, at: int | None) -> None:
    """The time axis with its marks, and the axis on which the muscles stand."""
    group = ET.SubElement(root, "g", {"class": "axis"})
    step = next((t for t in _TICKS if t * scale >= _TICK_ROOM), _TICKS[-1])
    offset = at or 0
    seconds = math.ceil(offset / step) * step - offset
    while seconds <= length:
        x = _LEFT + seconds * scale
        _line(group, (x, _TOP), (x, bottom), _FAINT)
        _line(group, (x, bottom), (x, bottom + 5), _INK)
        _text(group, x, bottom + 18, _tick(seconds, step, at), anchor="middle")
        seconds += step
    end = _LEFT + length * scale
    _line(group, (_LEFT, bottom), (end, bottom), _INK)
    _line(group, (_LEFT, _TOP), (_LEFT, bottom), _INK)
    what = "minutes from the beginning" if at is None else "time of day"
    _text(group, (_LEFT + end) / 2, bottom + 38, what, anchor="middle")
    _text(group, _LEFT - 8, _TOP - 8, "muscle", anchor="end")


def _tick(seconds: int, step: int, at: int | None) -> str:
    if at is not None:
        text = instant(seconds, at)
        return text if step < 60 else text[:5]
    return clock(seconds) if step < 60 else f"{seconds // 60}"


def _blocks(root: ET.Element, steps: Iterable[Step], scale: float, bottom: float) -> None:
    """A line where each block's first set begins, with its number on top."""
    group = ET.SubElement(root, "g", {"class": "blocks"})
    seen: set[int] = set()
    for step in steps:
        if step.slot is not None and step.slot.block not in seen:
            seen.add(step.slot.block)
            x = _LEFT + step.start * scale
            _line(group, (x, _TOP - 4), (x, bottom), _INK, dash="2 3")
            _text(group, x, _TOP - 8, f"block {step.slot.block}")


def _lane(root: ET.Element, lane: Lane, foot: float, scale: float) -> ET.Element:
    """One muscle: its name, and its stretches standing on one line, in four heights."""
    group = ET.SubElement(root, "g", {"class": "muscle", "data-muscle": lane.muscle})
    _text(group, _LEFT - 8, foot - 6, lane.muscle, anchor="end")
    for stretch in lane.stretches:
        width = (stretch.end - stretch.start) * scale
        _bar(group, stretch.state, _LEFT + stretch.start * scale, foot - 2, width)
    return group


def _told(
    group: ET.Element, lane: Lane, sets: Sequence[Step], workout: Workout, *, at: int | None
) -> None:
    """What a viewer shows of a bout under the pointer: which set it is, from when to when."""
    for rect, stretch in zip(group.iter("rect"), lane.stretches, strict=True):
        if stretch.state not in ("work", "help"):
            continue
        names = [
            set_name(workout, step)
            for step in sets
            if step.start < stretch.end and step.end > stretch.start
        ]
        ET.SubElement(
            rect, "title"
        ).text = f"{', '.join(names)}, {instant(stretch.start, at)} to {instant(stretch.end, at)}"


def _loads(step: Step, muscle: str) -> bool:
    if step.timed is None:
        return False
    bout = bout_of(step)
    return any(muscle == loaded for loaded, _ in bout.prime | bout.synergist)


def _legend(root: ET.Element, foot: float) -> None:
    group = ET.SubElement(root, "g", {"class": "legend"})
    x = _LEFT
    for state in STATES:
        _bar(group, state, x, foot, 28)
        _text(group, x + 34, foot, WORDS[state])
        x += 110


def _bar(parent: ET.Element, state: State, x: float, foot: float, width: float) -> ET.Element:
    height = _HEIGHT[state]
    return ET.SubElement(
        parent,
        "rect",
        {
            "class": state,
            "x": _px(x),
            "y": _px(foot - height),
            "width": _px(width),
            "height": _px(height),
            "fill": _FILL[state],
        },
    )


def _line(parent: ET.Element, start: _Point, end: _Point, ink: str, dash: str = "") -> None:
    path = "L".join(f"{_px(x)} {_px(y)}" for x, y in (start, end))
    data = {"d": f"M{path}", "stroke": ink}
    ET.SubElement(parent, "path", data | ({"stroke-dasharray": dash} if dash else {}))


def _text(
    parent: ET.Element,
    x: float,
    y: float,
    text: str,
    *,
    anchor: str = "start",
    size: str = "",
    weight: str = "",
) -> None:
    data = {"x": _px(x), "y": _px(y)}
    if anchor != "start":
        data["text-anchor"] = anchor
    if size:
        data["font-size"] = size
    if weight:
        data["font-weight"] = weight
    ET.SubElement(parent, "text", data).text = text


def _px(value: float) -> str:
    """A length in pixels, to the hundredth, as short as it goes."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
