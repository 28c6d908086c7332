"""What has to be heard of a session, worked out from its record alone; nothing of `runner` is used.

The melodies stand here a second time, so that a cue that is changed by mistake is noticed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from tests.sound.real_session import MARK_S, TEMPO, Event

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

# ISO 16's A4 and equal temperament: f = 440 * 2^(n/12).
_C5, _E5, _G5, _A5, _C6 = (440 * 2 ** (n / 12) for n in (3, 7, 10, 12, 15))

# Each cue: onsets in seconds from its instant, and fundamentals in Hz.
MELODIES: dict[str, tuple[tuple[float, float], ...]] = {
    "begin": ((0.0, _C5), (0.28, _E5), (0.56, _G5), (0.72, _C6)),
    "count": ((0.0, _C5),),
    "start": ((0.0, _G5), (0.16, _C6)),
    "mark": ((0.0, _A5), (0.16, _A5), (0.52, _A5), (0.68, _A5)),
    "switch": ((0.0, _C6), (0.31, _E5), (0.47, _C6)),
    "ended": ((0.0, _G5), (0.15, _E5), (0.42, _C5)),
    "logged": ((0.0, _A5), (0.30, _E5)),
    "block": ((0.0, _C5), (0.28, _G5), (0.56, _C6)),
    "done": ((0.0, _C6), (0.18, _G5), (0.36, _E5), (0.54, _C5)),
    "tick": ((0.0, _A5), (0.08, _A5)),
}
MEANINGS = {
    "begin": "the session starts",
    "count": "a second of the last three of a rest",
    "start": "begin",
    "mark": "the hold has reached its mark",
    "switch": "change sides",
    "ended": "the set ends",
    "logged": "the count is saved",
    "block": "the next part comes",
    "done": "sets, counts and cool-down are done",
    "tick": "the next part of the repetition",
}
ONE_S = 0.1  # two acts so near are one instant
ONSET_FIT_S = 0.03
PITCH_FIT = 0.01  # a semitone is 0.059


@dataclass(frozen=True)
class Due:
    """A cue that the record asks for, at session seconds."""

    at: float
    name: str


def due_cues(events: Sequence[Event]) -> list[Due]:
    """The cues of a session in order, by its events; counts typed at one instant have one."""
    cues = {cue for number in range(len(events)) for cue in _of(events, number)}
    ordered = sorted(cues, key=lambda cue: cue.at)
    return [
        cue
        for before, cue in zip([None, *ordered], ordered, strict=False)
        if before is None or cue.name != before.name or cue.at - before.at > ONE_S
    ]


def _of(events: Sequence[Event], number: int) -> Iterator[Due]:
    event, later = events[number], events[number + 1 :]
    started = next((e for e in later if e.name == "started"), None)
    if event.name == "resting" and started is not None:
        counts = (event.data["until"] - n for n in (3, 2, 1))
        yield from (Due(at, "count") for at in counts if event.at < at < started.at)
    elif event.name == "begun":
        yield Due(event.at, "begin")
    elif event.name == "started":
        ended = next((e.at for e in later if e.name == "ended"), event.at)
        yield Due(event.at, "start")
        yield from _within(event, ended)
    elif event.name == "ended":
        yield Due(event.at, _after(event, started, later))
    elif event.name == "entered" and event.data["by"] == "person":
        yield Due(event.at, "logged")


def _within(started: Event, ended: float) -> Iterator[Due]:
    """What sounds while a set runs: the tempo's phases, or the mark of a hold."""
    if started.data["exercise"] == "bridge":
        if started.at + MARK_S < ended:
            yield Due(started.at + MARK_S, "mark")
        return
    at, number = started.at + TEMPO[0], 1
    while at < ended:
        yield Due(at, "tick")
        at += TEMPO[number % len(TEMPO)]
        number += 1


def _after(ended: Event, started: Event | None, later: Sequence[Event]) -> str:
    if started is None:
        return "done"
    rest = next(e for e in later if e.name == "resting")
    if rest.data["why"] == "side":
        return "switch"
    return "block" if started.data["block"] != ended.data["block"] else "ended"


@dataclass(frozen=True)
class Match:
    """A cue found in a recording: when it had to come, when it came, in seconds of each clock."""

    due: Due
    heard_at: float


def match(due: Sequence[Due], notes: Sequence[tuple[float, float]]) -> tuple[list[Match], str]:
    """Find each cue among the notes (onset in s, fundamental in Hz), in order.

    The second value says what is wrong: a note missing, at another pitch or place, or too many.
    """
    found: list[Match] = []
    left = list(notes)
    for cue in due:
        melody = MELODIES[cue.name]
        mine, left = left[: len(melody)], left[len(melody) :]
        if len(mine) < len(melody):
            return found, f"{cue} was not heard"
        zero = mine[0][0]
        for (onset, pitch), (meant, fundamental) in zip(mine, melody, strict=True):
            off = abs(pitch / fundamental - 1) > PITCH_FIT
            if off or abs(onset - zero - meant) > ONSET_FIT_S:
                return found, f"{cue} was heard as {mine}"
        found.append(Match(cue, zero))
    return found, f"more was heard: {left}" if left else ""


def interval_errors_ms(found: Sequence[Match]) -> list[float]:
    """How much longer each interval was heard than the record has it."""
    return [1000 * ((b.heard_at - a.heard_at) - (b.due.at - a.due.at)) for a, b in pairwise(found)]


def told(found: Sequence[Match]) -> str:
    """The list of what was heard, a line a cue: its second in the recording, name and meaning."""
    return "\n".join(f"{m.heard_at:7.2f}  {m.due.name:<7} {MEANINGS[m.due.name]}" for m in found)
