"""What a session is heard by: cues, voice, and how loud each is. One object for both faces."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Self

from runner.core.session import commands as cmd
from runner.core.spoken import MODES, Mode
from runner.live.speaker import Speaker
from runner.sound.levels import FULL, STEP
from runner.sound.player import open_player
from runner.sound.speech.cache import phrase_folder
from runner.sound.voice import Voice
from runner.sound.ways import read_settings

VOICE_SETTING = "MATSIDE_VOICE"  # off, on or names
_SAID: Mapping[Mode, str] = {"off": "off", "on": "on", "names": "names only"}


@dataclass(frozen=True, slots=True)
class Wanted:
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
        return "off", f"{VOICE_SETTING}: {asked!r} is no way to speak; write off, on or names"
    return found or "off", ""


class Hearing:
    """Player, voice and speaker of one session, and what their keys do."""

    def __init__(
        self,
        environ: Mapping[str, str],
        wanted: Wanted | None = None,
        *,
        bell: Callable[[], None] | None = None,
    ) -> None:
        wanted = wanted or Wanted()
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
        """Speak so much from now on; what to tell of it."""
        self._mode = mode
        if self.player.muted:
            return f"Voice: {_SAID[mode]}, once sound is on again."
        self.speaker.mode = mode
        if mode == "off":
            self.voice.hush()
        return (self.voice.news() if mode != "off" else None) or self.voice_notice()

    def voice_notice(self, *, pointer: bool = True) -> str:
        """One line: what the voice says, and by which engine."""
        if self._mode == "off":
            return "Voice: off."
        if self.voice.none:
            return self.voice.notice(pointer=pointer)
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

    def obey(self, command: cmd.Hear) -> str:
        """Do what was written; what to tell of it."""
        match command.what:
            case "sound":
                return self.toggle_sound()
            case "volume":
                return self.at_volume(int(command.value))
            case "voice-volume":
                return self.voice_at_volume(int(command.value))
            case "voice":
                return self.speak(next(m for m in MODES if m == command.value))

    @property
    def looking(self) -> bool:
        """Whether it is not known yet by which way cues play, or which voice speaks."""
        speaks = self.speaker.mode != "off" and not self.voice.engine and not self.voice.none
        return speaks or not self.player.settled(0.0)

    def missed(self) -> str:
        """One line about the cues that did not come, to be told at the end; "" for none."""
        counts = self.player.counts
        late = f"{counts.late} left out (over 0.3 s late)" if counts.late else ""
        lost = f"{counts.lost} not played" if counts.lost else ""
        bell = f"{counts.belled} by the bell alone" if counts.belled and counts.played else ""
        parts = ", ".join(part for part in (late, lost, bell) if part)
        return f"Sound: of {counts.asked} cues, {parts}." if parts else ""

    def news(self) -> str | None:
        """What is to be told once: by which way it plays, that a setting is wrong, no voice."""
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
