"""Pain and what it rules out: no step up where it hurt, until it is gone.

After a session in which an exercise hurt there is no step up in that exercise, nor in others that
share a main muscle on a side that worked: the muscle may hurt, and not the movement. This ends
after two sessions of the exercise without pain, or after 28 days (our choice, both). Three painful
sessions within 28 days, by exercise or by place as written, are no accident: leave the exercise out
and see a physiotherapist. Nothing here judges what the pain is.
"""

from __future__ import annotations

import shlex
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Final

from msgspec import Struct

from runner.law.workout import Exercise
from runner.progress.history import SetRow
from runner.text import short_day

Site = tuple[str, str]  # muscle, left or right

DAYS: Final = 28  # that pain rests upward advice, and within which painful sessions add up
CLEAN: Final = 2  # sessions without pain that end it
OFTEN: Final = 3  # painful sessions
LATELY: Final = 14  # days: the next start names it
_MARK = "pain:"


class Pain(Struct, frozen=True):
    """A session in which an exercise hurt."""

    on: date  # local
    exercise: str
    name: str  # of the exercise
    where: str  # as written; "" where the place was not given
    sites: frozenset[Site]  # main muscles on the sides that worked
    clean: int  # later sessions that did the exercise without pain

    @property
    def text(self) -> str:
        """Place and date: `left shoulder, 9 Nov`."""
        return f"{self.where or 'no place given'}, {short_day(self.on)}"

    def rests(self, today: date) -> bool:
        """Whether it still rules out a step up on a day."""
        return self.clean < CLEAN and 0 <= (today - self.on).days <= DAYS


def pains_of(rows: Iterable[SetRow]) -> list[Pain]:
    """Every session in which an exercise hurt, the oldest first.

    `rows` are one trainee's, those of a session together, the sessions in their order.
    """
    done: dict[str, dict[str, list[SetRow]]] = {}  # exercise -> session -> rows
    for row in rows:
        if row.status == "done" or row.pain:
            done.setdefault(row.exercise, {}).setdefault(row.session_id, []).append(row)
    found = []
    for of in done.values():
        clean = 0
        for own in sorted(of.values(), key=_start, reverse=True):
            if any(row.pain for row in own):
                found.append(_pain(own, clean))
            else:
                clean += any(row.kind == "work" for row in own)
    return sorted(found, key=lambda p: p.on)


def _start(rows: Sequence[SetRow]) -> datetime:
    return datetime.fromisoformat(rows[0].session_start)


def _pain(rows: Sequence[SetRow], clean: int) -> Pain:
    first = rows[0]
    sides = {s for row in rows for s in (("left", "right") if row.side == "both" else (row.side,))}
    muscles = [m for m in first.prime_movers.split(";") if m]
    return Pain(
        date.fromisoformat(first.session_start[:10]),
        first.exercise,
        first.exercise_name,
        next((place for row in rows if (place := _place(row))), ""),
        frozenset((muscle, side) for muscle in muscles for side in sides),
        clean,
    )


def _place(row: SetRow) -> str:
    """Where it hurt, as the row says it: in its own column, or in the note of an older record."""
    own = getattr(row, "pain_where", None)
    if own:
        return str(own)
    lines = (line for line in row.note.splitlines() if line.startswith(_MARK))
    return next(lines, "").removeprefix(_MARK).strip() if row.pain else ""


def no_step_up(exercise: Exercise, pains: Sequence[Pain], today: date) -> str:
    """Why pain rules out a step up in an exercise on a day; "" where it does not."""
    often = too_often(exercise.id, pains, today)
    if often:
        return often
    still = [pain for pain in pains if pain.rests(today)]
    own = [pain for pain in still if pain.exercise == exercise.id]
    if own:
        last = own[-1]
        so_far = f" ({last.clean} so far)" if last.clean else ""
        return (
            f"{last.text}: no harder level until {CLEAN} sessions without pain{so_far}; see a "
            "doctor or physiotherapist if it stays"
        )
    for pain in reversed(still):
        shared = sorted({muscle for muscle, _ in pain.sites & _sites(exercise)})
        if shared:
            return (
                f"{pain.name} hurt ({pain.text}), which works the {_and(shared)} too: no harder "
                f"level until {CLEAN} sessions of it without pain, or {DAYS} days"
            )
    return ""


def too_often(exercise: str, pains: Sequence[Pain], today: date) -> str:
    """Three painful sessions within 28 days, by exercise or by place, the last one lately.

    Two sessions without pain do not end it while all three are of the last 28 days.
    """
    of_exercise = [p for p in pains if p.exercise == exercise]
    lately = [p for p in of_exercise if 0 <= (today - p.on).days <= DAYS]
    places = {p.where.casefold(): p.where for p in lately if p.where}
    groups = [of_exercise]
    groups += [[p for p in pains if p.where.casefold() == place] for place in places]
    for group in groups:
        days = sorted({p.on for p in group})[-OFTEN:]
        near = len(days) == OFTEN and (days[-1] - days[0]).days <= DAYS
        still = near and 0 <= (today - days[0]).days <= DAYS
        if near and (still or any(p.rests(today) for p in group)):
            on = ", ".join(short_day(one) for one in days)
            where = f" ({group[-1].where})" if group[-1].where else ""
            return (
                f"{OFTEN} sessions within {DAYS} days{where}: {on}: "
                "leave it out, and see a physiotherapist"
            )
    return ""


def _sites(exercise: Exercise) -> frozenset[Site]:
    """Both sides, for one-sided work is done on either."""
    return frozenset((muscle, side) for muscle in exercise.prime for side in ("left", "right"))


def substitutes(
    exercise: Exercise, known: Mapping[str, Exercise], hurt: Collection[str]
) -> tuple[str, ...]:
    """The substitutes of an exercise that may be offered, where the exercises `hurt` hurt of late.

    None that hurt. In the place of one that hurt only those that state what they stress and share
    none of it, where that one states it too: what nobody has stated may be the same. `exercise` is
    as in the version that is worked at; a substitute may come in any.
    """
    free = [name for name in exercise.instead if name in known and name not in hurt]
    if exercise.id not in hurt:
        return tuple(free)
    mine = _stresses([exercise.stress])
    return tuple(
        name
        for name in free
        if mine is not None
        and (theirs := _stresses(_of_versions(known[name]))) is not None
        and mine.isdisjoint(theirs)
    )


def _of_versions(exercise: Exercise) -> list[tuple[str, ...] | None]:
    return [keys.stress for _, keys in exercise.versions] or [exercise.stress]


def _stresses(stated: Iterable[tuple[str, ...] | None]) -> frozenset[str] | None:
    """All that is stated; None where one states nothing."""
    found: set[str] = set()
    for words in stated:
        if words is None:
            return None
        found |= {word.casefold() for word in words}
    return frozenset(found)


def lately(pains: Sequence[Pain], today: date) -> Iterator[Pain]:
    """The newest pain of each exercise in the last 14 days, the oldest first."""
    newest = {pain.exercise: pain for pain in pains}
    for pain in newest.values():
        if 0 <= (today - pain.on).days <= LATELY:
            yield pain


def pain_advice(pain: Pain, trainee: str) -> str:
    """The entry of an overlay that a pain proposes; a person writes it, never the program."""
    return (
        f"{pain.name} hurt ({pain.text}). To leave it out for now: matside for "
        f'{shlex.quote(trainee)} --edit, and under [avoid] exercise = ["{pain.exercise}"]'
    )


def _and(words: Sequence[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last
