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
        if any(isinstance(event, ev.Undone) for event in events):
            self._after = []  # what was to be said of it is not true any more
        new = spoken.of_events(events, before, after, self._mode)
        self._after = new or self._after
        for phrase in (*new, *spoken.ahead(after, self._mode)):
            self._speech.want(phrase.texts, soon=True)

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
        return place(self._open(now), known, self._speech.length, max(now, self._free))

    def _open(self, now: float) -> list[Phrase]:
        """What is still to be said, the most needed first."""
        if self._state is None or self._mode == "off" or self.silent:
            return []
        found = [*self._after, *spoken.ahead(self._state, self._mode)]
        return [p for p in found if p.latest >= now and p.key not in self._said]
