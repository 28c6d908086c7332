"""How long commands take that a person expects at once, over a bare Python."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable

from tests.benchmarks.aids.terminal import ROOT
from tests.benchmarks.frame import Row, above, in_turn

TIMES = 11
AIMS = {"matside export": 80.0, "matside --help": 60.0, "matside check demo": 250.0}


def rows(*, quick: bool = False) -> list[Row]:
    """Each command and the bare interpreter in turn: what is waited for, what is computed."""
    with tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder:
        commands = [
            ("-c", "pass"),
            ("-m", "runner", "export", "--data", folder),
            ("-m", "runner", "--help"),
            ("-m", "runner", "check", "demo", "--data", folder),
        ]
        works = [_starting(command, of) for of in (0, 1) for command in commands]
        found = [1e3 * s for s in in_turn(works, times=1 if quick else TIMES, warm_up=not quick)]
    return [
        above(f"{name}: {what}, over python -c pass", value, part[0], "ms", aim)
        for what, part in (("wall", found[:4]), ("processor", found[4:]))
        for (name, aim), value in zip(AIMS.items(), part[1:], strict=True)
    ]


def _starting(command: tuple[str, ...], of: int) -> Callable[[], float]:
    """Seconds of one run: by the wall (0) or of the processor (1)."""

    def run() -> float:
        spent, begun = _children(), time.perf_counter()
        subprocess.run([sys.executable, *command], check=True, stdout=subprocess.DEVNULL, cwd=ROOT)
        return (time.perf_counter() - begun, _children() - spent)[of]

    return run


def _children() -> float:
    """Seconds of processor that ended programs of ours have taken."""
    times = os.times()
    return times.children_user + times.children_system
