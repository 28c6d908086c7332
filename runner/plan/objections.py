"""Objections: what a good coach would not sign in a plan, why, and what to do instead.

A plan with objections still runs. Deliberate choices draw none: muscles that nobody trains
directly, straight sets, trios. A trial plan draws none at all, and a plan of fewer than four
exercises none about patterns or warm-up, for it is only a part of a week.

The ground says where a rule comes from: published, common practice, or our choice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise

from msgspec import Struct

from runner.law.muscles import MOVERS, PATTERN_GROUPS, fits
from runner.law.workout import Exercise, Level, Workout
from runner.plan.models import Plan
from runner.plan.review import WAY_OUT, no_way_out, tally
from runner.plan.values import DAYS
from runner.progress.weekdays import sessions_a_week, suggest
from runner.progress.weeks import HOURS_BETWEEN
from runner.text import escaped

WHOLE = 4  # a plan with at least this many exercises is a whole week's; our choice
MOST_OF_MUSCLE = 10.0  # sets of a muscle in one session; our choice
MOST_SETS = 40  # work sets in one session; our choice
MOST_DAYS = 5  # a week: ACSM 2009, 4 to 5 days for the advanced
REPS_FROM, REPS_TO = 5.0, 30.0  # usual rep ranges; common practice, see `RANGE_GROUND`
# Ratio of push sets to pull sets, and of pull to push, from which on there is an objection, if they
# also differ by `FAR_BY` sets. More pull than push is common practice; the numbers are our choice.
FAR = {"push": 1.5, "pull": 2.0}
FAR_BY = 3.0

PRACTICE, OURS = "common practice", "our choice"
RECOVERY_GROUND = "48 h between: ACSM 2009"
DAYS_GROUND = "4 to 5 days at most: ACSM 2009"
RANGE_GROUND = "common practice; 6 to 15, or 15 to 40 to failure: Iversen et al. 2021"


class Objection(Struct, frozen=True):
    """Something that a coach would not sign."""

    rule: str  # a word or two for the kind of it
    place: str  # in the words of the file
    wrong: str
    remedy: str
    ground: str

    def line(self, file: str) -> str:
        """`file: place: objection: what; what to do (ground)`."""
        text = f"{self.place}: objection: {self.wrong}; {self.remedy} ({self.ground})"
        return f"{escaped(file)}: {text}"


def objections(plan: Plan, workouts: Sequence[Workout]) -> list[Objection]:
    """All objections; `workouts` are the plan's sessions in order, compiled."""
    if plan.trial:
        return []
    exercises = _used(workouts)
    found: list[Objection] = []
    for exercise in exercises:
        found += _exercise(exercise)
    if exercises and all(exercise.reserve == 0 for exercise in exercises):
        wrong = "every set goes to failure, reserve 0"
        own = any(plan.exercise[exercise.id].reserve is not None for exercise in exercises)
        also = ", and leave it out of the exercises" if own else ""
        remedy = f"write reserve = 2 under [effort]{also}"
        found.append(Objection("reserve", "effort", wrong, remedy, PRACTICE))
    whole = len(exercises) >= WHOLE
    for workout in workouts:
        found += _session(workout, whole=whole)
    found += _week(plan, workouts)
    return found + (list(_patterns(workouts)) if whole else [])


def _used(workouts: Sequence[Workout]) -> list[Exercise]:
    done = (item.exercise for w in workouts for block in w.blocks for item in block.items)
    return [workouts[0].exercises[name] for name in dict.fromkeys(done)]


# One exercise.


def _exercise(exercise: Exercise) -> Iterator[Objection]:
    place = f"exercise.{exercise.id}"
    if (wrong := _falls(exercise)) is not None:
        remedy = "write versions and loads from easier to harder"
        yield Objection("order", place, wrong, remedy, PRACTICE)
    if not fits(exercise.pattern, exercise.prime):
        wrong = f"{exercise.pattern} does not train {', '.join(exercise.prime)}"
        fitting = [pattern for pattern in MOVERS if fits(pattern, exercise.prime)]
        named = f"write pattern = {_either(fitting)}" if fitting else 'write pattern = "other"'
        yield Objection("pattern", place, wrong, f"{named}, or other main muscles", PRACTICE)
    yield from _range(place, exercise)
    if (wrong := no_way_out(exercise)) is not None:
        yield Objection("way out", place, wrong, WAY_OUT, PRACTICE)


def _either(patterns: Iterable[str]) -> str:
    return " or ".join(f'"{pattern}"' for pattern in patterns)


def _falls(exercise: Exercise) -> str | None:
    """What falls from an easier version to a harder one, at equal tempo and sides.

    Compares shares of body mass where both versions have one, else loads where the set-up is the
    same: another set-up may be what makes the version harder.
    """
    last: dict[tuple[object, ...], list[Level]] = {}
    for _, levels in groupby(exercise.progression, lambda level: level.version):
        new = list(levels)
        loads = [level.load or 0.0 for level in new]
        for before, after in pairwise(loads):
            if after < before:
                return f"the load falls from {before:g} to {after:g} kg in version {new[0].version}"
        alike = (new[0].tempo, new[0].sides)
        if (old := last.get(alike)) is not None and (wrong := _fell(old, new)) is not None:
            return f"{wrong}, from {old[0].version} to {new[0].version}"
        last[alike] = new
    return None


def _fell(old: Sequence[Level], new: Sequence[Level]) -> str | None:
    """What falls from one version to the next; each lists its levels from light to heavy."""
    was, now = old[0].body_share, new[0].body_share
    lighter = [(a.load or 0.0) < (b.load or 0.0) for a, b in ((new[0], old[0]), (new[-1], old[-1]))]
    if was is not None and now is not None and was != now:
        heavier = (new[-1].load or 0.0) > (old[-1].load or 0.0)
        fell = now < was and not heavier
        return f"the share of body mass falls from {was:g} to {now:g}" if fell else None
    if all(lighter) and old[0].setup == new[0].setup:
        return f"the heaviest load falls from {old[-1].load:g} to {new[-1].load or 0:g} kg"
    return None


def _range(place: str, exercise: Exercise) -> Iterator[Objection]:
    versions = [exercise.at(level.version) for level in exercise.progression]
    counted = next((one for one in versions if one.measure == "reps"), exercise)
    low, high = counted.rep_range
    if counted.measure == "reps" and (low < REPS_FROM or high > REPS_TO):
        wrong = f"{low:g} to {high:g} repetitions reach "
        beyond = [f"below {REPS_FROM:g}"] if low < REPS_FROM else []
        beyond += [f"above {REPS_TO:g}"] if high > REPS_TO else []
        remedy = "write reps = [8, 20], and a harder or easier version"
        yield Objection("range", place, wrong + " and ".join(beyond), remedy, RANGE_GROUND)


# One session.


def _session(workout: Workout, *, whole: bool) -> Iterator[Objection]:
    place, sets = f"session.{workout.session}", tally([workout])
    for muscle, number in sets.by_muscle.items():
        if number > MOST_OF_MUSCLE:
            wrong = f"{number:g} sets of {muscle} in one session"
            remedy = f"move some to another session; keep at most {MOST_OF_MUSCLE:g}"
            yield Objection("sets of a muscle", place, wrong, remedy, OURS)
    if sets.work_sets > MOST_SETS:
        wrong = f"{sets.work_sets} work sets in one session"
        remedy = f"leave some out or add a session; keep at most {MOST_SETS}"
        yield Objection("sets of a session", place, wrong, remedy, OURS)
    if whole and workout.warm_up <= 0 and not sets.ramp_sets:
        remedy = 'write warm_up = "4:00", or ramp = 1 in the first exercises'
        yield Objection("warm-up", place, "no warm-up and no warm-up set", remedy, PRACTICE)


# The week.


def _week(plan: Plan, workouts: Sequence[Workout]) -> Iterator[Objection]:
    given = [DAYS.index(day) for day in plan.week.days]
    number = len(given) or sessions_a_week(len(workouts), plan.week.sessions)
    if number > MOST_DAYS:
        remedy = f"write sessions = [3, 4] under [week], or at most {MOST_DAYS} sessions"
        yield Objection("days", "week", f"{number} days a week", remedy, DAYS_GROUND)
        return
    days = suggest([main_muscles(workout) for workout in workouts], number, given)
    close: dict[tuple[str, str], list[str]] = {}
    for short in days.short:
        visits = tuple(workouts[v.session].session for v in (short.before, short.after))
        muscles = close.setdefault((visits[0], visits[1]), [])
        if short.muscle not in muscles:
            muscles.append(short.muscle)
    for (before, after), muscles in close.items():
        which = f"session {before}" if before == after else f"sessions {before} and {after}"
        wrong = f"{which} on following days: {', '.join(muscles)} both times"
        why = "" if given else f"no choice of {number} days leaves {HOURS_BETWEEN:g} h: "
        remedy = f"{why}plan fewer or other days, or other main muscles in one of the two"
        yield Objection("following days", "week", wrong, remedy, RECOVERY_GROUND)


def main_muscles(workout: Workout) -> frozenset[str]:
    """The main muscles of all exercises of a session."""
    return frozenset(
        muscle
        for block in workout.blocks
        for item in block.items
        for muscle in workout.exercises[item.exercise].prime
    )


def _patterns(workouts: Sequence[Workout]) -> Iterator[Objection]:
    by_pattern = tally(workouts).by_pattern
    sets = {
        group: sum(by_pattern.get(pattern, 0) for pattern in patterns)
        for group, patterns in PATTERN_GROUPS.items()
    }
    for group, number in sets.items():
        if not number:
            remedy = f"add an exercise of pattern {_either(PATTERN_GROUPS[group])}"
            yield Objection("missing pattern", "session", f"no {group}", remedy, PRACTICE)
    (more, most), (less, least) = sorted(
        ((name, sets[name]) for name in ("push", "pull")), key=lambda one: -one[1]
    )
    if least and most >= FAR[more] * least and most - least >= FAR_BY:
        wrong = f"{most} sets of {more} against {least} of {less}"
        remedy = f"move sets from {more} to {less} until they are close"
        yield Objection("push and pull", "session", wrong, remedy, OURS)
