"""Runs of sessions at what is held, and what the rules of advice see in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from runner.core.progress.breaks import SHORT
from runner.core.progress.equivalent import SetCount, counts_of, mean
from runner.core.progress.history import PastSession, Use

MOST_OF_IT: Final = 0.8  # of the ceiling, that the sets reach on average; our choice
OVER_GOAL: Final = 2  # repetitions: the 2-for-2 rule of Baechle and Earle
RUNNING: Final = 2  # sessions
FLAT_SESSIONS, FLAT_DAYS, FLAT_WITHIN = 6, 21, 0.05  # our choice


@dataclass(frozen=True, slots=True)
class Judged:
    """A session as the rules see it: the counts of its sets at what is held, one or more."""

    session: PastSession
    counts: tuple[SetCount, ...]

    @property
    def first(self) -> float:
        """Equivalent repetitions (or seconds) of the first set."""
        return self.counts[0].value

    @property
    def last(self) -> float:
        """Of the last set."""
        return self.counts[-1].value

    @property
    def mean(self) -> float:
        """Of all sets."""
        return mean(self.counts)

    @property
    def trusted(self) -> Judged:
        """The same without the reserves that are worth little: those sets as they were done."""
        return Judged(self.session, tuple(c.trusted for c in self.counts))


def run_of(past: Sequence[PastSession], use: Use, usual_aim: int) -> list[Judged]:
    """The run of sessions at `use` that ends with the last of `past`, the oldest first.

    Passed over are sessions for placing, those that held back, and those in which nothing of it
    can be judged. The run ends at pain, at another version, set-up, load or tempo, and at a gap
    of over 14 days between any two sessions in which something was counted.
    """
    run: list[Judged] = []
    later: date | None = None
    for session in reversed(past):
        if session.pain:
            break
        if not session.counted:
            continue
        if later is not None and (later - session.on).days > SHORT:
            break
        later = session.on
        if session.placing or session.held_back:
            continue
        if all(s.use != use for s in session.counted):
            break
        counts = counts_of(session, usual_aim, use)
        if counts:
            run.append(Judged(session, counts))
    return run[::-1]


def at_the_top(judged: Judged, ceiling: float) -> bool:
    """The first set at the ceiling or over it, and all on average at 80 % of it."""
    return judged.first >= ceiling and judged.mean >= MOST_OF_IT * ceiling


def two_for_two(last_sets: Sequence[float], goal: float) -> bool:
    """Two or more repetitions over the goal in the last set of two sessions running.

    `last_sets` are the equivalent repetitions of the last sets, session by session.
    """
    latest = last_sets[-RUNNING:]
    return len(latest) == RUNNING and min(latest) >= goal + OVER_GOAL


def under_the_floor(run: Sequence[Judged], floor: float) -> bool:
    """The first set under the floor in both of the last two sessions."""
    latest = run[-RUNNING:]
    return len(latest) == RUNNING and all(j.first < floor for j in latest)


def dropped(judged: Judged) -> bool:
    """The last set under half of the first; never of a first set of 0, nor of a single set."""
    return len(judged.counts) > 1 and judged.last < judged.first / 2


def flat(run: Sequence[Judged]) -> list[Judged]:
    """The latest sessions if they are flat: six or more over three weeks, within 5 % of the mean.

    By the mean of the sets, so that sessions of three and four sets compare. Who rises slowly
    inside those 5 % is not flat (our choice). Empty where they are not flat.
    """
    for start in range(len(run) - FLAT_SESSIONS, -1, -1):
        window = list(run[start:])
        if (window[-1].session.on - window[0].session.on).days >= FLAT_DAYS:
            middle = sum(j.mean for j in window) / len(window)
            near = all(abs(j.mean - middle) <= FLAT_WITHIN * middle for j in window)
            return window if near and middle > 0 and not _rising(window) else []
    return []


def _rising(window: Sequence[Judged]) -> bool:
    """Whether the later half is over the earlier by more than half the band: slow, and not flat."""
    half = len(window) // 2
    early, late = (sum(j.mean for j in part) / half for part in (window[:half], window[-half:]))
    return late > early * (1 + FLAT_WITHIN / 2)


def last_there(past: Sequence[PastSession], use: Use, usual_aim: int) -> tuple[float, date] | None:
    """The first set of the last session at `use`, in equivalent repetitions, and its date."""
    for session in reversed(past):
        counts = counts_of(session, usual_aim, use)
        if counts and not session.pain:
            return counts[0].value, session.on
    return None
