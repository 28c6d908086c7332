"""A plan with other timing, pace, sets or blocks, as if its file had been edited.

For a trial, the new value replaces every one in the file: in the plan, its blocks and its
exercises. Where there was none, it goes into the plan. Values that depend on it follow; a least or
cross recovery that the file states stays.

Blocks are changed in the file's text (tomlkit), so that comments and the order of everything else
stay.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import tomlkit
from msgspec import Struct
from tomlkit.items import InlineTable

from runner.errors import Exit, MatsideError
from runner.plan.checks import timing_faults
from runner.plan.compile import in_force
from runner.plan.models import Block, Item, Plan, Table
from runner.planning.pairing import Entry

MOST_SETS = 100  # sets of an exercise in a block, as `models.Item` allows

_Keys = TypeVar("_Keys", bound=Table)


def with_recovery(plan: Plan, seconds: float) -> Plan:
    """The plan with another recovery."""
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
    """The plan with another range of changeovers, in seconds."""
    timing = _with(plan.timing, "changeover", changeover)
    return plan.model_copy(update={"timing": timing, **_blocks(plan, "changeover", changeover)})


def with_pace(plan: Plan, seconds: float) -> Plan:
    """The plan with other seconds a repetition for versions without a tempo."""
    return plan.model_copy(
        update={
            "effort": _with(plan.effort, "seconds_a_rep", seconds),
            "exercise": {
                name: _instead(keys, "seconds_a_rep", seconds)
                for name, keys in plan.exercise.items()
            },
        }
    )


class Sets(Struct, frozen=True):
    """Another number of work sets: the number itself, or the difference."""

    number: int
    added: bool

    def of(self, sets: int) -> int:
        """The new number of work sets; at least one."""
        return min(max(sets + self.number if self.added else self.number, 1), MOST_SETS)


def with_sets(plan: Plan, sets: Sets) -> Plan:
    """The plan with other numbers of work sets; warm-up sets stay.

    Where the plan names a version for each set, added sets get the last one.
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
    """The update of a plan that changes the blocks of every session."""
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
    """MatsideError in one line, exit code 2, where a session's settings contradict each other."""
    session = plan.find_session(session_id)
    for block in session.block if session is not None else ():
        for item in block.do:
            for key, fault in timing_faults(in_force(plan, block, plan.exercise[item.exercise])):
                fixed = f"the plan sets {key} for {item.exercise}, and {fault.wrong}"
                raise MatsideError(f"{tried}: {fixed}; try a longer recovery", code=Exit.USAGE)


# Changing the blocks in a plan file.

_WIDEST = 80  # columns of a line to paste
Blocks = Sequence[Sequence[Entry]]  # entries of each new block, by their present place


def pasted(text: str, session: str, blocks: Blocks) -> str:
    """The blocks as TOML, to paste under their session's own keys in place of the old ones."""
    old = _find(tomlkit.parse(text), session)["block"]
    document = tomlkit.document()
    array = tomlkit.aot()
    for members in blocks:
        array.append(_plain_block(old, members))
    document["session"] = {"block": array}
    return tomlkit.dumps(document).strip() + "\n"


def rewritten(text: str, session: str, blocks: Blocks) -> str:
    """The plan's text with that session's blocks replaced."""
    document = tomlkit.parse(text)
    found = _find(document, session)
    old = found["block"]
    if isinstance(found, InlineTable):
        new: Any = tomlkit.array()
        for members in blocks:
            new.append(_inline_block(old, members))
        found["block"] = new
        return tomlkit.dumps(document)
    new = tomlkit.aot()
    for members in blocks:
        new.append(_table_block(old, members))
    if isinstance(old, tomlkit.items.AoT):
        found["block"] = new
    else:  # in TOML a table can only come after the session's other keys
        del found["block"]
        found.append("block", new)
    return tomlkit.dumps(document)


def _find(document: tomlkit.TOMLDocument, session: str) -> Any:
    return next(table for table in document["session"] if table["id"] == session)


def _table_block(old: Any, members: Sequence[Entry]) -> Any:
    """The block in which the first member stands, comments included, with other exercises."""
    items = old[members[0].block]
    if isinstance(items, InlineTable):
        return _plain_block(old, members)
    block = copy.deepcopy(items)
    block["do"] = _exercises(old, members)
    return block


def _plain_block(old: Any, members: Sequence[Entry]) -> Any:
    """A block without comments."""
    table = tomlkit.table()
    table.update(_settings(old, members))
    table["do"] = row = _exercises(old, members)
    row.multiline(len(f"do = {row.as_string()}") > _WIDEST)
    return table


def _inline_block(old: Any, members: Sequence[Entry]) -> InlineTable:
    table = tomlkit.inline_table()
    table.update(_settings(old, members))
    table["do"] = _exercises(old, members)
    return table


def _settings(old: Any, members: Sequence[Entry]) -> dict[str, Any]:
    items: dict[str, Any] = old[members[0].block].unwrap()
    return {key: value for key, value in items.items() if key != "do"}


def _exercises(old: Any, members: Sequence[Entry]) -> Any:
    row = tomlkit.array()
    for entry in members:
        item = tomlkit.inline_table()
        item.update(old[entry.block]["do"][entry.index].unwrap())
        row.append(item)
    return row
