"""How long a session may last: simulated many times by the timing law, with drawn lengths.

Each run is the law itself, rest by rest, on the lengths of that run. The lengths are drawn
independently of one another: nothing is known of good and bad days that would affect all sets at
once. Warm-up, cool-down and get-ready time last as long as the plan says.

Lengths are lognormal about the expected length, so half are shorter and none is negative. The
spread is the median absolute deviation of the logarithms of the person's last 20 sets of that
exercise, version, tempo and side. What is learnt within a run only shapes its rests.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from math import exp, log, log1p, sqrt
from statistics import median, quantiles

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import RECENT, LengthKey, PlannedSet, RemainingSets, length_key
from runner.law.timing import SAME, Bout
from runner.law.workout import Level, Workout
from runner.planning import forecast
from runner.planning.forecast import Step
from runner.progress.adjust import Baseline, begin_course

# How long a bout may last: what is expected of it, and how widely that is missed.
#
# The middle is the law's expected length: the median of the last three work sets done, else by
# the band. The spread is the person's own, from the last work sets done of that exercise at that
# version and tempo, on that side. It is measured on the logarithm of the lengths, as their median
# absolute deviation times 1.4826: robust, so that one set cut short or chatted through does not
# count; and a ratio, so that nothing it gives is ever less than nothing.
#
# A length is drawn as middle x exp(spread x z), z from the standard normal distribution: half of
# all draws lie under the middle, 8 in 10 between middle x exp(+-1.28 x spread).

ENOUGH = 5  # this many sets show how widely lengths vary; fewer do not; our choice
LATEST = 20  # older sets say little of a person who trains; our choice
VARIATION = 0.2
"""Coefficient of variation where too little is known; our choice.

Sets of 12, 10, 9 and 8 repetitions have 0.18, and the pace varies beside.
"""
MAD_TO_SD = 1.4826
"""1 / the upper quartile of the standard normal distribution, 0.6745: makes the median
absolute deviation of normal values their standard deviation (Rousseeuw & Croux 1993, J Am
Stat Assoc 88:1273-1283; from memory)."""

Past = Mapping[LengthKey, Sequence[float]]
"""Lengths in seconds of the last work sets done, the newest last, at most `LATEST` of each."""
Draw = Callable[[], float]
"""Gives numbers of the standard normal distribution, one after another."""


class Spread(Struct, frozen=True):
    """How widely lengths vary, as the standard deviation of their logarithm."""

    ratio: float
    own: bool  # from the person's own sets; else the default


def default_spread() -> Spread:
    """The spread of a lognormal length whose coefficient of variation is the default."""
    return Spread(sqrt(log1p(VARIATION**2)), own=False)


def spread_of(past: Sequence[float]) -> Spread:
    """The spread of lengths in seconds, the default where there are fewer than five.

    A length of nothing is no length: it is passed over.
    """
    logs = [log(seconds) for seconds in past[-LATEST:] if seconds > 0]
    if len(logs) < ENOUGH:
        return default_spread()
    middle = median(logs)
    return Spread(MAD_TO_SD * median(abs(one - middle) for one in logs), own=True)


class UncertainLength(Struct, frozen=True):
    """The length of a bout to come: its middle in seconds, and its spread."""

    middle: float
    spread: Spread

    def drawn(self, z: float) -> float:
        """The length that a standard normal number stands for, in seconds."""
        return self.middle * exp(self.spread.ratio * z)


def uncertain(bouts: Iterable[tuple[PlannedSet, Bout]], past: Past) -> list[UncertainLength]:
    """The length of each bout. The record has no lengths of ramp sets: they have the default."""
    known = {key: spread_of(lengths) for key, lengths in past.items()}
    default = default_spread()
    return [
        UncertainLength(
            bout.expected,
            known.get(length_key(planned_set, bout.side), default)
            if planned_set.kind == "work"
            else default,
        )
        for planned_set, bout in bouts
    ]


class Percentiles(Struct, frozen=True):
    """Lengths in seconds under which 10, 50 and 90 in 100 lie."""

    p10: float
    p50: float
    p90: float


class Simulation(Struct, frozen=True):
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


def simulate(
    workout: Workout, baseline: Baseline, past: Past, runs: Iterable[int], draw: Draw
) -> Simulation:
    """The session once for each of the numbers `runs`, from nothing done.

    `baseline` and `past` are what is known of the person; `draw` gives standard normal numbers,
    that many a run as the session has bouts, in the order of the bouts.
    """
    remaining = RemainingSets(begin_course(workout, baseline))
    lengths = uncertain(remaining.bouts(), past)
    totals, short = [], 0
    for _ in runs:
        drawn = iter([one.drawn(draw()) for one in lengths])
        end, enough = _run(remaining, workout.warm_up, drawn)
        totals.append(end + workout.cool_down)
        short += not enough
    own = sum(one.spread.own for one in lengths)
    return Simulation(tuple(totals), short, own, len(lengths))


def _run(remaining: RemainingSets, start: float, lengths: Iterator[float]) -> tuple[float, bool]:
    """When the last bout ends, and whether every prime mover always had its least recovery."""
    end, enough = start, True

    def length(_planned_set: PlannedSet, _bout: Bout) -> float:
        return next(lengths)

    for coming in remaining.walk(start, length):
        end = coming.end
        least = coming.timed.timing.recovery_least
        if coming.recovered is not None and coming.recovered < least - SAME:
            enough = False
    return end, enough


# What is known of a person, with other repetitions or without their pace; figures to compare.
#
# Other settings, paces and numbers of sets are a matter of the plan; see `runner.plan.edit`.


def with_reps(workout: Workout, baseline: Baseline, reps: int) -> Baseline:
    """What is known, as if the last three sets of each exercise had had that many repetitions.

    In place of the record's lengths and of the band's middle, at the seconds a repetition of
    each version. Holds and ramp sets stay as they are.
    """
    lengths = dict(baseline.lengths)
    for level, key in _counted(workout):
        lengths[key] = (reps * level.seconds_a_rep,) * RECENT
    return replace(baseline, lengths=lengths)


def without_own_pace(workout: Workout, baseline: Baseline) -> Baseline:
    """What is known, without the lengths of sets whose pace is the person's own.

    That are repetitions at versions without a tempo; what is expected of them is by the band.
    """
    own = {key for level, key in _counted(workout) if level.tempo is None}
    return replace(baseline, lengths={k: v for k, v in baseline.lengths.items() if k not in own})


def _counted(workout: Workout) -> Iterator[tuple[Level, LengthKey]]:
    """Every level of the exercises counted in repetitions, with where its lengths are kept."""
    for exercise in workout.exercises.values():
        for level in exercise.progression:
            here = exercise.at(level.version)
            for side in here.side_order if here.measure == "reps" else ():
                yield level, (exercise.id, level.version, level.tempo or "", side)


class Figures(Struct, frozen=True):
    """A session in a few numbers; times in seconds, shares as fractions of the length."""

    length: Percentiles
    total: float  # sets as long as expected
    straight: float  # the same as straight sets
    work: float
    rest: float
    least_recovery: float | None  # of any prime mover; None where none works twice
    sets: int  # work sets; left and right are one
    short: int  # runs in which a muscle had less than its least recovery


def figures(workout: Workout, baseline: Baseline, simulation: Simulation) -> Figures:
    """The numbers of a session, from its rehearsal and its simulation."""
    steps = forecast.session_steps(workout, baseline)
    total = forecast.total(steps)
    recovered = [step.recovered for step in steps if step.recovered is not None]
    return Figures(
        simulation.length,
        total,
        forecast.total(forecast.session_steps(forecast.straight(workout), baseline)),
        _share(steps, "set", total),
        _share(steps, "rest", total),
        min(recovered, default=None),
        len(
            {
                step.index
                for step in steps
                if step.planned_set is not None and step.planned_set.kind == "work"
            }
        ),
        simulation.short,
    )


def _share(steps: Sequence[Step], kind: str, total: float) -> float:
    return sum(step.seconds for step in steps if step.kind == kind) / total if total > 0 else 0.0
