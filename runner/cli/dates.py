"""Dates as the command line has them. Light: several commands need it."""

from __future__ import annotations

from datetime import date, datetime

from runner.errors import Exit, MatsideError

YEARS = range(1900, 3000)  # as of dates that are taken from a file; our choice


def day(text: str | None, option: str) -> date | None:
    """A local date as on the calendar: 2026-11-25; None for an option not given."""
    if text is None:
        return None
    try:
        found = datetime.strptime(text, "%Y-%m-%d").date()  # noqa: DTZ007 - a date has no zone
    except ValueError:
        found = None
    if found is None or found.year not in YEARS:
        raise MatsideError(f"{option} {text!r} is no date; write it as 2026-11-25", code=Exit.USAGE)
    return found
