"""What each muscle does during a session, by the law: it works, helps, recovers or is ready."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Final, Literal

from msgspec import Struct

from runner.law.muscles import MUSCLES
from runner.law.timing import LONG_AGO, Bout, Ledger, Site, TimedSet
from runner.law.workout import Side, Timing
from runner.planning.forecast import Step, total

State = Literal["work", "help", "recovery", "ready"]
# Where a muscle's two sides differ, the state that stands first here is the muscle's.
STATES: Final[tuple[State, ...]] = ("work", "help", "recovery", "ready")


class TimelineSpan(Struct, frozen=True):
    """A time in one state, in session seconds."""

    state: State
    start: float
    end: float


class MuscleTimeline(Struct, frozen=True):
    """One muscle from 0 to the session's end: stretches without gaps, neighbours differ."""

    muscle: str
    spans: tuple[TimelineSpan, ...]

    @property
    def prime(self) -> bool:
        """Whether the muscle is a prime mover anywhere in the session."""
        return any(span.state == "work" for span in self.spans)


class _Load(Struct, frozen=True):
    """One bout's load on one site."""

    state: Literal["work", "help"]
    index: int | None  # the planned set: the two sides of a set share it
    start: float
    end: float
    timing: Timing


def bout_of(timed: TimedSet, side: Side | None) -> Bout:
    """What one side of a set loads."""
    return next(bout for bout in timed.bouts if bout.side == side)


def recoveries(steps: Iterable[Step]) -> list[tuple[Step, dict[Site, float]]]:
    """Each bout with the seconds its prime movers have had since their last prime work.

    Sites that have not been prime movers before are left out.
    """
    ledger = Ledger()
    found = []
    for step in steps:
        if step.timed is None:
            continue
        bout = bout_of(step.timed, step.side)
        had = {p: step.start - ledger.prime[p] for p in bout.prime if p in ledger.prime}
        found.append((step, dict(sorted(had.items()))))
        ledger = ledger.after(bout, step.end)
    return found


def muscle_timelines(steps: Sequence[Step]) -> list[MuscleTimeline]:
    """A timeline for each muscle that the session loads: prime movers first, in order of `MUSCLES`.

    A muscle recovers from the end of a bout until the law lets it work again in its next role (T
    after the same role as prime mover, A across roles); after its last bout as if that came once
    more. Then it is ready. The two sides of one set need no recovery from each other. Of a muscle's
    two sides the one that works, else helps, else recovers, counts.
    """
    by_site: dict[Site, list[_Load]] = {}
    for step in steps:
        if step.timed is None:
            continue
        bout = bout_of(step.timed, step.side)
        for site in bout.prime | bout.synergist:
            state: Literal["work", "help"] = "work" if site in bout.prime else "help"
            load = _Load(state, step.index, step.start, step.end, step.timed.timing)
            by_site.setdefault(site, []).append(load)
    end = total(list(steps))
    loaded = sorted({muscle for muscle, _ in by_site})
    in_order = [m for m in MUSCLES if m in loaded] + [m for m in loaded if m not in MUSCLES]
    found = [
        MuscleTimeline(
            muscle,
            _together([list(_of_site(by_site[p], end)) for p in by_site if p[0] == muscle]),
        )
        for muscle in in_order
    ]
    return sorted(found, key=lambda timeline: not timeline.prime)


def _of_site(loads: Sequence[_Load], end: float) -> Iterator[TimelineSpan]:
    """One side of a muscle from 0 to `end`; stretches of length 0 are left out."""
    now = 0.0
    for number, load in enumerate(loads):
        yield from _between(now, load.start, _due(loads[:number], load))
        yield TimelineSpan(load.state, load.start, load.end)
        now = load.end
    last = loads[-1]
    again = _Load(last.state, None, end, end, last.timing)
    yield from _between(now, end, _due(loads, again))


def _between(start: float, end: float, due: float) -> Iterator[TimelineSpan]:
    ready = min(max(start, due), end)
    if ready > start:
        yield TimelineSpan("recovery", start, ready)
    if end > ready:
        yield TimelineSpan("ready", ready, end)


def _due(before: Sequence[_Load], coming: _Load) -> float:
    """When a site has had what the coming load asks for; minus infinity where nothing does."""
    due = LONG_AGO
    for load in before:
        if load.index == coming.index:
            continue
        if load.state == coming.state == "work":
            due = max(due, load.end + coming.timing.recovery)
        elif load.state != coming.state:
            due = max(due, load.end + coming.timing.recovery_cross)
    return due


def _together(sides: Sequence[Sequence[TimelineSpan]]) -> tuple[TimelineSpan, ...]:
    """The sides of a muscle as one: at every instant the state that stands first in `STATES`."""
    cuts = sorted({edge for side in sides for s in side for edge in (s.start, s.end)})
    found: list[TimelineSpan] = []
    for start, end in pairwise(cuts):
        middle = (start + end) / 2
        states = {s.state for side in sides for s in side if s.start <= middle < s.end}
        state = next(state for state in STATES if state in states)
        if found and found[-1].state == state:
            found[-1] = TimelineSpan(state, found[-1].start, end)
        else:
            found.append(TimelineSpan(state, start, end))
    return tuple(found)
