"""A record spoilt in random bytes: it opens whole, or one clear line says that it is damaged."""

from __future__ import annotations

import atexit
import random
import shutil
import tempfile
from functools import cache
from pathlib import Path

from tests.faults.frame import Fault, Outcome
from tests.faults.hand import clear_lines, hand, integrity, judge
from tests.faults.storage import command, elsewhere
from tests.kill.plan import PLAN
from tests.plain import manual
from tests.plain.process import matside

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
    Fault("record spoilt in mid-session", "the same under a running session",
          in_mid_session, 60, 1),
)  # fmt: skip
