"""The strip chart: a row for each muscle, time across, in signs that need no colour.

Four states of a muscle are four densities of signs. A column shows the state that lasts longest in
it; a bout that would vanish by this rule gets the column that holds most of it. A long session goes
on in another strip, for a column of more than 30 s shows no set as it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from runner.planning.forecast import Step, total
from runner.planning.muscle_timeline import (
    STATES,
    MuscleTimeline,
    State,
    TimelineSpan,
    muscle_timelines,
)
from runner.reports.timeline import enumerated, instant, padded

# Signs from full to nearly empty, so that they differ in density alone.
SIGNS: Final[dict[State, str]] = {"work": "█", "help": "▄", "recovery": "░", "ready": "·"}
# For a terminal whose encoding lacks those signs.
PLAIN_SIGNS: Final[dict[State, str]] = {"work": "#", "help": "+", "recovery": "-", "ready": "."}
WORDS: Final[dict[State, str]] = {
    "work": "works",
    "help": "helps",
    "recovery": "recovers",
    "ready": "ready",
}
# Seconds that one column may stand for, and on how many strips, the first that holds the
# session: what does not fit goes on in another strip below, for in columns of more than 30 s a
# set of half a minute would look like a whole one. Our choice.
_FINE: Final = (1, 2, 5, 10)
_USUAL: Final = (*_FINE, 15, 20, 30)
_COARSE: Final = (60, 120, 300, 600, 1200, 3600, 7200)
_LAYOUTS: Final = ((_FINE, 1), (_USUAL, 2), (_USUAL[-1:], 8), (_COARSE, 8))
_LEAST_COLUMNS = 20
_TICKS: Final = (60, 120, 300, 600, 900, 1800, 3600, 7200, 21600)  # seconds between two marks
_SAME = 1e-3  # seconds; a column in which two states last equally long shows the first of STATES


class Grid(Struct, frozen=True):
    """How time is laid out: that many seconds a column, that many columns a strip."""

    seconds: int
    columns: int
    strips: int


def grid(length: float, columns: int) -> Grid:
    """The finest grid on which `length` seconds take few strips of at most `columns`."""
    columns = max(columns, _LEAST_COLUMNS)
    for choices, most in _LAYOUTS:
        for seconds in choices:
            needed = max(math.ceil(length / seconds - 1e-9), 1)
            if needed <= columns * most:
                return Grid(seconds, min(columns, needed), math.ceil(needed / columns))
    seconds = math.ceil(length / columns / _LAYOUTS[-1][1])
    return Grid(seconds, columns, math.ceil(length / seconds / columns))


def cells(timeline: MuscleTimeline, seconds: int) -> list[State]:
    """A muscle's state in each column: the one that lasts longest in it.

    A bout that would have no column of its own by that rule gets the one that holds most of
    it, so no bout is lost.
    """
    number = max(math.ceil(timeline.spans[-1].end / seconds - 1e-9), 1)
    shares: list[dict[State, float]] = [{} for _ in range(number)]
    for span in timeline.spans:
        for column, share in _columns(span, seconds, number):
            shares[column][span.state] = shares[column].get(span.state, 0.0) + share
    found = [_longest(share) for share in shares]
    for state in ("help", "work"):
        for span in timeline.spans:
            if span.state == state:
                _show(found, span, seconds)
    return found


def _columns(span: TimelineSpan, seconds: int, number: int) -> list[tuple[int, float]]:
    """The columns that a stretch lies in, with its seconds in each."""
    first = min(int(span.start / seconds), number - 1)
    last = min(math.ceil(span.end / seconds), number)
    return [
        (c, min(span.end, (c + 1) * seconds) - max(span.start, c * seconds))
        for c in range(first, max(last, first + 1))
    ]


def _longest(shares: dict[State, float]) -> State:
    longest = max(shares.values())
    return next(s for s in STATES if shares.get(s, 0.0) >= longest - _SAME and s in shares)


def _show(found: list[State], span: TimelineSpan, seconds: int) -> None:
    """Make sure that a bout has a column."""
    here = _columns(span, seconds, len(found))
    if any(found[column] == span.state for column, _ in here):
        return
    most = max(share for _, share in here)
    column = next(column for column, share in here if share >= most - _SAME)
    if found[column] != "work":
        found[column] = span.state


def chart(
    steps: Sequence[Step], width: int = 80, at: int | None = None, *, plain: bool = False
) -> list[str]:
    """The chart as lines of at most `width` columns, the legend last.

    `at`, the second of the day at which the session begins, turns the scale's minutes into
    times of day. `plain` uses signs that every encoding has.
    """
    rows = muscle_timelines(steps)
    if not rows:
        return []  # every set has been ended at once, so none is expected to last
    signs = PLAIN_SIGNS if plain else SIGNS
    label = max(len(timeline.muscle) for timeline in rows) + 2
    laid = grid(total(list(steps)), width - label)
    states = [cells(timeline, laid.seconds) for timeline in rows]
    lines: list[str] = []
    for strip in range(laid.strips):
        first = strip * laid.columns
        here = slice(first, first + laid.columns)
        long = len(states[0][here])
        lines.append(padded("min" if at is None else "time", label) + _scale(laid, first, long, at))
        lines.append(padded("block", label) + _blocks(steps, laid, first, long))
        lines += [
            padded(timeline.muscle, label) + "".join(signs[state] for state in row[here])
            for timeline, row in zip(rows, states, strict=True)
        ]
        lines.append("")
    legend = [f"{signs[state]} {WORDS[state]}" for state in STATES]
    legend.append(f"one column is {laid.seconds} s")
    # No break inside a sign and its word.
    return [line.rstrip() for line in lines] + enumerated("", legend, width, between="   ")


def _scale(laid: Grid, first: int, long: int, at: int | None) -> str:
    """Minutes from the beginning, or times of day, each behind a `|` in its column."""
    room = 5 if at is None else 8
    step = next((t for t in _TICKS if t / laid.seconds >= room), _TICKS[-1])
    begin = first * laid.seconds
    offset = at or 0
    tick = math.ceil((begin + offset) / step) * step - offset
    marks: list[tuple[int, str]] = []
    while tick < begin + long * laid.seconds:
        marks.append(((tick - begin) // laid.seconds, _tick_text(tick, at)))
        tick += step
    return _marked(marks, long)


def _tick_text(seconds: int, at: int | None) -> str:
    return str(seconds // 60) if at is None else instant(seconds, at)[:5]


def _blocks(steps: Sequence[Step], laid: Grid, first: int, long: int) -> str:
    """Where each block's first set begins."""
    marks: list[tuple[int, str]] = []
    seen: set[int] = set()
    for step in steps:
        if step.planned_set is not None and step.planned_set.block not in seen:
            seen.add(step.planned_set.block)
            marks.append((int(step.start // laid.seconds) - first, str(step.planned_set.block)))
    return _marked([mark for mark in marks if 0 <= mark[0] < long], long)


def _marked(marks: Sequence[tuple[int, str]], long: int) -> str:
    """Each text behind a `|` in its column; one that has no room any more is left out."""
    line = ""
    for column, text in marks:
        if column < len(line) or column + 1 + len(text) > long:
            continue
        line = line.ljust(column) + f"|{text}"
    return line
