"""Counts and numbers as a person types them."""

from __future__ import annotations

import re

from msgspec import Struct

from runner.law.workout import Measure
from runner.session.apply import Refused
from runner.session.verb import Count, Enter
from runner.text import shown as printable

# Reads what a person types after a set into numbers, or refuses it with a reason.
#
# Forms: `12`, `12/2` (two in reserve), `12 14` and `12/2 14/1` (left and right), `45s`,
# `45.5s/2`, `40s 35s` for holds. Left and right may also be written as they are printed: `12|14`.
# Full screen and line mode use this one function, so that a text means the same in both.

# Our choice: more than anybody does in a set; a larger number is a slip of the finger.
MOST_REPS = 999
MOST_RESERVE = 20
MOST_SECONDS = 3600

SIDES = "|"  # between left and right where counts are printed

_LONGEST = 80  # characters; two numbers with everything and room for spaces
_SHOWN = 16  # characters quoted of a refused text
_NUMBER = re.compile(r"0*([0-9]+)(?:\.([0-9]+))?(s?)")
_DIGITS = re.compile(r"0*([0-9]+)")


class Refusal(Struct, frozen=True):
    """Why a text was not understood, and what to write instead, in one sentence."""

    reason: str


class _Fault(ValueError):
    """Carries a `Refusal` out of the small readers."""


def read_entry(text: str, bare: Measure = "reps") -> Enter | Refusal:
    """Read an entry; a number without `s` is taken as `bare` ("hold" for a hold's entry).

    Only ASCII digits count, so that every locale reads what is typed in the same way.
    """
    try:
        return _read(text, bare)
    except _Fault as fault:
        return Refusal(str(fault))


def amount_text(amount: float, measure: Measure) -> str:
    """A number as a person would type it: `12`, `45s`, `45.5s`."""
    digits = f"{amount:.1f}".removesuffix(".0")
    return digits if measure == "reps" else f"{digits}s"


def _read(text: str, bare: Measure) -> Enter:
    if len(text) > _LONGEST:
        raise _Fault(f"{_quoted(text)} is too long for a count: write {_example(bare)}.")
    words = [word for word in text.replace("\t", " ").replace(SIDES, " ").split(" ") if word]
    if not words:
        raise _Fault(f"No count typed: write {_example(bare)}.")
    if len(words) > 2:
        raise _Fault("More than two numbers: write left and right, like 12 14.")
    if SIDES in text and len(words) < 2:
        raise _Fault(f"Write left and right beside the {SIDES}: 12{SIDES}14.")
    read = [_word(word, bare) for word in words]
    measures = {measure for measure, _ in read}
    if len(measures) > 1:
        raise _Fault("One number is seconds and one is not: write 12 14, or 40s 35s.")
    return Enter(measures.pop(), tuple(count for _, count in read))


def _word(word: str, bare: Measure) -> tuple[Measure, Count]:
    """One number with its measure, and the reserve behind the slash."""
    amount, slash, reserve = word.partition("/")
    measure, value = _amount(amount, bare, word)
    return measure, Count(value, _reserve(reserve) if slash else None)


def _amount(text: str, bare: Measure, word: str) -> tuple[Measure, float]:
    if re.fullmatch(r"-[0-9.]+s?", text):
        raise _Fault(f"{_quoted(word)} is less than 0: write 0 or more.")
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise _Fault(f"{_quoted(word)} is not a number: write digits 0 to 9, like {_number(bare)}.")
    whole, decimals, mark = match.groups()
    measure: Measure = "hold" if mark else bare
    if measure == "reps":
        if decimals is not None:
            raise _Fault(f"{_quoted(word)} is not a whole number: write whole repetitions, 12.")
        return measure, _at_most(whole, MOST_REPS, "Repetitions")
    if decimals is not None and len(decimals) > 1:
        raise _Fault(f"{_quoted(word)} has too many decimals: write one at most, 45.5s.")
    tenths = int(decimals or 0)
    seconds = _at_most(whole, MOST_SECONDS, "Seconds") + tenths / 10
    if seconds > MOST_SECONDS:
        raise _Fault(f"Seconds go from 0 to {MOST_SECONDS}.")
    return measure, seconds


def _reserve(text: str) -> int:
    match = _DIGITS.fullmatch(text)
    if match is None:
        raise _Fault("Write the repetitions in reserve after the slash: 12/2.")
    return _at_most(match[1], MOST_RESERVE, "Repetitions in reserve")


def _at_most(digits: str, most: int, what: str) -> int:
    """The number, however many digits were typed."""
    if len(digits) > len(str(most)) or int(digits) > most:
        raise _Fault(f"{what} go from 0 to {most}.")
    return int(digits)


def _example(bare: Measure) -> str:
    return f"the {'repetitions' if bare == 'reps' else 'seconds'}, like {_number(bare)}"


def _number(bare: Measure) -> str:
    return "12" if bare == "reps" else "45"


def _quoted(text: str) -> str:
    """The text as it may stand on a terminal: short and printable."""
    text = printable(text)
    return f"`{text[:_SHOWN]}…`" if len(text) > _SHOWN else f"`{text}`"


HEAVIEST = 500.0  # kg; our choice, for loads and body mass: more is a slip of the finger


def bounded(text: str, what: str, least: float, most: float) -> float:
    """A plain decimal number within bounds, in ASCII digits. Raises Refused."""
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,3})?", text):
        raise Refused(f"{what} is a number: write {least:g} to {most:g}")
    value = float(text)
    if not least <= value <= most:
        raise Refused(f"{what} is {least:g} to {most:g}")
    return value
