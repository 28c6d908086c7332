"""A hand at line mode, and whether what the session told it is on file."""

from __future__ import annotations

import csv
import json
import random
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.faults.frame import Outcome
from tests.kill.plan import PLAN, lines
from tests.lines.process import Line, Session, session

PLAN_NAME = "Hut, in a hurry"


def quiet_lines(rng: random.Random) -> Iterator[str]:
    """Lines of a session that takes nothing back: what was counted once, counts at the end."""
    return (line for line in lines(rng) if line != "undo" and not line.startswith("fix"))


class Hand:
    """Types, and waits until the session has dealt with it."""

    def __init__(self, live: Session, seed: int) -> None:
        self.live, self.rng = live, random.Random(seed)  # noqa: S311 - a test's own draws
        self._lines = quiet_lines(self.rng)
        self._marks = 0

    def type(self, line: str) -> None:
        """Type a line, and one that is refused: its refusal says that both were read."""
        self._marks += 1
        self.live.send(line)
        self.live.send(f"zz{self._marks}")
        self.live.said(f"not used: 'zz{self._marks}'")

    def go_on(self, times: int) -> None:
        """Type so many lines, as they come."""
        for _ in range(times):
            self.type(next(self._lines))

    def some(self, least: int = 4, most: int = 16) -> None:
        """Type some lines."""
        self.go_on(self.rng.randint(least, most))

    def end(self) -> int:
        """End the session by its word; the exit code."""
        self.live.send("end")
        return self.live.wait()


@contextmanager
def hand(
    seed: int, folder: Path, data: Path, *more: str, cwd: Path | None = None, **how: object
) -> Iterator[Hand]:
    """A session of the hasty plan in a process of its own, its first set behind it."""
    plan = folder / "hurry.toml"
    if not plan.exists():
        plan.write_text(PLAN, encoding="utf-8")
    with session(plan, data, "--yes", *more, cwd=cwd, **how) as live:  # type: ignore[arg-type]
        yield Hand(live, seed)


@dataclass(frozen=True)
class OnFile:
    """An event as the record has it."""

    seq: int
    utc: str
    name: str
    data: dict[str, object]


def sessions(path: Path) -> list[str]:
    """The ids of all sessions, by SQLite alone."""
    with closing(sqlite3.connect(path)) as connection:
        return [name for (name,) in connection.execute("SELECT id FROM session ORDER BY key")]


def events_of(path: Path, session_id: str) -> list[OnFile]:
    """A session's events, by SQLite alone."""
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute(
            "SELECT seq, utc, name, data FROM event JOIN session ON session.key = event.session "
            "WHERE session.id = ? ORDER BY seq",
            (session_id,),
        )
        return [OnFile(seq, utc, name, json.loads(data)) for seq, utc, name, data in rows]


def integrity(path: Path) -> str:
    """`ok`, or what SQLite's checks say."""
    with closing(sqlite3.connect(path)) as connection:
        faults = [row[0] for row in connection.execute("PRAGMA integrity_check")]
        faults += [str(row) for row in connection.execute("PRAGMA foreign_key_check")]
    return "ok" if faults == ["ok"] else "; ".join(faults)


def judge(one: Hand, code: int, record: Path, *, whole: bool = True) -> Outcome:
    """Hold what was said against the record, and against the CSV where the record lacks it.

    `whole`: the record must be whole; else the CSV may have what a damaged record has lost.
    """
    said, stderr = one.live.lines, "\n".join(one.live.err.seen)
    known = [line for line in said if line.pairs.get("kept") != "no"]
    outcome = Outcome(len(known), notes=[f"ended {code}"])
    if "Traceback" in stderr:
        outcome.lost.append(f"a traceback: {stderr[-600:]}")
    saved = next((t for t in stderr.splitlines() if "this session's CSV is in" in t), "")
    if code == 74 and not saved:
        outcome.lost.append(f"ended 74 without a CSV: {stderr[-400:]}")
    if saved:
        outcome.lost += _not_in_csv(said, Path(saved.partition(" is in ")[2]))
    if whole or not saved:
        outcome.lost += _not_on_file(said if code == 0 else known, said, record)
    return outcome


def _not_on_file(wanted: list[Line], said: list[Line], record: Path) -> Iterator[str]:
    """Lines that have no event, events that are doubled, a file that is not whole."""
    if not wanted:
        return
    found = integrity(record)
    if found != "ok":
        yield f"the record is not whole: {found[:300]}"
        return
    opened = next((line for line in said if line.name == "opened"), None)
    if opened is None:
        return
    there = events_of(record, opened.pairs["session"])
    if [event.seq for event in there] != list(range(1, len(there) + 1)):
        yield "events are not numbered 1, 2, ..."
    waiting = iter(there)
    for line in wanted:
        if not any(_same(line, event) for event in waiting):
            yield f"said, and not on file: {line}"
            return


def _same(line: Line, event: OnFile) -> bool:
    return (line.utc, line.name) == (event.utc, event.name) and all(
        line.pairs[key] == str(event.data[key])
        for key in ("entry", "reps", "reserve")
        if key in line.pairs and event.data.get(key) is not None
    )


def _not_in_csv(said: list[Line], path: Path) -> Iterator[str]:
    """Counts that were said and do not stand in the CSV."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = {(r["exercise"], r["set"], r["side"]): r["reps"] for r in csv.DictReader(file)}
    counts = {
        tuple(line.pairs[name] for name in ("exercise", "set", "side")): line.pairs["reps"]
        for line in said
        if line.name in ("entered", "corrected") and "reps" in line.pairs
    }
    for key, reps in counts.items():
        if rows.get(key) != reps:  # type: ignore[arg-type]
            yield f"said {reps} for {key}, and not in the CSV: {rows}"


def clear_lines(code: int, stderr: str, *codes: int) -> list[str]:
    """What is wrong with the way a command ended; it must be by one of the codes, and clearly."""
    faults = [f"ended {code}, not {codes}: {stderr[-400:]}"] if code not in codes else []
    if "Traceback" in stderr:
        faults.append(f"a traceback: {stderr[-600:]}")
    said = [line for line in stderr.splitlines() if line.startswith("matside: ")]
    if code and not said:
        faults.append(f"ended {code} and said nothing: {stderr[-300:]!r}")
    return faults
