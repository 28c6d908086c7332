"""A record spoilt in random bytes: it opens whole, or one clear line says that it is damaged."""

from __future__ import annotations

import atexit
import random
import shutil
import sqlite3
import tempfile
from contextlib import closing, suppress
from functools import cache
from pathlib import Path

from tests.faults.frame import Fault, Outcome
from tests.faults.hand import clear_lines, hand, integrity, judge
from tests.faults.storage import command, elsewhere
from tests.kill.plan import PLAN
from tests.lines import manual
from tests.lines.process import matside

DATABASE = "record.db"
READING = (
    ("export",),
    ("export", "--what", "sessions"),
    ("next", "PLAN", "--for", "Ada"),
    ("review", "--plain", "--for", "Ada"),
    ("rehearse", "PLAN", "--for", "Ada"),
    ("run", "PLAN", "--plain", "--mute", "--yes", "--for", "Ada"),
)


@cache
def _whole() -> tuple[Path, str]:
    """A directory with a plan and a record of three sessions, and what an export gives of it."""
    folder = Path(tempfile.mkdtemp(prefix="matside-whole-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    plan = folder / "hurry.toml"
    plan.write_text(PLAN, encoding="utf-8")
    for hour in (6, 7, 8):
        lines = [line for _ in range(12) for line in ("", "12/2", "note by the stove", "9 11")]
        manual.run(plan, folder, manual.script(*lines, step=0.8), hour=hour)
    return folder, command("export", "--data", str(folder))[1]


def spoil(path: Path, rng: random.Random) -> str:
    """Write random bytes into a file, in one of a few ways; what was done."""
    content = bytearray(path.read_bytes())
    way = rng.choice(["a byte", "bytes", "a stretch", "a page", "cut short", "zeroes"])
    at = rng.randrange(len(content))
    if way == "a byte":
        content[at] ^= 1 << rng.randrange(8)
    elif way == "bytes":
        for _ in range(rng.randint(2, 200)):
            content[rng.randrange(len(content))] = rng.randrange(256)
    elif way == "a stretch":
        length = rng.randint(2, 2000)
        content[at : at + length] = rng.randbytes(len(content[at : at + length]))
    elif way == "cut short":
        del content[at:]
    else:
        page = at // 4096 * 4096
        content[page : page + 4096] = rng.randbytes(4096) if way == "a page" else bytes(4096)
    path.write_bytes(content)
    return way


def before_the_start(seed: int, folder: Path) -> Outcome:
    """Each command on a record that was spoilt while nothing ran."""
    whole, exported = _whole()
    rng, data = random.Random(seed), folder / "data"  # noqa: S311 - a test's own draws
    data.mkdir(0o700)
    path = data / DATABASE
    shutil.copy(whole / DATABASE, path)
    way = spoil(path, rng)
    outcome = Outcome(exported.count("\n") - 1)
    empty = path.stat().st_size == 0  # an empty file is an empty record, and becomes one
    for words in READING:
        named = (str(whole / "hurry.toml") if word == "PLAN" else word for word in words)
        code, out, err = command(*named, "--data", str(data))
        # A session may find at its end that it does not read back, and then writes its CSV.
        codes = (0, 65, 74) if words[0] == "run" else (0, 65)
        outcome.lost += [f"{way}, {words[0]}: {x}" for x in clear_lines(code, err, *codes)]
        if code == 0 and integrity(path) != "ok" and words[0] != "rehearse":
            outcome.lost.append(f"{way}, {words[0]}: opened, and {integrity(path)[:200]}")
        if words == ("export",):
            same = "empty" if empty else "as it was" if out == exported else "another text in it"
            outcome.notes.append("refused, 65" if code == 65 else f"opened, {same}")
    return outcome


OFTEN = 0.5  # of the changes are a single bit
TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
REOPEN = """UPDATE session SET status = 'open', complete = NULL, ended_utc = NULL,
    ended_offset_s = NULL, ended_local_date = NULL WHERE key = ?"""


def _another(value: object, rng: random.Random) -> object:
    """A value near to this one, or of another kind."""
    if isinstance(value, str) and value and rng.random() < OFTEN:
        letters = list(value)
        at = rng.randrange(len(letters))
        letters[at] = chr(ord(letters[at]) ^ 1 << rng.randrange(6))
        return "".join(letters)
    if isinstance(value, (int, float)) and rng.random() < OFTEN:
        return value + rng.choice([-1, 1, 2**20, 2**40, -(2**31)])
    return rng.choice(["", "zz[", "2026-1x", b"\xff\x00", -7, 1e300, 12, None])


def spoil_value(path: Path, rng: random.Random) -> str:
    """Give one field of one row another value, behind the back of the table's own checks."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        tables = [t for (t,) in connection.execute(TABLES)]
        while True:
            table = rng.choice(tables)
            rows = connection.execute(f"SELECT * FROM {table}")
            names = [column[0] for column in rows.description]
            found = rows.fetchall()
            if not found:
                continue
            row, place = rng.choice(found), rng.randrange(len(names))
            new = _another(row[place], rng)
            where = " AND ".join(f'"{name}" IS ?' for name in names)
            with suppress(sqlite3.Error):  # a key twice, an empty field where none may be
                connection.execute(
                    f'UPDATE {table} SET "{names[place]}" = ? WHERE {where}',
                    (new, *row),
                )
                return f"{table}.{names[place]} from {row[place]!r:.80} to {new!r}"


def by_value(seed: int, folder: Path) -> Outcome:
    """Each command on a record with another value in it, in sound pages."""
    whole, exported = _whole()
    rng, data = random.Random(seed), folder / "data"  # noqa: S311 - a test's own draws
    data.mkdir(0o700)
    path = data / DATABASE
    shutil.copy(whole / DATABASE, path)
    if rng.random() < OFTEN:
        _cut_off(path)
    way, outcome = spoil_value(path, rng), Outcome(exported.count("\n") - 1)
    for words in (*READING, ("run", "PLAN", "--plain", "--mute", "--resume", "--for", "Ada")):
        named = (str(whole / "hurry.toml") if word == "PLAN" else word for word in words)
        code, out, err = command(*named, "--data", str(data))
        codes = (0, 65, 66, 74) if words[0] == "run" else (0, 65, 66)  # 66: of another name now
        outcome.lost += [f"{way}, {words[0]}: {x}" for x in clear_lines(code, err, *codes)]
        if words == ("export",):
            same = "as it was" if out == exported else "another text in it"
            outcome.notes.append(f"ended {code}" if code else f"opened, {same}")
    return outcome


def _cut_off(path: Path) -> None:
    """Let the last session be one that was cut off."""
    with closing(sqlite3.connect(path)) as connection, connection:
        (key,) = connection.execute("SELECT max(key) FROM session").fetchone()
        connection.execute("DELETE FROM event WHERE session = ? AND name = 'closed'", (key,))
        connection.execute(REOPEN, (key,))


def in_mid_session(seed: int, folder: Path) -> Outcome:
    """Spoilt while a session is kept in it: all is on file at its end, or in the CSV."""
    data = folder / "data"
    with hand(seed, folder, data, cwd=elsewhere(folder)) as one:
        one.some()
        way = spoil(data / DATABASE, one.rng)
        one.some()
        code = one.end()
    outcome = judge(one, code, data / DATABASE, whole=False)
    outcome.notes = [f"ended {code}"]
    outcome.lost += [f"{way}: ended {code}"] if code not in (0, 74) else []
    after = matside("export", "--data", str(data))
    outcome.lost += [f"{way}: {x}" for x in clear_lines(after.returncode, after.stderr, 0, 65)]
    return outcome


FAULTS = (
    Fault("record spoilt before the start", "random bytes, bits, pages; six commands on each",
          before_the_start, 300, 4, alone=True),
    Fault("record with another value", "in a field of a row, its pages sound; seven commands",
          by_value, 100, 4, alone=True),
    Fault("record spoilt in mid-session", "the same under a running session",
          in_mid_session, 60, 1),
)  # fmt: skip
