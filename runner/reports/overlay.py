"""What a person's overlay changes in a plan, and what that costs a week, for `check --for`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from runner.law.weekly_sets import AIM, Sets, sets_by_muscle
from runner.plan.compile import compile_session
from runner.plan.models import Plan
from runner.plan.person import Difference, PersonalPlan
from runner.progress.adjust import Baseline
from runner.reports.week import OPPOSED, Week, week_of


def overlay_report(personal: PersonalPlan, trainee: str, today: date) -> list[str]:
    """The differences from the shared plan, what each costs, and which aims are missed."""
    overlay, overlaid = personal.overlay, personal.overlaid
    if overlay is None or overlaid is None:
        return [f"{trainee} has no overlay; to write one: matside for {trainee} --edit"]
    before, after = _week(personal.shared), _week(personal.plan)
    lines = [f"Different for {trainee}, by {overlay.path.name}:"]
    for one in overlaid.differences:
        lines += [f"  {one.line}", *(f"    {cost}" for cost in _cost(one, personal, before))]
    if len(lines) == 1:
        lines.append("  nothing: none of its keys concerns this plan")
    lines += _balance(before, after)
    lines += _unfilled(before, after)
    if overlaid.unstated:
        lines.append(
            "They state no stress, so matside never offers them: "
            + ", ".join(_planned_first(personal.plan, overlaid.unstated))
        )
    lines += [f"Avoided, but no exercise here states it: {one}" for one in overlaid.nowhere]
    return [*lines, *([overlay.question] if overlay.over(today) else [])]


def _week(plan: Plan) -> Week:
    return week_of(plan, [(compile_session(plan, one.id), Baseline()) for one in plan.session])


def _cost(one: Difference, personal: PersonalPlan, week: Week) -> Iterator[str]:
    """A week's sets that a difference brings or takes, by muscle, and of push and pull."""
    known = {
        name: exercise
        for plan in (personal.shared, personal.plan)
        for name, exercise in compile_session(plan, plan.session[0].id).exercises.items()
    }
    often = week.number / len(week.sessions)
    counted, patterns = [], dict[str, float]()
    for name, sets in one.sets:
        exercise = known[name]
        counted.append(Sets(exercise.prime, exercise.helping, sets * often))
        patterns[exercise.pattern] = patterns.get(exercise.pattern, 0.0) + sets * often
    muscles = {muscle: sets for muscle, sets in sets_by_muscle(counted).items() if sets}
    if muscles:
        yield f"a week: {', '.join(f'{name} {sets:+g}' for name, sets in muscles.items())}"
    sides = {
        side: sum(patterns.get(pattern, 0.0) for pattern in of)
        for side, of in ((OPPOSED[0][0], OPPOSED[0][1]), (OPPOSED[0][2], OPPOSED[0][3]))
    }
    said = [f"{side} {sets:+g}" for side, sets in sides.items() if sets]
    if said:
        yield f"push against pull: {', '.join(said)}"


def _balance(before: Week, after: Week) -> Iterator[str]:
    push, pushes, pull, pulls = OPPOSED[0]

    def sets(of: Mapping[str, float]) -> str:
        return " against ".join(
            f"{name} {sum(of.get(pattern, 0.0) for pattern in patterns):g}"
            for name, patterns in ((push, pushes), (pull, pulls))
        )

    yield f"Sets a week: {sets(after.patterns)}; in the shared plan {sets(before.patterns)}"


def _unfilled(before: Week, after: Week) -> Iterator[str]:
    """Muscles under their aim to which the shared plan gives more sets."""
    was = {one.muscle: one.sets for one in before.muscles}
    now = {one.muscle: one.sets for one in after.muscles}
    rows = []
    for one in before.muscles:
        low, high = one.aim or AIM
        sets = now.get(one.muscle, 0.0)
        if sets < low and sets < was[one.muscle]:
            rows.append(f"{one.muscle} {sets:g} of {low:g}-{high:g} (shared {was[one.muscle]:g})")
    if rows:
        yield "Under the aim because of this, in sets a week:"
        yield from (f"  {row}" for row in rows)
    gone = [pattern for pattern in before.patterns if pattern not in after.patterns]
    if gone:
        yield f"Patterns left out: {', '.join(gone)}"


def _planned_first(plan: Plan, names: tuple[str, ...]) -> list[str]:
    done = {item.exercise for one in plan.session for block in one.block for item in block.do}
    return [f"{name} (planned)" for name in names if name in done] + [
        name for name in names if name not in done
    ]
