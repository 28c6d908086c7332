"""A plan with other timing, pace or sets, as if its file had been edited.

The new value takes the place of every one that the file has, in the plan, its blocks and its
exercises, and stands in the plan where there was none. What follows from it by inheritance
follows: a least and a cross recovery written beside it stay as written.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from runner.errors import Exit, MatsideError
from runner.plan.compile import in_force
from runner.plan.inherit import timing_faults
from runner.plan.models import Block, Item, Plan, Table

MOST_SETS = 100  # of an exercise in a block, as `models.Item` allows

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


@dataclass(frozen=True, slots=True)
class Sets:
    """Another number of work sets: so many, or so many more or fewer than there are."""

    number: int
    added: bool

    def of(self, sets: int) -> int:
        """What becomes of so many work sets; one at least stays."""
        return min(max(sets + self.number if self.added else self.number, 1), MOST_SETS)


def with_sets(plan: Plan, sets: Sets) -> Plan:
    """The plan with other numbers of work sets; ramp sets stay.

    Where the plan names a version for each set, the last named holds for those added.
    """

    def item(was: Item) -> Item:
        number = sets.of(was.sets)
        more = was.versions[-1:] * (number - len(was.versions))
        versions = (*was.versions, *more)[:number]
        return was.model_copy(update={"sets": number, "versions": versions})

    def block(was: Block) -> Block:
        return was.model_copy(update={"do": tuple(item(one) for one in was.do)})

    return plan.model_copy(update=_sessions(plan, block))


def _blocks(plan: Plan, key: str, value: object) -> dict[str, object]:
    return _sessions(plan, lambda block: _instead(block, key, value))


def _sessions(plan: Plan, changed: Callable[[Block], Block]) -> dict[str, object]:
    """Every session with its blocks changed, as an update of a plan."""
    sessions = (
        session.model_copy(update={"block": tuple(changed(block) for block in session.block)})
        for session in plan.session
    )
    return {"session": tuple(sessions)}


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
