"""`python -m tests.fuzz [TARGET ...] [--seconds 600]`: fuzz, and print what came of it.

The seconds are shared out among the targets. By atheris where it is installed, else by a small
coverage-guided loop of our own. Exit code 1 where something was found.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.util
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

UNDER_WAY = "under-way"  # the file with the input that is being run
NAMES = ("plan-bytes", "plan-edits", "typed", "line-mode", "csv", "csv-edits", "sheet")
PATIENCE = 90.0  # seconds for the start and for the last input
ROOT = Path(__file__).parents[2]


def engine() -> str:
    """The fuzzer that there is."""
    return "atheris" if importlib.util.find_spec("atheris") else "own"


def main() -> int:
    """Fuzz each target in turn."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("targets", metavar="TARGET", nargs="*", help=", ".join(NAMES))
    parser.add_argument("--seconds", type=float, default=600.0, help="in all")
    parser.add_argument("--engine", choices=("atheris", "own"), default=engine())
    parser.add_argument("--keep", type=Path, help="where findings and inputs stay")
    args = parser.parse_args()
    wanted = args.targets or list(NAMES)
    unknown = [name for name in wanted if name not in NAMES]
    if unknown:
        parser.error(f"no target {unknown[0]}; there are {', '.join(NAMES)}")
    keep = args.keep or Path(tempfile.mkdtemp(prefix="matside-fuzz-"))
    print(f"by {args.engine}, {args.seconds:g} s in all; what is found is kept in {keep}")
    print(f"{'target':<12}{'runs':>10}{'seconds':>9}{'slowest':>10}  findings", flush=True)
    found = 0
    for name in wanted:
        figures = fuzz(name, keep / name, args.seconds / len(wanted), args.engine)
        print(line(name, figures), flush=True)
        for place, text in figures["found"].items():
            print(f"    {place}: {text!r}")
        found += len(figures["found"])
    print(f"{found} found" if found else "nothing found")
    if not found and args.keep is None:
        shutil.rmtree(keep)
    return 1 if found else 0


def fuzz(name: str, folder: Path, seconds: float, by: str) -> dict[str, Any]:
    """The figures of one target."""
    folder.mkdir(parents=True)
    command = [sys.executable, "-m", "tests.fuzz.child", name, str(folder)]
    with (folder / "said.txt").open("w+", encoding="utf-8", errors="replace") as said:
        try:
            code: int | str = subprocess.run(
                [*command, "--seconds", str(seconds), "--engine", by],
                cwd=ROOT,
                stdout=said,
                stderr=said,
                check=False,
                timeout=seconds + PATIENCE,
            ).returncode
        except subprocess.TimeoutExpired:
            code = "an input that does not end"
        said.seek(0)
        last = (said.read().strip() or "nothing said").splitlines()[-1]
    file = folder / "figures.json"
    figures: dict[str, Any] = {"runs": 0, "seconds": 0.0, "slowest": 0.0, "found": {}}
    if file.exists():
        figures = json.loads(file.read_text(encoding="utf-8"))
    if code != 0 or not figures["runs"]:
        figures["found"][f"ended with {code}"] = last
        with contextlib.suppress(FileNotFoundError):
            (folder / UNDER_WAY).rename(folder / "ended.input")
    return figures


def line(name: str, figures: dict[str, Any]) -> str:
    """A row of the table."""
    counts = f"{figures['runs']:>10}{figures['seconds']:>9.1f}{figures['slowest']:>8.2f} s"
    return f"{name:<12}{counts}  {len(figures['found'])}"


if __name__ == "__main__":
    sys.exit(main())
