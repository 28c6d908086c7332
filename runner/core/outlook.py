"""The sets still to come, gone through in their order: what stays the same worked out once.

A `Course` moves on by what happens, and anything may happen to it. Where every set still to
come is done in its turn, only lengths and ends differ from one way to the next: what a set
loads, its settings, the sets of its round and the changes of stations do not. An `Outlook`
has those, so that going through a session a thousand times costs little more than the law.
It asks the same law for the same rests: `tests/core/test_outlook.py` holds the two together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from statistics import median
from typing import NamedTuple

from runner.core import timing
from runner.core.course import RECENT, Course, LengthKey, Slot, length_key
from runner.core.timing import Bout, Ledger, Rest, TimedSet
from runner.core.workout import Side

Length = Callable[[Slot, Bout], float]
"""Seconds that a bout of a set lasts; the bout has the side, and what is expected of it."""


class Ahead(NamedTuple):
    """A bout to come: the rest before it, and when it begins and ends in session seconds."""

    place: int  # of its set among the slots, from 0
    slot: Slot  # as the set stands once it has begun
    number: int  # 0 for the first side of the set, 1 for the second
    rest: Rest
    since: float  # when that rest began
    start: float
    end: float
    timed: TimedSet  # what the law saw of the set when the rest was decided
    recovered: float | None  # least recovery of the bout's prime movers at its start


@dataclass(frozen=True, slots=True)
class _Coming:
    """A set to come: what does not depend on how long bouts last."""

    slot: Slot
    first_side: int  # 1 where its first side is done
    round: tuple[int, ...]  # the sets of its round, done or to be done
    keys: tuple[LengthKey | None, ...]  # for each side: where its length counts, None for nowhere


class Outlook:
    """All sets still to come of a course between bouts, each to be done in its turn."""

    def __init__(self, course: Course) -> None:
        if course.running:
            raise ValueError("a bout is under way")
        self._course = course
        self._coming: dict[int, _Coming] = {}
        self._users: dict[LengthKey, list[int]] = {}  # sets whose expected length a key decides
        at = course
        while (index := at.next) is not None:
            side = at.side
            at = at.begin()
            slot, order = at.slots[index], at.exercise(index).side_order
            keys = tuple(length_key(slot, s) if slot.kind == "work" else None for s in order)
            self._coming[index] = _Coming(slot, side, at.members(index), keys)
            at = replace(at, running=False, side=0)
        # At the end of that way every set has begun, and has its change of station.
        self._sets = [at.timed(index) for index in range(len(at.slots))]
        for index, slot in enumerate(at.slots):
            for bout in self._sets[index].bouts if slot.kind == "work" else ():
                self._users.setdefault(length_key(slot, bout.side), []).append(index)

    def bouts(self) -> Iterator[tuple[Slot, Bout]]:
        """The bouts to come in their order, each with what is expected of it now."""
        for place, coming in self._coming.items():
            for bout in self._sets[place].bouts[coming.first_side :]:
                yield coming.slot, bout

    def walk(self, now: float, length: Length, *, after: Ledger | None = None) -> Iterator[Ahead]:
        """The bouts to come, each as long as `length` says.

        `now` is the end of the last bout (or, before any, when the lead-in begins). `after` is
        another past than the course's own, between sets, that ended at `now`.
        """
        course = self._course
        lengths, sets = dict(course.lengths), _Sets(self._sets)
        ledger, before_set = after or course.ledger, course.before_set
        last = None if course.ended is None else course.last
        ended = now if course.ended is None or after is not None else course.ended
        for index, coming in self._coming.items():
            for number in range(coming.first_side, len(coming.keys)):
                timed = sets[index]
                bout = timed.bouts[number]
                before_set = before_set if number else ledger
                if last is None:
                    rest = timing.lead_in(course.workout.lead_in)
                elif number:
                    rest = timing.rest_between_sides(timed, before_set, ended)
                else:
                    here = [sets[i] for i in coming.round]
                    rest = timing.rest_before(timed, sets[last], here, ledger, ended)
                start = now + rest.seconds
                had = ledger.recovered(bout, start)
                ended = start + length(coming.slot, bout)
                yield Ahead(index, coming.slot, number, rest, now, start, ended, timed, had)
                now, ledger, last = ended, ledger.after(bout, ended), index
                key = coming.keys[number]
                if key is not None:
                    lengths[key] = (*lengths.get(key, ()), ended - start)[-RECENT:]
                    sets.learn(self._users[key], bout.side, median(lengths[key]))


class _Sets:
    """The sets as the law sees them, with lengths expected as they are known by then."""

    def __init__(self, sets: list[TimedSet]) -> None:
        self._sets = list(sets)
        self._learnt: dict[int, dict[Side, float]] = {}  # expected lengths not yet put in

    def learn(self, indices: list[int], side: Side, expected: float) -> None:
        """From now on that much is expected of these sets on that side."""
        for index in indices:
            self._learnt.setdefault(index, {})[side] = expected

    def __getitem__(self, index: int) -> TimedSet:
        learnt = self._learnt.pop(index, None)
        if learnt is None:
            return self._sets[index]
        was = self._sets[index]
        bouts = tuple(
            [
                Bout(b.side, b.prime, b.synergist, learnt[b.side]) if b.side in learnt else b
                for b in was.bouts
            ]
        )
        now = TimedSet(was.block, was.round, was.exercise, bouts, was.timing, was.change)
        self._sets[index] = now
        return now
