"""When a session stays well short: fewer sets, more in reserve, no count to beat."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import Final

from msgspec import Struct

from runner.progress.history import PastSession
from runner.progress.layoff import LayoffRule, away

FIRST_SESSIONS: Final = 2  # of a plan or an exercise; our choice
JUMP: Final = 1.30  # the week's sets against those of the weeks before; our choice
# By how much: common practice after a layoff, our choice in the other cases.
MORE_IN_RESERVE: Final = 2  # repetitions
SHARE: Final = 2 / 3  # of the sets, to the nearest whole, at least one of each exercise

CAUTION: Final = (
    "Stay well short of your limit today. Muscle pain much worse than expected, dark urine or "
    "unusual weakness in the days after: get medical care at once."
)
"""Why a first session is a deload: CDC/NIOSH on rhabdomyolysis."""


class TrainingSoFar(Struct, frozen=True):
    """What is known before a session begins."""

    sessions_of_plan: int  # closed ones in which something was done
    days_away: int | None = None  # since the last session of any plan; None for none
    days_away_before: int | None = None  # before that last session: see `gaps`
    week_sets: float = 0.0  # work sets of this ISO week with today's
    usual_sets: float | None = None  # a week, by `week_aims.usual_sets`; None unknown


class Deload(Struct, frozen=True):
    """Why a session is a deload, and what comes beside `answers.LIGHTER`; no reason: none."""

    reasons: tuple[str, ...] = ()
    easier: bool = False  # one level too: after a long layoff
    caution: str = ""

    def __bool__(self) -> bool:
        """Whether it is one."""
        return bool(self.reasons)


def deload(before: TrainingSoFar) -> Deload:
    """Whether, why and how a session is a deload."""
    gone = away(before.days_away)
    reasons = _reasons(before, gone)
    if not reasons:
        return Deload()
    return Deload(tuple(reasons), easier=gone.easier, caution=CAUTION)


def gaps(sessions: Sequence[date], today: date) -> tuple[int | None, int | None]:
    """Days away before today, and before the last session; None where there was none before.

    `sessions` are the local dates of all sessions in which something was done. Several on one
    day are one.
    """
    days = [*sorted({on for on in sessions if on < today}), today]
    between = [(new - old).days for old, new in pairwise(days)]
    known: list[int | None] = [None, None, *between]
    return known[-1], known[-2]


def new_exercise(sessions_of_exercise: int) -> bool:
    """Whether an exercise is still new, after this number of sessions with it."""
    return sessions_of_exercise < FIRST_SESSIONS


def exercise_deload(past: Sequence[PastSession]) -> str:
    """Why one exercise is lighter in a session that is not, by the same share and reserve.

    Because it is still new, or because it hurt the last time. Empty where it is not lighter. `past`
    has its sessions in order, of all groups of sets.
    """
    if new_exercise(len({s.session_id for s in past if s.counted})):
        return "new exercise: stop well short of your limit"
    last = past[-1].session_id
    if any(s.pain for s in past if s.session_id == last):
        return "it hurt last time: stop well short of your limit, and at once if the pain returns"
    return ""


def _reasons(before: TrainingSoFar, gone: LayoffRule) -> list[str]:
    found = []
    if before.sessions_of_plan < FIRST_SESSIONS:
        ordinal = ("first", "second")[before.sessions_of_plan]
        found.append(f"{ordinal} session of this plan")
    if gone.fewer_sets:
        found.append(gone.text)
    elif away(before.days_away_before).fewer_sets:
        found.append(f"second session after {before.days_away_before} days away")
    usual = before.usual_sets
    if usual and before.week_sets > JUMP * usual:
        more = 100 * (before.week_sets / usual - 1)
        found.append(f"{more:.0f} % more sets this week than usual")
    return found
