"""The notation of paper: one line an exercise, as a sheet has it and a person types it.

    row=light:12kg 12|12 11|11; light:14kg 9|9

The exercise and its level may be left out where they are known: `12 11/2 9`. A `;` comes before
another level of the same exercise, and before a word about it. A word may also have a line of its
own, which is then about the exercise of the line before:

    swap ID        the sets after it were done with the substitute; where none follow, all were
    pain PLACE     it hurt there in the last of its sets, and the exercise ended for today
    note TEXT      a note beside its last set; it goes to the end of the line
    warm-up 10     counts of its warm-up sets, those of the plan at their levels
    load 12, setup height=60 cm, easier, harder, version ID      for the sets that follow

Sets beyond the planned ones count as added. A set is written as in a session: `12`, `12/2`, `45s`;
a one-sided set, left and right, as `12 14` or `12|14`. A comma separates sets of the first form
(`12 14, 11 13`), a space those of the second (`12|14 11|13`); where both sides had the same count,
one number will do (`12, 11`). Two-sided sets need only a space. `-` is a set left out, `nocount`
one that was done and not counted.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from runner.law.workout import Exercise, Level, Side, load_text
from runner.session.apply import Refused
from runner.session.changes import level_text
from runner.session.verb import Count, shown
from runner.session.words import HEAVIEST, SIDES, Refusal, bounded, read_entry

# Words about an exercise, beside its counts.
WORDS = ("swap", "pain", "note", "warm-up", "load", "setup", "easier", "harder", "version")
_NAMED = re.compile(r"([^\s=;]+)\s*=\s*")
_COUNT = re.compile(r"-|nocount|[0-9]+(\.[0-9]+)?s?([/|].*)?")  # a load, which no level looks like
_KILOGRAMS = re.compile(r"([0-9]{1,6}(?:\.[0-9]{1,3})?) *kg", re.IGNORECASE)


class Part(Struct, frozen=True):
    """A piece of a line: sets at a level ("" for the present level), or a word about them."""

    kind: Literal[
        "sets", "level", "swap", "pain", "note", "warm-up", "load", "setup", "easier", "harder",
        "version",
    ]  # fmt: skip
    text: str = ""


class PaperLine(Struct, frozen=True):
    """A line as written: the exercise's id, "" where it names none, and its pieces in order."""

    exercise: str
    parts: tuple[Part, ...]


def read_paper(text: str, exercises: Collection[str]) -> PaperLine:
    """The pieces of a line; `exercises` are the ids that it may name.

    An empty line has no pieces. Raises Refused for any other id.
    """
    name, rest, levelled = _name(text.strip(), exercises)
    parts: list[Part] = []
    while rest:
        if re.match(r"\s*note(\s|$)", rest):
            parts.append(Part("note", rest.strip().removeprefix("note").strip()))
            break
        piece, _, rest = rest.partition(";")
        parts += _piece(piece.strip(), levelled=levelled)
        levelled = False
    return PaperLine(name, tuple(parts))


def _name(text: str, exercises: Collection[str]) -> tuple[str, str, bool]:
    """The exercise at the start of a line, the rest, and whether the rest starts with a level."""
    found = _NAMED.match(text)
    if found is not None:
        if found[1] not in exercises:
            raise Refused(f"unknown exercise {shown(found[1])}; there are {', '.join(exercises)}")
        return found[1], text[found.end() :], True
    word, _, rest = text.partition(" ")
    if word in exercises and word not in WORDS:
        return word, rest, False
    return "", text, False


def _piece(piece: str, *, levelled: bool) -> list[Part]:
    word, _, after = piece.partition(" ")
    after = after.strip()
    if word == "swap":
        to, _, counts = after.partition(" ")
        to, _, level = to.partition("=")
        return [Part("swap", to), *_sets(level, counts)]
    if word in WORDS and not levelled:
        return [Part(word, after)]  # type: ignore[arg-type] # one of its words
    if _COUNT.fullmatch(word):
        return _sets("", piece)
    if levelled or word.startswith("=") or ":" in word or _is_word(word):
        return _sets(word.removeprefix("="), after)
    return _sets("", piece)


def _is_word(word: str) -> bool:
    return word[:1].isalpha() and word != NOT_COUNTED


def _sets(level: str, counts: str) -> list[Part]:
    found = [Part("level", level)] if level else []
    return [*found, Part("sets", counts.strip())] if counts.strip() else found


def level_word(level: Level) -> str:
    """A level as paper has it: `light:12kg`, `mark-2:120cm`, `knees`."""
    values = [re.sub(r"\s+", "", value) for _, value in level.setup]
    load = [] if level.load is None else [f"{load_text(level.load)}kg"]
    word = ":".join((level.version, *values, *load))
    return f"{word}:" if _COUNT.fullmatch(word) else word  # a version called 30


def read_level(text: str, exercise: Exercise) -> Level:
    """The level that `light:12kg` names; a load or one measure may lie off the plan's range.

    Without values it is the version's first level. Raises Refused with what there is.
    """
    version, *values = (part.strip() for part in text.removesuffix(":").split(":"))
    levels = [level for level in exercise.progression if level.version == version]
    if not levels:
        ids = ", ".join(dict.fromkeys(level.version for level in exercise.progression))
        raise Refused(
            f"{exercise.name} has no version {shown(version)}; it has {ids}; help lists the words"
        )
    exact = [level for level in levels if level_word(level).lower() == _bare(text)]
    found = exact[0] if exact else levels[0]
    for value in () if exact else values:
        found = _with_value(found, value, exercise, levels)
    return found


def _with_value(level: Level, value: str, exercise: Exercise, levels: list[Level]) -> Level:
    kilograms = _KILOGRAMS.fullmatch(value)
    if kilograms is not None:
        return replace(level, load=bounded(kilograms[1], "a load in kg", 0.0, HEAVIEST))
    for other in levels:
        if _bare(value) in {_bare(known) for _, known in other.setup}:
            return replace(other, load=level.load if other.load is None else other.load)
    if value and len(level.setup) == 1:
        return replace(level, setup=((level.setup[0][0], value),))
    there = "; ".join(level_text(one) for one in levels)
    raise Refused(f"{exercise.name} has no level {shown(value)}; it has {there}")


def _bare(text: str) -> str:
    return re.sub(r"\s+", "", text).lower()


# Counts.

_AROUND = re.compile(rf"\s*{re.escape(SIDES)}\s*")
LEFT_OUT, NOT_COUNTED = "-", "nocount"
PaperSet = tuple[tuple[Side, Count | None], ...]  # counts of the sides done; () for a set left out


def read_counts(text: str, exercise: Exercise) -> tuple[PaperSet, ...]:
    """The sets in a text, in order. Raises Refused."""
    one_sided = exercise.sides != "together"
    return tuple(
        _set(part, exercise, one_sided=one_sided) for part in _parts(text, one_sided=one_sided)
    )


def _parts(text: str, *, one_sided: bool) -> list[str]:
    """The text cut into sets."""
    if "," in text:
        parts = [part.strip() for part in text.split(",")]
        if not all(parts):
            raise Refused("A count is missing between two commas: write - for a set you left out.")
        return parts
    words = _AROUND.sub(SIDES, text).split()
    if not one_sided or not words:
        return words
    if all(SIDES in word or word in (LEFT_OUT, NOT_COUNTED) for word in words):
        return words
    if len(words) > 2 or SIDES in text:
        raise Refused(
            "One-sided: write left and right of each set, with a comma between sets: 12 14, 11 13."
        )
    return [text.strip()]


def _set(part: str, exercise: Exercise, *, one_sided: bool) -> PaperSet:
    sides: tuple[Side, ...] = ("left", "right") if one_sided else ("both",)
    if part == LEFT_OUT:
        return ()
    if part == NOT_COUNTED:
        return tuple((side, None) for side in sides)
    entry = read_entry(part, bare=exercise.measure)
    if isinstance(entry, Refusal):
        raise Refused(entry.reason)
    if entry.measure != exercise.measure:
        wanted = "seconds: 45" if exercise.measure == "hold" else "repetitions: 12"
        raise Refused(f"{exercise.name} counts {wanted}.")
    counts = entry.counts
    if len(counts) > len(sides):
        raise Refused(f"{exercise.name} has no sides: one number a set.")
    if len(counts) < len(sides):
        counts = counts * 2
    return tuple(zip(sides, counts, strict=True))
