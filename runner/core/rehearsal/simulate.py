"""How long a session may last: gone through many times by the timing law, lengths drawn.

Each run is the law itself, rest by rest, on the lengths of that run. The lengths are drawn
independently of one another: nothing is known of good and bad days that would concern all
sets at once. Warm-up, cool-down and lead-in last as long as the plan says.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import quantiles

from runner.core.course import Slot
from runner.core.memory import Memory, begin_course
from runner.core.outlook import Outlook
from runner.core.rehearsal.lengths import Draw, Past, uncertain
from runner.core.timing import Bout
from runner.core.workout import Workout

_SAME = 1e-6  # seconds; sums of floats that ought to be equal differ by less


@dataclass(frozen=True, slots=True)
class Percentiles:
    """Lengths in seconds under which 10, 50 and 90 in 100 lie."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class Simulation:
    """What came of the runs."""

    totals: tuple[float, ...]  # seconds of each run, from the start of the warm-up to the end
    short: int  # runs in which a muscle got less than its least recovery as a prime mover
    own: int  # bouts whose spread is the person's own
    bouts: int

    @property
    def length(self) -> Percentiles:
        """The percentiles of the session's length."""
        return percentiles(self.totals)


def percentiles(values: Sequence[float]) -> Percentiles:
    """The 10th, 50th and 90th percentile of two values or more, between neighbours by proportion.

    The method called linear by NumPy, inclusive by the statistics module and 7 by Hyndman &
    Fan 1996 (Am Stat 50:361-365; from memory).
    """
    tenths = quantiles(values, n=10, method="inclusive")
    return Percentiles(tenths[0], tenths[4], tenths[8])


def simulate(workout: Workout, memory: Memory, past: Past, runs: int, draw: Draw) -> Simulation:
    """The session so many times, from nothing done.

    `memory` and `past` are what is known of the person; `draw` gives standard normal numbers,
    so many a run as the session has bouts, in the order of the bouts.
    """
    outlook = Outlook(begin_course(workout, memory))
    lengths = uncertain(outlook.bouts(), past)
    totals, short = [], 0
    for _ in range(runs):
        drawn = iter([one.drawn(draw()) for one in lengths])
        end, enough = _run(outlook, workout.warm_up, drawn)
        totals.append(end + workout.cool_down)
        short += not enough
    own = sum(one.spread.own for one in lengths)
    return Simulation(tuple(totals), short, own, len(lengths))


def _run(outlook: Outlook, start: float, lengths: Iterator[float]) -> tuple[float, bool]:
    """When the last bout ends, and whether every prime mover always had its least recovery."""
    end, enough = start, True

    def length(_slot: Slot, _bout: Bout) -> float:
        return next(lengths)

    for ahead in outlook.walk(start, length):
        end = ahead.end
        least = ahead.timed.timing.recovery_least
        if ahead.recovered is not None and ahead.recovered < least - _SAME:
            enough = False
    return end, enough
