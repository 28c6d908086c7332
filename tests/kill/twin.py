"""What a killed session left in its record, against a twin that nobody killed.

The twin is the same program on a manual clock. It gets the same commands at the same session
seconds, read off the events on file, and has to come to the same events; then both come back
at the same instant, and have to come to the same state.
"""

from __future__ import annotations

import contextlib
import json
import math
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from runner.live.driver import SettledEvent
from runner.live.session_setup import Live, Opening, prepare
from runner.session import flow
from runner.session.apply import Refused
from runner.session.events import to_data
from runner.session.flow import read_line
from runner.testing import ManualClock
from tests.lines.manual import Silence

TRAINEE = "Ada"


@dataclass(frozen=True)
class OnFile:
    """An event as the record has it."""

    seq: int
    at: float
    utc: str
    act: int
    name: str
    data: dict[str, Any]


@dataclass(frozen=True)
class Left:
    """All that a killed session left."""

    session: str
    start: datetime  # local time
    events: list[OnFile]
    rows: list[tuple[Any, ...]]  # of sets, all columns
    faults: list[str]  # of the file; none where all is well


def left(path: Path) -> Left | None:
    """What the record has, by SQLite alone; None where no session had been opened."""
    with closing(sqlite3.connect(path)) as connection:
        faults = [r[0] for r in connection.execute("PRAGMA integrity_check") if r[0] != "ok"]
        faults += [f"foreign key: {row}" for row in connection.execute("PRAGMA foreign_key_check")]
        if not connection.execute("SELECT 1 FROM sqlite_master").fetchone():
            return None  # killed before the tables were there
        found = connection.execute("SELECT key, id, started_utc, offset_s FROM session").fetchall()
        if not found:
            return None
        assert len(found) == 1, "one session was begun"
        key, name, utc, offset = found[0]
        start = datetime.fromisoformat(utc).astimezone(timezone(timedelta(seconds=offset)))
        events = [
            OnFile(seq, at, utc, act, event, json.loads(data))
            for seq, at, utc, act, event, data in connection.execute(
                "SELECT seq, at, utc, act, name, data FROM event WHERE session = ? ORDER BY seq",
                (key,),
            )
        ]
        rows = connection.execute(
            "SELECT * FROM set_row WHERE session = ? ORDER BY entry", (key,)
        ).fetchall()
        faults += _doubled(connection, key, events)
    return Left(name, start, events, rows, faults)


def _doubled(connection: sqlite3.Connection, key: int, events: list[OnFile]) -> list[str]:
    faults = []
    if [e.seq for e in events] != list(range(1, len(events) + 1)):
        faults.append("events are not numbered 1, 2, ...")
    rows = connection.execute(
        'SELECT exercise, "set", side, count(*) FROM set_row WHERE session = ? '
        "GROUP BY 1, 2, 3 HAVING count(*) > 1",
        (key,),
    ).fetchall()
    return faults + [f"a set appears twice: {row}" for row in rows]


def differences(
    data: Path, scratch: Path, plan: Path, database: str, typed: list[str]
) -> list[str]:
    """What the killed session and its twin differ in; empty where all is well.

    `data` is the killed one's directory, `scratch` an empty one; `typed` is every line that it
    took, in their order, and last the one that it was about to take when it was killed.
    """
    there = left(data / database)
    if there is None or not there.events:
        return []
    found = list(there.faults)
    twin = scratch / "twin"
    opening = _run(there, twin, plan, typed)
    opening.record.close()
    mine = left(twin / database)
    assert mine is not None
    theirs = [(e.seq, e.at, e.act, e.name, e.data) for e in there.events]
    ours = [(e.seq, e.at, e.act, e.name, e.data) for e in mine.events]
    if theirs != ours:
        pairs = zip(theirs, ours, strict=False)
        first = next(((a, b) for a, b in pairs if a != b), (len(theirs), len(ours)))
        found.append(f"the twin's events differ: {first}")
    if there.rows != mine.rows:
        found.append(f"the twin's sets differ: {set(there.rows) ^ set(mine.rows)}")
    shutil.copytree(data, scratch / "killed")
    back = [_back(scratch / "killed", plan, there), _back(twin, plan, there)]
    if back[0] != back[1]:
        found.append("come back, the two are not in the same state")
    return found


def _run(there: Left, data: Path, plan: Path, typed: list[str]) -> Opening:
    """The same session, not killed, up to the last event on file."""
    data.mkdir()
    clock = ManualClock(there.start)
    opening = prepare(str(plan), data=data, trainee=TRAINEE, clock=clock)
    opening.record._connection.execute("PRAGMA synchronous = OFF")
    live = opening.begin(Silence())
    kept: list[SettledEvent] = []
    live.driver.listen(kept.extend)
    clock.advance(there.events[0].at if there.events else 0.0)
    live.driver.open()
    waiting = iter(typed)
    for event in there.events:
        if event.seq > len(kept):
            # What time brings is dated at its deadline, and seen at the millisecond after it,
            # or as a line arrives in between.
            after = (e.at for e in there.events if e.seq > event.seq and e.act != event.act)
            by_clock = event.data.get("by") == "clock"
            seen = min(event.at + 0.001, next(after, math.inf)) if by_clock else event.at
            clock.advance(max(seen - clock.seconds, 0.0))
            live.driver.tick()
        while event.seq > len(kept) and (line := next(waiting, None)) is not None:
            _say(live, line, [(e.name, e.data) for e in there.events if e.act == event.act])
    return opening


def _say(live: Live, line: str, wanted: list[tuple[str, dict[str, Any]]]) -> None:
    """Type a line, unless it was one that did nothing: an empty one in a rest, for instance."""
    driver = live.driver
    with contextlib.suppress(Refused):
        command = read_line(line)
        events = flow.handle(driver.state, command, driver.now()).events
        if [(one.event.name, to_data(one.event)) for one in events] == wanted:
            driver.send(command)


def _back(data: Path, plan: Path, there: Left) -> object:
    """The state of a session gone on with half a minute after its last event."""
    clock = ManualClock(there.start)
    clock.advance(there.events[-1].at + 30.0)
    opening = prepare(str(plan), data=data, trainee=TRAINEE, clock=clock)
    live = opening.resume(Silence())
    live.driver.come_back()
    state = live.driver.state
    opening.record.close()
    return state
