"""A session's predicted timeline as plain data, for scripts."""

from __future__ import annotations

from typing import Any

from runner.core import forecast
from runner.core.forecast import Step
from runner.core.memory import Memory
from runner.core.timing import TimedSet
from runner.core.workout import Timing, Workout


def as_data(workout: Workout, memory: Memory) -> dict[str, Any]:
    """The timeline as plain data; seconds to the tenth of a millisecond."""
    steps = forecast.rehearse(workout, memory)
    straight = forecast.rehearse(forecast.straight(workout), memory)
    return {
        "plan": workout.plan,
        "session": workout.session,
        "total_s": _seconds(forecast.total(steps)),
        "straight_sets_s": _seconds(forecast.total(straight)),
        "steps": [_step_data(step) for step in steps],
    }


def _seconds(value: float) -> float:
    return round(value, 4)


def _step_data(step: Step) -> dict[str, Any]:
    data: dict[str, Any] = {
        "kind": step.kind,
        "start_s": _seconds(step.start),
        "end_s": _seconds(step.end),
    }
    if step.why is not None:
        data["why"] = step.why
    if step.slot is not None and step.timed is not None:
        data |= {
            "block": step.slot.block,
            "round": step.slot.round,
            "exercise": step.slot.exercise,
            "set": step.slot.number,
            "set_kind": step.slot.kind,
            "version": step.slot.rung.version,
            "side": step.side,
            "loads": _loads(step.timed, step.side),
            "position_s": step.timed.timing.position,
            "change_s": step.timed.change if step.first_side else 0.0,
            "breather_s": step.timed.timing.breather,
            "law": _law(step.timed.timing),
            "recovery_s": None if step.recovered is None else _seconds(step.recovered),
        }
    return data


def _loads(timed: TimedSet, side: object) -> list[dict[str, str]]:
    bout = next(b for b in timed.bouts if b.side == side)
    roles = (("prime", bout.prime), ("synergist", bout.synergist))
    return [
        {"muscle": muscle, "side": where, "role": role}
        for role, places in roles
        for muscle, where in sorted(places)
    ]


def _law(timing: Timing) -> dict[str, Any]:
    return {
        "recovery_s": timing.recovery,
        "recovery_least_s": timing.recovery_least,
        "recovery_cross_s": timing.recovery_cross,
        "changeover_s": [timing.changeover_from, timing.changeover_to],
        "side_gap_s": timing.side_gap,
        "block_rest_s": timing.block_rest,
    }
