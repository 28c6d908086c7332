"""Decisions about counts: entering, correcting, leaving uncounted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from runner.core.session import commands as cmd, events as ev, offers
from runner.core.session.state import Row, State
from runner.core.session.turn import Refused, Turn
from runner.core.workout import Measure, Side


def after_end(turn: Turn, entry: int) -> None:
    """What a bout's end settles by itself: a hold's seconds, a count that has waited for it."""
    state = turn.state
    row = state.rows[entry - 1]
    waiting = state.waits.get((row.index, row.side))
    if waiting is not None:
        enter(turn, row, cmd.Count(*waiting))
    elif state.exercise(row).measure == "hold" and row.work is not None:
        # To the tenth, as it is kept: otherwise the event and the record could contradict.
        held = round(max(row.work - state.block_of(row.slot).reach, 0.0), 1)
        enter(turn, row, cmd.Count(held), by="clock")


def enter(
    turn: Turn,
    row: Row,
    count: cmd.Count | None,
    *,
    kind: type[ev.Entered] = ev.Entered,
    by: ev.Who = "person",
    waits: cmd.Count | None = None,
) -> None:
    """Let a row have its count; None for "not counted"."""
    hold = turn.state.exercise(row).measure == "hold"
    value = None if count is None else count.value
    beaten: ev.YesNo | None = None
    if value is not None and row.to_beat is not None and not row.pain:
        beaten = "yes" if value > row.to_beat else "no"
    turn.emit_row(
        kind,
        row,
        by=by,
        reps=None if hold or value is None else int(value),
        hold_s=value if hold else None,
        counted="no" if count is None else "yes",
        reserve=None if count is None else count.reserve,
        to_beat=row.to_beat,
        beaten=beaten,
        waits=None if waits is None else waits.value,
        waits_reserve=None if waits is None else waits.reserve,
    )
    if turn.state.phase != "closed":
        offers.follow(turn, row)


def _enter(turn: Turn, command: cmd.Enter) -> None:
    if len(command.counts) == 2:
        _enter_both(turn, command)
        return
    state = turn.state
    row = next(iter(state.open_rows), None)
    if command.measure == "hold" and (row is None or state.exercise(row).measure != "hold"):
        row = _last_hold(state)
        if row is None:
            raise Refused("no hold has been done; repetitions are plain numbers: 12")
    if row is None:
        raise Refused("no entry is open; to correct one: fix N NUMBER")
    _check_measure(state, row, command.measure)
    _put(turn, row, command.counts[0])


def _last_hold(state: State, *, one_sided: bool = False) -> Row | None:
    """The last hold that was done: the clock has made its entry, seconds correct it."""
    holds = (r for r in reversed(state.rows) if state.exercise(r).measure == "hold")
    return next(
        (r for r in holds if r.status == "done" and (r.side != "both" or not one_sided)), None
    )


def _put(turn: Turn, row: Row, count: cmd.Count, waits: cmd.Count | None = None) -> None:
    """Enter a row's count, or correct the one that it has."""
    enter(turn, row, count, kind=ev.Entered if row.open else ev.Corrected, waits=waits)


def _enter_both(turn: Turn, command: cmd.Enter) -> None:
    """Left and right, always in that order; a side not yet done lets its number wait."""
    state = turn.state
    first = next((r for r in state.open_rows if r.side != "both"), None)
    if command.measure == "hold" and (first is None or state.exercise(first).measure != "hold"):
        first = _last_hold(state, one_sided=True)
    if first is None:
        raise Refused("two numbers are for a one-sided set whose entry is open")
    _check_measure(state, first, command.measure)
    counts: dict[Side, cmd.Count] = {"left": command.counts[0], "right": command.counts[1]}
    rows = {r.side: r for r in state.rows if r.index == first.index and r.start is not None}
    other: Side = "right" if first.side == "left" else "left"
    sibling = rows.get(other)
    if sibling is None or sibling.status == "running":
        if sibling is None and state.course.next != first.index:
            raise Refused(f"the {other} side of that set was left out: one number")
        _put(turn, first, counts[first.side], counts[other])
        return
    _put(turn, first, counts[first.side])
    if (sibling.value, sibling.reserve) != (counts[other].value, counts[other].reserve):
        _put(turn, sibling, counts[other])


def _no_count(turn: Turn, command: cmd.NoCount) -> None:
    if command.row is not None:
        row = done_row(turn.state, command.row)
        enter(turn, row, None, kind=ev.Entered if row.open else ev.Corrected)
        return
    oldest = next(iter(turn.state.open_rows), None)
    if oldest is None:
        raise Refused("no entry is open; for an earlier one: fix N nocount")
    enter(turn, oldest, None)


def _fix(turn: Turn, command: cmd.Fix) -> None:
    row = done_row(turn.state, command.row)
    _check_measure(turn.state, row, command.measure)
    _put(turn, row, command.count)


def correct(turn: Turn, command: cmd.Fix | cmd.NoCount) -> None:
    """The same once the session is closed: always a correction, also of an entry left open."""
    row = done_row(turn.state, command.row or 0)
    if isinstance(command, cmd.Fix):
        _check_measure(turn.state, row, command.measure)
    enter(turn, row, command.count if isinstance(command, cmd.Fix) else None, kind=ev.Corrected)


def done_row(state: State, entry: int) -> Row:
    """The row numbered `entry`, if it can have a count. Raises Refused."""
    if not 1 <= entry <= len(state.rows):
        so_far = f"1 to {len(state.rows)}" if state.rows else "none yet"
        raise Refused(f"there is no entry {entry} (so far: {so_far})")
    row = state.rows[entry - 1]
    if row.status == "running":
        raise Refused(f"entry {entry} is still running")
    if row.status == "skipped":
        raise Refused(f"entry {entry} was skipped")
    return row


def _check_measure(state: State, row: Row, measure: Measure) -> None:
    exercise = state.exercise(row)
    if exercise.measure != measure:
        wanted = "seconds: 45s" if exercise.measure == "hold" else "repetitions: 12"
        raise Refused(f"{exercise.name} is counted in {wanted}")


DECIDE: Mapping[type[cmd.Command], Callable[[Turn, Any], None]] = {
    cmd.Enter: _enter,
    cmd.NoCount: _no_count,
    cmd.Fix: _fix,
}
