"""Sessions running: those in a row at a working level, and what the rules of advice see in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise
from typing import Final

from msgspec import Struct

from runner.progress.history import PastSession, Use
from runner.progress.reps import SetCount, counts_of, mean

MOST_OF_IT: Final = 0.8  # of the ceiling, that the sets reach on average; our choice
OVER_GOAL: Final = 2  # repetitions: the 2-for-2 rule of Baechle and Earle
RUNNING: Final = 2  # sessions
FLAT_SESSIONS, FLAT_DAYS, FLAT_WITHIN = 6, 21, 0.05  # our choice
EFFORT_SESSIONS, EARLY = 3, 2  # our choice
FALL_SESSIONS, FALL = 4, 0.2  # this many running, the last one so much under the first: our choice


class JudgedSession(Struct, frozen=True):
    """A session as the rules see it: the counts of its sets at the working level, one or more.

    Sets that began before their muscle had its least recovery are not among them.
    """

    session: PastSession
    counts: tuple[SetCount, ...]
    begins: int = 1  # the number of its first set

    @property
    def first(self) -> float:
        """Repetitions (or seconds) done in the first set."""
        return self.counts[0].plain

    @property
    def last(self) -> float:
        """Done in the last set."""
        return self.counts[-1].plain

    @property
    def set_numbers(self) -> frozenset[int]:
        """Which of its sets are judged: the first is 0."""
        return frozenset(c.number - self.begins for c in self.counts)

    def mean_of(self, set_numbers: frozenset[int]) -> float:
        """Done on average in some of its sets."""
        return mean(tuple(c for c in self.counts if c.number - self.begins in set_numbers))

    @property
    def least(self) -> float:
        """Done in the set with the fewest."""
        return min(c.plain for c in self.counts)

    @property
    def mean_with_reserve(self) -> float:
        """On average over all sets, the reserve credited as the top of the range does."""
        return sum(c.value for c in self.counts) / len(self.counts)

    @property
    def complete(self) -> bool:
        """Whether every work set has a count at this level; those not judged are passed over."""
        passed = {s.number for s in self.session.counted if s.recovery_short}
        work = {s.number for s in self.session.sets if s.kind == "work"}
        return work - passed == {c.number for c in self.counts}


def judged(session: PastSession, use: Use, usual_aim: int | None) -> JudgedSession | None:
    """A session as the rules see it; None where its first set is not judged, or nothing is.

    A set is not judged where a muscle, on either side, had less than its least recovery.
    """
    key = ("judged", usual_aim, use)
    if key not in session.known:
        session.known[key] = _judged(session, use, usual_aim)
    found: JudgedSession | None = session.known[key]
    return found


def _judged(session: PastSession, use: Use, usual_aim: int | None) -> JudgedSession | None:
    counts = counts_of(session, usual_aim, use)
    short = {s.number for s in session.counted if s.recovery_short}
    if not counts or counts[0].number in short:
        return None
    fair = tuple(c for c in counts if c.number not in short)
    return JudgedSession(session, fair, counts[0].number)


def run_of(
    past: Sequence[PastSession], use: Use, usual_aim: int, since: date | None = None
) -> list[JudgedSession]:
    """The run of sessions at `use` that ends with the last of `past`, the oldest first.

    Passed over are sessions of level finding, deloads, and those in which nothing of it can be
    judged; of several on one date the last counts. The run ends at pain, at another
    version, set-up, load or tempo, and at a layoff: `since` is the first day after the last one.
    """
    run: list[JudgedSession] = []
    for session in reversed(past):
        if session.pain or (since is not None and session.on < since):
            break
        if not session.counted or session.level_finding or session.deload:
            continue
        if all(s.use != use for s in session.counted):
            break
        found = judged(session, use, usual_aim)
        if found is not None and (not run or run[-1].session.on != session.on):
            run.append(found)
    return run[::-1]


def two_running(run: Sequence[JudgedSession]) -> Iterator[tuple[JudgedSession, JudgedSession]]:
    """The last two that did the exercise, and the last two of the last one's session of the plan.

    Nothing where there are no two.
    """
    if len(run) < RUNNING:
        return
    yield run[-2], run[-1]
    last = run[-1].session
    alike = [j for j in run if (j.session.plan, j.session.session) == (last.plan, last.session)]
    if len(alike) >= RUNNING and alike[-2] is not run[-2]:
        yield alike[-2], alike[-1]


def at_the_top(judged: JudgedSession, top: float) -> bool:
    """The first set at the top or over it, and all sets on average at 80 % of it."""
    most = MOST_OF_IT * top
    return judged.counts[0].value >= top and judged.mean_with_reserve >= most


def under_the_bottom(run: Sequence[JudgedSession], bottom: float) -> bool:
    """The first set under the bottom in two sessions running."""
    return any(max(one.first, other.first) < bottom for one, other in two_running(run))


def dropped(judged: JudgedSession) -> bool:
    """The last set under half of the first; never of a first set of 0, nor of a single set."""
    return len(judged.counts) > 1 and judged.last < judged.first / 2


def flat(run: Sequence[JudgedSession]) -> list[JudgedSession]:
    """The latest sessions if they are flat: six or more over three weeks, within 5 % of the mean.

    By the mean of the sets that all of them have. Who rises slowly
    inside those 5 % is not flat (our choice). Empty where they are not flat.
    """
    for start in range(len(run) - FLAT_SESSIONS, -1, -1):
        window = list(run[start:])
        if (window[-1].session.on - window[0].session.on).days >= FLAT_DAYS:
            means = means_of(window)
            middle = mean_of(means)
            near = all(abs(one - middle) <= FLAT_WITHIN * middle for one in means)
            return window if near and middle > 0 and not _rising(means) else []
    return []


def means_of(window: Sequence[JudgedSession]) -> list[float]:
    """The mean of each session, over the sets that are judged in all of them."""
    common = frozenset[int].intersection(*(j.set_numbers for j in window))
    return [j.mean_of(common) for j in window]


def mean_of(numbers: Sequence[float]) -> float:
    """The mean; 0 of none."""
    return sum(numbers) / len(numbers) if numbers else 0.0


def _rising(means: Sequence[float]) -> bool:
    """Whether the later half is over the earlier by more than half the band: slow, and not flat."""
    half = len(means) // 2
    early, late = (mean_of(part) for part in (means[:half], means[-half:]))
    return late > early * (1 + FLAT_WITHIN / 2)


def effort(run: Sequence[JudgedSession]) -> tuple[float, float] | None:
    """The reserve stated and the one aimed at, both on average over the last three sessions.

    None for holds, and where one of the three has no reserve stated.
    """
    last = run[-EFFORT_SESSIONS:]
    stated = [
        [s for s in j.session.counted if s.reserve is not None]
        for j in last
        if j.session.measure == "reps"
    ]
    if len(stated) < EFFORT_SESSIONS or not all(stated):
        return None
    sets = [s for of in stated for s in of]
    return mean_of([float(s.reserve or 0) for s in sets]), mean_of([s.reserve_aimed for s in sets])


def too_early(run: Sequence[JudgedSession]) -> bool:
    """Whether sets end two repetitions or more before they should, by the reserves stated."""
    found = effort(run)
    return found is not None and found[0] >= found[1] + EARLY


def too_late(run: Sequence[JudgedSession]) -> bool:
    """Whether every set goes to the limit although the aim leaves repetitions in reserve."""
    found = effort(run)
    return found is not None and found[0] == 0 < found[1]


def falling(run: Sequence[JudgedSession]) -> list[JudgedSession]:
    """The last four sessions if they fall; else nothing.

    None has its first set above the one before, and the fourth lies a fifth under the first.
    """
    last = list(run[-FALL_SESSIONS:])
    firsts = [j.first for j in last]
    down = all(new <= old for old, new in pairwise(firsts))
    far = len(last) == FALL_SESSIONS and firsts[-1] <= firsts[0] * (1 - FALL)
    return last if down and far and firsts[0] > 0 else []


def last_there(past: Sequence[PastSession], use: Use, usual_aim: int) -> tuple[float, date] | None:
    """What the first set of the last session at `use` did, and its date."""
    for session in reversed(past):
        counts = counts_of(session, usual_aim, use)
        if counts and not session.pain:
            return counts[0].plain, session.on
    return None
