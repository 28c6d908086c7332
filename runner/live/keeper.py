"""Keeps a session's events in the record, and goes on without it when it cannot be written."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Protocol

from runner.core.session.events import Event
from runner.core.session.state import State
from runner.errors import MatsideError
from runner.record.info import SessionInfo


class Store(Protocol):
    """The part of a record that a running session writes to."""

    def start(self, info: SessionInfo) -> None:
        """Add the session."""

    def append(self, session_id: str, events: Sequence[tuple[int, Event]], state: State) -> None:
        """Add events with their running numbers, in one transaction."""


class Keeper:
    """Writes events, and remembers those that could not be written to try them again.

    `trouble` says, once something failed, why; it stays said to the end of the session even
    if a later try succeeds, and `lost` tells whether something is still not on file.
    """

    def __init__(
        self, store: Store, info: SessionInfo, *, trouble: str | None = None, resumed: int = 0
    ) -> None:
        self.trouble = trouble
        self._hopeless = trouble is not None  # the store is a stand-in in memory
        self._store, self._info = store, info
        self.given: list[Event] = []  # all events so far, kept or not
        self._pending: list[tuple[int, Event]] = []
        self._number = resumed
        self._started = resumed > 0

    @property
    def lost(self) -> bool:
        """Whether something of the session is not on file."""
        return self._hopeless or bool(self._pending)

    def keep(self, events: Sequence[Event], state: State) -> bool:
        """Write the events; False where they are not on file (yet)."""
        for event in events:
            self._number += 1
            self._pending.append((self._number, event))
        self.given += events
        try:
            if not self._started:
                self._store.start(self._info)
                self._started = True
            self._store.append(self._info.id, self._pending, state)
        except (sqlite3.Error, OSError, MatsideError) as error:
            self.trouble = self.trouble or str(error)
            return False
        self._pending.clear()
        return not self._hopeless
