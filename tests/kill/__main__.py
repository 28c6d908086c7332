"""`python -m tests.kill`: sessions killed at random instants, and what was lost: nothing."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.kill.line import Outcome, kill_one, kill_one_locked
from tests.kill.terminal import kill_one_screen

Kill = Callable[[int, Path], Outcome]


def main() -> int:
    """Kill sessions, say what was found; 1 where something was lost."""
    parser = argparse.ArgumentParser(prog="python -m tests.kill", description=__doc__)
    parser.add_argument("--line", type=int, default=200, help="sessions in line mode")
    parser.add_argument("--locked", type=int, default=100, help="the same, the record locked")
    parser.add_argument("--terminal", type=int, default=40, help="sessions on a full screen")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--at-once", type=int, default=2, help="so many at the same time")
    args = parser.parse_args()
    lost = 0
    for name, number, kill in (
        ("line mode", args.line, kill_one),
        ("line mode, the record locked now and then", args.locked, kill_one_locked),
        ("full screen", args.terminal, kill_one_screen),
    ):
        begun = time.monotonic()
        outcomes = kill_many(kill, number, args.seed, args.at_once)
        lost += report(name, outcomes, time.monotonic() - begun)
    return 1 if lost else 0


def kill_many(kill: Kill, number: int, seed: int, at_once: int) -> list[Outcome]:
    """So many kills, each in a folder of its own."""

    def one(run: int) -> Outcome:
        with tempfile.TemporaryDirectory() as folder:
            return kill(seed * 10_000 + run, Path(folder))

    with ThreadPoolExecutor(at_once) as pool:
        return list(pool.map(one, range(number)))


def report(name: str, outcomes: list[Outcome], seconds: float) -> int:
    """Print what was found; how many kills left a fault."""
    bad = [(run, outcome) for run, outcome in enumerate(outcomes) if outcome.faults]
    acknowledged = sum(o.acknowledged for o in outcomes)
    on_file = sum(o.on_file for o in outcomes)
    print(
        f"{name}: {len(outcomes)} sessions killed in {seconds:.0f} s, {acknowledged} events "
        f"acknowledged, {on_file} on file, sessions with a fault: {len(bad)}"
    )
    if not acknowledged:
        print("  nothing was acknowledged: this shows nothing")
    for run, outcome in bad:
        for fault in outcome.faults:
            print(f"  run {run}: {fault[:400]}")
    return len(bad) if acknowledged else 1


if __name__ == "__main__":
    sys.exit(main())
