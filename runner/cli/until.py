"""--within and --until: the time there is for a session, in seconds."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from runner.errors import Exit, MatsideError
from runner.plan.durations import parse_duration
from runner.plan.words import BadValueError

DAY = 24 * 3600
LONGEST = DAY // 2  # an earlier time of day than that is one that is over; our choice
_TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9]))?")


def time_of_day(text: str, option: str = "--at") -> int:
    """Seconds since midnight. Raises MatsideError, which names the option."""
    found = _TIME.fullmatch(text)
    if found is None:
        raise MatsideError(
            f"{option} {text!r} is no time of day; write it as 18:30", code=Exit.USAGE
        )
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    return hours * 3600 + minutes * 60 + seconds


def time_there_is(within: str | None, until: str | None, start: int | None) -> float | None:
    """Seconds for the session by --within or --until; None where neither is said.

    `start` is the second of the day at which it begins, None for now.
    """
    if within is not None and until is not None:
        raise MatsideError("--within or --until, not both; leave one out", code=Exit.USAGE)
    if within is not None:
        return _within(within)
    if until is None:
        return None
    end = time_of_day(until, "--until")
    if start is None:
        now = datetime.now().astimezone()
        start = now.hour * 3600 + now.minute * 60 + now.second
    seconds = (end - start) % DAY
    if not 0 < seconds <= LONGEST:
        begin = f"{start // 3600:02}:{start % 3600 // 60:02}"
        raise MatsideError(
            f"--until {until}: that is not after {begin}, when the session begins", code=Exit.USAGE
        )
    return float(seconds)


def time_given(within: str | None, until: str | None) -> tuple[float | None, datetime | None]:
    """Seconds for the session from its begin, or the local time by which it should be over."""
    seconds = time_there_is(within, until, None)
    if seconds is None or until is None:
        return seconds, None
    # Added to the local clocks' time, for they may be changed in between.
    now = datetime.now().astimezone().replace(microsecond=0, tzinfo=None)
    return None, (now + timedelta(seconds=seconds)).astimezone()


def _within(text: str) -> float:
    try:
        seconds = parse_duration(text)
    except BadValueError as bad:
        raise MatsideError(
            f'--within {text!r}: write it like "35m" or 35:00', code=Exit.USAGE
        ) from bad
    if seconds <= 0:
        raise MatsideError(f'--within {text!r} is no time; write it like "35m"', code=Exit.USAGE)
    return seconds
