"""Faults of the disk and of those who use it too: full, read-only, locked, shared, newer."""

from __future__ import annotations

import io
import os
import shutil
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout, suppress
from pathlib import Path

from runner.cli.main import main
from runner.record.schema import VERSION
from tests.faults.frame import Fault, Outcome, Skipped
from tests.faults.hand import Hand, clear_lines, hand, judge
from tests.lines.process import DEADLINE, matside
from tests.record.disks import NoDisk, fill, free, small_disk

DATABASE = "record.db"
# Root may write everywhere; without these two capabilities permissions count for it as well.
NO_OVERRIDE = ("setpriv", "--bounding-set", "-dac_override,-dac_read_search")


@contextmanager
def _disk(folder: Path) -> Iterator[Path]:
    try:
        with small_disk(folder / "disk") as disk:
            yield disk
    except NoDisk as reason:
        raise Skipped(str(reason)) from None


def elsewhere(folder: Path) -> Path:
    """Where the program is started, so that a CSV has somewhere to go."""
    here = folder / "here"
    here.mkdir(exist_ok=True)
    return here


def _as_it_ends(outcome: Outcome, code: int, wanted: int) -> Outcome:
    if code != wanted:
        outcome.lost.append(f"ended {code}, not {wanted}")
    return outcome


def full_disk(seed: int, folder: Path) -> Outcome:
    """Full in mid-session, for good or until there is room again."""
    with _disk(folder) as disk:
        with hand(seed, folder, disk, cwd=elsewhere(folder)) as one:
            one.some()
            fill(disk, leave=one.rng.choice([0, 512, 4096]))
            one.some()
            freed = seed % 2 == 0
            if freed:
                free(disk)
                one.some()
            code = one.end()
        with suppress(FileNotFoundError):
            free(disk)
        outcome = judge(one, code, disk / DATABASE)
        said = "\n".join(one.live.err.seen)  # a small one may have had room after all
        left = [path.name for path in disk.glob("*.csv") if f"CSV is in {path}" not in said]
        outcome.lost += [f"half a CSV is left on the full disk: {name}" for name in left]
        return _as_it_ends(outcome, code, 0 if freed or code == 0 else 74)


def full_from_the_start(seed: int, folder: Path) -> Outcome:
    """No room for the first event."""
    with _disk(folder) as disk:
        if seed % 2:
            done = matside("run", "demo", "--plain", "--mute", "--data", str(disk))
            assert done.returncode == 0
        fill(disk)
        with hand(seed, folder, disk, cwd=elsewhere(folder)) as one:
            one.some()
            code = one.end()
        return _as_it_ends(judge(one, code, disk / DATABASE), code, 74)


@contextmanager
def _reader(seed: int, folder: Path, data: Path) -> Iterator[Hand]:
    """A session for which the permissions of files count."""
    by: tuple[str, ...] = ()
    if os.geteuid() == 0:
        if shutil.which(NO_OVERRIDE[0]) is None:
            raise Skipped("root may write everywhere, and there is no setpriv to change that")
        by = NO_OVERRIDE
    with hand(seed, folder, data, cwd=elsewhere(folder), by=by) as one:
        yield one


def read_only(seed: int, folder: Path) -> Outcome:
    """The folder becomes read-only in mid-session, or is so before it."""
    data = folder / "data"
    data.mkdir(0o700)
    before = seed % 2 == 1
    if before:
        data.chmod(0o500)
    try:
        with _reader(seed, folder, data) as one:
            one.some()
            data.chmod(0o500)
            one.some()
            code = one.end()
    finally:
        data.chmod(0o700)
    return _as_it_ends(judge(one, code, data / DATABASE), code, 74)


def locked_for_a_moment(seed: int, folder: Path) -> Outcome:
    """Another program has the file for less than is waited for: nobody notices."""
    data = folder / "data"
    with hand(seed, folder, data) as one:
        one.some()
        with closing(_lock(data / DATABASE)) as other:
            timer = threading.Timer(one.rng.uniform(0.1, 0.7), _rollback, (other,))
            timer.start()
            one.type("note while it is locked")
            timer.join(DEADLINE)
        one.some()
        code = one.end()
    outcome = judge(one, code, data / DATABASE)
    outcome.lost += [f"told as not kept: {x}" for x in one.live.lines if "kept" in x.pairs]
    return _as_it_ends(outcome, code, 0)


def locked_for_good(seed: int, folder: Path) -> Outcome:
    """Another program keeps the file: until the end, or until a line has said so."""
    data = folder / "data"
    released = seed % 2 == 1
    with hand(seed, folder, data, cwd=elsewhere(folder)) as one:
        one.some()
        with closing(_lock(data / DATABASE)) as other:
            one.type("note while it is locked")
            if released:
                _rollback(other)
                one.some()
            code = one.end()
    return _as_it_ends(judge(one, code, data / DATABASE), code, 0 if released else 74)


def _lock(path: Path) -> sqlite3.Connection:
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=DEADLINE)
    other.execute("BEGIN EXCLUSIVE")
    return other


def _rollback(other: sqlite3.Connection) -> None:
    other.execute("ROLLBACK")


def two_at_once(seed: int, folder: Path) -> Outcome:
    """Two sessions in turn, by one trainee or by two; or somebody wants to take one over."""
    data, way = folder / "data", ("one trainee", "two trainees", "the same session")[seed % 3]
    if way == "the same session":
        return _taken_over(seed, folder, data)
    here = elsewhere(folder)
    more = ("--for", "Odd") if way == "two trainees" else ()
    with hand(seed, folder, data, cwd=here) as one:
        one.some()
        with hand(seed + 1, folder, data, *more, cwd=here) as other:
            for _ in range(one.rng.randint(2, 5)):
                one.some(1, 3)
                other.some(1, 3)
            codes = [one.end(), other.end()]
    outcome = Outcome(notes=[f"{way}: ended {codes[0]} and {codes[1]}"])
    for who, code in zip((one, other), codes, strict=True):
        found = judge(who, code, data / DATABASE)
        outcome.acknowledged += found.acknowledged
        outcome.lost += found.lost
        outcome.lost += [] if code == 0 else [f"ended {code}"]
    return outcome


def _taken_over(seed: int, folder: Path, data: Path) -> Outcome:
    """A running session cannot be gone on with elsewhere."""
    with hand(seed, folder, data, cwd=elsewhere(folder)) as one:
        one.some()
        plan = str(folder / "hurry.toml")
        done = matside(
            "run", plan, "--plain", "--mute", "--resume", "--for", "Ada", "--data", str(data)
        )
        one.some()
        code = one.end()
    outcome = _as_it_ends(judge(one, code, data / DATABASE), code, 0)
    outcome.lost += clear_lines(done.returncode, done.stderr, 66)
    return outcome


COMMANDS = (
    ("run", "demo", "--plain", "--mute", "--yes"),
    ("next", "demo"),
    ("export", "--trial"),
    ("review", "--trial", "--plain"),
    ("log", "demo", "--on", "2026-11-23", "--yes"),
)


def command(*words: str) -> tuple[int, str, str]:
    """Run a command in this process: exit code, stdout, stderr. For one run at a time."""
    raw = io.BytesIO()  # an export writes bytes
    with redirect_stdout(io.TextIOWrapper(raw)) as out, redirect_stderr(io.StringIO()) as err:
        code = main(words)
        out.flush()
        said = raw.getvalue().decode()
    return code, said, err.getvalue()


def newer(seed: int, folder: Path) -> Outcome:
    """A record of a later version: each command stops before it has changed a byte."""
    data = folder / "data"
    done = matside(*COMMANDS[0], "--data", str(data))
    path = data / "trial.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {VERSION + 1 + seed % 1000}")
    before = path.read_bytes()
    outcome = Outcome(len(done.stdout.splitlines()))
    for words in COMMANDS:
        code, out, err = command(*words, "--data", str(data))
        outcome.lost += clear_lines(code, err, 65)
        if out or "newer" not in err or path.read_bytes() != before:
            outcome.lost.append(f"{words[0]}: {out} {err[-300:]}")
    outcome.notes.append(f"ended 65 by each of {', '.join(words[0] for words in COMMANDS)}")
    return outcome


FAULTS = (
    Fault("disk full", "tmpfs of 256 KiB, filled in mid-session, every other time freed again",
          full_disk, 20, 2),
    Fault("disk full from the start", "the same, before the first event",
          full_from_the_start, 10, 1),
    Fault("read-only directory", "chmod 500 in mid-session or before, and no right to override it",
          read_only, 20, 2),
    Fault("locked for a moment", "BEGIN EXCLUSIVE by another program, 0.1 to 0.7 s",
          locked_for_a_moment, 20, 1),
    Fault("locked for good", "BEGIN EXCLUSIVE to the end, or until a line said so",
          locked_for_good, 20, 1),
    Fault("two sessions at once", "one trainee, two trainees, one session gone on with twice",
          two_at_once, 21, 1),
    Fault("newer record", "user_version raised", newer, 10, 0, alone=True),
)  # fmt: skip
