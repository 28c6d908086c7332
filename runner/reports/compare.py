"""A session with and without a change: settings tried, or sets left out to end in time.

No file is changed. Both sides stand beside each other, with what the week loses by it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeVar

from msgspec import Struct
from msgspec.structs import asdict

from runner.errors import Exit, MatsideError
from runner.law.weekly_sets import Judgement, judged
from runner.law.workout import Workout
from runner.plan.edit import (
    MOST_SETS,
    Sets,
    check_timing,
    with_changeover,
    with_pace,
    with_recovery,
    with_sets,
)
from runner.plan.faults import BadValueError, quoted
from runner.plan.file import size_faults
from runner.plan.models import Plan
from runner.plan.review import tally
from runner.plan.values import LONGEST_REP, SHORTEST_REP, duration_text, parse_duration
from runner.planning.shorten import Fit, addition, fit_session, shortened
from runner.planning.simulate import Figures, Simulation, with_reps, without_own_pace
from runner.progress.adjust import Baseline, begin_course
from runner.reports.follow import added, lacking
from runner.reports.timeline import columns, percent
from runner.reports.week import week_of
from runner.text import clock, shown

MOST_REPS = 1000  # as in a plan

_T = TypeVar("_T")


class WhatIf(Struct, frozen=True):
    """The settings to try; None for those that stay."""

    recovery: float | None = None  # seconds
    changeover: tuple[float, float] | None = None  # seconds
    reps: int | None = None
    pace: float | None = None  # seconds a repetition
    sets: Sets | None = None

    def __bool__(self) -> bool:
        return self != WhatIf()

    @property
    def text(self) -> str:
        """The settings as they are written on the command line."""
        parts = []
        if self.recovery is not None:
            parts.append(f"--recovery {duration_text(self.recovery)}")
        if self.changeover is not None:
            low, high = map(duration_text, self.changeover)
            parts.append(f"--changeover {low}..{high}")
        if self.reps is not None:
            parts.append(f"--reps {self.reps}")
        if self.pace is not None:
            parts.append(f"--pace {duration_text(self.pace)}")
        if self.sets is not None:
            parts.append(_sets_text(self.sets))
        return " ".join(parts)

    def plan(self, plan: Plan, session_id: str) -> Plan:
        """The plan with these settings. Raises MatsideError where they cannot hold together."""
        if self.recovery is not None:
            plan = with_recovery(plan, self.recovery)
            check_timing(plan, session_id, f"--recovery {duration_text(self.recovery)}")
        if self.changeover is not None:
            plan = with_changeover(plan, self.changeover)
        if self.pace is not None:
            plan = with_pace(plan, self.pace)
        return plan if self.sets is None else self._with_sets(plan, self.sets)

    def _with_sets(self, plan: Plan, sets: Sets) -> Plan:
        changed = with_sets(plan, sets)
        for fault in size_faults(changed):
            raise MatsideError(
                f"{_sets_text(sets)}: then {fault.wrong}; {fault.remedy}", code=Exit.USAGE
            )
        return changed

    def baseline(self, workout: Workout, baseline: Baseline) -> Baseline:
        """What is known, where the lengths that these settings put aside no longer count."""
        if self.pace is not None:
            baseline = without_own_pace(workout, baseline)
        return baseline if self.reps is None else with_reps(workout, baseline, self.reps)


def _sets_text(sets: Sets) -> str:
    return f"--sets {sets.number:+}" if sets.added else f"--sets {sets.number}"


def read_what_if(
    recovery: str | None,
    changeover: str | None,
    reps: str | None,
    pace: str | None,
    sets: str | None,
) -> WhatIf:
    """The settings of the command line; MatsideError, one line, for what makes no sense."""
    return WhatIf(
        _read("--recovery", recovery, _recovery),
        _read("--changeover", changeover, _changeover),
        _read("--reps", reps, _reps),
        _read("--pace", pace, _pace),
        _read("--sets", sets, _sets),
    )


def _read(option: str, text: str | None, read: Callable[[str], _T]) -> _T | None:
    if text is None:
        return None
    try:
        return read(text.strip())
    except BadValueError as fault:
        line = f"{option}: {fault.wrong}; {fault.remedy}"
        raise MatsideError(line, code=Exit.USAGE) from fault


def _recovery(text: str) -> float:
    seconds = parse_duration(text)
    if seconds <= 0:
        raise BadValueError("a recovery of 0", "write more than 0, like 1:30")
    return seconds


def _changeover(text: str) -> tuple[float, float]:
    first, dots, last = text.partition("..")
    low = parse_duration(first)
    high = parse_duration(last) if dots else low
    if low > high:
        turned = f"{duration_text(high)}..{duration_text(low)}"
        raise BadValueError(f"{quoted(text)} goes backwards", f"write {turned}")
    return low, high


def _reps(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,4}", text) or not 1 <= int(text) <= MOST_REPS:
        wrong = f"{quoted(text)} is not a number of repetitions"
        raise BadValueError(wrong, f"write 1 to {MOST_REPS}, like 15")
    return int(text)


def _pace(text: str) -> float:
    seconds = parse_duration(text)
    if not SHORTEST_REP <= seconds <= LONGEST_REP:
        wrong = f"{quoted(text)} for one repetition"
        remedy = f"write {SHORTEST_REP:g}s to {LONGEST_REP:g}s, like 2.5s"
        raise BadValueError(wrong, remedy)
    return seconds


def _sets(text: str) -> Sets:
    found = re.fullmatch(r"([+-]?)([0-9]{1,3})", text)
    if found is None or not 1 <= int(found[2]) <= MOST_SETS:
        wrong = f"{quoted(text)} is not a number of sets"
        raise BadValueError(wrong, f"write 1 to {MOST_SETS}, like 4, or a step, +1 or -1")
    return Sets(int(found[1] + found[2]), added=bool(found[1]))


def what_if_data(what_if: WhatIf, planned: Figures, changed: Figures) -> dict[str, Any]:
    """What the timeline as data says of it; seconds, and shares as fractions of the length."""
    return {
        "what_if": {
            "tried": what_if.text,
            "as_planned": _figures_data(planned),
            "as_tried": _figures_data(changed),
        }
    }


def _figures_data(of: Figures) -> dict[str, Any]:
    least = of.least_recovery
    return {
        "length_s": {name: round(value, 4) for name, value in asdict(of.length).items()},
        "total_s": round(of.total, 4),
        "straight_sets_s": round(of.straight, 4),
        "work_share": round(of.work, 4),
        "rest_share": round(of.rest, 4),
        "least_recovery_s": None if least is None else round(least, 4),
        "sets": of.sets,
        "runs_under_least_recovery": of.short,
    }


def side_by_side(what_if: WhatIf, planned: Figures, changed: Figures) -> list[str]:
    """The session as planned and as tried, and what the difference is."""
    rows = [
        ("", "as planned", "as tried", "difference"),
        _times("1 run in 10 ends within", planned.length.p10, changed.length.p10),
        _times("half end within", planned.length.p50, changed.length.p50),
        _times("9 in 10 end within", planned.length.p90, changed.length.p90),
        _times("Forecast length", planned.total, changed.total),
        _times("As straight sets", planned.straight, changed.straight),
        ("Work", percent(planned.work, 1), percent(changed.work, 1), ""),
        ("Rest", percent(planned.rest, 1), percent(changed.rest, 1), ""),
        _times("Least recovery of a muscle", planned.least_recovery, changed.least_recovery),
        ("Sets", str(planned.sets), str(changed.sets), _signed(changed.sets - planned.sets, str)),
        ("Runs under the least", str(planned.short), str(changed.short), ""),
    ]
    return [f"What if {what_if.text}:", *columns(rows, frozenset({1, 2, 3}))]


def _times(name: str, was: float | None, now: float | None) -> tuple[str, str, str, str]:
    if was is None or now is None:
        shown = ["none" if one is None else clock(one) for one in (was, now)]
        return name, shown[0], shown[1], ""
    return name, clock(was), clock(now), _signed(round(now) - round(was), clock)


def _signed(difference: int, text: Callable[[int], str]) -> str:
    if difference == 0:
        return "0"
    return ("+" if difference > 0 else "-") + text(abs(difference))


# Sets left out to be over in time.

_WORDS: Mapping[Judgement, str] = {
    "little": "little",
    "under": "under the aim",
    "in": "within the aim",
    "over": "over the aim",
}


class Loss(Struct, frozen=True):
    """Sets that a muscle has in a week with the session whole, and once shortened."""

    muscle: str
    before: float
    after: float
    aim: tuple[int, int] | None  # the plan's; None: the published band
    judged: Judgement  # of `after`


class TimeFit(Struct, frozen=True):
    """The answer to a time: the session as it was and as it fits."""

    within: float  # seconds
    fit: Fit
    whole: Workout
    workout: Workout  # what is left
    losses: tuple[Loss, ...]
    more: str = ""  # what there is time to add, if nothing is left out


def fit_to_time(
    plan: Plan, workouts: Sequence[tuple[Workout, Baseline]], workout: Workout, within: float
) -> TimeFit:
    """Fit `workout`, one of the plan's sessions `workouts`, into that many seconds.

    Raises MatsideError, with the shortest possible, where nothing fits.
    """
    baseline = next((m for w, m in workouts if w.session == workout.session), Baseline())
    found = fit_session(begin_course(workout, baseline), within)
    if not found.fits:
        raise MatsideError(
            f"the session does not fit into {clock(within)}: with a set for each muscle, and push "
            f"and pull in balance, the shortest version takes {clock(found.end)}",
            code=Exit.USAGE,
        )
    if not found.left_out:
        return TimeFit(within, found, workout, workout, (), _more(plan, workouts, workout, within))
    shorter = shortened(workout, found.left_out)
    return TimeFit(
        within, found, workout, shorter, tuple(_losses(plan, workouts, workout, shorter))
    )


def _more(
    plan: Plan, workouts: Sequence[tuple[Workout, Baseline]], workout: Workout, within: float
) -> str:
    baseline = next((m for w, m in workouts if w.session == workout.session), None)
    week = week_of(plan, workouts)
    found = addition(workout, baseline, within, lacking(week))
    return "" if found is None else added(found, workout, week)


def _losses(
    plan: Plan, workouts: Sequence[tuple[Workout, Baseline]], whole: Workout, shorter: Workout
) -> Iterator[Loss]:
    """What a week loses in which this session is shortened once."""
    before, after = tally([whole]).by_muscle, tally([shorter]).by_muscle
    for muscle in week_of(plan, workouts).muscles:
        less = before.get(muscle.muscle, 0.0) - after.get(muscle.muscle, 0.0)
        if less > 0:
            sets = max(muscle.sets - less, 0.0)
            yield Loss(muscle.muscle, muscle.sets, sets, muscle.aim, judged(sets, muscle.aim))


def runs_in_time(found: TimeFit, simulation: Simulation) -> int:
    """How many simulated runs of the shortened session end in time."""
    return sum(total <= found.within for total in simulation.totals)


def fit_lines(found: TimeFit, simulation: Simulation) -> list[str]:
    """What is left out and what the week loses, for people; `simulation` is of what is left."""
    before, end = clock(found.fit.before), clock(found.fit.end)
    within, runs = clock(found.within), len(simulation.totals)
    likely = (
        f"Of {runs} simulated runs {runs_in_time(found, simulation)} end within {within}; "
        f"9 in 10 end within {clock(simulation.length.p90)}."
    )
    if not found.fit.left_out:
        free = clock(found.within - found.fit.before)
        more = [f"{free} left over. In {found.more}."] if found.more else []
        return [f"Within {within}: forecast {before}, nothing is left out.", likely, *more]
    lines = [f"Within {within}: forecast {end} instead of {before}.", likely, "Left out:"]
    names = [shown(found.whole.exercises[one.exercise].name) for one in found.fit.left_out]
    width = max(map(len, names))
    for name, one in zip(names, found.fit.left_out, strict=True):
        priority = found.whole.exercises[one.exercise].priority
        lines.append(
            f"  {name:<{width}}  {one.sets} of {one.of} {'set' if one.of == 1 else 'sets'}"
            f"  (priority {priority}, block {one.block})"
        )
    lines.append("Weekly sets with this session cut once (main muscle 1, helping muscle 0.5):")
    width = max((len(loss.muscle) for loss in found.losses), default=0)
    lines += [f"  {loss.muscle:<{width}}  {_loss(loss)}" for loss in found.losses]
    return lines


def _loss(loss: Loss) -> str:
    text = f"{loss.before:4.1f} -> {loss.after:4.1f} sets"
    aim = "" if loss.aim is None else f", aim {loss.aim[0]} to {loss.aim[1]}"
    return f"{text}{aim}: {_WORDS[loss.judged]}"


def fit_data(found: TimeFit, simulation: Simulation) -> dict[str, Any]:
    """The same as plain data, under the key `fit`; seconds."""
    return {
        "fit": {
            "within_s": round(found.within, 4),
            "before_s": round(found.fit.before, 4),
            "total_s": round(found.fit.end, 4),
            "runs": len(simulation.totals),
            "runs_within": runs_in_time(found, simulation),
            "p90_s": round(simulation.length.p90, 4),
            "left_out": [
                {"block": one.block, "exercise": one.exercise, "sets": one.sets, "of": one.of}
                for one in found.fit.left_out
            ],
            "week": [
                {
                    "muscle": loss.muscle,
                    "before": loss.before,
                    "after": loss.after,
                    "aim": None if loss.aim is None else list(loss.aim),
                    "judged": loss.judged,
                }
                for loss in found.losses
            ],
        }
    }
