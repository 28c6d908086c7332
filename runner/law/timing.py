"""The timing law: how long to rest before a set.

Pure: no clock; `now` and every end are arguments, in seconds on one time line of the
caller's choice. Nothing is rounded. The live session, the rehearsal and the time left all
come here.

The words of the law. A *set* is one bout of an exercise or, one-sided, a bout for each
side. A *block* holds exercises done in turn; *round* r of it holds each exercise that has
an r-th set. A *changeover* is the rest between sets of different exercises of a block.
*Recovery* runs from the end of a muscle's bout as a prime mover to the start of its next as
a prime mover. T is the recovery aimed at, L the least, A the one across roles, c1 and c2
the changeover's range, C its ceiling.

Two minutes for a muscle and 30 to 45 seconds for a changeover are common practice; the
other defaults are our choice. They stand in `runner.law.workout.Timing`.

A rest is decided when the bout before it has really ended, from the ledger of real ends; what was
expected plays no part. The forecast asks the same law on expected lengths, so rehearsal, time to
go and live session cannot drift apart. Floats, not fractions: medians of measured lengths gain
nothing by those. Where two sums ought to be equal (which rule decided this rest?), a millionth of
a second decides, far below what a clock here sees.

The share of a round that each changeover gets depends on the least that each must hold, and a
change of station is part of that. It is read by walking the round in its order, from the way the
stations stood when it began: a set that has begun keeps the change it had, a set to come finds
each station as the set before leaves it. A set without a measured set-up takes the station as it
stands. The forced rest itself counts a change in full.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from msgspec import Struct, field

from runner.law.workout import Side, Timing

Why = Literal[
    "lead-in", "side", "station", "breather", "position", "block", "changeover", "recovery"
]
Site = tuple[str, str]  # (muscle, "left" or "right")

# Sums of floats that ought to be equal differ by less than this; no clock of ours sees it.
SAME = 1e-6
LONG_AGO = float("-inf")


class Bout(Struct, frozen=True):
    """One side of a set, or a two-sided set whole, and what it loads."""

    side: Side
    prime: frozenset[Site]
    synergist: frozenset[Site]
    expected: float  # seconds, as known when it is asked for


class TimedSet(Struct, frozen=True):
    """A set as the law sees it: one bout or two, the settings in force, what it must wait for."""

    block: int
    round: int
    exercise: str
    bouts: tuple[Bout, ...]
    timing: Timing
    change: float = 0.0  # seconds to set its station differently; 0 where it stands right

    @property
    def work(self) -> float:
        """Expected seconds of its bouts, with the gap between the sides."""
        return sum([b.expected for b in self.bouts]) + self.timing.side_gap * (len(self.bouts) - 1)


class Rest(Struct, frozen=True):
    """A rest as decided: its length in seconds and what decided it."""

    seconds: float
    why: Why


def loads(
    prime: Iterable[str], assist: Iterable[str], both_sides: Iterable[str], side: Side
) -> tuple[frozenset[Site], frozenset[Site]]:
    """Where a bout loads which muscle: (as prime mover, as synergist).

    Two-sided work loads both sides. One-sided work loads its own, and the muscles of
    `both_sides` on both, as synergists; one of them that is a prime mover too stays so on
    the working side.
    """
    sides = ("left", "right") if side == "both" else (side,)
    as_prime = {(muscle, s) for muscle in prime for s in sides}
    as_synergist = {(muscle, s) for muscle in assist for s in sides}
    as_synergist |= {(muscle, s) for muscle in both_sides for s in ("left", "right")}
    return frozenset(as_prime), frozenset(as_synergist - as_prime)


class Ledger(Struct, frozen=True):
    """For every muscle and side: when it last ended work as prime mover, when as synergist."""

    prime: Mapping[Site, float] = field(default_factory=dict)
    synergist: Mapping[Site, float] = field(default_factory=dict)

    def after(self, bout: Bout, end: float) -> Ledger:
        """The ledger once `bout` has ended at `end`."""
        return Ledger(
            dict(self.prime) | dict.fromkeys(bout.prime, end),
            dict(self.synergist) | dict.fromkeys(bout.synergist, end),
        )

    def due(self, bout: Bout, recovery: float, cross: float) -> float:
        """The instant from which `bout` has had `recovery` in its role and `cross` across roles.

        Minus infinity where no muscle of it has an entry.
        """
        prime, synergist, latest = self.prime, self.synergist, LONG_AGO
        for site in bout.prime:
            if site in prime:
                latest = max(latest, prime[site] + recovery)
            if site in synergist:
                latest = max(latest, synergist[site] + cross)
        for site in bout.synergist:
            if site in prime:
                latest = max(latest, prime[site] + cross)
        return latest

    def recovered(self, bout: Bout, start: float) -> float | None:
        """Least seconds that a prime mover of `bout` has had since its last prime work.

        None where no earlier bout had one of them as prime mover.
        """
        ends = [self.prime[site] for site in bout.prime if site in self.prime]
        return start - max(ends) if ends else None


def due(ledger: Ledger, coming: TimedSet) -> float:
    """When the set to come has had the recovery aimed at (T and A)."""
    return _set_due(ledger, coming, coming.timing.recovery, coming.timing.recovery_cross)


def least_due(ledger: Ledger, coming: TimedSet) -> float:
    """When the set to come has had the least recovery (L and A·L/T)."""
    return _set_due(ledger, coming, coming.timing.recovery_least, coming.timing.cross_least)


def _set_due(ledger: Ledger, coming: TimedSet, recovery: float, cross: float) -> float:
    """The later of the first side's due and the second side's, less what lies before it."""
    first = ledger.due(coming.bouts[0], recovery, cross)
    if len(coming.bouts) == 1:
        return first
    ahead = coming.bouts[0].expected + coming.timing.side_gap
    return max(first, ledger.due(coming.bouts[1], recovery, cross) - ahead)


def level(need: float, floors: Sequence[float]) -> float:
    """The smallest level ≥ 0 for which the sum of max(level, floor) reaches `need`.

    `floors` are what each changeover must hold anyway, in seconds; `need` is what they must
    hold together. 0 where the floors alone reach it.
    """
    ordered = sorted(floors)
    above = sum(ordered)
    if above >= need:
        return 0.0
    below = 0
    for floor in ordered:
        # With `below` floors lifted to `floor`, is the need reached?
        if below * floor + above >= need:
            break
        above -= floor
        below += 1
    return (need - above) / below


class Shares(Struct, frozen=True):
    """What the changeovers of a round may hold: the share of each, and the ceiling."""

    share: float
    ceiling: float


def shares(round_sets: Sequence[TimedSet], timing: Timing) -> Shares:
    """Spread the recovery that a round needs evenly over its changeovers.

    `round_sets` are the k ≥ 2 sets of the round, in its order, done or to be done, without
    those skipped or dropped; `timing` is that of the set to come (its c1 and c2 count).
    """
    c1, c2 = timing.changeover_from, timing.changeover_to
    floors = [
        max(c1, before.timing.breather, this.timing.position, this.change)
        for before, this in zip([round_sets[-1], *round_sets[:-1]], round_sets, strict=True)
    ]
    work = sum([s.work for s in round_sets])
    ceiling = max(c2, level(_need(round_sets, work, least=True), floors))
    return Shares(min(max(level(_need(round_sets, work), floors), c1), ceiling), ceiling)


def _need(round_sets: Sequence[TimedSet], work: float, *, least: bool = False) -> float:
    """What the changeovers of the round must hold together, so that each bout has its T or L."""
    return max(
        [
            (s.timing.recovery_least if least else s.timing.recovery) + bout.expected - work
            for s in round_sets
            for bout in s.bouts
        ]
    )


def rest_at(
    coming: TimedSet,
    side: int,
    previous: TimedSet | None,
    round_sets: Sequence[TimedSet],
    ledger: Ledger,
    *,
    before_set: Ledger,
    now: float,
    lead_in_s: float,
) -> Rest:
    """The rest before what comes next: the first set of all, a second side, or another set.

    `side` is 0 for the first side of `coming`, 1 for the second; `previous` is None before the
    first set. The other arguments are those of the three rules below.
    """
    if previous is None:
        return lead_in(lead_in_s)
    if side:
        return rest_between_sides(coming, before_set, now)
    return rest_before(coming, previous, round_sets, ledger, now)


def lead_in(seconds: float) -> Rest:
    """The rest before the first set of the session."""
    return Rest(seconds, "lead-in")


def rest_before(
    coming: TimedSet,
    previous: TimedSet,
    round_sets: Sequence[TimedSet],
    ledger: Ledger,
    now: float,
) -> Rest:
    """The rest before a set, decided at `now`, the instant at which `previous` really ended.

    `round_sets`: the sets of the coming set's round as in `shares`, the coming one among
    them. A first side only; `rest_between_sides` has the second.
    """
    timing = coming.timing
    forced = max(previous.timing.breather, timing.position, coming.change)
    wanted = due(ledger, coming) - now
    if previous.block != coming.block:
        seconds = max(forced, timing.block_rest, wanted)
        return Rest(seconds, _why(seconds, coming, previous, block=timing.block_rest))
    if previous.exercise != coming.exercise and len(round_sets) >= 2:
        spread = shares(round_sets, timing)
        seconds = max(
            forced,
            timing.changeover_from,
            min(max(wanted, spread.share), spread.ceiling),
            least_due(ledger, coming) - now,
        )
        return Rest(seconds, _why(seconds, coming, previous, changeover=timing.changeover_to))
    seconds = max(forced, timing.changeover_from, wanted)
    return Rest(seconds, _why(seconds, coming, previous))


def rest_between_sides(coming: TimedSet, before_set: Ledger, now: float) -> Rest:
    """The rest before the second side; `before_set` is the ledger before the first side.

    The two sides of one set ask nothing of each other, hence the earlier ledger. The gap
    includes getting into place.
    """
    timing = coming.timing
    least = before_set.due(coming.bouts[1], timing.recovery_least, timing.cross_least)
    return Rest(max(timing.side_gap, least - now), "side")


def _why(
    seconds: float,
    coming: TimedSet,
    previous: TimedSet,
    *,
    block: float = 0.0,
    changeover: float | None = None,
) -> Why:
    """Name what decided: the first forced rest that is the rest, else the rule."""
    forced: tuple[tuple[Why, float], ...] = (
        ("station", coming.change),
        ("breather", previous.timing.breather),
        ("position", coming.timing.position),
        ("block", block),
    )
    for name, value in forced:
        if value > 0 and abs(value - seconds) < SAME:
            return name
    if changeover is not None and seconds <= changeover + SAME:
        return "changeover"
    return "recovery"
