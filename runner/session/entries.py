"""Decisions about counts: entering, correcting, not counting; and which counts are doubtful.

A count is doubtful where a slip of the finger is likelier than the count. That is our choice: 0,
over twice the top of the rep range, or over one and a half times the best at that level and at
least five more. Nothing here refuses a doubtful count: the screen and line mode ask. A hold's
seconds by the clock are never doubted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from msgspec.structs import replace

from runner.law.workout import Measure, Side, setup_text
from runner.progress.adjust import level_key
from runner.progress.history import beaten
from runner.session import apply, events as ev, offers, verb as cmd
from runner.session.apply import Refused, Turn, set_fields
from runner.session.state import Row, State
from runner.session.verb import AFTER_ONE, decides, verb
from runner.session.words import Refusal, amount_text, read_entry

OVER_TOP = 2.0  # times the top of the rep range
OVER_BEST = 1.5  # times the best at that level, and
MORE_THAN_BEST = 5  # at least this number more


class Doubt(NamedTuple):
    """A doubtful count: its set, and why."""

    row: Row
    value: float
    why: str


def doubtful(value: float, top: float, best: float | None = None) -> str:
    """Why a count is doubtful, in a few words; "" where it is not.

    `top` is the top of the rep range, `best` the most so far at that level; all are repetitions, or
    seconds of a hold.
    """
    if value == 0:
        return "nothing done"
    if value > OVER_TOP * top:
        return f"over twice the top of the rep range, {top:g}"
    if best is not None and value > OVER_BEST * best and value >= best + MORE_THAN_BEST:
        return f"far above the best, {best:g}"
    return ""


def best_there(state: State, row: Row) -> float | None:
    """The most done at a row's level before this session; None where that is unknown."""
    return state.baseline.best.get(level_key(row.planned_set.exercise, row.planned_set.level))


def doubts(state: State, command: cmd.Command) -> tuple[Doubt, ...]:
    """The doubtful counts of a command. Empty for a command that the session would refuse."""
    try:
        return tuple(_doubts(state, command))
    except Refused:
        return ()


def _doubts(state: State, command: cmd.Command) -> Iterator[Doubt]:
    if isinstance(command, cmd.Fix):
        row = done_row(state, command.row)
        counts: tuple[cmd.Count, ...] = (command.count,)
    elif isinstance(command, cmd.Enter):
        row, counts = _row_for(state, command), command.counts
    else:
        return
    top = state.exercise(row).rep_range[1]
    for count in counts:
        why = doubtful(count.value, top, best_there(state, row))
        if why:
            yield Doubt(row, count.value, why)


def suggestion(state: State, row: Row) -> float:
    """A likely count, in repetitions or seconds of a hold.

    The count to beat, else this exercise's last count today at that level, else the bottom of the
    rep range.
    """
    if row.to_beat is not None:
        return row.to_beat
    level = (row.planned_set.exercise, row.planned_set.kind, row.planned_set.level)
    last = (
        other.value
        for other in reversed(state.rows)
        if (other.planned_set.exercise, other.planned_set.kind, other.planned_set.level) == level
        and other != row
    )
    return next((v for v in last if v is not None), state.exercise(row).rep_range[0])


def set_name(state: State, row: Row) -> str:
    """A set as messages name it: `SQUAT 1`, `ROW L 2`."""
    side = {"both": "", "left": " L", "right": " R"}[row.side]
    return f"{state.exercise(row).short}{side} {row.planned_set.number}"


def count_of(state: State, row: Row) -> str:
    """A row's count as a person would type it; `not counted` where it has none."""
    if row.value is None or not row.counted:
        return "not counted"
    return amount_text(row.value, state.exercise(row).measure)


def enter(
    turn: Turn,
    row: Row,
    count: cmd.Count | None,
    *,
    kind: type[ev.Entered] = ev.Entered,
    by: ev.Who = "person",
    waits: cmd.Count | None = None,
) -> None:
    """Set a row's count; None for "not counted"."""
    hold = turn.state.exercise(row).measure == "hold"
    value = None if count is None else count.value
    turn.emit_row(
        kind,
        row,
        by=by,
        reps=None if hold or value is None else int(value),
        hold_s=value if hold else None,
        counted="no" if count is None else "yes",
        reserve=None if count is None else count.reserve,
        to_beat=row.to_beat,
        beaten=beaten(value, row.to_beat, pain=row.pain),
        waits=None if waits is None else waits.value,
        waits_reserve=None if waits is None else waits.reserve,
    )
    if turn.state.phase != "closed":
        offers.follow(turn, row)


@decides
def _enter(turn: Turn, command: cmd.Enter) -> None:
    row = _row_for(turn.state, command)
    if len(command.counts) == 2:
        _enter_both(turn, row, command)
    else:
        _put(turn, row, command.counts[0])


def _row_for(state: State, command: cmd.Enter) -> Row:
    """The row for a count, of two counts the first. Raises Refused."""
    both = len(command.counts) == 2
    row = next((r for r in state.open_rows if r.side != "both" or not both), None)
    if command.measure == "hold" and (row is None or state.exercise(row).measure != "hold"):
        row = _last_hold(state, one_sided=both)
        if row is None and not both:
            raise Refused("no hold is waiting for a count; write repetitions as a plain number: 12")
    if row is None and both:
        raise Refused("two numbers need a one-sided set without a count; write one number")
    if row is None:
        raise Refused("no count to enter; fix N NUMBER corrects one")
    _check_measure(state, row, command.measure)
    return row


def _last_hold(state: State, *, one_sided: bool = False) -> Row | None:
    """The last hold that was done: the clock entered its seconds, and typed ones correct them."""
    holds = (r for r in reversed(state.rows) if state.exercise(r).measure == "hold")
    return next(
        (r for r in holds if r.status == "done" and (r.side != "both" or not one_sided)), None
    )


def _put(turn: Turn, row: Row, count: cmd.Count | None, waits: cmd.Count | None = None) -> None:
    """Set a row's count; a correction where it has one, or where the session is closed."""
    first = row.open and turn.state.phase != "closed"
    enter(turn, row, count, kind=ev.Entered if first else ev.Corrected, waits=waits)


def _enter_both(turn: Turn, first: Row, command: cmd.Enter) -> None:
    """Set left and right, always in that order; a side that is not done yet keeps its number."""
    state = turn.state
    counts: dict[Side, cmd.Count] = {"left": command.counts[0], "right": command.counts[1]}
    rows = {r.side: r for r in state.rows if r.index == first.index and r.start is not None}
    other: Side = "right" if first.side == "left" else "left"
    sibling = rows.get(other)
    if sibling is None or sibling.status == "running":
        if sibling is None and state.course.next != first.index:
            raise Refused(f"that set has no {other} side; write one number")
        _put(turn, first, counts[first.side], counts[other])
        return
    _put(turn, first, counts[first.side])
    if (sibling.value, sibling.reserve) != (counts[other].value, counts[other].reserve):
        _put(turn, sibling, counts[other])


def _no_count_line(state: State) -> str:
    return f"{set_name(state, _oldest_open(state))} is not counted"


def _oldest_open(state: State) -> Row:
    oldest = next(iter(state.open_rows), None)
    if oldest is None:
        raise Refused("no count to enter; fix N nocount clears an earlier one")
    return oldest


@verb(
    "nocount",
    cmd.NoCount(),
    form="nocount",
    letter="c",
    phases=AFTER_ONE,
    rank=160,
    label=_no_count_line,
    help="Give up the oldest missing count; its set stays without one.",
    kept=True,
)
def _no_count(turn: Turn, command: cmd.NoCount) -> None:
    if command.row is not None:
        _put(turn, done_row(turn.state, command.row), None)
    else:
        _put(turn, _oldest_open(turn.state), None)


def _read_fix(rest: str) -> cmd.Fix | cmd.NoCount:
    number, _, value = rest.partition(" ")
    if not re.fullmatch(r"[0-9]{1,4}", number) or not value.strip():
        raise Refused("write the entry's number and its count: fix 3 13")
    if value.strip() == "nocount":
        return cmd.NoCount(int(number))
    entry = read_entry(value)
    if isinstance(entry, Refusal):
        raise Refused(entry.reason)
    if len(entry.counts) != 1:
        raise Refused("an entry is one side; write one count: fix 3 13")
    return cmd.Fix(int(number), entry.measure, entry.counts[0])


def _fix_line(state: State) -> str:
    if state.last_ended is None:
        raise Refused("no set has ended yet")
    return "fix an earlier count"


@verb(
    "fix",
    _read_fix,
    form="fix N 13",
    letter="f",
    phases=AFTER_ONE,
    rank=200,
    label=_fix_line,
    help="Correct an earlier count.",
    word_help="Correct entry number N.",
    kept=True,
)
def _fix(turn: Turn, command: cmd.Fix) -> None:
    row = done_row(turn.state, command.row)
    _check_measure(turn.state, row, command.measure)
    _put(turn, row, command.count)


def done_row(state: State, entry: int) -> Row:
    """The row numbered `entry`, if it can have a count. Raises Refused."""
    if not 1 <= entry <= len(state.rows):
        so_far = f"1 to {len(state.rows)}" if state.rows else "none yet"
        raise Refused(f"no entry {entry}; entries so far: {so_far}")
    row = state.rows[entry - 1]
    if row.status == "running":
        raise Refused(f"entry {entry} is still running; end the set first")
    if row.status == "skipped":
        raise Refused(f"entry {entry} was skipped and has no count")
    return row


def _check_measure(state: State, row: Row, measure: Measure) -> None:
    exercise = state.exercise(row)
    if exercise.measure != measure:
        wanted = "seconds: 45s" if exercise.measure == "hold" else "repetitions: 12"
        raise Refused(f"{exercise.name} counts {wanted}")


# Sets done without the program, written up later.


@decides
def _done_otherwise(turn: Turn, command: cmd.DoneOtherwise) -> None:
    _from_paper(turn)
    changes = [one.as_data() for one in command.changes]
    turn.emit(ev.Adjusted, taken=list(command.taken), changes=changes)


@decides
def _swapped(turn: Turn, command: cmd.SwappedOnPaper) -> None:
    _from_paper(turn)
    turn.emit(
        ev.Swapped,
        exercise=command.exercise,
        to=command.to,
        block=command.block,
        group=command.group or None,
    )


@decides
def _write_up(turn: Turn, command: cmd.WriteUp) -> None:
    """Add a set, with its pain and note; pain ends the exercise."""
    _from_paper(turn)
    state, hurt = turn.state, command.pain is not None
    planned_set = state.course.planned_sets[command.planned_set]
    if planned_set.status != "todo":
        raise Refused(f"set {planned_set.number} of {planned_set.exercise} has a count already")
    exercise = state.workout.exercises[planned_set.exercise]
    exercise = exercise.at(exercise.progression[command.step].version)
    level = replace(exercise.progression[command.step], load=command.load, setup=command.setup)
    planned_set = replace(planned_set, level=level)
    setup_fields: dict[str, Any] = {
        "step": command.step,
        "setup": setup_text(command.setup),
        "load_kg": command.load,
    }
    done = dict(command.counts)
    for side in exercise.side_order:
        fields = set_fields(planned_set, side, len(turn.state.rows) + 1) | setup_fields
        if side not in done:
            turn.emit(ev.Written, **fields, status="skipped")
            continue
        beat = apply.to_beat(state, planned_set, side)
        count = _count(done[side], beat, hold=exercise.measure == "hold", pain=hurt)
        turn.emit(ev.Written, **fields, to_beat=beat, **count)
    entry = len(turn.state.rows)
    if command.pain is not None:
        turn.emit(ev.Pain, where=command.pain, exercise=exercise.id, entry=entry)
    if command.note:
        turn.emit(ev.Noted, note=command.note, entry=entry)


def _from_paper(turn: Turn) -> None:
    if turn.state.phase != "ready":
        raise Refused("this session is running; enter its counts there")


def _count(
    count: cmd.Count | None, beat: float | None, *, hold: bool, pain: bool
) -> dict[str, Any]:
    """The fields of a count; None for "not counted"."""
    if count is None:
        return {"counted": "no"}
    value = {"hold_s": count.value} if hold else {"reps": int(count.value)}
    return {**value, "reserve": count.reserve, "beaten": beaten(count.value, beat, pain=pain)}
