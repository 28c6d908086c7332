"""What a fault is here: something done to a session, and what was lost by it."""

from __future__ import annotations

import tempfile
import time
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path


class Skipped(Exception):
    """The fault cannot be made here; says why."""


@dataclass
class Outcome:
    """What became of one run."""

    acknowledged: int = 0  # events that somebody had been told were kept
    lost: list[str] = field(default_factory=list)  # and whatever else was not as it must be
    notes: list[str] = field(default_factory=list)  # how it ended, to be counted


@dataclass(frozen=True)
class Fault:
    """A fault: `run` does it once, by a seed, in an empty folder that it may fill."""

    name: str
    tried: str
    run: Callable[[int, Path], Outcome]
    full: int  # so many runs by the command
    few: int  # by the suite
    alone: bool = False  # it wants no other run beside it


@dataclass
class Found:
    """What became of all runs of a fault."""

    fault: Fault
    outcomes: list[Outcome]
    seconds: float
    skipped: str = ""

    @property
    def lost(self) -> list[str]:
        """All that was lost, run by run."""
        return [f"run {n}: {text}" for n, o in enumerate(self.outcomes) for text in o.lost]

    def line(self) -> str:
        """One line: fault, what was tried, runs, acknowledged events, lost, seconds."""
        head = f"{self.fault.name} ({self.fault.tried})"
        if self.skipped:
            return f"{head}: SKIPPED: {self.skipped}"
        known = sum(o.acknowledged for o in self.outcomes)
        notes = [note for o in self.outcomes for note in o.notes]
        how = ", ".join(f"{notes.count(note)} {note}" for note in sorted(set(notes)))
        return (
            f"{head}: runs {len(self.outcomes)}, acknowledged {known}, lost: {len(self.lost)}, "
            f"{self.seconds:.0f} s" + (f"; {how}" if how else "")
        )


def find(fault: Fault, runs: int, *, seed: int = 1, at_once: int = 2) -> Found:
    """Run a fault so many times, each time in a folder of its own."""

    def one(run: int) -> Outcome:
        with tempfile.TemporaryDirectory(prefix="matside-fault-") as folder:
            try:
                return fault.run(seed * 10_000 + run, Path(folder))
            except Skipped:
                raise
            except Exception:  # noqa: BLE001 - the other runs go on, and this one counts as lost
                return Outcome(lost=[traceback.format_exc()])

    begun = time.monotonic()
    try:
        if fault.alone:
            outcomes = [one(run) for run in range(runs)]
        else:
            with ThreadPoolExecutor(at_once) as pool:
                outcomes = list(pool.map(one, range(runs)))
    except Skipped as skipped:
        return Found(fault, [], time.monotonic() - begun, str(skipped))
    return Found(fault, outcomes, time.monotonic() - begun)
