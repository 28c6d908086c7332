"""Numbers, measures and times as people say them, in words, so that every voice says the same.

English, with "and" after hundreds. A speech engine reads figures too, but each in its own way
("7.5 kg" as "seven point five kay gee"), and the program renders phrases before a session starts.
"""

from __future__ import annotations

import re
from math import floor

from runner.text import shown

_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_LARGEST = 999_999  # our choice: beyond it figures are said one by one

# What plans measure in: how one of it is called, and how several are.
_UNITS = {
    "kg": ("kilo", "kilos"),
    "g": ("gram", "grams"),
    "cm": ("centimetre", "centimetres"),
    "mm": ("millimetre", "millimetres"),
    "m": ("metre", "metres"),
    "s": ("second", "seconds"),
    "min": ("minute", "minutes"),
    "lb": ("pound", "pounds"),
    "in": ("inch", "inches"),
    "ft": ("foot", "feet"),
    "°": ("degree", "degrees"),
    "%": ("per cent", "per cent"),
}
_FIGURES = r"[0-9]+(?:\.[0-9]+)?"
_CLOCK = re.compile(r"(?<![0-9:.])([0-9]{1,3}):([0-5][0-9])(?![0-9:])")
_MEASURE = re.compile(
    rf"(?<![0-9.])({_FIGURES})(\s*)({'|'.join(sorted(_UNITS, key=len, reverse=True))})(?![a-z0-9])"
)
_NUMBER = re.compile(_FIGURES)
# Left of a text once its numbers are words: letters, and the signs that a voice pauses at.
# Everything else would be spelt out, or is a command to some engines ("[[", "<").
_UNSPEAKABLE = re.compile(r"[^\w\s,.;:'\u2019!?-]|_")


def cardinal(number: int) -> str:
    """A whole number from 0 in words: 112 is "one hundred and twelve"."""
    if number > _LARGEST:
        return " ".join(_ONES[int(figure)] for figure in str(number))
    if number >= 1000:
        thousands, rest = divmod(number, 1000)
        joined = " and " if 0 < rest < 100 else ", " if rest else ""
        return f"{cardinal(thousands)} thousand{joined}{cardinal(rest) if rest else ''}"
    if number >= 100:
        hundreds, rest = divmod(number, 100)
        return f"{_ONES[hundreds]} hundred" + (f" and {cardinal(rest)}" if rest else "")
    if number >= 20:
        tens, ones = divmod(number, 10)
        return _TENS[tens - 2] + (f"-{_ONES[ones]}" if ones else "")
    return _ONES[number]


def number(text: str) -> str:
    """A decimal number from 0 in words: 7.5 is "seven point five", 0.5 alone "a half"."""
    whole, _, decimals = text.partition(".")
    decimals = decimals.rstrip("0")
    if decimals == "5" and int(whole) == 0:
        return "a half"
    spelt = " ".join(_ONES[int(figure)] for figure in decimals)
    return cardinal(int(whole)) + (f" point {spelt}" if spelt else "")


def quantity(value: float | str, unit: str) -> str:
    """So much of a unit: "one kilo", "half a kilo", "one point five kilos".

    A unit that is not in the table is said as it is written.
    """
    text = value if isinstance(value, str) else f"{value:.10g}"
    one, several = _UNITS.get(unit, (unit, unit))
    if float(text) == 0.5 and one != several:
        return f"half {'an' if one[0] in 'aeiou' else 'a'} {one}"
    return f"{number(text)} {one if float(text) == 1 else several}".strip()


def seconds(value: float) -> str:
    """A length of time, in whole seconds begun: 34.7 is "thirty-four seconds".

    Whole minutes are said as such, and the seconds after a minute without their name, as people
    read a stopwatch aloud: "one minute thirty", "two minutes" (common practice).
    """
    minutes, rest = divmod(floor(value), 60)
    if minutes == 0:
        return quantity(str(rest), "s")
    return quantity(str(minutes), "min") + (f" {cardinal(rest)}" if rest else "")


def spoken(text: str) -> str:
    """A text of a plan or a person as it is said: figures in words, one line, no odd signs."""
    text = _CLOCK.sub(lambda m: seconds(int(m[1]) * 60 + int(m[2])), shown(text, " "))
    text = _MEASURE.sub(lambda m: quantity(m[1], m[3]), text)
    text = _NUMBER.sub(lambda m: number(m[0]), text)
    return " ".join(_UNSPEAKABLE.sub(" ", text).split())
