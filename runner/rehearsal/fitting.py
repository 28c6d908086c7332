"""A session fitted to the time there is: what is left out, and what the week loses by it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from runner.core.clock_text import clock
from runner.core.memory import Memory, begin_course
from runner.core.rehearsal.fit import Fit, fit_session, shortened
from runner.core.rehearsal.simulate import Simulation
from runner.core.weekly import Judgement, judged
from runner.core.workout import Workout
from runner.errors import Exit, MatsideError
from runner.plan.models import Plan
from runner.plan.summary import tally
from runner.record.text import shown
from runner.rehearsal.week import week_of

_WORDS: Mapping[Judgement, str] = {
    "little": "little",
    "under": "under the aim",
    "in": "as aimed at",
    "over": "more than aimed at",
}


@dataclass(frozen=True, slots=True)
class Loss:
    """Sets that a muscle has in a week with the session whole, and once shortened."""

    muscle: str
    before: float
    after: float
    aim: tuple[int, int] | None  # the plan's; None: the published band
    judged: Judgement  # of `after`


@dataclass(frozen=True, slots=True)
class Fitted:
    """The answer to a time: the session as it was and as it fits."""

    within: float  # seconds
    fit: Fit
    whole: Workout
    workout: Workout  # what is left
    losses: tuple[Loss, ...]


def fitted(
    plan: Plan, workouts: Sequence[tuple[Workout, Memory]], workout: Workout, within: float
) -> Fitted:
    """Fit `workout`, one of the plan's sessions `workouts`, into so many seconds.

    Raises MatsideError, with the shortest possible, where nothing fits.
    """
    memory = next((m for w, m in workouts if w.session == workout.session), Memory())
    found = fit_session(begin_course(workout, memory), within)
    if not found.fits:
        raise MatsideError(
            f"nothing fits into {clock(within)}: with a set for each muscle, and push and pull "
            f"in balance, the shortest found is {clock(found.end)}",
            code=Exit.USAGE,
        )
    shorter = shortened(workout, found.left_out)
    return Fitted(within, found, workout, shorter, tuple(_losses(plan, workouts, workout, shorter)))


def _losses(
    plan: Plan, workouts: Sequence[tuple[Workout, Memory]], whole: Workout, shorter: Workout
) -> Iterator[Loss]:
    """What a week loses in which this session is shortened once."""
    before, after = tally([whole]).by_muscle, tally([shorter]).by_muscle
    for muscle in week_of(plan, workouts).muscles:
        less = before.get(muscle.muscle, 0.0) - after.get(muscle.muscle, 0.0)
        if less > 0:
            left = max(muscle.sets - less, 0.0)
            yield Loss(muscle.muscle, muscle.sets, left, muscle.aim, judged(left, muscle.aim))


def runs_in_time(found: Fitted, simulation: Simulation) -> int:
    """How many runs of the session as it fits end within the time there is."""
    return sum(total <= found.within for total in simulation.totals)


def fit_lines(found: Fitted, simulation: Simulation) -> list[str]:
    """What is left out and what the week loses, for people; `simulation` is of what is left."""
    before, end = clock(found.fit.before), clock(found.fit.end)
    within, runs = clock(found.within), len(simulation.totals)
    likely = (
        f"Of {runs} simulated runs {runs_in_time(found, simulation)} end within {within}; "
        f"9 in 10 end within {clock(simulation.length.p90)}."
    )
    if not found.fit.left_out:
        return [f"Within {within}: forecast {before}, nothing is left out.", likely]
    lines = [f"Within {within}: forecast {end} instead of {before}.", likely, "Left out:"]
    names = [shown(found.whole.exercises[one.exercise].name) for one in found.fit.left_out]
    width = max(map(len, names))
    for name, one in zip(names, found.fit.left_out, strict=True):
        priority = found.whole.exercises[one.exercise].priority
        lines.append(
            f"  {name:<{width}}  {one.sets} of {one.of} {'set' if one.of == 1 else 'sets'}"
            f"  (priority {priority}, block {one.block})"
        )
    lines.append("What a week loses by it, once (prime movers count 1, synergists 0.5):")
    width = max((len(loss.muscle) for loss in found.losses), default=0)
    lines += [f"  {loss.muscle:<{width}}  {_loss(loss)}" for loss in found.losses]
    return lines


def _loss(loss: Loss) -> str:
    text = f"{loss.before:4.1f} -> {loss.after:4.1f} sets"
    aim = "" if loss.aim is None else f", {loss.aim[0]} to {loss.aim[1]} aimed at"
    return f"{text}{aim}: {_WORDS[loss.judged]}"


def fit_data(found: Fitted, simulation: Simulation) -> dict[str, Any]:
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
