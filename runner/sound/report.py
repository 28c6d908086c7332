"""What is told of the sound: which way plays, why not a better one, what became of the cues."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from runner.sound.ways import BELL, SETTING, SILENCE, Settings, Way, how_to_get


@dataclass(frozen=True)
class Report:
    """One way to play: whether it `works` (None: not tried), why not, how to get it."""

    way: str
    works: bool | None
    why_not: str = ""
    how: str = ""


@dataclass(frozen=True)
class Counts:
    """What became of the cues asked for.

    `played` sounded, `belled` rang the bell, `late` were left out for being over 300 ms late,
    `silent` were muted, unknown or in a session in which nothing ever played, `lost` were not
    heard for any other reason. Each is in one of them. Phrases stand apart: `said` of them began
    to sound.
    """

    asked: int = 0
    played: int = 0
    belled: int = 0
    late: int = 0
    silent: int = 0
    lost: int = 0
    said: int = 0


def notice(settings: Settings, at: int | None, *, bell: bool, pointer: bool = True) -> str:
    """One line for the screen: which way it plays, and with `pointer` where a better one is named.

    `at` is the index of the way in use among those of the settings, their number where none
    works, None while it is looked for.
    """
    if at is None:
        return "Sound: still looking for a way to play."
    better = " For a better way: matside cues" if pointer else ""
    if at < len(settings.ways):
        return f"Sound: {settings.ways[at].name}.{better if at else ''}"
    if bell:
        return f"Sound: the terminal's bell alone.{better}"
    if settings.silence:
        return f"Sound: silence, as {SETTING} asks."
    return "Sound: none." + (" To get some: matside cues" if pointer else "")


def rows(settings: Settings, at: int | None, why: Mapping[int, str], *, bell: bool) -> list[Report]:
    """Every way in the order of preference; `why` has the reasons of those tried, by index."""
    found = [Report("settings", works=False, why_not=fault) for fault in settings.faults]
    found += [_row(index, way, at, why) for index, way in enumerate(settings.ways)]
    if settings.bell:
        found.append(Report(BELL, bell, "" if bell else "there is no terminal to ring"))
    if settings.silence:
        found.append(Report(SILENCE, works=True))
    return found


def _row(index: int, way: Way, at: int | None, reasons: Mapping[int, str]) -> Report:
    if index == at:
        return Report(way.name, works=True)
    why = reasons.get(index, way.why_not)
    if not why:
        untried = "not tried" if at is None else "not tried, for a better way works"
        return Report(way.name, works=None, why_not=untried)
    how = how_to_get(way.name) if way.arguments is None else ""
    return Report(way.name, works=False, why_not=why, how=how)
