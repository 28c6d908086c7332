"""The week of a plan: its sessions on days, and each muscle's sets against the aim."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from statistics import fmean
from typing import Any, Final

from msgspec import Struct

from runner.law.muscles import MUSCLES, PATTERN_GROUPS
from runner.law.weekly_sets import AIM, LITTLE, Judgement, judged
from runner.law.workout import Workout
from runner.plan.compile import phases_of
from runner.plan.models import Plan
from runner.plan.objections import main_muscles
from runner.plan.review import tally
from runner.plan.values import DAYS as NAMES
from runner.planning import forecast
from runner.progress.adjust import Baseline, adjusted
from runner.progress.phases import InForce, phase_changes, phase_of_week
from runner.progress.weekdays import Days, Short, Visit, sessions_a_week, suggest
from runner.progress.weeks import HOURS_BETWEEN
from runner.reports.timeline import clipped, columns, enumerated
from runner.text import clock, how_many, shown, wrapped

# Patterns that are compared with each other; common practice.
OPPOSED: tuple[tuple[str, tuple[str, ...], str, tuple[str, ...]], ...] = (
    ("push", PATTERN_GROUPS["push"], "pull", PATTERN_GROUPS["pull"]),
    ("squat and lunge", PATTERN_GROUPS["squat or lunge"], "hinge", PATTERN_GROUPS["hinge"]),
)


class Session(Struct, frozen=True):
    """One session of the plan, done once."""

    id: str
    name: str
    seconds: float
    sets: int  # work sets; left and right of one set are one


class Muscle(Struct, frozen=True):
    """A muscle's sets a week and its aim."""

    muscle: str
    sets: float
    aim: tuple[int, int] | None  # the plan's; None: the published band
    judged: Judgement

    @property
    def band(self) -> tuple[float, float]:
        """The aim: the plan's, or the published one."""
        return AIM if self.aim is None else self.aim


class OneSided(Struct, frozen=True):
    """A one-sided exercise: work sets a week for each side, and how long they are expected."""

    exercise: str
    name: str
    left: float
    right: float
    left_s: float  # seconds, mean over its sets
    right_s: float


class Week(Struct, frozen=True):
    """All that is said of a plan's week; sets are a week's, on average over the sequence."""

    plan: str
    number: int  # sessions a week counted
    aim: tuple[int, int] | None  # the plan's sessions a week
    sessions: tuple[Session, ...]
    days: Days
    muscles: tuple[Muscle, ...]
    untrained: tuple[str, ...]
    patterns: Mapping[str, float]
    one_sided: tuple[OneSided, ...]

    @property
    def seconds(self) -> float:
        """Length of all sessions of a week."""
        return self.number * fmean(session.seconds for session in self.sessions)


def week_of(plan: Plan, workouts: Sequence[tuple[Workout, Baseline]]) -> Week:
    """The week of a plan; `workouts` are its sessions in their order, with what is known."""
    number = len(plan.week.days) or sessions_a_week(len(workouts), plan.week.sessions)
    often = number / len(workouts)  # how often a week holds each session, on average
    whole = tally(workout for workout, _ in workouts)
    muscles = {muscle: sets * often for muscle, sets in whole.by_muscle.items()}
    return Week(
        plan=plan.title,
        number=number,
        aim=plan.week.sessions,
        sessions=tuple(_session(*known) for known in workouts),
        days=suggest(
            [main_muscles(workout) for workout, _ in workouts],
            number,
            [NAMES.index(day) for day in plan.week.days],
        ),
        muscles=tuple(_muscles(plan, muscles)),
        untrained=tuple(muscle for muscle in MUSCLES if muscle not in muscles),
        patterns={pattern: sets * often for pattern, sets in whole.by_pattern.items()},
        one_sided=tuple(_one_sided(workouts, often)),
    )


def _session(workout: Workout, baseline: Baseline) -> Session:
    seconds = forecast.total(forecast.session_steps(workout, baseline))
    return Session(workout.session, workout.name, seconds, tally([workout]).work_sets)


def _muscles(plan: Plan, sets: Mapping[str, float]) -> Iterable[Muscle]:
    """The muscles that are trained, and those for which the plan has an aim."""
    targets: dict[str, tuple[int, int]] = dict(plan.week.muscles.items())
    for muscle in MUSCLES:
        if muscle in sets or muscle in targets:
            aim = targets.get(muscle, plan.week.sets)
            number = sets.get(muscle, 0.0)
            yield Muscle(muscle, number, aim, judged(number, aim))


def _one_sided(workouts: Sequence[tuple[Workout, Baseline]], often: float) -> Iterable[OneSided]:
    """One-sided exercises, counted bout by bout on each side."""
    lengths: dict[str, dict[str, list[float]]] = {}
    names: dict[str, str] = {}
    for workout, baseline in workouts:
        for step in forecast.session_steps(workout, baseline):
            if (
                step.planned_set is None
                or step.planned_set.kind != "work"
                or step.side not in ("left", "right")
            ):
                continue
            names[step.planned_set.exercise] = workout.exercises[step.planned_set.exercise].name
            sides = lengths.setdefault(step.planned_set.exercise, {"left": [], "right": []})
            sides[step.side].append(step.seconds)
    for exercise, sides in lengths.items():
        yield OneSided(
            exercise,
            names[exercise],
            len(sides["left"]) * often,
            len(sides["right"]) * often,
            fmean(sides["left"] or [0.0]),
            fmean(sides["right"] or [0.0]),
        )


# The same as text and as data.

WEEKDAYS: Final = (
    "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday",
)  # fmt: skip
_MOST_WEEKS = 4  # shown of a sequence that takes longer; our choice
_APART = 1.0  # seconds; sides whose lengths differ by less are called equal; our choice


def week_lines(week: Week, width: int = 80) -> list[str]:
    """The week as lines of at most `width` columns."""
    return [
        *wrapped(f"{shown(week.plan)}: the week", width),
        "",
        *wrapped(_counted(week), width, ""),
        "",
        *_sessions(week, width),
        "",
        *_days(week, width),
        "",
        *_muscle_lines(week, width),
        "",
        *_patterns(week, width),
        "",
        *_sides(week, width),
    ]


def _counted(week: Week) -> str:
    """How many sessions a week the numbers below are for, and why."""
    planned = len(week.sessions)
    aims = "" if week.aim is None else f"the plan aims at {_range(week.aim)} a week"
    counted = f"{how_many(week.number, 'session')} a week"
    if week.aim is None:
        return (
            f"For {counted}: each session once. The plan names no aim; to count for another "
            "number write sessions = [3, 4] under [week]."
        )
    if week.number == planned:
        return f"For {counted}, each session once: {aims}."
    return (
        f"For {counted}, in turn: {aims} and has {how_many(planned, 'session')}, so a week "
        f"holds each {week.number / planned:.2g} times on average."
    )


def _range(pair: Sequence[float]) -> str:
    low, high = (f"{number:g}" for number in pair)
    return low if low == high else f"{low} to {high}"


def _sessions(week: Week, width: int) -> list[str]:
    rows = [("session", "length", "sets")]
    room = max(width - 24, 20)
    rows += [(clipped(_name(s), room), clock(s.seconds), str(s.sets)) for s in week.sessions]
    sets = sum(s.sets for s in week.sessions) * week.number / len(week.sessions)
    rows.append(("a week", clock(week.seconds), f"{sets:.10g}"))
    return columns(rows, frozenset({1, 2}))


def _name(session: Session) -> str:
    return session.id if session.name == session.id else f"{session.id}  {session.name}"


def _days(week: Week, width: int) -> list[str]:
    if not week.days.days:
        return ["The plan has more sessions than a week has days, so no days are suggested."]
    weeks = min(week.days.weeks, _MOST_WEEKS)
    at = {(v.week, v.day): shown(week.sessions[v.session].id) for v in week.days.visits}
    head = (
        "planned" if week.days.given else "suggested",
        *(f"week {n + 1}" if weeks > 1 else "" for n in range(weeks)),
    )
    rows = [
        head,
        *((WEEKDAYS[day], *(at[n, day] for n in range(weeks))) for day in week.days.days),
    ]
    lines = columns(rows, frozenset())
    if week.days.weeks > weeks:
        lines.append(f"and so on, in turn for {week.days.weeks} weeks")
    return [*lines, *_short(week, width)]


def _short(week: Week, width: int) -> Iterator[str]:
    """Muscles with less than 48 h between, those of the same two visits together."""
    between = f"{HOURS_BETWEEN:g} h"
    if not week.days.short:
        yield from wrapped(
            f"Every main muscle has {between} or more between its sessions (ACSM 2009).", width
        )
        return
    yield from wrapped(
        f"Main muscles with less than {between} between sessions (ACSM 2009 asks for {between})"
        + (":" if week.days.given else "; no other days do better:"),
        width,
    )
    groups: dict[str, list[str]] = {}
    for short in week.days.short:
        muscles = groups.setdefault(_from_to(week, short), [])
        if short.muscle not in muscles:
            muscles.append(short.muscle)
    for visits, muscles in groups.items():
        yield from wrapped(f"- {visits}: {', '.join(muscles)}", width)


def _from_to(week: Week, short: Short) -> str:
    def visit_text(visit: Visit) -> str:
        return f"{shown(week.sessions[visit.session].id)} {WEEKDAYS[visit.day]}"

    return f"{short.hours} h from {visit_text(short.before)} to {visit_text(short.after)}"


def _muscle_lines(week: Week, width: int) -> list[str]:
    rows = [("muscle", "sets", "aim", "")]
    own = any(m.aim is not None for m in week.muscles)
    for m in week.muscles:
        low, high = m.aim or AIM
        rows.append((m.muscle, f"{m.sets:.1f}", f"{low:g}-{high:g}", m.judged))
    head = "Sets a week (main muscle 1, helping muscle 0.5; left and right are one set):"
    lines = wrapped(head, width)
    lines += columns(rows, frozenset({1, 2}))
    if week.untrained:
        lines += enumerated("No sets:", week.untrained, width)
    where = "the plan's aim where it states one, else " if own else ""
    return lines + wrapped(
        f"in: within the aim ({where}{AIM[0]:g} to {AIM[1]:g}: Schoenfeld et al. 2017, Baz-Valle "
        f"et al. 2022); under: less; little: less, and under {LITTLE:g} (Iversen et al. 2021); "
        "over: more than the aim",
        width,
    )


def _patterns(week: Week, width: int) -> list[str]:
    each = [f"{pattern} {_sets(sets)}" for pattern, sets in week.patterns.items()]
    lines = enumerated("Sets a week of each pattern:", each, width)
    for one, ones, other, others in OPPOSED:
        here = sum(week.patterns.get(pattern, 0.0) for pattern in ones)
        there = sum(week.patterns.get(pattern, 0.0) for pattern in others)
        if here or there:
            lines.append(
                f"{one} {_sets(here)} against {other} {_sets(there)}: {_more(here, there)}"
            )
    return lines


def _more(here: float, there: float) -> str:
    if abs(here - there) < 0.05:
        return "equal"
    return f"{_sets(abs(here - there))} {'more' if here > there else 'fewer'}"


def _sets(number: float) -> str:
    """Sets to the tenth, without one where it is whole."""
    return f"{round(number, 1):g}"


def _sides(week: Week, width: int) -> list[str]:
    """Left against right: sets, and expected lengths where they differ."""
    if not week.one_sided:
        return ["Left and right: no one-sided exercise; both sides work together in every set."]
    left, right = sum(o.left for o in week.one_sided), sum(o.right for o in week.one_sided)
    equal = all(abs(o.left - o.right) < 0.05 for o in week.one_sided)
    lines = wrapped(
        f"Left and right: {_sets(left)} one-sided sets a week"
        + (", each done on both sides: equal" if equal else f" left, {_sets(right)} right"),
        width,
    )
    for o in week.one_sided:
        if abs(o.left - o.right) >= 0.05:
            lines += wrapped(
                f"- {shown(o.name)}: {_sets(o.left)} left, {_sets(o.right)} right", width
            )
    apart = [o for o in week.one_sided if abs(o.left_s - o.right_s) >= _APART]
    for o in apart:
        times = f"{clock(o.left_s)} left, {clock(o.right_s)} right"
        lines += wrapped(f"- {shown(o.name)}: a set is expected to last {times}", width)
    if not apart:
        lines.append("Both sides are expected to take equally long.")
    return lines


def week_data(week: Week) -> dict[str, Any]:
    """The week as plain data for scripts; lengths in seconds, hours as whole numbers."""

    def visit(v: Visit) -> dict[str, Any]:
        return {
            "week": v.week + 1,
            "day": WEEKDAYS[v.day].lower(),
            "session": week.sessions[v.session].id,
        }

    return {
        "plan": week.plan,
        "sessions_a_week": week.number,
        "sessions_aimed_at": None if week.aim is None else list(week.aim),
        "total_s": round(week.seconds, 4),
        "sessions": [
            {"session": s.id, "name": s.name, "total_s": round(s.seconds, 4), "sets": s.sets}
            for s in week.sessions
        ],
        "days": [visit(v) for v in week.days.visits],
        "under_48_h": [
            {
                "muscle": s.muscle,
                "hours": s.hours,
                "from": visit(s.before),
                "to": visit(s.after),
            }
            for s in week.days.short
        ],
        "muscles": [
            {
                "muscle": m.muscle,
                "sets": round(m.sets, 4),
                "aim": [float(number) for number in m.aim or AIM],
                "aim_of": "default" if m.aim is None else "plan",
                "judged": m.judged,
            }
            for m in week.muscles
        ],
        "patterns": {pattern: round(sets, 4) for pattern, sets in week.patterns.items()},
        "one_sided": [
            {
                "exercise": o.exercise,
                "left_sets": round(o.left, 4),
                "right_sets": round(o.right, 4),
                "left_s": round(o.left_s, 4),
                "right_s": round(o.right_s, 4),
            }
            for o in week.one_sided
        ],
    }


# Weeks through the phases of a plan, from the first.

_MOST_COLUMNS = 8  # weeks beside each other; our choice


def through_phases(
    plan: Plan, workouts: Sequence[tuple[Workout, Baseline]], number: int
) -> list[tuple[InForce | None, Week]]:
    """That many weeks of a plan from the first, each with its phase."""
    weeks: dict[int, Week] = {}
    found = []
    for week in range(number):
        now = phase_of_week(phases_of(plan), week)
        key = 0 if now is None else now.number
        if key not in weeks:
            changed = [
                (w if now is None else adjusted(w, {}, phase_changes(now.phase, w))[0], known)
                for w, known in workouts
            ]
            weeks[key] = week_of(plan, changed)
        found.append((now, weeks[key]))
    return found


def through_lines(
    plan: Plan, weeks: Sequence[tuple[InForce | None, Week]], width: int
) -> list[str]:
    """Sets by muscle and week, in lines of at most `width` columns."""
    lines = wrapped(f"{shown(plan.title)}: {how_many(len(weeks), 'week')} from the first", width)
    phases = {now.number: now.phase.text for now, _ in weeks if now is not None}
    lines += [f"phase {number}: {text}" for number, text in phases.items()]
    lines += [] if phases else ["The plan has no [[phase]]: every week is alike."]
    for first in range(0, len(weeks), _MOST_COLUMNS):
        some = weeks[first : first + _MOST_COLUMNS]
        rows = [("week", *(str(first + n + 1) for n in range(len(some))))]
        if phases:
            rows.append(("phase", *("" if now is None else str(now.number) for now, _ in some)))
        rows.append(("length", *(clock(week.seconds) for _, week in some)))
        rows.append(("sets", *(_sets(_week_sets(week)) for _, week in some)))
        each = [{m.muscle: m.sets for m in week.muscles} for _, week in some]
        rows += [(m, *(_sets(one.get(m, 0.0)) for one in each)) for m in each[0]]
        lines += ["", *columns(rows, frozenset(range(1, len(some) + 1)))]
    return lines


def through_data(plan: Plan, weeks: Sequence[tuple[InForce | None, Week]]) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "plan": plan.title,
        "weeks": [
            {
                "week": number,
                "phase": None if now is None else now.number,
                "total_s": round(week.seconds, 4),
                "sets": round(_week_sets(week), 4),
                "muscles": {m.muscle: round(m.sets, 4) for m in week.muscles},
            }
            for number, (now, week) in enumerate(weeks, 1)
        ],
    }


def _week_sets(week: Week) -> float:
    return sum(one.sets for one in week.sessions) * week.number / len(week.sessions)
