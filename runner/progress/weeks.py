"""Weeks and muscles: what was done in each ISO week, when a muscle is due, left against right.

From rows of the record, which know their ISO week: that of the local date on which the session
began, so a set after midnight, and a week with a clock change, need no thought here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, timedelta
from statistics import fmean
from typing import Final

from msgspec import Struct

from runner.law.muscles import MUSCLES
from runner.law.weekly_sets import Sets, sets_by_muscle
from runner.law.workout import Side
from runner.progress.history import SetRow, iso_week

# Between sessions for the same muscles: ACSM 2009 (as repeated in secondary texts).
HOURS_BETWEEN: Final = 48.0
# Left against right is named from here on: our choice.
REPS_APART, SHARE_APART, SESSIONS_APART = 2.0, 0.25, 2


Pattern = Callable[[str, str], str]  # (session id, exercise) -> pattern, "" where unknown


class Week(Struct, frozen=True):
    """What was done in one ISO week."""

    iso_week: str  # 2026-W48
    sessions: int  # in which a work set was done
    sets: int  # work sets done; left and right of one set are one
    by_muscle: Mapping[str, float]  # a prime mover counts 1, a synergist a half
    by_pattern: Mapping[str, int]

    @property
    def monday(self) -> date:
        """Its first day."""
        return first_day(self.iso_week)


def first_day(iso_week: str) -> date:
    """The Monday of an ISO week, 2026-W48; ValueError for anything else."""
    return date.fromisoformat(f"{iso_week}-1")


def weeks_between(first: str, last: str) -> list[str]:
    """Every ISO week from one to another, both included; a year has 52 or 53 of them."""
    day, end = first_day(first), first_day(last)
    found = []
    while day <= end:
        found.append(iso_week(day))
        day += timedelta(days=7)
    return found


def counts_for_week(row: SetRow) -> bool:
    """Whether a row is a work set done; ramp sets, broken and skipped ones count for nothing."""
    return row.kind == "work" and row.status == "done"


def weeks_of(rows: Iterable[SetRow], pattern: Pattern = lambda *_: "") -> list[Week]:
    """The weeks in which a work set was done, in order. `rows` are of one trainee.

    Of a million rows only their numbers by session and exercise are kept.
    """
    weeks: dict[str, Counter[_Kind]] = {}
    seen: set[tuple[str, str, int]] = set()  # one-sided sets of which a side has come
    for row in rows:
        if not counts_for_week(row):
            continue
        if row.side != "both":
            if (key := (row.session_id, row.exercise, row.set)) in seen:
                continue
            seen.add(key)
        kind = (row.session_id, row.exercise, row.prime_movers, row.synergists)
        weeks.setdefault(row.iso_week, Counter())[kind] += 1
    return [_week(name, weeks[name], pattern) for name in sorted(weeks)]


_Kind = tuple[str, str, str, str]  # session, exercise, prime movers, synergists


def _week(name: str, sets: Mapping[_Kind, int], pattern: Pattern) -> Week:
    patterns: Counter[str] = Counter()
    for (session, exercise, *_), number in sets.items():
        patterns[pattern(session, exercise)] += number
    return Week(
        name,
        len({session for session, *_ in sets}),
        sum(sets.values()),
        sets_by_muscle(
            Sets(_ids(prime), _ids(helping), number)
            for (_, _, prime, helping), number in sets.items()
        ),
        {known: number for known, number in sorted(patterns.items()) if known},
    )


class TrainedMuscle(Struct, frozen=True):
    """When a muscle was last trained as a prime mover, and when it is due again."""

    muscle: str
    ended: datetime  # aware: the end of its last work set

    @property
    def due(self) -> datetime:
        """The instant from which it may be trained hard again."""
        return self.ended + timedelta(hours=HOURS_BETWEEN)

    def hours_since(self, now: datetime) -> float:
        """Hours from then to an aware instant; real ones, whatever the clocks did."""
        return (now - self.ended).total_seconds() / 3600


def last_trained(rows: Iterable[SetRow]) -> dict[str, TrainedMuscle]:
    """Every muscle that was a prime mover of a work set done, in the order of `MUSCLES`."""
    latest: dict[str, datetime] = {}
    for row in rows:
        if not counts_for_week(row):
            continue
        # A set from paper has no start of its own: its session's is the nearest there is.
        began = datetime.fromisoformat(row.set_start or row.session_start)
        ended = began + timedelta(seconds=row.work_s or 0.0)
        for muscle in _ids(row.prime_movers):
            latest[muscle] = max(latest.get(muscle, ended), ended)
    order = [*(m for m in MUSCLES if m in latest), *sorted(set(latest) - set(MUSCLES))]
    return {muscle: TrainedMuscle(muscle, latest[muscle]) for muscle in order}


class SidesApart(Struct, frozen=True):
    """One side of an exercise does more than the other, in each of the last sessions."""

    exercise: str
    stronger: Side
    by: tuple[float, ...]  # repetitions a set in each of those sessions, the oldest first


def sides_apart(rows: Iterable[SetRow]) -> list[SidesApart]:
    """One-sided exercises of which the same side was ahead in the last two sessions.

    The last two in which both sides have counts; the means over the sets with a count on both
    sides, pain left out, lie apart as in `stronger_side`.
    """
    by_set: dict[str, dict[tuple[str, str], dict[int, dict[Side, int]]]] = {}
    for row in rows:
        wanted = counts_for_week(row) and row.side != "both" and not row.pain
        if wanted and row.measure == "reps" and row.reps is not None:
            session = by_set.setdefault(row.exercise, {})
            of_session = session.setdefault((row.session_start, row.session_id), {})
            of_session.setdefault(row.set, {})[row.side] = row.reps
    found = []
    for exercise, sessions in by_set.items():
        both = [m for _, sets in sorted(sessions.items(), key=_start) if (m := _means(sets))]
        last = both[-SESSIONS_APART:]
        ahead = {stronger_side(*means) for means in last}
        if len(last) == SESSIONS_APART and len(ahead) == 1 and (side := ahead.pop()):
            apart = tuple(abs(left - right) for left, right in last)
            found.append(SidesApart(exercise, side, apart))
    return found


def stronger_side(left: float, right: float) -> Side | None:
    """The side that is ahead by a quarter of its own count and by two; None where neither is."""
    apart = abs(left - right)
    if apart < REPS_APART or apart < SHARE_APART * max(left, right):
        return None
    return "left" if left > right else "right"


def _start(item: tuple[tuple[str, str], object]) -> tuple[datetime, str]:
    start, session = item[0]
    return datetime.fromisoformat(start), session


def _means(sets: Mapping[int, Mapping[Side, int]]) -> tuple[float, float] | None:
    """Left and right, the means over sets with both; None where there is no such set."""
    both = [(s["left"], s["right"]) for s in sets.values() if "left" in s and "right" in s]
    return (fmean(s[0] for s in both), fmean(s[1] for s in both)) if both else None


def _ids(text: str) -> tuple[str, ...]:
    return tuple(filter(None, text.split(";")))
