"""Plays cues. No failure of sound reaches the caller, and nothing here writes on the terminal.

    player = open_player(bell=lambda: …)
    player.play("start")
    player.close()

A thread of the player finds the best way that works and keeps its helper process alive; the thread
of the caller only writes a line into a pipe. While no helper can take a cue, the terminal's bell
rings, if the caller gave one.
"""

from __future__ import annotations

import atexit
import os
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Self

from msgspec import Struct

from runner.resources import sounds_dir
from runner.sound.link import Limits, Link
from runner.sound.sounds import CUES, LATE_S, gain
from runner.sound.ways import BELL, SETTING, SILENCE, Settings, Way, how_to_get, read_settings
from runner.text import FULL

# What the player reports: the way in use, why no better one works, and what became of the cues.


class Report(Struct, frozen=True):
    """One way to play: whether it `works` (None: not tried), why not, and what to do about it."""

    way: str
    works: bool | None
    why_not: str = ""
    how: str = ""


class Counts(Struct, frozen=True):
    """What became of the cues asked for; each cue counts once.

    `played` sounded, `belled` rang the bell, `late` were left out for being over 300 ms late,
    `silent` were muted, unknown, or asked for where nothing ever played; `lost` were not heard for
    another reason. `said` counts the phrases that began to sound.
    """

    asked: int = 0
    played: int = 0
    belled: int = 0
    late: int = 0
    silent: int = 0
    lost: int = 0
    said: int = 0


def notice(settings: Settings, at: int | None, *, bell: bool, pointer: bool = True) -> str:
    """One line for the screen: the way in use; with `pointer`, where to find a better one.

    `at` is the index of the way in use among those of the settings, their number where none works,
    None while the player looks for one.
    """
    if at is None:
        return "Sound: still looking for a player."
    better = " matside cues shows a better player" if pointer else ""
    if at < len(settings.ways):
        return f"Sound: {settings.ways[at].name}.{better if at else ''}"
    if bell:
        return f"Sound: the terminal's bell only.{better}"
    if settings.silence:
        return f"Sound: off, because {SETTING} says so."
    return "Sound: none." + (" matside cues shows how to get it" if pointer else "")


def rows(settings: Settings, at: int | None, why: Mapping[int, str], *, bell: bool) -> list[Report]:
    """Every way in order of preference; `why` has the reasons of those tried, by index."""
    found = [Report("settings", works=False, why_not=fault) for fault in settings.faults]
    found += [_row(index, way, at, why) for index, way in enumerate(settings.ways)]
    if settings.bell:
        found.append(Report(BELL, bell, "" if bell else "no terminal to ring"))
    if settings.silence:
        found.append(Report(SILENCE, works=True))
    return found


def _row(index: int, way: Way, at: int | None, reasons: Mapping[int, str]) -> Report:
    if index == at:
        return Report(way.name, works=True)
    why = reasons.get(index, way.why_not)
    if not why:
        untried = "not tried" if at is None else "not tried, because a better one works"
        return Report(way.name, works=None, why_not=untried)
    how = _MEND if way.arguments is not None else to_install(how_to_get(way.name))
    return Report(way.name, works=False, why_not=why, how=how)


# It is installed, so it lacks what it plays on.
_MEND = "to mend: connect a sound device, or start the sound server; then matside cues again"


def to_install(how: str) -> str:
    """What to type, after what it is for; empty where nothing can be installed."""
    return f"to install: {how}" if how else ""


FINISH_S = 2.0  # seconds that `close` gives a last cue
_ROOM_S = 1.0  # seconds more for its lead and its process


class Player:
    """Plays cues; made by `open_player`. One thread asks for cues; any may call the rest."""

    def __init__(
        self,
        settings: Settings,
        sounds: Path,
        bell: Callable[[], None] | None,
        limits: Limits,
        now: Callable[[], int],
        *,
        muted: bool,
        phrases: Path | None = None,
    ) -> None:
        self.lead_s = settings.lead_s
        self._volume, self._voice_volume = settings.volume, settings.voice_volume
        self._phrases = phrases
        self._settings = settings
        self._sounds = sounds
        self._bell = bell if settings.bell else None
        self._limits = limits
        self._now = now
        self._change = threading.Condition()
        self._link: Link | None = None
        self._ended: list[Link] = []
        self._why: dict[int, str] = {}
        self._restarts = [limits.restarts] * len(settings.ways)
        self._at: int | None = None  # index of the way in use; len(ways): none works
        self._last_notice: str | None = None
        self._asked = self._belled = self._late = self._silent = 0
        self._missed = 0  # cues asked for where no way worked
        self._muted = muted
        self._started = False
        self._closing = False
        self._finish_s = 0.0
        self._thread = threading.Thread(target=self._supervise, name="sound", daemon=True)

    # For the caller.

    def play(self, name: str, late_s: float = 0.0) -> None:
        """Ask for the cue `name`, which was due `late_s` seconds ago.

        Never blocks, never raises. A cue more than 300 ms late is skipped and counted, here or by
        the helper. It sounds a quiet lead, `lead_s`, later; a caller that knows the instant in
        advance asks that much earlier.
        """
        try:
            self._play(name, late_s)
        except Exception:  # noqa: BLE001 - whatever it is, a cue is not worth a session
            self._silent += 1

    def _play(self, name: str, late_s: float) -> None:
        self._asked += 1
        if late_s > LATE_S:
            self._late += 1
            return
        link = self._link
        if self._muted or self._volume == 0 or name not in CUES:
            self._silent += 1
        elif link is None:
            self._ring()
        elif not link.send(name, round(max(0.0, late_s) * 1e9), self.lead_s + CUES[name].length_s):
            self._ring()
            if link.broken:
                self._changed()

    def _ring(self) -> None:
        if self._closing:
            self._silent += 1
            return
        if self._bell is None:
            self._missed += 1
            return
        self._bell()
        self._belled += 1

    def cut(self, name: str) -> None:
        """Cut every `name` that is still in its quiet lead: what it says will not come true."""
        if self._link is not None and name in CUES:
            self._link.cut(name)

    def say(self, file: str, text: str, within_s: float) -> bool:
        """Ask for a phrase, a file in the folder of phrases; returns whether it was taken.

        It begins within that many seconds or not at all. Never blocks, never raises. A cue that
        comes while it sounds plays at its instant and cuts it.
        """
        link = self._link
        if link is None or self._muted or self._voice_volume == 0:
            return False
        return link.say(file, text, within_s)

    def hush(self) -> None:
        """Cut the phrase that sounds."""
        if self._link is not None:
            self._link.hush()

    @property
    def volume(self) -> int:
        """The loudness of cues, 0 to 100; the bell is only off, at 0, or on."""
        return self._volume

    @volume.setter
    def volume(self, volume: int) -> None:
        self._volume = volume
        self._level()

    @property
    def voice_volume(self) -> int:
        """The loudness of phrases, 0 to 100."""
        return self._voice_volume

    @voice_volume.setter
    def voice_volume(self, volume: int) -> None:
        self._voice_volume = volume
        self._level()

    def _level(self) -> None:
        if self._link is not None:
            self._link.level(gain(self._volume), gain(self._voice_volume))

    @property
    def muted(self) -> bool:
        """Whether cues are silent. Setting it to False looks for a way, if none was found yet."""
        return self._muted

    @muted.setter
    def muted(self, muted: bool) -> None:
        self._muted = muted
        if muted:
            self.hush()
        if not muted and not self._closing:
            self.start()

    @property
    def way(self) -> str:
        """The name of the way in use: a library, a program, `bell` or `silence`."""
        if self._muted:
            return SILENCE
        at = self._at
        if at is not None and at < len(self._settings.ways):
            return self._settings.ways[at].name
        return SILENCE if self._bell is None else BELL

    @property
    def counts(self) -> Counts:
        """What became of the cues so far."""
        links = [*self._ended, *([self._link] if self._link else [])]
        # Where nothing ever played, the notice said so; a cue is lost only where others were heard.
        missed, silent = (self._missed, 0) if links else (0, self._missed)
        return Counts(
            self._asked,
            sum(link.played for link in links),
            self._belled,
            self._late + sum(link.late for link in links),
            self._silent + silent,
            sum(link.lost for link in links) + missed,
            sum(link.said for link in links),
        )

    def notice(self, *, pointer: bool = True) -> str:
        """One line for the screen: the way in use; `pointer` names the command for a better one."""
        if self._muted:
            return "Sound: off."
        return notice(self._settings, self._at, bell=self._bell is not None, pointer=pointer)

    def news(self) -> str | None:
        """The notice when the way is found and whenever it changes; else None."""
        if self._at is None and not self._muted:
            return None
        text = self.notice()
        if text == self._last_notice:
            return None
        self._last_notice = text
        return text

    def report(self) -> list[Report]:
        """Every way in order of preference: does it work, why not, how to get it."""
        return rows(self._settings, self._at, self._why, bell=self._bell is not None)

    def settled(self, timeout_s: float) -> bool:
        """Wait until a way is found or the player is muted; False when that takes longer."""
        return self.wait_for(lambda: self._at is not None or self._muted, timeout_s)

    def wait_for(self, condition: Callable[[], bool], timeout_s: float) -> bool:
        """Wait until `condition` holds; tries it again whenever something happened."""
        with self._change:
            return self._change.wait_for(condition, timeout_s)

    def close(self, finish_s: float = FINISH_S) -> None:
        """Let the last cue end, for at most `finish_s`, and leave no process behind."""
        with self._change:
            self._finish_s = finish_s
            self._closing = True
            self._change.notify_all()
        if self._thread.is_alive():
            self._thread.join(finish_s + _ROOM_S)
        atexit.unregister(self._at_exit)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: object, fault: object, trace: object) -> None:
        self.close(FINISH_S if kind is None else 0.0)

    # The player's thread. Only it starts and ends processes.

    def start(self) -> None:
        """Begin to look for a way; does nothing the second time."""
        if self._started:
            return
        self._started = True
        if not self._settings.ways:
            self._at = 0
            return
        atexit.register(self._at_exit)
        self._thread.start()

    def _at_exit(self) -> None:
        self.close(0.0)

    def _changed(self) -> None:
        with self._change:
            self._change.notify_all()

    def _supervise(self) -> None:
        again = iter(self._limits.again_s)
        index = 0
        while not self._closing:
            index = self._settle(index)
            if self._link is not None:
                self._wait(lambda link=self._link: link.broken, None)  # type: ignore[misc]
                index = self._after_loss(index)
                continue
            # A loudspeaker may be switched on or plugged in while the session runs.
            self._wait(lambda: False, next(again, None))
            index = 0
        self._drop(self._finish_s)

    def _wait(self, condition: Callable[[], bool], timeout_s: float | None) -> None:
        with self._change:
            self._change.wait_for(lambda: self._closing or condition(), timeout_s)

    def _settle(self, first: int) -> int:
        """Take the first way from `first` on that works; its index, or the number of ways."""
        ways = self._settings.ways
        index = first
        while index < len(ways) and not self._closing:
            if self._try(index, ways[index]):
                break
            index += 1
        with self._change:
            self._at = index
            self._change.notify_all()
        return index

    def _try(self, index: int, way: Way) -> bool:
        if way.arguments is None or self._restarts[index] < 0:
            return False
        arguments = self._helper_arguments(way.arguments)
        link = Link(way.module, arguments, self._limits, self._changed, self._now)
        try:
            link.start()
        except OSError as fault:
            self._why[index] = f"no process: {fault.strerror or fault}"
            return False
        self._wait(lambda: link.ready or link.gone, self._limits.ready_s)
        if link.ready and not link.gone:
            if (self._volume, self._voice_volume) != (FULL, FULL):
                link.level(gain(self._volume), gain(self._voice_volume))
            self._link = link
            return True
        self._why[index] = link.why or f"no answer within {self._limits.ready_s:g} s"
        link.end()
        return False

    def _helper_arguments(self, of_way: tuple[str, ...]) -> list[str]:
        phrases = [] if self._phrases is None else ["--phrases", str(self._phrases)]
        return ["--sounds", str(self._sounds), "--lead", str(self.lead_s), *phrases, *of_way]

    def _after_loss(self, index: int) -> int:
        """End the helper that broke; returns the index of the way to try now."""
        if self._closing:
            return index
        why, expired = (self._link.why, self._link.expired) if self._link else ("", False)
        self._drop(0.0)
        self._why[index] = why or "stopped answering"
        if not expired:  # the helper was not at fault, and its device may come back
            self._restarts[index] -= 1
        return index if self._restarts[index] >= 0 else index + 1

    def _drop(self, finish_s: float) -> None:
        link = self._link
        if link is not None:
            self._link = None
            self._ended.append(link)
            link.end(finish_s)


def open_player(
    *,
    mute: bool = False,
    bell: Callable[[], None] | None = None,
    settings: Settings | None = None,
    sounds: Path | None = None,
    limits: Limits | None = None,
    now: Callable[[], int] = time.monotonic_ns,
    phrases: Path | None = None,
) -> Player:
    """A player, at once; it looks for its way in the background (`Player.settled` waits).

    A muted player starts nothing until it is no longer muted. `bell` rings the terminal's bell, in
    the thread that calls `play`; without a `bell` nothing is written, for standard output is data.
    By default the `settings` come from the environment and the WAV files are the shipped ones.
    `now` in ns measures how long a helper has not answered.

    The quiet lead of the settings is for outputs that fall asleep: Bluetooth and HDMI outputs need
    a few tenths of a second to wake, and swallow a whole short cue meanwhile. Every cue has the
    same lead, so the intervals stay right.
    """
    sounds = sounds or sounds_dir()
    limits = limits or Limits()
    settings = settings or read_settings(os.environ)
    player = Player(settings, sounds, bell, limits, now, muted=mute, phrases=phrases)
    if not mute:
        player.start()
    return player
