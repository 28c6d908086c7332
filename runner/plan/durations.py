"""Durations as a person writes them, to seconds and back: "2:00", "45s", "1m30s", 90."""

from __future__ import annotations

import math
import re
from decimal import Decimal

from runner.plan.words import BadValueError, quoted

LONGEST = 24 * 3600.0  # seconds; our choice

_CLOCK = r"(?:[0-9]{1,2}:[0-5][0-9]:[0-5][0-9]|[0-9]{1,4}:[0-5][0-9])"
_S = r"[0-9]{1,6}(?:\.[0-9]{1,17})? ?s"
_M = rf"[0-9]{{1,5}} ?m(?: ?{_S})?"
_H = rf"[0-9]{{1,5}} ?h(?: ?{_M}| ?{_S})?"
_BARE = r"[0-9]{1,6}(?:\.[0-9]{1,17})?"
PATTERN = rf"^(?:{_CLOCK}|{_H}|{_M}|{_S}|{_BARE})$"
"""What a text must match; also in the JSON Schema, so that an editor checks the same."""

_WHOLE = re.compile(PATTERN)
_PART = re.compile(r"([0-9.]+) ?([hms])")
_SECONDS = {"h": 3600, "m": 60, "s": 1}
_FORMS = 'write it like "2:00", "45s", "1m30s" or 90'


def parse_duration(value: object) -> float:
    """Seconds of a duration as written in a plan: a text, or a number of seconds.

    Raises BadValueError for anything else, for less than nothing and for more than a day.
    """
    if isinstance(value, str):
        seconds = _parse_text(value)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        seconds = _finite(value)
    else:
        raise BadValueError(f"{quoted(value)} is no duration", _FORMS)
    if seconds < 0:
        raise BadValueError(f"{quoted(value)} is less than nothing", _FORMS)
    if seconds > LONGEST:
        raise BadValueError(f"{quoted(value)} is longer than a day", 'write at most "24h"')
    return seconds


def _finite(value: float) -> float:
    # A whole number may have any size here; as a float it might not be possible.
    if isinstance(value, int):
        return float(max(min(value, int(LONGEST) + 1), -1))
    if not math.isfinite(value):
        raise BadValueError(f"{quoted(value)} is no duration", _FORMS)
    return float(value)


def _parse_text(text: str) -> float:
    text = text.strip()
    if not _WHOLE.match(text):
        raise BadValueError(f"{quoted(text)} is no duration", _remedy(text))
    if ":" in text:
        seconds = Decimal(0)
        for part in text.split(":"):
            seconds = seconds * 60 + int(part)
        return float(seconds)
    parts = _PART.findall(text)
    if not parts:
        return float(Decimal(text))
    return float(sum(Decimal(number) * _SECONDS[unit] for number, unit in parts))


def _remedy(text: str) -> str:
    """The nearest right form of a duration that is almost one."""
    clock = re.fullmatch(r"([0-9]{1,3}):([0-9]{1,2})", text)
    if clock:
        minutes, seconds = int(clock[1]), int(clock[2])
        return f'did you mean "{duration_text(minutes * 60 + seconds)}"?'
    words = text.lower().replace(",", ".")
    for pattern, unit in ((r"\s*(?:seconds?|secs?)\b", "s"), (r"\s*(?:minutes?|mins?)\b", "m")):
        words = re.sub(pattern, unit, words)
    if words != text and _WHOLE.match(words):
        return f'did you mean "{words}"?'
    return _FORMS


def duration_text(seconds: float) -> str:
    """A duration as a person writes it: 120 is "2:00", 45 "45s", 90.5 "1m30.5s".

    Reading the text gives the same number again.
    """
    exact = Decimal(repr(float(seconds)))
    if exact < 60:
        return f"{_plain(exact)}s"
    if exact != exact.to_integral_value():
        return f"{int(exact // 60)}m{_plain(exact % 60)}s"
    minutes, rest = divmod(int(exact), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def _plain(number: Decimal) -> str:
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
