"""One command's way through the machine: the events it brings about, and the state after each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from runner.core.course import Slot
from runner.core.session import amend, events as ev
from runner.core.session.evolve import evolve
from runner.core.session.state import Phase, Row, State
from runner.core.timing import Rest
from runner.core.workout import Side


class Refused(Exception):
    """A command that cannot be used now; the text says why, in a short sentence."""


class Happened(NamedTuple):
    """An event, with the phase after it."""

    event: ev.Event
    phase: Phase


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a command: the new state, and the events in their order."""

    state: State
    happened: tuple[Happened, ...] = ()


class Turn:
    """Collects the events of one act; each is applied before the next is decided."""

    def __init__(self, state: State, now: float) -> None:
        self.state = state
        self.now = now
        self.act = state.acts + 1
        self.happened: list[Happened] = []

    def emit(self, kind: type[ev.Event], *, at: float | None = None, **data: Any) -> None:
        """Let something happen, now or `at` another instant."""
        event = kind(at=self.now if at is None else at, act=self.act, **data)
        self.state = evolve(self.state, event)
        self.happened.append(Happened(event, self.state.phase))

    def emit_row(
        self, kind: type[ev.SetEvent], row: Row, *, at: float | None = None, **data: Any
    ) -> None:
        """Let something happen to a row."""
        self.emit(kind, at=at, **set_fields(row.slot, row.side, row.entry), **data)

    def decide_rest(self, *, again: bool = False) -> None:
        """Decide the rest before what is to come, from the end of the last bout.

        `again`: what comes next has changed, so at least the lead-in is left from now on;
        unless that bout has ended just now, for then nothing was decided yet.
        """
        state, coming = self.state, self.state.coming
        resting = state.before_pause if state.phase == "paused" else state.phase
        if coming is None or resting not in ("rest", "warm-up"):
            return
        if resting == "warm-up" and again:
            return  # nothing is resting yet
        rest = state.course.rest()
        since = self.now if state.rest_from is None else state.rest_from
        until, why = since + rest.seconds + state.asked, str(rest.why)
        anew = again and since < self.now
        least = self.now + state.workout.lead_in if anew else self.now
        if until < least:
            until, why = least, "lead-in" if anew else why
        slot, side = coming
        self.emit(ev.Resting, until=until, why=why, next=slot.exercise, side=side)

    def planned(self) -> tuple[int | None, int, Rest] | None:
        """What is to come and the law's rest before it; None while nothing rests."""
        state = self.state
        if state.phase not in ("rest", "paused"):
            return None
        return state.course.next, state.course.side, state.course.rest()

    def start(self, by: ev.Who, at: float | None = None) -> None:
        """Start the coming bout."""
        coming = self.state.coming
        if coming is None:
            raise Refused("no set is left")
        slot, side = coming
        self.emit(
            ev.Started,
            at=at,
            **set_fields(slot, side, len(self.state.rows) + 1),
            by=by,
            to_beat=amend.to_beat(self.state, slot, side),
        )

    def outcome(self) -> Outcome:
        """What came of it."""
        return Outcome(self.state, tuple(self.happened))


def set_fields(slot: Slot, side: Side, entry: int) -> dict[str, Any]:
    """The fields that every event about a set has."""
    return {
        "block": slot.block,
        "round": slot.round,
        "exercise": slot.exercise,
        "set": slot.number,
        "side": side,
        "version": slot.rung.version,
        "entry": entry,
    }
