"""Programs that tests start beside themselves: `python -m tests.record.programs WHAT PATH …`."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from runner.record import errors
from runner.record.record import Record

from .hut import Sitting, later

ROOT = Path(__file__).parents[2]


def start(what: str, *arguments: object, stdin: int | None = None) -> subprocess.Popen[bytes]:
    words = [sys.executable, "-m", "tests.record.programs", what, *map(str, arguments)]
    return subprocess.Popen(words, cwd=ROOT, stdin=stdin)


def keep_sessions(path: Path, trainee: str, sessions: str) -> None:
    """Run so many whole sessions."""
    with Record.open(path) as record:
        for day in range(int(sessions)):
            Sitting(record, trainee=trainee, at=later(day)).whole()


def open_at_once(path: Path, trainee: str) -> None:
    """Open the record at the same instant as others, once a line comes, and begin a session."""
    sys.stdin.readline()
    errors.BUSY_SECONDS = 60.0  # not how long it takes is asked here
    with Record.open(path) as record:
        Sitting(record, trainee=trainee).begin()


def die_half_written(path: Path) -> None:
    """Leave a journal behind, and pages of an unfinished transaction in the file."""
    connection = Record.open(path)._connection
    connection.execute("PRAGMA cache_size = 1")
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("UPDATE set_row SET note = ?", ("x" * 3000,))
    connection.execute("UPDATE event SET name = 'lost'")
    os._exit(9)


if __name__ == "__main__":
    if sys.argv[1] == "keep":
        keep_sessions(Path(sys.argv[2]), *sys.argv[3:])
    elif sys.argv[1] == "at-once":
        open_at_once(Path(sys.argv[2]), sys.argv[3])
    else:
        die_half_written(Path(sys.argv[2]))
