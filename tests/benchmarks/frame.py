"""What every benchmark has: a row of its table, times by the median, the machine they hold for."""

from __future__ import annotations

import gc
import os
import platform
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import metadata
from math import inf
from statistics import median
from typing import NamedTuple

from runner import __version__


@dataclass(frozen=True)
class Row:
    """One figure. With an aim, `met` says whether it is reached; nothing hangs on it.

    `baseline` is in the same unit and from the same run; `beside` says how the two compare.
    """

    what: str
    value: float
    unit: str
    aim: str = ""
    met: bool | None = None
    baseline: float | None = None
    beside: str = ""


def at_most(what: str, value: float, unit: str, aim: float) -> Row:
    """A figure that aims at `aim` or less."""
    return Row(what, value, unit, f"at most {aim:g} {unit}".rstrip(), value <= aim)


def ratio(what: str, value: float, baseline: float, unit: str, aim: float) -> Row:
    """A figure that aims at `aim` times its baseline or less."""
    times = value / baseline if baseline else inf
    return Row(what, value, unit, f"at most {aim:g} x", times <= aim, baseline, f"{times:.2f} x")


def above(what: str, value: float, baseline: float, unit: str, aim: float) -> Row:
    """A figure that aims at its baseline and `aim` more, or less."""
    more = value - baseline
    said = f"{more:+.3g} {unit}"
    return Row(what, value, unit, f"at most {aim:+g} {unit}", more <= aim, baseline, said)


def in_turn(works: Sequence[Callable[[], float]], *, times: int, warm_up: int = 1) -> list[float]:
    """The median of what each gives, by rounds in which each has its turn.

    So whatever else is at work on the machine falls on all of them alike. The first rounds do
    not count.
    """
    found: list[list[float]] = [[] for _ in works]
    for number in range(warm_up + times):
        for values, work in zip(found, works, strict=True):
            value = work()
            if number >= warm_up:
                values.append(value)
    return [median(values) for values in found]


def wall(work: Callable[[], object]) -> Callable[[], float]:
    """The same work, giving the seconds that it takes."""

    def timed() -> float:
        begun = time.perf_counter()
        work()
        return time.perf_counter() - begun

    return timed


class Times(NamedTuple):
    """Seconds of one call: what a person waits, and what this process itself computes."""

    wall: float
    processor: float


def times_of(work: Callable[[], object], *, times: int = 5, warm_up: int = 1) -> Times:
    """The medians of so many calls, after calls that do not count.

    Processor time is near the wall time on a machine at rest, and grows less with what else
    it does. Rubbish is collected before each call and not within.
    """
    for _ in range(warm_up):
        work()
    taken = []
    for _ in range(times):
        gc.collect()
        gc.disable()
        try:
            begun, spent = time.perf_counter(), time.process_time()
            work()
            taken.append((time.perf_counter() - begun, time.process_time() - spent))
        finally:
            gc.enable()
    walls, processors = zip(*taken, strict=True)
    return Times(median(walls), median(processors))


def seconds(work: Callable[[], object], *, times: int = 5, warm_up: int = 1) -> float:
    """The median wall time alone."""
    return times_of(work, times=times, warm_up=warm_up).wall


def machine() -> list[str]:
    """Where the figures come from: processor, system, versions."""
    used = ("textual", "pydantic", "numpy", "pandas")
    found = []
    for name in used:
        try:
            found.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            found.append(f"{name} none")
    cores = os.cpu_count()
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return [
        f"{_processor()}, {cores} cores{load}; {platform.system()} {platform.release()}",
        f"matside {__version__}, Python {platform.python_version()}, {', '.join(found)}",
    ]


def _processor() -> str:
    """The processor's name where the system tells it."""
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as file:  # noqa: PTH123 - no path of ours
            names = [line.partition(":")[2].strip() for line in file if "model name" in line]
    except OSError:
        names = []
    return names[0] if names else platform.processor() or platform.machine()


HEAD = ("benchmark", "figure", "value", "baseline", "compared", "aim", "")


def cells(rows: Sequence[tuple[str, Row]]) -> list[tuple[str, ...]]:
    """The table's fields, its head first."""
    found: list[tuple[str, ...]] = [HEAD]
    for name, row in rows:
        met = "" if row.met is None else "met" if row.met else "not met"
        baseline = "" if row.baseline is None else f"{row.baseline:.3g} {row.unit}".rstrip()
        value = f"{row.value:.3g} {row.unit}".rstrip()
        found.append((name, row.what, value, baseline, row.beside, row.aim, met))
    return found


def table(rows: Sequence[tuple[str, Row]]) -> list[str]:
    """The rows as lines; the first of each names the benchmark."""
    found = cells(rows)
    widths = [max(map(len, column)) for column in zip(*found, strict=True)]
    return [
        "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in found
    ]


def markdown(rows: Sequence[tuple[str, Row]]) -> list[str]:
    """The rows as a table of Markdown."""
    head, *others = ([field.replace("|", "\\|") for field in row] for row in cells(rows))
    lines = [head, ["---"] * len(head), *others]
    return ["| " + " | ".join(line) + " |" for line in lines]
