"""When a phrase may begin: beside the cues, and beside other phrases.

The rule. A cue is never delayed by a phrase: it is asked for at its instant, whatever is said.

1. A phrase begins only where it ends, by its rendered length, at least `GAP` before the next cue
   that is known, and no sooner than `GAP` after the end of the last cue. Where it fits nowhere
   between its two instants it is not said; a shorter way to say it is tried before.
2. Two phrases never sound at once; `BREATH` lies between them.
3. A cue that nobody could know (a key, an entry) while a phrase sounds is played at once and cuts
   the phrase. One that was cut is said again, from its beginning, if it is still true and fits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from runner.core.spoken import Phrase

GAP = 0.25  # seconds between speech and a cue; our choice: what ears need to tell them apart
BREATH = 0.4  # seconds between two phrases; our choice

Cues = Sequence[tuple[float, float]]  # of those to come: (instant, length), in seconds, ordered
Length = Callable[[str], float | None]  # of a text as rendered; None where it is not there


@dataclass(frozen=True, slots=True)
class Placed:
    """A phrase with its instant: begins at `at`, is said as `text`, ends at `end`."""

    at: float
    end: float
    text: str
    phrase: Phrase


def place(phrases: Iterable[Phrase], cues: Cues, length: Length, free: float) -> Placed | None:
    """The phrase to begin next, or None; nothing begins before `free`.

    Of two that could begin at once the one named first does.
    """
    found = [one for phrase in phrases if (one := _placed(phrase, cues, length, free)) is not None]
    return min(found, key=lambda one: one.at, default=None)


def _placed(phrase: Phrase, cues: Cues, length: Length, free: float) -> Placed | None:
    for text in phrase.texts:
        lasts = length(text)
        if lasts is None:
            continue
        at = _fits(lasts, cues, max(phrase.at, free))
        if at <= phrase.latest:
            return Placed(at, at + lasts, text, phrase)
    return None


def _fits(lasts: float, cues: Cues, earliest: float) -> float:
    """The first instant from `earliest` on from which so long a phrase meets no cue."""
    at = earliest
    for instant, cue_length in cues:
        if at + lasts + GAP <= instant:
            break
        at = max(at, instant + cue_length + GAP)
    return at
