"""How long a bout may last: what is expected of it, and how widely that is missed.

The middle is the law's expected length: the median of the last three work sets done, else by
the band. The spread is the person's own, from the last work sets done of that exercise at
that version and tempo, on that side. It is measured on the logarithm of the lengths, as their
median absolute deviation times 1.4826: robust, so that one set cut short or chatted through
does not count; and a ratio, so that nothing it gives is ever less than nothing.

A length is drawn as middle x exp(spread x z), z from the standard normal distribution: half of
all draws lie under the middle, 8 in 10 between middle x exp(+-1.28 x spread).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, log1p, sqrt
from statistics import median

from runner.core.course import LengthKey, Slot, length_key
from runner.core.timing import Bout

ENOUGH = 5  # so many sets show how widely lengths vary; fewer do not; our choice
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


@dataclass(frozen=True, slots=True)
class Spread:
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


@dataclass(frozen=True, slots=True)
class Uncertain:
    """The length of a bout to come: its middle in seconds, and its spread."""

    middle: float
    spread: Spread

    def drawn(self, z: float) -> float:
        """The length that a standard normal number stands for, in seconds."""
        return self.middle * exp(self.spread.ratio * z)


def uncertain(bouts: Iterable[tuple[Slot, Bout]], past: Past) -> list[Uncertain]:
    """The length of each bout. The record has no lengths of ramp sets: they have the default."""
    known = {key: spread_of(lengths) for key, lengths in past.items()}
    default = default_spread()
    return [
        Uncertain(
            bout.expected,
            known.get(length_key(slot, bout.side), default) if slot.kind == "work" else default,
        )
        for slot, bout in bouts
    ]
