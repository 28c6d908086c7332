"""`matside export` of very many sets beside `sqlite3 -csv` of the same rows, and its memory."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from runner.record.rows import ROW_COLUMNS
from tests.benchmarks.aids.many_sets import data_of
from tests.benchmarks.aids.terminal import ROOT, has_proc
from tests.benchmarks.frame import Row, in_turn, ratio, wall

MANY, FEW = 1_000_000, 100_000
TIMES = 2
QUERY = f"""SELECT {ROW_COLUMNS} FROM set_row r CROSS JOIN session s ON s.key = r.session
    WHERE r.status <> 'running' ORDER BY r.place, r.session, r.entry"""
# The command as it is; the peak of its memory (VmHWM of proc(5), in kB) stands on stderr.
PEAK = """\
import sys
from runner.cli.main import main
code = main(sys.argv[1:])
with open("/proc/self/status") as file:
    print(next(line for line in file if line.startswith("VmHWM")).split()[1], file=sys.stderr)
sys.exit(code)
"""


def rows(*, quick: bool = False) -> list[Row]:
    """Whole commands, from start to end; what they write is thrown away."""
    many, few = (data_of(size) for size in ((400, 200) if quick else (MANY, FEW)))
    found = []
    if has_proc():  # first, for it warms up as well
        large, small = _peak_mib(many), _peak_mib(few)
    if shutil.which("sqlite3"):
        times = 1 if quick else TIMES
        works = (wall(lambda: _export(many)), wall(lambda: _sqlite(many)))
        ours, theirs = in_turn(works, times=times, warm_up=0)
        found.append(ratio("export, over sqlite3 -csv", ours, theirs, "s", 6))
    if has_proc():
        # Constant but for what the allocator does: a tenth is our choice.
        found.append(
            ratio("peak memory of an export, over a tenth of the sets", large, small, "MiB", 1.1)
        )
    return found


def _export(data: Path) -> None:
    _run(sys.executable, "-m", "runner", "export", "--data", str(data))


def _sqlite(data: Path) -> None:
    _run("sqlite3", "-readonly", "-csv", "-header", str(data / "record.db"), QUERY)


def _run(*command: str) -> None:
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT)


def _peak_mib(data: Path) -> float:
    done = subprocess.run(
        [sys.executable, "-c", PEAK, "export", "--data", str(data)],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    return int(done.stderr) / 1024
