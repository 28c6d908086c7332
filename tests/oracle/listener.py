"""Somebody with closed eyes: what he knows from what he has heard, and what he must know.

Imports nothing of the program: cues are known by the meanings in the README, phrases by their
words, numbers by a general library (num2words). A moment of the session is what its screen shows
large then; the README and the glossary say what that is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from num2words import num2words

HEARS_S = 1.5  # a cue lasts a second; by then it has been understood
SPOKEN_S = 6.0  # by then a phrase that had to wait for others has been heard
INTO_S = 6.0  # so far into a set everything about it is known
ASKED_S = 16.0  # so long after a set its count is asked for, if nobody has typed it

Side = str  # both, left, right
# What each cue leaves possible, by its meaning in the README's table.
LEADS_TO = {
    "begin": ("warm-up", "rest"),
    "start": ("set",),
    "ended": ("rest",),
    "switch": ("rest",),
    "block": ("rest", "wrap-up"),
    "pause": ("paused",),
    "undo": ("warm-up", "rest", "set", "paused", "wrap-up"),
    "done": ("wrap-up", "closed"),
}
# What is taken back without another phase: a set left out was still to come, else it "goes on".
STAYS = ("the count", "the correction", "the change of this rest", "the skip", "the drop")
SetOf = tuple[str, Side, int]  # name, side, number of the set


@dataclass(frozen=True)
class Moment:
    """What is so at an instant: the phase, the set under way or to come, the count to enter."""

    at: float
    phase: str
    due: SetOf | None = None
    target: tuple[float, ...] = ()  # bottom and top of a range; or, with `beat`, one number
    beat: bool = False
    hold: bool = False
    missing: SetOf | None = None  # the oldest set without a count
    since: float = 0.0  # when the phase, or what is due in it, was last changed
    rest_s: float = 0.0  # the whole rest before the set
    until: float | None = None
    undone: bool = False  # the last thing that happened was an undo or a redo


@dataclass
class Listener:
    """What has been understood. `phases` are those that are still possible."""

    names: dict[str, tuple[str, ...]]  # of exercises: each with the ways to say it
    phases: frozenset[str] = frozenset({"ready"})
    before_pause: frozenset[str] = frozenset()
    before_undo: frozenset[str] = frozenset()
    name: str | None = None
    side: Side | None = None
    target: str | None = None
    missing: SetOf | None = None
    waits: bool = False  # it is said that a press is waited for
    done: list[float] = field(default_factory=list)
    told: list[str] = field(default_factory=list)  # all phrases, in order
    cues: list[tuple[float, str]] = field(default_factory=list)

    def cue(self, at: float, name: str) -> None:
        """A cue is heard."""
        self.cues.append((at, name))
        if name not in ("count", "tick", "logged"):
            self.waits = name == "mark"
        if name == "done":
            self.done.append(at)
        if name == "pause":
            self.before_pause = self.phases
        if name == "undo":
            self.before_undo = self.phases
        if name == "resume":  # a set does not go on after a pause
            self.phases = self.before_pause - {"set"} or frozenset({"rest"})
        elif name == "redo":  # all is as it was before the undo
            self.phases = self.before_undo
        elif name in ("skip", "drop"):
            self.phases = self.phases - {"set"} or frozenset({"rest"})
        else:
            self.phases = frozenset(LEADS_TO.get(name, self.phases))

    def phrase(self, text: str) -> None:
        """A phrase is heard."""
        self.told.append(text)
        if text.startswith("warm-up, ") or text == "warm-up":
            self.phases = frozenset({"warm-up"})
        elif text == "all sets done" or text.startswith("cool-down"):
            self.phases = frozenset({"wrap-up", *(["closed"] if self.done else [])})
        elif text == "paused":
            self.phases = frozenset({"paused"})
        elif text.startswith("aim for ") or text.endswith(" to beat"):
            self.target = text
        elif asked := re.fullmatch(r"(.+), set ([\w -]+), how many\?", text):
            name, side = self._named(asked[1])
            number = next(n for n in range(1, 40) if num2words(n) == asked[2])
            self.missing = (name or "", side, number)
        else:
            self._of_a_set(text)
        if "press" in text:
            self.waits = True

    def _of_a_set(self, text: str) -> None:
        if turn := re.fullmatch(r"(?:switch sides, )?(left|right)", text):
            self.side = turn[1]
            return
        if text.startswith(("taken back", "done again")):
            if text.endswith(STAYS) and len(self.phases) > 1:  # nothing has contradicted it
                self.phases = self.before_undo
            return
        if text.endswith(("skipped", "dropped")):
            return
        goes_on = text.endswith(" goes on")
        name, side = self._named(text.removeprefix("next, ").removesuffix(" goes on"))
        if name is None:
            return
        self.name, self.side = name, side
        if text.startswith("next, "):
            self.phases = frozenset({"rest"})
        elif goes_on:
            self.phases = frozenset({"set"})

    def _named(self, text: str) -> tuple[str | None, Side]:
        """The exercise that a text begins with, and the side behind it."""
        found = [
            (way, name)
            for name, ways in self.names.items()
            for way in ways
            if text == way or text.startswith((f"{way},", f"{way} left", f"{way} right"))
        ]
        if not found:
            return None, "both"
        way, name = max(found, key=lambda one: len(one[0]))
        side = re.match(r",? (left|right)\b", text[len(way) :])
        return name, side[1] if side else "both"


def target_text(moment: Moment) -> str:
    """How what is aimed at is said: whole numbers, seconds below a minute."""
    numbers = " to ".join(num2words(int(number)) for number in moment.target)
    unit = " seconds" if moment.hold else ""
    return f"{numbers}{unit} to beat" if moment.beat else f"aim for {numbers}{unit}"


def ignorance(ears: Listener, now: Moment, *, voice: bool) -> str:
    """What he should know at this moment and does not; "" where he knows it all."""
    passed = now.at - now.since
    if now.phase not in ears.phases and passed > HEARS_S:
        return f"{now.phase} is taken for {sorted(ears.phases)}"
    up = now.phase == "warm-up" and now.until is not None and now.at > now.until + HEARS_S
    if up and not ears.waits:
        return "nobody knows that a press is waited for"
    return _of_the_set(ears, now, passed) or _of_the_count(ears, now, passed) if voice else ""


def _of_the_count(ears: Listener, now: Moment, passed: float) -> str:
    if now.undone and passed > SPOKEN_S and len(ears.phases) > 1:
        return f"after an undo it may be any of {sorted(ears.phases)}"
    asks = now.missing is not None and now.phase in ("rest", "wrap-up") and passed > ASKED_S
    if asks and ears.missing != now.missing:
        return f"{now.missing} has no count, {ears.missing} was asked for"
    return ""


def _of_the_set(ears: Listener, now: Moment, passed: float) -> str:
    if now.due is None or now.phase not in ("rest", "set"):
        return ""
    name, side, _ = now.due
    known = (ears.name, ears.side) == (name, side)
    # A rest of five seconds has room for a name, a shorter one, between sides, for the cue alone.
    starts = now.rest_s >= 5.0 and now.until is not None and now.at >= now.until - 0.5
    if now.phase == "rest" and starts and not known:
        return f"{now.due} starts, {ears.name} {ears.side} is expected"
    if now.phase == "rest" and passed > 2 * SPOKEN_S and not known:
        return f"{now.due} comes, {ears.name} {ears.side} is expected"
    if now.phase == "set" and passed > INTO_S:
        if not known:
            return f"{now.due} runs, {ears.name} {ears.side} is thought to"
        if ears.target != target_text(now):
            return f"{target_text(now)!r}, and {ears.target!r} is known"
    return ""
