"""What is fuzzed: each target takes bytes, does what the program does with them, and judges.

A target returns where all is well, also where the input is refused in the way it ought to be.
Anything it raises is a finding: a traceback, a row with a control character, too long a time.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from runner.errors import MatsideError
from runner.law.workout import Workout
from runner.lines.session import Lines
from runner.plan.compile import compile_session
from runner.plan.file import LARGEST, parse_plan, read_text
from runner.plan.review import content_warnings, render_warnings
from runner.progress.history import SetRow
from runner.record import importing
from runner.record.csvfile import read_csv, write_csv
from runner.record.record import Record
from runner.record.rows import COLUMNS
from runner.record.sheet_import import Sheet, read_sheet
from runner.session.apply import Refused
from runner.session.flow import read_line
from runner.session.paper import read_counts, read_level, read_paper
from runner.session.words import Refusal, read_entry
from tests.lines.manual import run, script

ROOT = Path(__file__).parents[2]
EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"
SOON = 2.0  # seconds of the processor for one input
MOST_LINES = 40  # of a session in line mode: the rest of an input is left out


class FoundError(AssertionError):
    """Something that must not be."""


@dataclass(frozen=True)
class Target:
    """What is done with an input, and inputs to begin with."""

    do: Callable[[bytes], None]
    seeds: Callable[[], list[bytes]]

    def __call__(self, data: bytes) -> None:
        """Raises whatever is found."""
        begun = time.process_time()
        self.do(data)
        if time.process_time() - begun > SOON:
            raise FoundError(f"slow: {time.process_time() - begun:.1f} s")


def _rows_are_clear(lines: list[str] | tuple[str, ...]) -> None:
    for line in lines:
        if not line or not _harmless(line):
            raise FoundError(f"a row that is not one clear line: {line[:200]!r}")
        if len(line) > 2000:
            raise FoundError(f"an endless row: {line[:200]!r}")


def _harmless(text: str) -> bool:
    return not any(
        ord(c) < 0x20 or 0x7F <= ord(c) < 0xA0 or 0x202A <= ord(c) < 0x202F
        or 0x2066 <= ord(c) < 0x206A or c in "\u2028\u2029" or 0xD800 <= ord(c) < 0xE000
        for c in text
    )  # fmt: skip


# Plans


def _plan(text: str) -> None:
    try:
        plan = parse_plan(text, "hut.toml")
        for session in plan.session:
            compile_session(plan, session.id)
        _rows_are_clear(render_warnings("hut.toml", content_warnings(plan)))
    except MatsideError as fault:
        _rows_are_clear(fault.lines)


def plan_bytes(data: bytes) -> None:
    """A plan file of any bytes, read from disk."""
    with _folder() as folder:
        path = folder / "hut.toml"
        path.write_bytes(data)
        try:
            text = read_text(path)
        except MatsideError as fault:
            _rows_are_clear(fault.lines)
            return
        assert len(text) <= LARGEST
        _plan(text)


def _plan_seeds() -> list[bytes]:
    return [EVERY_KEY.read_bytes(), *(p.read_bytes() for p in (ROOT / "plans").glob("*.toml"))]


_VALUES: tuple[Any, ...] = (
    None, True, 0, -1, 3, 10**6, 10**30, 0.5, -0.0, 1e308, float("inf"), float("nan"), "", " ",
    "row", "press", "2:00", "1m30s", "0", "99:99", "24:00:00", "1e9", "2-0-1", "120 cm", "=1+1",
    "\x1b[2J", "\u202eabc", "\x9b31m", "[bold]x[/bold]", "$(touch x)", "../../x", "x" * 501, [],
    {}, [[]], [{}], ["row", "row"], [1, 2], [2, 1], ["30s", "10s"], {"from": 0, "to": 9, "by": 3},
    {"from": "1 cm", "to": "9 m", "by": "2 cm"}, {"from": 0, "to": 1000, "by": 0.001}, [30, 8],
    "2026-11-25", "left first", "hold", "key", "back", "chest", 1000, 101, "a;b", "a=b",
)  # fmt: skip


def plan_edits(data: bytes) -> None:
    """The plan with every key, with values, keys and lists of it changed; the bytes say which."""
    plan = tomllib.loads(EVERY_KEY.read_text(encoding="utf-8"))
    given = iter(data)
    for _ in range(1 + next(given, 0) % 6):
        _edit(plan, given)
    _plan("".join(f"{json.dumps(key)} = {_toml(value)}\n" for key, value in plan.items()))


def _edit(plan: dict[str, Any], given: Iterator[int]) -> None:
    here: Any = plan
    while True:
        keys: list[Any] = list(here) if isinstance(here, dict) else list(range(len(here)))
        if not keys:
            return
        key = keys[next(given, 0) % len(keys)]
        inner = here[key]
        if not isinstance(inner, dict | list) or not inner or next(given, 0) % 8 == 0:
            break
        here = inner
    act, value = next(given, 0) % 8, deepcopy(_VALUES[next(given, 0) % len(_VALUES)])
    if act == 0:
        del here[key]
    elif act == 1 and isinstance(here, list):
        here.append(deepcopy(inner))
    elif act == 2 and isinstance(here, dict):
        here[f"{key}s"] = here.pop(key)
    elif act == 3 and isinstance(here, dict) and isinstance(value, str):
        here[value] = inner
    else:
        here[key] = value


def _toml(value: Any) -> str:
    """The value as TOML, tables inline; None is a value that TOML does not have."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, float):
        return repr(value)
    return json.dumps(value)


# What people type


def _workout() -> Workout:
    plan = parse_plan(EVERY_KEY.read_text(encoding="utf-8"), "every-key.toml")
    return compile_session(plan, plan.session[0].id)


_EXERCISES = tuple(_workout().exercises.values())


def typed(data: bytes) -> None:
    """An entry, a line of a session, a line from a paper diary."""
    text = data.decode("utf-8", errors="replace")
    for bare in ("reps", "hold"):
        found = read_entry(text, bare)  # type: ignore[arg-type]
        if isinstance(found, Refusal):
            _rows_are_clear([found.reason])
        elif not 1 <= len(found.counts) <= 2:
            raise FoundError(f"an entry of {len(found.counts)} numbers")
    try:
        read_line(text)
    except Refused as refused:
        _rows_are_clear([str(refused)])
    for exercise in _EXERCISES:
        for read in (read_counts, read_level):
            try:
                read(text, exercise)
            except Refused as refused:
                _rows_are_clear([str(refused)])
    try:
        line = read_paper(text, [exercise.id for exercise in _EXERCISES])
    except Refused as refused:
        _rows_are_clear([str(refused)])
        return
    if any(part.kind == "sets" and not part.text.strip() for part in line.parts):
        raise FoundError("sets without a count")


def _typed_seeds() -> list[bytes]:
    texts = (
        "", "12", "12/2", "12 14", "12/2 14/1", "45s", "45.5s/2", "12, 11, -, nocount", "load 12.5",
        "setup height=60 cm a=b", "fix 3 13/1", "rpe 7", "mass 74.5", "note x", "pain left", "go",
        "setup a=" + " " * 200 + ";", "accept 1", "refuse 2",
        "row=light:12kg 12|12 11|11; =slow 9|9", "12; swap band-press=two:1kg 9; pain knee; note a",
    )  # fmt: skip
    return [text.encode() for text in texts]


def line_mode(data: bytes) -> None:
    """A whole session in line mode with these bytes on its input, on a clock of its own."""
    reader, lines = Lines(io.BytesIO(data)), []  # type: ignore[arg-type]
    while (line := reader.next(5.0)) is not None and len(lines) < MOST_LINES:
        lines.append(line)
    with _folder() as folder:
        ran = run(EVERY_KEY, folder, script(*lines, step=3.0))
        if ran.code != 0 or ran.live.driver.state.phase != "closed":
            raise FoundError(f"the session ended with {ran.code}")
        _rows_are_clear(ran.err.splitlines())
        _rows_are_clear([line.replace("\t", " ") for line in ran.out.split("\n")[:-1]])
        (file,) = folder.glob("*.db")
        with Record.open_readonly(file) as record:
            if list(record.rows()) != list(ran.live.rows()):
                raise FoundError("the record has other rows than the session")


def _session_seeds() -> list[bytes]:
    return [
        b"\n\ngo\n\n12\ngo\n\ngo\n\n8 9\ngo\n\n10\ngo\n\ngo\n\n7 7\n\nrpe 7\nadvice\n\n",
        b"\n\ngo\npause\n\nskip\nswap\nharder\neasier\nload 12\nsetup anchor=110 cm\nundo\n",
        b"lighter\nplace\nplanned\n\n\ngo\n\nnocount\nfix 1 13\nlate\nnote x\npain wrist\ndrop\n",
        b"\xff\xfe\x00\x1b[2J\r\n+\n-\nkeep\npacer\nhelp\naccept 1\nrefuse 1\nunwell\nend\n",
    ]


# Tables


def our_csv(data: bytes) -> None:
    """A file of our columns, read, looked at and brought into a record."""
    text = data.decode("utf-8", errors="replace")
    try:
        rows = list(read_csv(io.StringIO(text, newline="")))
        out = io.StringIO(newline="")
        write_csv(rows, out)
        if list(read_csv(io.StringIO(out.getvalue(), newline=""))) != rows:
            raise FoundError("rows written and read again are others")
        _bring_in(rows)
    except MatsideError as fault:
        _rows_are_clear(fault.lines)


def csv_edits(data: bytes) -> None:
    """Rows of ours with fields changed: the first bytes say which, the rest is what to."""
    place, _, text = data.partition(b"\n")
    rows = list(csv.reader(io.StringIO(_exported(), newline="")))
    for number, part in zip(
        place, text.decode("utf-8", errors="replace").split("\n"), strict=False
    ):
        row = rows[1 + number % (len(rows) - 1)]
        row[(number // 2) % len(COLUMNS)] = part
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    our_csv(out.getvalue().encode(errors="replace"))


def coachs_sheet(data: bytes) -> None:
    """A sheet with a column each for date, exercise, set and count."""
    text = data.decode("utf-8", errors="replace")
    exercises = {exercise.id: exercise for exercise in _EXERCISES}
    sheet = Sheet("Hut", exercises, "Ada", datetime.astimezone)
    try:
        _bring_in(read_sheet(text, sheet))
    except MatsideError as fault:
        _rows_are_clear(fault.lines)


def _bring_in(rows: list[SetRow]) -> None:
    if not rows:
        return
    with _folder() as folder:
        path = folder / "record.db"
        with Record.open(path) as record:
            look = importing.preview(record, rows)
        importing.bring_in(path, look, trial=False)
        with Record.open_readonly(path) as record:
            if Counter(record.rows()) != Counter(rows):
                raise FoundError("rows brought in are others")
            if importing.preview(record, rows).new:
                raise FoundError("brought in twice, they are there twice")


def _exported() -> str:
    if not _EXPORT:
        with _folder() as folder:
            ran = run(EVERY_KEY, folder, script(*_session_seeds()[0].decode().split("\n")))
            out = io.StringIO(newline="")
            write_csv(ran.live.rows(), out)
            _EXPORT.append(out.getvalue())
    return _EXPORT[0]


_EXPORT: list[str] = []


def _sheet_seeds() -> list[bytes]:
    return [
        b"date,exercise,set,reps\n2026-11-25,press,1,12\n2026-11-25,row,1,12 14\n",
        b"Date;exercise;set;reps;note;load_kg;reserve;trainee;version\n"
        b"25.11.2026;press;1;12;=1+1;12.5;2;Bo;\n",
        b"date\texercise\tset\treps\n0001-01-01\tpress\t1\t12\n9999-12-31\tpress\t1\t12\n",
    ]


@contextmanager
def _folder() -> Iterator[Path]:
    """A folder for one input, in memory where the system has such a place."""
    memory = Path("/dev/shm")  # noqa: S108 - a folder with a name of its own is made in it
    folder = Path(tempfile.mkdtemp(prefix="matside-fuzz-", dir=memory if memory.is_dir() else None))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


TARGETS: dict[str, Target] = {
    "plan-bytes": Target(plan_bytes, _plan_seeds),
    "plan-edits": Target(plan_edits, lambda: [bytes(range(n, n + 40)) for n in range(0, 200, 40)]),
    "typed": Target(typed, _typed_seeds),
    "line-mode": Target(line_mode, _session_seeds),
    "csv": Target(our_csv, lambda: [_exported().encode()]),
    "csv-edits": Target(csv_edits, lambda: [b"\x01\x02\x03\n2026-11-25T06:30:00+01:00\n12\n=x"]),
    "sheet": Target(coachs_sheet, _sheet_seeds),
}
