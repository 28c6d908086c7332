"""`Reader`: an open record as an export sees it. `store.Record` is one, and can do more.

It loads nothing of the session machine, so that an export begins at once.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Self

from runner.record import access, people
from runner.record.columns import SetRow
from runner.record.set_rows import Filter, rows_wanted
from runner.record.text import trainee_name

_IN_MEMORY = "(memory)"


class Reader:
    """An open record to be read. Use it from one thread; close it, or use it as a context manager.

    Reading raises MatsideError where the file is damaged.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path | None) -> None:
        self.path = path  # None in memory
        self._connection = connection

    @classmethod
    def open_readonly(cls, path: Path, *, look: int = access.LOOK_BYTES) -> Self:
        """Open a record for reading; never makes or changes the file.

        A missing or empty file is an empty record in memory; one of an earlier form is read
        from a copy in memory, brought up to date. One of at most `look` bytes is checked first.
        """
        connection = access.open_to_read(path, look)
        if connection is None:
            return cls(access.empty(), None)
        return cls(*connection)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file. Closing twice does no harm."""
        self._connection.close()

    def plans(self) -> list[str]:
        """The titles of all plans that a session was opened from."""
        with self._reading():
            return people.plans(self._connection)

    def trainees(self) -> list[str]:
        """Everybody who is known, by name."""
        with self._reading():
            return people.trainees(self._connection)

    def similar(self, name: str) -> list[str]:
        """Known names near to `name`, the nearest first, without itself."""
        with self._reading():
            return people.similar(self._connection, trainee_name(name))

    def rows(
        self,
        *,
        trainee: str | None = None,
        plan: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> Iterator[SetRow]:
        """All rows by the start of their sets, streamed; `plan` is a title.

        Local dates of the sessions, both included. A bout still running has none yet.
        """
        with self._reading():
            yield from rows_wanted(self._connection, Filter.of(trainee, plan, since, until))

    # Inside

    @property
    def _shown_path(self) -> Path | str:
        return self.path or _IN_MEMORY

    @contextmanager
    def _reading(self) -> Iterator[None]:
        with access.speaking(self._shown_path, writing=False):
            yield
