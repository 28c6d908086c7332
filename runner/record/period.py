"""Which sessions an export or a look back wants."""

from __future__ import annotations

from datetime import date
from typing import TypedDict


class Period(TypedDict, total=False):
    """Which sessions are wanted; what is left out, or None, is no condition."""

    plan: str | None  # its title
    since: date | None  # local dates of the sessions, both included
    until: date | None
