"""Keeps a session's events in the record, and goes on without it when it cannot be written.

The session decides at once and hands its events over; one writer commits them in their order.
In a running session the writer is a thread with a store of its own, so that cues, clock and keys
never wait for a disk or for a lock. It tries again by time, and once more at the end. What has
become of an event is told in the order of events: it is on file, or, `WAIT_S` later, it is not.
Without the thread (a rehearsal, a test on manual time) an event is written as it is handed over.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from runner.core.session.events import Event
from runner.core.session.state import State
from runner.core.session.turn import Happened
from runner.record.faults import BUSY_SECONDS
from runner.record.info import SessionInfo

WAIT_S = BUSY_SECONDS  # after it an event is told as not kept
RETRY_S = 0.5  # between two tries to write; our choice
CLOSING_S = BUSY_SECONDS + 1.0  # so long the end of a session waits for the last of them


class Store(Protocol):
    """The part of a record that a running session writes to."""

    def start(self, info: SessionInfo) -> None:
        """Add the session."""

    def append(self, session_id: str, events: Sequence[tuple[int, Event]], state: State) -> None:
        """Add events with their running numbers, in one transaction."""

    def acknowledge(
        self, trainee: str, plan_title: str, texts: Sequence[str], utc: datetime
    ) -> None:
        """Add that the trainee has acknowledged these cautions of the plan."""

    def close(self) -> None:
        """Close the file."""


@dataclass(slots=True, eq=False)
class Batch:
    """The events of one act. `kept` is None as long as nobody knows."""

    numbered: tuple[tuple[int, Event], ...]
    happened: tuple[Happened, ...]
    state: State  # the one after the last of them
    since: float = field(default_factory=time.monotonic)
    kept: bool | None = None
    told: bool = False


@dataclass(slots=True)
class _Writer:
    """A store, and whether it knows the session."""

    store: Store
    started: bool

    def write(self, info: SessionInfo, batches: Sequence[Batch]) -> None:
        """Write them in one transaction. Raises what the store raises."""
        if not self.started:
            self.store.start(info)
            self.started = True
        numbered = [one for batch in batches for one in batch.numbered]
        self.store.append(info.id, numbered, batches[-1].state)


class Keeper:
    """Writes events in their order, and remembers those that could not be written.

    `trouble` says why something is not on file, as long as that is so. With a `trouble` from
    the start the store is a stand-in in memory.
    """

    def __init__(
        self, store: Store, info: SessionInfo, *, trouble: str | None = None, resumed: int = 0
    ) -> None:
        self.trouble = trouble
        self.given: list[Event] = []  # all events so far, kept or not
        self._info = info
        self._known = resumed > 0  # the session is on file
        self._stands_in = trouble is not None
        self._here = _Writer(store, self._known)
        self._number = resumed
        self._pending: list[Batch] = []
        self._untold: deque[Batch] = deque()
        self._cautions: tuple[Sequence[str], datetime] | None = None
        self._late = 0  # events told as not kept that are on file by now
        self._condition = threading.Condition()
        self._thread: threading.Thread | None = None
        self._ending = False
        self._held_back = False

    @property
    def lost(self) -> bool:
        """Whether something of the session is not on file."""
        return bool(self._pending) or (self._stands_in and self._thread is None)

    @property
    def on_file(self) -> bool:
        """Whether the record has something of the session."""
        return self._known

    @property
    def settled(self) -> bool:
        """Whether what has been handed over can be read back."""
        return self._stands_in or not self._pending

    @property
    def held_back(self) -> bool:
        """Whether it waits for a thread."""
        return self._held_back

    def hold_back(self) -> None:
        """Write and tell nothing before there is a thread that does."""
        self._held_back = True

    def beside(self, opened: Callable[[], Store], woken: Callable[[], object]) -> None:
        """Let a thread write from now on; what was handed over before stays handed over.

        `opened` gives the thread its own store; where it raises, it is called again later.
        `woken` is called by the thread where there is something to tell.
        """
        self._held_back = False
        self._thread = threading.Thread(
            target=self._work, args=(opened, woken), name="writer", daemon=True
        )
        self._thread.start()

    def keep(self, happened: Sequence[Happened], state: State) -> None:
        """Hand over the events of one act."""
        events = [one.event for one in happened]
        numbered = tuple(enumerate(events, self._number + 1))
        batch = Batch(numbered, tuple(happened), state)
        self.given += events
        self._number += len(events)
        with self._condition:
            self._pending.append(batch)
            self._untold.append(batch)
            self._condition.notify()
        if self._thread is None and not self._held_back:
            self._try_here()
        elif self._stands_in:
            with suppress(Exception):
                self._here.write(self._info, [batch])

    def acknowledge(self, cautions: Sequence[str], utc: datetime) -> None:
        """Hand over the cautions that the trainee has acknowledged; they are no event."""
        if self._thread is None:
            with suppress(Exception):  # then they are shown again the next time
                self._acknowledge(self._here.store, (cautions, utc))
            return
        with self._condition:
            self._cautions = (cautions, utc)
            self._condition.notify()

    def tell(self) -> list[Batch]:
        """The acts of which it is known by now whether they are on file, each once, in order."""
        found: list[Batch] = []
        with self._condition:
            while self._untold and not self._held_back:
                batch = self._untold[0]
                if batch.kept is None and time.monotonic() - batch.since >= WAIT_S:
                    batch.kept = False
                    self.trouble = self.trouble or f"writing takes longer than {WAIT_S:g} s"
                if batch.kept is None:
                    break
                batch.told = True
                found.append(self._untold.popleft())
        return found

    def seconds_to_tell(self) -> float | None:
        """How long until `tell` knows more without being woken; None where it knows all."""
        with self._condition:
            if not self._untold or self._thread is None:
                return None
            return max(self._untold[0].since + WAIT_S - time.monotonic(), 0.0)

    def news(self) -> str | None:
        """Said once: what was told as not kept is on file now."""
        with self._condition:
            if not self._late or any(batch.told for batch in self._pending):
                return None
            count, self._late = self._late, 0
        return f"Kept now: {count} event{'' if count == 1 else 's'}"

    def close(self, wait_s: float = CLOSING_S) -> None:
        """Let the writer try once more, for so long at most. Again does nothing."""
        if self._thread is not None:
            with self._condition:
                self._ending = True
                self._condition.notify()
            self._thread.join(wait_s)

    # Inside

    def _try_here(self) -> None:
        """Write what is to be written in this thread."""
        try:
            self._here.write(self._info, self._pending)
        except Exception as error:  # noqa: BLE001 - nothing that a store does ends a session
            self._failed(self._pending, error)
            return
        self._done(len(self._pending), kept=not self._stands_in)

    def _work(self, opened: Callable[[], Store], woken: Callable[[], object]) -> None:
        """The thread: write what comes, in its order, until the end."""
        writer: _Writer | None = None
        while True:
            with self._condition:
                self._condition.wait_for(lambda: self._pending or self._cautions or self._ending)
                batches, cautions, ending = list(self._pending), self._cautions, self._ending
            failed = False
            try:
                if (batches or cautions) and writer is None:
                    writer = _Writer(opened(), self._known)
                if writer is not None and batches:
                    writer.write(self._info, batches)
                    self._done(len(batches), kept=True)
                if writer is not None and cautions:
                    self._acknowledge(writer.store, cautions)
                    self._cautions = None
            except Exception as error:  # noqa: BLE001 - nothing that a store does ends a session
                failed = True
                self._failed(batches, error)
            woken()
            if ending:
                break
            if failed:
                with self._condition:
                    tried = len(batches)
                    self._condition.wait_for(
                        lambda: self._ending or len(self._pending) > tried,  # noqa: B023 - now
                        RETRY_S,
                    )
        if writer is not None:
            writer.store.close()

    def _done(self, number: int, *, kept: bool) -> None:
        with self._condition:
            for batch in self._pending[:number]:
                batch.kept = kept
                late = batch.told or (self._stands_in and not self._known)
                self._late += len(batch.numbered) if late and kept else 0
            self._known |= kept
            del self._pending[:number]
            if kept and not any(batch.kept is False for batch in self._pending):
                self.trouble = None

    def _failed(self, batches: Sequence[Batch], error: Exception) -> None:
        with self._condition:
            for batch in batches:
                if batch in self._pending:
                    batch.kept = False
                    self.trouble = str(error) or type(error).__name__

    def _acknowledge(self, store: Store, cautions: tuple[Sequence[str], datetime]) -> None:
        store.acknowledge(self._info.trainee, self._info.plan, *cautions)
