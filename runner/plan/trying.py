"""A plan with other timing or pace, as if its file had been edited.

The new value takes the place of every one that the file has, in the plan, its blocks and its
exercises, and stands in the plan where there was none. What follows from it by inheritance
follows: a least and a cross recovery written beside it stay as written.
"""

from __future__ import annotations

from typing import TypeVar

from runner.errors import Exit, MatsideError
from runner.plan.compile import in_force
from runner.plan.inherit import timing_faults
from runner.plan.models import Plan, Table

_Keys = TypeVar("_Keys", bound=Table)


def with_recovery(plan: Plan, seconds: float) -> Plan:
    """The plan with another recovery aimed at."""
    return plan.model_copy(
        update={
            "timing": _with(plan.timing, "recovery", seconds),
            "exercise": {
                name: _instead(keys, "recovery", seconds) for name, keys in plan.exercise.items()
            },
            **_blocks(plan, "recovery", seconds),
        }
    )


def with_changeover(plan: Plan, changeover: tuple[float, float]) -> Plan:
    """The plan with another range for its changeovers, in seconds."""
    timing = _with(plan.timing, "changeover", changeover)
    return plan.model_copy(update={"timing": timing, **_blocks(plan, "changeover", changeover)})


def with_pace(plan: Plan, seconds: float) -> Plan:
    """The plan with other seconds a repetition, wherever a version has no tempo."""
    return plan.model_copy(
        update={
            "effort": _with(plan.effort, "seconds_a_rep", seconds),
            "exercise": {
                name: _instead(keys, "seconds_a_rep", seconds)
                for name, keys in plan.exercise.items()
            },
        }
    )


def _blocks(plan: Plan, key: str, value: object) -> dict[str, object]:
    return {
        "session": tuple(
            session.model_copy(
                update={"block": tuple(_instead(block, key, value) for block in session.block)}
            )
            for session in plan.session
        )
    }


def _with(keys: _Keys, key: str, value: object) -> _Keys:
    return keys.model_copy(update={key: value})


def _instead(keys: _Keys, key: str, value: object) -> _Keys:
    return keys if getattr(keys, key) is None else _with(keys, key, value)


def check_timing(plan: Plan, session_id: str, tried: str) -> None:
    """MatsideError in one line, exit code 2, where a session's settings cannot hold together.

    `tried` says what brought it about, in the words of whoever tried it.
    """
    session = plan.find_session(session_id)
    for block in session.block if session is not None else ():
        for item in block.do:
            for key, fault in timing_faults(in_force(plan, block, plan.exercise[item.exercise])):
                fixed = f"the plan fixes {key} for {item.exercise}, and {fault.wrong}"
                raise MatsideError(f"{tried}: {fixed}; try a longer recovery", code=Exit.USAGE)
