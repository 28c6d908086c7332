"""Who is known to the record, and which plans."""

from __future__ import annotations

import difflib
import sqlite3


def trainees(connection: sqlite3.Connection) -> list[str]:
    """Everybody who is known."""
    return [name for (name,) in connection.execute("SELECT name FROM trainee ORDER BY name")]


def plans(connection: sqlite3.Connection) -> list[str]:
    """The titles of all plans that a session was opened from."""
    found = connection.execute("SELECT DISTINCT plan FROM session ORDER BY plan")
    return [title for (title,) in found]


def similar(connection: sqlite3.Connection, name: str) -> list[str]:
    """Known names near to `name`, the nearest first, without itself; case does not count."""
    by_fold: dict[str, list[str]] = {}
    for known in trainees(connection):
        if known != name:
            by_fold.setdefault(known.casefold(), []).append(known)
    near = difflib.get_close_matches(name.casefold(), by_fold, n=5, cutoff=0.6)
    return [known for fold in near for known in by_fold[fold]]
