"""Working levels over drawn records: against a model, and exported and brought in elsewhere."""

from __future__ import annotations

import io
import tempfile
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings, strategies as st

from runner.law.workout import Item, Level
from runner.record import importing
from runner.record.csvfile import read_csv, read_table, write_csv
from runner.record.decisions import LevelDecision
from runner.record.record import Record
from runner.record.rows import SessionInfo
from runner.record.tables import DecisionLine, decision_lines, write_table
from runner.session import flow, verb as cmd
from runner.session.apply import initial

from .hut import MONDAY, Sitting, morning

WORKOUT = morning((Item("row", 1),))
LOADS = (4.0, 5.0, 6.0, 7.5, 8.0)  # 5 and 7.5 kg are off the range


@dataclass(frozen=True)
class Done:
    """A session, or a decision: of a day, made known after so many acts."""

    order: int  # in which it was typed
    start: datetime
    load: float
    paper: bool = False


def train(record: Record, at: datetime, load: float) -> None:
    sitting = Sitting(record, WORKOUT, at=at).begin().do(cmd.Use(load=load))
    sitting.set(9).set(9).close()


def write_up(record: Record, at: datetime, load: float) -> None:
    """As `matside log` does it: opened with what was known on that day, and closed at once."""
    state = initial(WORKOUT, record.baseline("Runa", WORKOUT, before=at))
    counts = (("left", cmd.Count(9.0)), ("right", cmd.Count(9.0)))
    events = []
    step = cmd.WriteUp(0, 0, counts, load=load)  # type: ignore[arg-type]
    for outcome in (flow.opened, lambda s: flow.handle(s, step, 0.0)):
        found = outcome(state)
        events += [h.event for h in found.events]
        state = found.state
    found = flow.handle(state, cmd.End(), 0.0)
    events += [h.event for h in found.events]
    info = SessionInfo.opened(at, WORKOUT, "title = 'hut'\n", "Runa")
    record.write_up(info, list(enumerate(events, 1)), found.state)


def decide_on(record: Record, now: datetime, on: datetime, load: float) -> None:
    level = LevelDecision("row", "", Level("light", "rucksack", load=load), "set by hand")
    record.agree("Runa", None, [level], now, on=on.date())


# An act takes place on the next day, or is of so many days before it.
KINDS = st.sampled_from(["live", "paper", "decision"])
ACTS = st.lists(st.tuples(KINDS, st.integers(0, 6), st.sampled_from(LOADS)), min_size=1, max_size=8)


def make(record: Record, acts: list[tuple[str, int, float]]) -> tuple[list[Done], list[Done]]:
    """Let all of it happen, a day after the other; the sessions and the decisions."""
    sessions, decisions = [], []
    for order, (what, back, load) in enumerate(acts):
        now = MONDAY + timedelta(days=order)
        then = now - timedelta(days=back, minutes=order)
        if what == "live":
            train(record, now, load)
            sessions.append(Done(order, now, load))
        elif what == "paper":
            write_up(record, then, load)
            sessions.append(Done(order, then, load, paper=True))
        else:
            decide_on(record, now, then, load)
            decisions.append(Done(order, then, load))
    return sessions, decisions


def by_hand(sessions: list[Done], decisions: list[Done]) -> float | None:
    """The working level as a person finds it in a diary."""
    newest = max(decisions, key=lambda d: (d.start.date(), d.order), default=None)
    later = [
        s
        for s in sessions
        if newest is None
        or (s.start.date() > newest.start.date() if s.paper else s.order > newest.order)
    ]
    if later:
        return max(later, key=lambda s: s.start).load
    return None if newest is None else newest.load


def level(record: Record) -> float | None:
    found = record.levels("Runa", [WORKOUT]).get(("row", ""))
    baseline = record.baseline("Runa", WORKOUT)
    planned_sets = initial(WORKOUT, baseline).course.planned_sets
    assert found is None or {planned_set.level.load for planned_set in planned_sets} == {
        found.use.load
    }
    return None if found is None else found.use.load


def brought_in(sets: str, held: str | None) -> tuple[float | None, list[Any]]:
    """The level in an empty record that these tables were brought into, and its decisions."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.db"
        with Record.open(path) as record:
            preview = importing.preview(record, read_csv(io.StringIO(sets, newline="")))
        importing.bring_in(path, preview, trial=False)
        if held is not None:
            with Record.open(path) as record:
                lines = read_table(
                    io.StringIO(held, newline=""), DecisionLine, DecisionLine._fields
                )
                found = importing.look_at_decisions(record, lines)
            importing.bring_in_decisions(path, found)
        with Record.open(path) as record:
            return level(record), record.level_decisions()


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(ACTS)
def test_the_working_level_is_that_of_a_diary_here_and_where_it_is_brought_in(
    acts: list[tuple[str, int, float]],
) -> None:
    with Record.in_memory() as record:
        sessions, decisions = make(record, acts)
        here = level(record)
        assert here == by_hand(sessions, decisions)
        sets, held = io.StringIO(newline=""), io.StringIO(newline="")
        write_csv(record.rows(), sets)
        write_table(decision_lines(record, ["Runa"], {}), DecisionLine, held)
        said = record.level_decisions()
    assert brought_in(sets.getvalue(), held.getvalue()) == (here, said)
    assert brought_in(sets.getvalue(), None) == (by_hand(sessions, []), [])
