"""Says the phrases of a running session between its cues. Driven by the driver, knows no clock."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from runner.core import spoken
from runner.core.session import events as ev
from runner.core.session.state import State
from runner.core.speech_gaps import BREATH, GAP, Placed, place
from runner.core.spoken import Mode, Phrase
from runner.sound.cues import CUES

HURRY = 3.0  # seconds to the last moment of a phrase: then a shorter way that is rendered will do
LOOK_AGAIN = 0.25  # seconds: a phrase that is due and still being rendered is looked for again


class Speech(Protocol):
    """Rendered phrases and what plays them: never blocks, never raises."""

    def start(self) -> None:
        """Look for a voice, if that was not done yet."""

    def want(self, texts: Iterable[str], *, soon: bool = False) -> None:
        """Have these texts rendered; those needed `soon` before all others."""

    def length(self, text: str) -> float | None:
        """Seconds that a rendered text lasts; None where it is not there."""

    def coming(self, text: str) -> bool:
        """Whether a text is still being rendered."""

    def say(self, text: str) -> None:
        """Say a rendered text now, or not at all."""

    def hush(self) -> None:
        """Cut what is being said."""


class Speaker:
    """What is to be said next, what was said, and how much the person wants to hear.

    Times are session seconds. Known cues are (instant, name), in order.
    """

    def __init__(self, speech: Speech, mode: Mode = "off") -> None:
        self._speech = speech
        self._mode: Mode = "off"
        self._state: State | None = None
        self._after: list[Phrase] = []  # what events have brought
        self._said: set[tuple[object, ...]] = set()
        self._sounding: Placed | None = None
        self._free = 0.0  # nothing begins before the last cue and the last phrase are over
        self.silent = False  # for now: time goes too fast for phrases
        self.mode = mode

    @property
    def mode(self) -> Mode:
        """How much is said. Setting it to more than "off" looks for a voice."""
        return self._mode

    @mode.setter
    def mode(self, mode: Mode) -> None:
        self._mode = mode
        if mode != "off":
            self._speech.start()
            if self._state is not None:
                self.prepare(self._state)

    def prepare(self, state: State) -> None:
        """Have everything rendered that the session from `state` on brings as planned."""
        self._state = state
        if self._mode != "off":
            self._speech.want(spoken.repertoire(state, self._mode))

    def stand_at(self, state: State) -> None:
        """The session stands elsewhere, later or earlier: from there on nothing has been said."""
        self._state = state
        self._said.clear()
        self._after, self._sounding, self._free = [], None, 0.0

    def happened(self, events: Sequence[ev.Event], before: State, after: State) -> None:
        """Take up what an act has brought."""
        self._state = after
        if self._mode == "off":
            return
        if any(isinstance(event, ev.Resumed) for event in events):
            self._said.clear()  # who comes back wants to know what is next
            self._after = []
        if any(isinstance(event, ev.Undone) for event in events):
            self._after = []  # what was to be said of it is not true any more
            if before.phase != after.phase:
                self._forget_names()
        new = spoken.of_events(events, before, self._mode)
        self._after = new or self._after
        true = spoken.ahead(after, self._mode)
        for phrase in (*true, *new):
            self._speech.want(phrase.texts, soon=True)
        self._take_back(events[-1].at, {phrase.key for phrase in true})

    def _take_back(self, now: float, true: set[tuple[object, ...]]) -> None:
        """Cut a phrase that is still in its quiet lead and is not true any more."""
        placed = self._sounding
        if placed is not None and placed.at > now and placed.phrase.key not in true:
            self._speech.hush()
            self._said.discard(placed.phrase.key)
            self._sounding, self._free = None, now

    def _forget_names(self) -> None:
        self._said = {key for key in self._said if key[0] != spoken.NAME}

    def cue(self, name: str, at: float) -> None:
        """A cue sounds: it cuts what is being said, which is then said again if it fits."""
        cue = CUES.get(name)
        self._free = max(self._free, at + (cue.length_s if cue else 0.0) + GAP)
        if self._sounding is not None and at < self._sounding.end:
            self._said.discard(self._sounding.phrase.key)
            self._free = at + (cue.length_s if cue else 0.0) + GAP
        self._sounding = None

    def tick(self, now: float, cues: Iterable[tuple[float, str]]) -> None:
        """Begin what is due."""
        placed = self._next(now, cues)
        if placed is None or placed.at > now:
            return
        self._speech.say(placed.text)
        if placed.phrase.key[0] == spoken.NAME:
            self._forget_names()  # of names the last one heard counts
        self._said.add(placed.phrase.key)
        self._sounding = placed
        self._free = placed.end + BREATH

    def next_wake(self, now: float, cues: Iterable[tuple[float, str]]) -> float | None:
        """Session seconds at which the next phrase begins or is to be looked for again."""
        placed = self._next(now, cues)
        waits = [placed.at] if placed is not None else []
        if any(self._speech.coming(t) for p in self._open(now) if p.at <= now for t in p.texts):
            waits.append(now + LOOK_AGAIN)
        return min(waits, default=None)

    def _next(self, now: float, cues: Iterable[tuple[float, str]]) -> Placed | None:
        if self._mode == "off":
            return None
        known = [(at, CUES[name].length_s) for at, name in cues if name in CUES]
        # A shorter way to say it is for want of room, not of patience.
        ready = [
            phrase
            for phrase in self._open(now)
            if not self._speech.coming(phrase.texts[0]) or phrase.latest - now < HURRY
        ]
        return place(ready, known, self._speech.length, max(now, self._free))

    def _open(self, now: float) -> list[Phrase]:
        """What is still to be said, the most needed first."""
        if self._state is None or self._mode == "off" or self.silent:
            return []
        true = spoken.ahead(self._state, self._mode)
        first = [p for p in true if p.key[0] in spoken.FIRST]
        found = [*first, *self._after, *(p for p in true if p not in first)]
        return [p for p in found if p.latest >= now and p.key not in self._said]
