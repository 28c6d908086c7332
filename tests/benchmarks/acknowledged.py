"""A set acknowledged (its event, its row, the commit) beside one bare commit of SQLite.

The bare one writes a short row into a file of its own beside the record, by the same pragmas. Both
wait for the same disk: after every session come as many bare commits.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from statistics import median

from runner.record import files
from runner.testing import ManualClock
from tests.benchmarks.aids.by_hand import Lengths, do_session
from tests.benchmarks.frame import Row, ratio, wall

SESSIONS = 12
DAY_S = 86400.0


def rows(*, quick: bool = False) -> list[Row]:
    """The key that ends a set, from the command to the file; and its count."""
    done: list[Lengths] = []
    bare: list[float] = []
    with tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder:
        commit = _bare(Path(folder) / "bare.db")
        clock = ManualClock()
        for _ in range(1 if quick else SESSIONS):
            done.append(do_session(Path(folder), clock, bouts=2 if quick else 10**6))
            bare += [commit() for _ in done[-1].ended]
            clock.advance(DAY_S)
    counted = done if quick else done[1:]
    ended = 1e3 * median(s for one in counted for s in one.ended)
    entered = 1e3 * median(s for one in counted for s in one.entered)
    base = 1e3 * median(bare)
    return [
        ratio("a set ended: event, row, commit", ended, base, "ms", 3),
        ratio("a count entered: event, row, commit", entered, base, "ms", 3),
    ]


def _bare(path: Path) -> Callable[[], float]:
    """One commit of one short row."""
    files.prepare(path, create=True)
    connection = files.connect(path)
    files.make_durable(connection)
    connection.execute("CREATE TABLE one (key INTEGER PRIMARY KEY, text TEXT)")

    def commit() -> None:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO one (text) VALUES ('a set')")
        connection.execute("COMMIT")

    return wall(commit)
