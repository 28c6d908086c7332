"""A week against the plan's aims, and what to say of it before a session starts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from statistics import median
from typing import Final, Literal

from msgspec import Struct
from msgspec.structs import replace

from runner.law.weekly_sets import Judgement, judged, sets_by_muscle, sets_of
from runner.law.workout import Workout
from runner.progress.weekdays import sessions_a_week
from runner.progress.weeks import HOURS_BETWEEN, TrainedMuscle, Week

TOO_SOON: Final = 24.0  # hours; our choice
USUAL: Final = 4  # weeks that say what is usual; our choice

Often = Literal["fewer", "in", "more"]
Target = tuple[float, float]


class MuscleWeek(Struct, frozen=True):
    """A muscle's sets of a week against what is aimed at."""

    muscle: str
    sets: float
    target: Target | None  # the plan's; None: the published band
    judged: Judgement


def against_targets(
    week: Week,
    targets: Mapping[str, Target],
    every: Target | None = None,
    muscles: Iterable[str] = (),
) -> list[MuscleWeek]:
    """A week's muscles against the plan's targets; `every` is for those without their own.

    `muscles` are those that the plan trains: they appear also where nothing was done.
    """
    found = []
    for muscle in dict.fromkeys((*week.by_muscle, *targets, *muscles)):
        sets, target = week.by_muscle.get(muscle, 0.0), targets.get(muscle, every)
        found.append(MuscleWeek(muscle, sets, target, judged(sets, target)))
    return found


def under_aim(
    workouts: Sequence[Workout],
    sessions: tuple[int, int] | None,
    targets: Mapping[str, Target],
    every: Target | None = None,
) -> frozenset[str]:
    """Muscles that a plan's week, as planned, trains with fewer sets than are aimed at.

    `workouts` are its sessions, one or more; `sessions` how many a week aims at. Sets as in
    `weekly_sets`.
    """
    share = sessions_a_week(len(workouts), sessions) / len(workouts)
    counted = [
        replace(some, number=share * some.number)
        for workout in workouts
        for block in workout.blocks
        for item in block.items
        for some in sets_of(workout.exercises[item.exercise], item)
    ]
    planned = sets_by_muscle(counted)
    judgements = {m: judged(number, targets.get(m, every)) for m, number in planned.items()}
    return frozenset(m for m, found in judgements.items() if found in ("little", "under"))


def often(sessions: int, target: tuple[int, int] | None) -> Often | None:
    """Sessions of a week against (from, to), both included; None without a target."""
    if target is None:
        return None
    return "fewer" if sessions < target[0] else "more" if sessions > target[1] else "in"


def warnings(
    coming: Iterable[str], last: Mapping[str, TrainedMuscle], now: datetime, today: int
) -> list[str]:
    """What to say before the start: a second session today, the same muscle within 24 h.

    `coming` are the prime movers of the session to come, `now` an aware instant, `today` the
    sessions that this local date has already.
    """
    lines = []
    if today:
        lines.append(f"This is session {today + 1} today.")
    hours = {m: last[m].hours_since(now) for m in dict.fromkeys(coming) if m in last}
    tired = [m for m, since in hours.items() if 0 <= since < TOO_SOON]
    if tired:
        since = int(min(hours[m] for m in tired))
        ago = f"{since} h" if since else "less than 1 h"
        lines.append(f"Trained {ago} ago; better after {HOURS_BETWEEN:.0f} h: {', '.join(tired)}.")
    return lines


def usual_sets(weeks: Iterable[Week], iso: str) -> float | None:
    """Work sets a week before the week `iso`: the median of the last four with any.

    Weeks away say nothing of what is usual, and the first week on file may have begun on its
    Sunday: both are left out. The median, for one week cut short should not make the next one
    look like a jump. Fewer than two weeks left say nothing: None.
    All our choice.
    """
    worked = sorted((w for w in weeks if w.sets), key=lambda w: w.iso_week)
    usual = [w.sets for w in worked[1:] if w.iso_week < iso][-USUAL:]
    return median(usual) if len(usual) > 1 else None
