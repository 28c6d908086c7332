"""Warnings about an allowed plan that deserves a second thought, and a summary of the plan.

Each warning comes with a remedy. The summary counts exercises, sets, and the sets for each muscle
and pattern.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations

from msgspec import Struct

from runner.law.course import Course
from runner.law.timing import TimedSet
from runner.law.weekly_sets import Sets, judged, sets_by_muscle, sets_of, sets_text
from runner.law.workout import Block, Exercise, Item, Workout
from runner.plan.compile import compile_plan
from runner.plan.models import Plan
from runner.plan.values import PATTERNS, duration_text
from runner.progress.adjust import begin_course
from runner.progress.weekdays import sessions_a_week
from runner.text import escaped, how_many

MOST_WARNINGS = 200  # warnings listed of a plan; our choice
SLOW_REP = 10.0  # seconds; slower trains less well: Schoenfeld et al. 2015, Sports Med 45:577-585
HARDLY_ANY = 6.0  # seconds of recovery; our choice: so few are more likely a slip


class ContentWarning(Struct, frozen=True):
    """A warning about a plan that can be used as it is."""

    place: str  # in the words of the file
    wrong: str
    remedy: str


def render_warnings(file: str, warnings: Iterable[ContentWarning]) -> list[str]:
    """One line for each: `file: place: warning: what; what to do`."""
    name, known = escaped(file), list(warnings)
    lines = [f"{name}: {w.place}: warning: {w.wrong}; {w.remedy}" for w in known[:MOST_WARNINGS]]
    beyond = len(known) - MOST_WARNINGS
    more = f"{name}: and {how_many(beyond, 'more warning')}"
    return [*lines, more] if beyond > 0 else lines


def content_warnings(plan: Plan) -> list[ContentWarning]:
    """Warnings, each once: sessions in order, then exercises, then stations."""
    workouts = compile_plan(plan)
    found: list[ContentWarning] = []
    for workout in workouts:
        found += _blocks(workout)
    exercises = workouts[0].exercises
    for exercise in exercises.values():
        found += _exercise(exercise)
    found += _stations(workouts[0])
    return list(dict.fromkeys(found))


def _blocks(workout: Workout) -> Iterator[ContentWarning]:
    course = begin_course(workout)
    for number, block in enumerate(workout.blocks, 1):
        place = f"session.{workout.session}.block {number}"
        exercises = [_done(workout, item) for item in block.items]
        # Round 1 holds every exercise of its block, so it holds each pair of the block.
        for one, other in combinations(exercises, 2):
            yield from _shared(place, one, other)
            if one.short == other.short:
                wrong = f"{one.id} and {other.id} have the same short name, {one.short}"
                yield ContentWarning(place, wrong, "write another short for one of them")
        yield from _hardly_any(place, block)
        yield from _too_short(place, course, number)
        yield from _no_way_round(place, block, workout)


def _hardly_any(place: str, block: Block) -> Iterator[ContentWarning]:
    """A recovery of seconds where minutes were meant: a number alone means seconds."""
    least = min(block.timing[item.exercise].recovery for item in block.items)
    if least < HARDLY_ANY:
        wrong = f'a muscle has only "{duration_text(least)}" to recover'
        yield ContentWarning(place, wrong, 'if minutes are meant, write recovery = "2:00"')


def _shared(place: str, one: Exercise, other: Exercise) -> Iterator[ContentWarning]:
    remedy = "put one of them in another block"
    both = _common(one.prime, other.prime)
    if both:
        wrong = f"{one.id} and {other.id} have the same main muscle: {both}"
        yield ContentWarning(place, wrong, remedy)
    for first, second in ((one, other), (other, one)):
        crossed = _common(first.prime, second.helping)
        if crossed:
            wrong = f"{first.id} trains a helping muscle of {second.id}: {crossed}"
            yield ContentWarning(place, wrong, remedy)
    helpers = _common(one.helping, other.helping)
    if helpers:
        wrong = f"{one.id} and {other.id} have the same helping muscle: {helpers}"
        yield ContentWarning(place, wrong, remedy)


def _common(one: Iterable[str], other: Iterable[str]) -> str:
    others = set(other)
    return ", ".join(muscle for muscle in one if muscle in others)


def _too_short(place: str, course: Course, block: int) -> Iterator[ContentWarning]:
    """The first round whose changeovers, even at their longest, stay under the least recovery.

    A round repeats every W + k·c2, or what it must last anyway; its muscles ask for L + w.
    """
    seen: set[int] = set()
    for index, planned_set in enumerate(course.planned_sets):
        if planned_set.block != block or planned_set.round in seen:
            continue
        seen.add(planned_set.round)
        round_ = course.round_of(index)
        if len(round_) < 2:
            continue
        lacking = _lacking(round_)
        if lacking > 0:
            ceiling = round_[0].timing.changeover_to
            wrong = (
                f'in round {planned_set.round} changeovers of "{duration_text(ceiling)}" are too '
                "short for the least recovery: they will be longer"
            )
            needed = duration_text(float(-int(-(ceiling + lacking / len(round_)) // 1)))
            remedy = f'write "{needed}" for the second changeover, or add an exercise'
            yield ContentWarning(place, wrong, remedy)
            return


def _lacking(round_: list[TimedSet]) -> float:
    """Seconds by which a round at its longest changeovers is shorter than the least recovery."""
    cycle = sum(timed.work for timed in round_)
    for before, timed in zip([round_[-1], *round_[:-1]], round_, strict=True):
        forced = max(before.timing.breather, timed.timing.position)
        cycle += max(timed.timing.changeover_to, forced)
    need = max(
        timed.timing.recovery_least + bout.expected for timed in round_ for bout in timed.bouts
    )
    # Sums of binary fractions: a difference under a microsecond does not count.
    return need - cycle if need - cycle > 1e-6 else 0.0


def _no_way_round(place: str, block: Block, workout: Workout) -> Iterator[ContentWarning]:
    here = dict.fromkeys(item.exercise for item in block.items)
    for name in here:
        instead = workout.exercises[name].instead
        if not instead:
            remedy = f"write instead = [ … ] in exercise.{name}"
            yield ContentWarning(f"exercise.{name}", "no substitute", remedy)
        elif set(instead) <= here.keys():
            wrong = f"every substitute of {name} is in the same block"
            yield ContentWarning(place, wrong, f"add another to instead in exercise.{name}")


def _exercise(exercise: Exercise) -> Iterator[ContentWarning]:
    place = f"exercise.{exercise.id}"
    if len(exercise.progression) == 1:
        remedy = "add a harder or easier version, or a range of loads"
        yield ContentWarning(place, "the progression has one level", remedy)
    if (wrong := no_way_out(exercise)) is not None:
        yield ContentWarning(place, wrong, WAY_OUT)
    yield from _counts(place, exercise)


WAY_OUT = 'write way_out = "…"'


def no_way_out(exercise: Exercise) -> str | None:
    """The warning for a load on the back or overhead without a way out; None where there is one."""
    if exercise.load_on not in {"back", "overhead"} or exercise.way_out is not None:
        return None
    where = "on the back" if exercise.load_on == "back" else "overhead"
    return f"a load {where} without a way out of a failed repetition"


def _counts(place: str, exercise: Exercise) -> Iterator[ContentWarning]:
    versions = [exercise.at(level.version) for level in exercise.progression]
    counted = [one for one in versions if one.measure == "reps"]
    if counted and counted[0].rep_range[1] > exercise.rep_limit:
        wrong = f"up to {counted[0].rep_range[1]:g} repetitions, over the rep limit of "
        remedy = "lower the second number of reps, or raise hard_ceiling"
        yield ContentWarning(place, f"{wrong}{exercise.rep_limit}", remedy)
    for level, one in zip(exercise.progression, versions, strict=True):
        if one.measure == "reps" and level.seconds_a_rep > SLOW_REP:
            wrong = f"{level.seconds_a_rep:g} seconds a repetition in version {level.version}"
            yield ContentWarning(place, wrong, "write a tempo of 0.5 to 8 seconds")


def _stations(workout: Workout) -> Iterator[ContentWarning]:
    for name, station in workout.stations.items():
        if station.bears_body_weight and station.check is None:
            wrong = "it bears body weight, and the plan names no check of it"
            remedy = 'write check = "what to try before the first set"'
            yield ContentWarning(f"station.{name}", wrong, remedy)


# The summary.


class Tally(Struct, frozen=True):
    """Sets of one or more sessions; warm-up sets are counted apart and nowhere else."""

    exercises: int
    work_sets: int
    ramp_sets: int
    by_muscle: Mapping[str, float]  # a prime mover counts 1, a synergist a half
    by_pattern: Mapping[str, int]


def tally(workouts: Iterable[Workout]) -> Tally:
    """The sets of sessions, each session done once. Left and right of a set are one set."""
    counted: list[Sets] = []
    patterns: dict[str, int] = {}
    names: set[str] = set()
    work = ramp = 0
    for exercise, item in _items(workouts):
        names.add(exercise.id)
        work += item.sets
        ramp += item.ramp
        patterns[exercise.pattern] = patterns.get(exercise.pattern, 0) + item.sets
        counted += sets_of(exercise, item)
    in_order: dict[str, int] = {name: patterns[name] for name in PATTERNS if name in patterns}
    return Tally(len(names), work, ramp, sets_by_muscle(counted), in_order)


def _items(workouts: Iterable[Workout]) -> Iterable[tuple[Exercise, Item]]:
    for workout in workouts:
        for block in workout.blocks:
            for item in block.items:
                yield _done(workout, item), item


def _done(workout: Workout, item: Item) -> Exercise:
    """The exercise of an item, in the first version that the item names."""
    exercise = workout.exercises[item.exercise]
    return exercise.at(item.versions[0]) if item.versions else exercise


def summary_lines(plan: Plan, workouts: Sequence[Workout]) -> list[str]:
    """A plan in a few lines; `workouts` are its sessions, compiled."""
    whole = tally(workouts)
    lines = [plan.title + (" (trial)" if plan.trial else "")]
    if plan.summary:
        lines.append(plan.summary)
    lines.append(
        f"{how_many(len(workouts), 'session')}, {how_many(whole.exercises, 'exercise')}, "
        + _sets(whole)
    )
    return lines


def detail_lines(plan: Plan, workouts: Sequence[Workout]) -> list[str]:
    """Its sessions block by block, a week's sets of each muscle, the sets of each pattern."""
    whole = tally(workouts)
    lines = [line for workout in workouts for line in _session_lines(workout)]
    lines += _muscle_lines(plan, workouts, whole)
    lines.append("Sets for each pattern:")
    width = max(len(pattern) for pattern in whole.by_pattern)
    lines += [f"  {pattern:<{width}}  {sets}" for pattern, sets in whole.by_pattern.items()]
    return lines


def _session_lines(workout: Workout) -> list[str]:
    sets = tally([workout])
    named = "" if workout.name == workout.session else f", {workout.name}"
    exercises = how_many(sets.exercises, "exercise")
    head = f"Session {workout.session}{named}: {exercises}, {_sets(sets)}"
    return [head] + [
        f"  block {number}: " + " · ".join(_item(workout, item) for item in block.items)
        for number, block in enumerate(workout.blocks, 1)
    ]


def _item(workout: Workout, item: Item) -> str:
    exercise = _done(workout, item)
    ramp = f"{item.ramp} + " if item.ramp else ""
    sides = "" if exercise.sides == "together" else " a side"
    return f"{exercise.name} {ramp}{item.sets}{sides}"


def _muscle_lines(plan: Plan, workouts: Sequence[Workout], whole: Tally) -> Iterator[str]:
    """A week's sets of each muscle with the week's aim."""
    number = sessions_a_week(len(workouts), plan.week.sessions)
    times = number / len(workouts)  # how often each session comes in a week, on average
    week = "all sessions once" if times == 1 else f"{how_many(number, 'session')}, in turn"
    yield f"Sets a week for each muscle ({week}; main muscles count 1, helping muscles 0.5):"
    width = max(len(muscle) for muscle in whole.by_muscle)
    aims: dict[str, tuple[int, int]] = dict(plan.week.muscles.items())
    for muscle, sets in whole.by_muscle.items():
        aim = aims.get(muscle, plan.week.sets)
        text = f"  {muscle:<{width}}  {sets * times:4.1f}"
        if aim is not None:
            how = judged(sets * times, aim)
            text += f"  aim {aim[0]}-{aim[1]}" + ("" if how == "in" else f", {how}")
        yield text


def _sets(sets: Tally) -> str:
    return sets_text(sets.work_sets, sets.ramp_sets)
