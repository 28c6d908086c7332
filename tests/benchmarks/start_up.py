"""How long commands take that a person expects at once, over a bare Python."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Callable

from tests.benchmarks.aids.terminal import ROOT
from tests.benchmarks.frame import Row, above, in_turn, wall

TIMES = 15


def rows(*, quick: bool = False) -> list[Row]:
    """Each command and the bare interpreter in turn."""
    with tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder:
        begun = [
            _starting("-c", "pass"),
            _starting("-m", "runner", "export", "--data", folder),
            _starting("-m", "runner", "--help"),
            _starting("-m", "runner", "check", "demo", "--data", folder),
        ]
        times, warm_up = (1, 0) if quick else (TIMES, 2)
        bare, *others = (1e3 * s for s in in_turn(begun, times=times, warm_up=warm_up))
    aims = {"matside export": 80.0, "matside --help": 60.0, "matside check demo": 250.0}
    return [
        above(f"{name}, over python -c pass", value, bare, "ms", aim)
        for (name, aim), value in zip(aims.items(), others, strict=True)
    ]


def _starting(*arguments: str) -> Callable[[], float]:
    def run() -> None:
        subprocess.run(
            [sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, cwd=ROOT
        )

    return wall(run)
