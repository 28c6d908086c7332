"""Kills a session in line mode at a random instant: what it had acknowledged is on file."""

from __future__ import annotations

import contextlib
import queue
import random
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from tests.kill.plan import PLAN, lines
from tests.kill.twin import TRAINEE, differences, left
from tests.lines.process import DEADLINE, ROOT, Line, environment

DATABASE = "record.db"
AT_START = 0.1  # of the sessions are killed while they may still be starting


@dataclass
class Outcome:
    """What became of one kill."""

    acknowledged: int = 0  # events that somebody had been told of
    on_file: int = 0
    faults: list[str] = field(default_factory=list)


class _Reader:
    """Whole lines of a stream, as they come; a line cut off by the end is none."""

    def __init__(self, stream: IO[bytes]) -> None:
        self.lines: list[str] = []
        self.arrived: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self.first = threading.Event()  # set by the first line, or by the end
        self._stream = stream
        self.thread = threading.Thread(target=self._read, daemon=True)
        self.thread.start()

    def close(self) -> None:
        """Wait for the end."""
        self.thread.join(DEADLINE)
        self._stream.close()

    def _read(self) -> None:
        for raw in self._stream:
            if raw.endswith(b"\n"):
                line = raw.decode().rstrip("\n")
                self.lines.append(line)
                self.arrived.put(line)
                self.first.set()
        self.first.set()
        self.arrived.put(None)


def kill_one_locked(seed: int, folder: Path) -> Outcome:
    """The same while another program locks the record again and again, for up to three seconds."""
    return kill_one(seed, folder, locked=True)


def _lock(rng: random.Random, path: Path, over: threading.Event) -> None:
    """Lock the file for a while and release it for a while, until the session is over."""
    with closing(sqlite3.connect(path, isolation_level=None, timeout=DEADLINE)) as other:
        while not over.wait(rng.uniform(0.0, 0.3)):
            other.execute("BEGIN EXCLUSIVE")
            over.wait(rng.uniform(0.0, 3.0))
            other.execute("ROLLBACK")


def kill_one(seed: int, folder: Path, *, locked: bool = False) -> Outcome:
    """Run a session in `folder`, kill it within its first four seconds, and check the record."""
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    plan, data = folder / "hurry.toml", folder / "data"
    plan.write_text(PLAN, encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, "-m", "runner", "run", str(plan), "--plain", "--mute", "--yes",
         "--data", str(data), "--for", TRAINEE],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(),
        cwd=ROOT,
    )  # fmt: skip
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    out, err = _Reader(process.stdout), _Reader(process.stderr)
    over = threading.Event()
    locker = threading.Thread(
        target=_lock,
        args=(random.Random(seed), data / DATABASE, over),  # noqa: S311 - a test's
    )
    if locked or rng.random() > AT_START:
        out.first.wait(DEADLINE)
    if locked:
        locker.start()
    timer = threading.Timer(rng.uniform(0.0, 4.0), process.send_signal, (signal.SIGKILL,))
    timer.start()
    typed = _type(rng, process.stdin, err)
    process.wait(DEADLINE)
    timer.cancel()
    over.set()
    if locked:
        locker.join(DEADLINE)
    for reader in (out, err):
        reader.close()
    with contextlib.suppress(BrokenPipeError):
        process.stdin.close()
    return _look(folder, plan, out.lines, typed)


def _type(rng: random.Random, stdin: IO[bytes], err: _Reader) -> list[str]:
    """Type until the session is gone; returns the accepted lines, and last the one under way.

    After each line comes an unknown word. Its refusal shows that the line was handled, and whether
    that was refused too.
    """
    taken: list[str] = []
    for number, line in enumerate(lines(rng)):
        taken.append(line)
        mark = f"zz{number}"
        try:
            stdin.write(f"{line}\n{mark}\n".encode())
            stdin.flush()
        except BrokenPipeError:
            break
        refused = False
        while (said := err.arrived.get(timeout=DEADLINE)) is not None:
            if f"not used: '{mark}'" in said:
                break
            refused = refused or said.startswith("not used:")
        if said is None:
            break
        if refused:
            taken.pop()
        # Somebody's hands are not infinitely fast, and time has to bring something about too.
        with contextlib.suppress(queue.Empty):
            if err.arrived.get(timeout=rng.uniform(0.0, 0.12)) is None:
                break
    return taken


def _look(folder: Path, plan: Path, printed: list[str], typed: list[str]) -> Outcome:
    database = folder / "data" / DATABASE
    said = [Line.of(text) for text in printed]
    there = left(database) if database.exists() else None
    if there is None:
        lost = [f"{len(said)} lines on stdout and no session on file"] if said else []
        return Outcome(len(said), 0, lost)
    outcome = Outcome(len(said), len(there.events))
    # Every line but those that say so has been acknowledged as kept; lines are in their order.
    kept = [number for number, line in enumerate(said, 1) if line.pairs.get("kept") != "no"]
    outcome.acknowledged = len(kept)
    for line, event in zip(said, there.events, strict=False):
        if (line.utc, line.name) != (event.utc, event.name) or not _tells(line, event.data):
            outcome.faults.append(f"said {line}, on file {event}")
            break
    if kept and kept[-1] > len(there.events):
        outcome.faults.append(f"{kept[-1]} said, {len(there.events)} on file")
    scratch = folder / "scratch"
    scratch.mkdir()
    outcome.faults += differences(folder / "data", scratch, plan, DATABASE, typed)
    return outcome


def _tells(line: Line, data: dict[str, object]) -> bool:
    """Whether the line's numbers are those on file."""
    return all(
        line.pairs.get(key) == str(data[key])
        for key in ("entry", "reps", "reserve", "exercise", "set")
        if data.get(key) is not None and key in line.pairs
    )
