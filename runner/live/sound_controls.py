"""The sound of a session: cues, voice, and the loudness of each; one object for both faces.

A `Speaker` says the phrases of a running session between its cues; the driver drives it, and it has
no clock. `Hearing` has the player, the voice and the volumes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Self

from msgspec import Struct
from msgspec.structs import replace

from runner.session import events as ev, phrases
from runner.session.phrases import BREATH, GAP, MODES, Mode, Phrase, PlacedPhrase, place
from runner.session.state import State
from runner.sound.player import open_player
from runner.sound.sounds import CUES, STEP
from runner.sound.speech import phrase_folder
from runner.sound.voice import Voice
from runner.sound.ways import BELL, SILENCE, read_settings
from runner.text import FULL

HURRY = 3.0  # seconds to the last moment of a phrase: then a shorter way that is rendered will do
LOOK_AGAIN = 0.25  # seconds: a phrase that is due and still being rendered is looked for again


class Speaker:
    """What to say next, what was said, and how much the person wants to hear.

    Times are session seconds. Known cues are (instant, name), in order.
    """

    def __init__(self, speech: Voice, mode: Mode = "off") -> None:
        self._speech = speech
        self._mode: Mode = "off"
        self._state: State | None = None
        self._after: list[Phrase] = []  # what events have brought
        self._said: set[tuple[object, ...]] = set()
        self._sounding: PlacedPhrase | None = None
        self._free = 0.0  # nothing begins before the last cue and the last phrase are over
        self.silent = False  # for now: time goes too fast for phrases
        self.mode = mode

    @property
    def mode(self) -> Mode:
        """How much is said. Setting it to more than "off" starts looking for a voice."""
        return self._mode

    @mode.setter
    def mode(self, mode: Mode) -> None:
        self._mode = mode
        if mode != "off":
            self._speech.start()
            if self._state is not None:
                self.prepare(self._state)

    def prepare(self, state: State) -> None:
        """Have everything rendered that a session as planned says from `state` on."""
        self._state = state
        if self._mode != "off":
            self._speech.want(phrases.repertoire(state, self._mode))

    def stand_at(self, state: State) -> None:
        """The session jumped to another second: from there on nothing was said."""
        self._state = state
        self._said.clear()
        self._after, self._sounding, self._free = [], None, 0.0

    def take_up(self, events: Sequence[ev.Event], before: State, after: State) -> None:
        """Take the events of an act."""
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
        new = phrases.of_events(events, before, self._mode)
        self._after = new or self._after
        true = phrases.ahead(after, self._mode)
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
        self._said = {key for key in self._said if key[0] != phrases.NAME}

    def cue(self, name: str, at: float) -> None:
        """A cue sounds: it cuts the phrase, which is said again if it still fits."""
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
        if placed.phrase.key[0] == phrases.NAME:
            self._forget_names()  # of names the last one heard counts
        self._said.add(placed.phrase.key)
        self._sounding = placed
        self._free = placed.end + BREATH

    def next_wake(self, now: float, cues: Iterable[tuple[float, str]]) -> float | None:
        """Session seconds at which the next phrase begins or is looked for again."""
        placed = self._next(now, cues)
        waits = [placed.at] if placed is not None else []
        if any(self._speech.coming(t) for p in self._open(now) if p.at <= now for t in p.texts):
            waits.append(now + LOOK_AGAIN)
        return min(waits, default=None)

    def _next(self, now: float, cues: Iterable[tuple[float, str]]) -> PlacedPhrase | None:
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
        true = phrases.ahead(self._state, self._mode)
        first = [p for p in true if p.key[0] in phrases.FIRST]
        found = [*first, *self._after, *(p for p in true if p not in first)]
        return [p for p in found if p.latest >= now and p.key not in self._said]


VOICE_SETTING = "MATSIDE_VOICE"  # off, on or names
_SAID: Mapping[Mode, str] = {"off": "off", "on": "on", "names": "names only"}


class SoundOptions(Struct, frozen=True):
    """What was asked for on the command line; None leaves it to the environment."""

    mute: bool = False
    voice: Mode | None = None
    volume: int | None = None
    voice_volume: int | None = None


def voice_mode(environ: Mapping[str, str]) -> tuple[Mode, str]:
    """The mode that the environment asks for, off by default, and what is wrong with it."""
    asked = environ.get(VOICE_SETTING, "").strip().lower()
    found = next((mode for mode in MODES if mode == asked), None)
    if found is None and asked:
        return (
            "off",
            f"{VOICE_SETTING}: {asked!r} is not a mode of the voice; write off, on or names",
        )
    return found or "off", ""


class Hearing:
    """Player, voice and speaker of one session, and what their keys do."""

    def __init__(
        self,
        environ: Mapping[str, str],
        wanted: SoundOptions | None = None,
        *,
        bell: Callable[[], None] | None = None,
    ) -> None:
        wanted = wanted or SoundOptions()
        settings = read_settings(environ)
        if wanted.volume is not None:
            settings = replace(settings, volume=wanted.volume)
        if wanted.voice_volume is not None:
            settings = replace(settings, voice_volume=wanted.voice_volume)
        mode, fault = voice_mode(environ)
        mode = wanted.voice or mode
        if fault and wanted.voice is None:
            settings = replace(settings, faults=(*settings.faults, fault))
        self.faults = settings.faults
        self.player = open_player(
            mute=wanted.mute, bell=bell, settings=settings, phrases=phrase_folder(environ)
        )
        self.voice = Voice(self.player, environ)
        self._mode: Mode = mode  # to be spoken in once it is not muted
        self.speaker = Speaker(self.voice, "off" if wanted.mute else mode)

    def toggle_sound(self) -> str:
        """Everything off, or on again; what to tell of it."""
        muted = not self.player.muted
        self.player.muted = muted
        if not muted:
            self.speaker.mode = self._mode
        return self.player.news() or self.player.notice()  # told by this, and no news any more

    def next_mode(self) -> str:
        """The voice from off to on to names only to off; what to tell of it."""
        return self.speak(MODES[(MODES.index(self._mode) + 1) % len(MODES)])

    def speak(self, mode: Mode) -> str:
        """Set how much the voice says from now on; returns what to tell of it."""
        self._mode = mode
        if self.player.muted:
            return self.voice_notice()
        self.speaker.mode = mode
        if mode == "off":
            self.voice.hush()
        return (self.voice.news() if mode != "off" else None) or self.voice_notice()

    def voice_notice(self, *, pointer: bool = True) -> str:
        """One line: what the voice says, and by which engine."""
        if self._mode == "off":
            return "Voice: off."
        if self.player.muted:
            return f"Voice: {_SAID[self._mode]}, once sound is on again."
        if self.voice.none:
            return self.voice.notice(pointer=pointer)
        if self.player.settled(0) and self.player.way in (BELL, SILENCE):
            return "Voice: none, for nothing here plays it."
        by = f", by {self.voice.engine}" if self.voice.engine else ""
        return f"Voice: {_SAID[self._mode]}{by}."

    def quieter(self) -> str:
        """Cues a step quieter, from the least back to full; what to tell of it."""
        return self.at_volume(_quieter(self.player.volume))

    def at_volume(self, volume: int) -> str:
        """Cues so loud, 0 to 100; what to tell of it."""
        self.player.volume = volume
        return f"Volume {self.player.volume} of {FULL}."

    def voice_quieter(self) -> str:
        """The same for the voice."""
        return self.voice_at_volume(_quieter(self.player.voice_volume))

    def voice_at_volume(self, volume: int) -> str:
        """The voice so loud, 0 to 100; what to tell of it."""
        self.player.voice_volume = volume
        return f"Voice volume {self.player.voice_volume} of {FULL}."

    @property
    def looking(self) -> bool:
        """Whether it is not known yet by which way cues play, or which voice speaks."""
        speaks = self.speaker.mode != "off" and not self.voice.engine and not self.voice.none
        return speaks or not self.player.settled(0.0)

    def missed(self) -> str:
        """One line about the cues that were not heard, for the end; "" for none."""
        counts = self.player.counts
        late = f"{counts.late} left out (over 0.3 s late)" if counts.late else ""
        lost = f"{counts.lost} not played" if counts.lost else ""
        bell = f"{counts.belled} by the bell alone" if counts.belled and counts.played else ""
        parts = ", ".join(part for part in (late, lost, bell) if part)
        return f"Sound: of {counts.asked} cues, {parts}." if parts else ""

    def news(self) -> str | None:
        """What a person is told once: what plays the cues, a wrong setting, no voice."""
        if self.faults:
            faults, self.faults = self.faults, ()
            return " ".join(faults)
        return self.player.news() or self.voice.news()

    def close(self) -> None:
        """Let the last cue end, and leave no process behind."""
        self.voice.close()
        self.player.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: object, fault: object, trace: object) -> None:
        self.voice.close()
        self.player.__exit__(kind, fault, trace)


def _quieter(volume: int) -> int:
    """A step down on the grid of the steps; after the last but silence, full again."""
    down = (volume - 1) // STEP * STEP
    return down if down > 0 else FULL
