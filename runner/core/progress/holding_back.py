"""When a session stays well short: fewer sets, more in reserve, no count to beat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from runner.core.progress.breaks import Away, away

FIRST_SESSIONS: Final = 2  # of a plan or an exercise; our choice
JUMP: Final = 1.30  # the week's sets against those of the weeks before; our choice
MORE_IN_RESERVE: Final = 2
SHARE: Final = 2 / 3  # of the sets

CAUTION: Final = (
    "Stay well short of your limit today. Muscle pain much worse than expected, dark urine or "
    "unusual weakness in the days after: get medical care at once."
)
"""Why a first session holds back: CDC/NIOSH on rhabdomyolysis."""


@dataclass(frozen=True, slots=True)
class Before:
    """What is known before a session begins."""

    sessions_of_plan: int  # closed ones in which something was done
    days_away: int | None = None  # since the last session of any plan; None for none
    week_sets: float = 0.0  # work sets of this ISO week with today's
    usual_sets: float | None = None  # a week, on average of the four weeks before; None unknown


@dataclass(frozen=True, slots=True)
class HoldBack:
    """How a session holds back; `reasons` is empty where it does not."""

    reasons: tuple[str, ...] = ()
    more_in_reserve: int = 0
    nothing_to_beat: bool = False
    easier: bool = False  # one position too: after a long break
    caution: str = ""

    def __bool__(self) -> bool:
        """Whether it holds back."""
        return bool(self.reasons)

    def sets(self, planned: int) -> int:
        """So many of the planned sets of an exercise: a third fewer, and at least one."""
        return fewer(planned) if self.reasons else planned


def fewer(planned: int) -> int:
    """A third fewer sets, to the nearest whole, at least one."""
    return max(1, round(planned * SHARE))


def hold_back(before: Before) -> HoldBack:
    """Whether, why and how a session holds back."""
    gone = away(before.days_away)
    reasons = _reasons(before, gone)
    if not reasons:
        return HoldBack()
    return HoldBack(
        tuple(reasons),
        MORE_IN_RESERVE,
        nothing_to_beat=True,
        easier=gone.easier,
        caution=CAUTION,
    )


def new_exercise(sessions_of_exercise: int) -> bool:
    """Whether an exercise is still new, and holds back alone in a session that does not."""
    return sessions_of_exercise < FIRST_SESSIONS


def _reasons(before: Before, gone: Away) -> list[str]:
    found = []
    if before.sessions_of_plan < FIRST_SESSIONS:
        ordinal = ("first", "second")[before.sessions_of_plan]
        found.append(f"{ordinal} session of this plan")
    if gone.fewer_sets:
        found.append(gone.text)
    usual = before.usual_sets
    if usual and before.week_sets > JUMP * usual:
        more = 100 * (before.week_sets / usual - 1)
        found.append(f"{more:.0f} % more sets this week than usual")
    return found
