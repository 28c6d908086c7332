"""Texts that people wrote, as they are kept and as they are shown; lengths, numbers, lines.

A text from a plan, a record, a file's name or the keyboard may hold characters that drive a
terminal or turn the direction of a line around. Every such text passes one of three functions:
`clean` before it is kept, `shown` before it stands on a terminal or is spoken, `escaped` where a
message about a file has to show the very character that is wrong.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from datetime import date
from typing import Any, Literal

_LINE_END = re.compile("\r\n|[\r\x85\u2028\u2029]")
# All but tab and line feed; with them Unicode's embeddings, overrides and isolates of direction.
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_SURROGATE = re.compile("[\ud800-\udfff]")  # what is no character cannot be written as UTF-8


def clean(text: str) -> str:
    """The text as it is kept: line ends as LF, no other control characters but the tab.

    Those that turn the direction of text around count among them. What was no valid UTF-8
    becomes U+FFFD. Cleaning twice changes nothing.
    """
    text = _LINE_END.sub("\n", text)
    return _SURROGATE.sub("\N{REPLACEMENT CHARACTER}", _CONTROL.sub("", text))


def is_driving(text: str) -> bool:
    """Whether a text holds what no record keeps: it would drive a terminal or turn text around."""
    return not text.isprintable() and clean(text) != text


def clean_data(value: Any) -> Any:
    """The same for every text in plain data: mappings, lists, numbers."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, dict):
        return {key: clean_data(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [clean_data(inner) for inner in value]
    return value


def trainee_name(text: str) -> str:
    """A name in the one form under which the record knows it: one line, single spaces, NFC.

    So the same name typed on two systems, composed or not, is one trainee.
    """
    return unicodedata.normalize("NFC", " ".join(clean(text).split()))


def shown(text: object, instead: str = "\N{REPLACEMENT CHARACTER}") -> str:
    """A text as it may stand on a terminal: `instead` replaces what is not printable.

    Line mode writes `?`, which every encoding has; a space suits what is split into words anyway.
    """
    text = str(text)
    return text if text.isprintable() else "".join(c if c.isprintable() else instead for c in text)


def is_control(character: str) -> bool:
    """Whether a character drives a terminal, breaks a line, turns it around, or stands for nothing.

    Those are C0, C1, DEL, Unicode's ends of lines, controls of direction, and lone surrogates.
    """
    return character in "\t\n" or clean(character) != character


def escaped(text: str) -> str:
    """The text on one line; each control character is written out as TOML writes it."""
    if text.isprintable():
        return text
    return "".join(f"\\u{ord(c):04x}" if is_control(c) else c for c in text)


def how_many(number: int, what: str) -> str:
    """A number and what it counts: `1 session`, `3 sessions`."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def counted_sets(work: int, warm_up: int = 0) -> str:
    """Sets as they are counted everywhere: `35 sets and 1 warm-up set`.

    Work sets, left and right of one set together; warm-up sets apart.
    """
    apart = f" and {how_many(warm_up, 'warm-up set')}" if warm_up else ""
    return how_many(work, "set") + apart


# Lengths as people read them. Several rooms need it.


def clock(seconds: float) -> str:
    """Minutes and seconds, 4:05; hours in front from one on."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"


# Dates as people read and write them. Texts for people have the month's name, all else ISO 8601.

YEARS = range(1900, 3000)  # of any date that a person or a file gives; our choice


def short_day(on: date) -> str:
    """A date of these months: `28 Nov`."""
    return f"{on.day} {on:%b}"


def long_day(on: date) -> str:
    """The same in a sentence: `28 November`."""
    return f"{on.day} {on:%B}"


def read_day(text: str) -> date | None:
    """A date as written, 2026-11-25; None for anything else."""
    try:
        day = date.fromisoformat(text)  # which reads more forms than this one
    except ValueError:
        return None
    return day if day.isoformat() == text and day.year in YEARS else None


# Times of day, in seconds since midnight.

DAY = 24 * 3600
_TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9]))?")


def read_time(text: str) -> int | None:
    """A time of day as written, 18:30 or 18:30:05; None for anything else."""
    found = _TIME.fullmatch(text)
    if found is None:
        return None
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    return hours * 3600 + minutes * 60 + seconds


def seconds_until(time: int, now: int) -> int | None:
    """From one time of day to another; None over half a day, for then it has passed. Our choice."""
    seconds = (time - now) % DAY
    return seconds if seconds <= DAY // 2 else None


# A volume as people write it.

FULL = 100  # the loudest


def read_volume(text: str) -> int:
    """A volume as written; ValueError, with what to write instead, for anything else."""
    text = text.strip()
    if not (text.isascii() and text.isdigit()) or int(text) > FULL:
        raise ValueError(f"{text!r} is not a volume; write 0 to {FULL}")
    return int(text)


# Lines of text: what each part of one is for, and how one goes on below its own text.

Role = Literal[
    "ink",  # what is read first
    "quiet",  # the rest
    "mark",  # phase, keys, good news
    "caution",
    "refusal",
    "suggestion",  # grey, in brackets: no value yet
    "typed",  # a value that is not saved yet
]
Span = tuple[str, Role]
Line = tuple[Span, ...]

KEPT = "\N{NO-BREAK SPACE}"  # no line ends at it, and it is shown as a space
_SPACES = " \t\n\r\f\v"
_PIECE = re.compile(f"[{_SPACES}]+|[^{_SPACES}]+")
_UNIT = re.compile(r"(?<=\d) (?=(?:%|kg|cm|mm|m|s|min|degrees)(?!\w))")
_LABEL = re.compile(r"\s*\S.*?\s{2,}(?=\S)")  # a number or a term, and the space behind it


def wrapped(
    text: str,
    width: int,
    indent: str = "  ",
    *,
    words: bool = False,
    columns: Callable[[str], int] = len,
) -> list[str]:
    """A text as lines of at most `width` columns; the later ones begin with `indent`.

    An empty text is one empty line. A number and its unit stay together, and what `KEPT` joins.
    With `words` a word that is longer than a line stays whole: a path is there to be copied.
    `columns` says how many of a terminal's a text takes; by default one for each character.
    """
    lines, line, space, empty = [], "", "", True
    for piece in _PIECE.findall(_UNIT.sub(KEPT, text)):
        if piece[0] in _SPACES:
            space = " " * len(piece)
            continue
        rest = piece
        if not empty and columns(line + space + rest) > width:
            lines.append(line)
            line, space = indent, ""
        line += space if len(line + space) < width else ""
        while not words and len(rest) > 1 and columns(line + rest) > width:
            head = _head(rest, width - columns(line), columns)
            lines.append(line + rest[:head])
            line, rest = indent, rest[head:]
        line, space, empty = line + rest, "", False
    return [one.replace(KEPT, " ") for one in (*lines, line)]


def _head(word: str, room: int, columns: Callable[[str], int]) -> int:
    """How many characters of a word go into the room; at least one."""
    taken = 0
    for at, character in enumerate(word):
        taken += columns(character)
        if taken > room:
            return max(at, 1)
    return len(word)


def hanging(line: str, width: int, *, words: bool = False) -> list[str]:
    """A line as lines of at most `width` characters; the later ones are indented.

    They begin where the text behind a label does (`12 14      left and right`), else where the
    line itself does. A label that takes half of the width is text like any other.
    """
    label = _LABEL.match(line)
    indent = len(line) - len(line.lstrip()) if label is None else label.end()
    if indent > width // 2:
        indent = 0
    return wrapped(line, width, " " * indent, words=words)
