"""The blocks of a session as they stand in a plan file, and a plan file with other blocks.

A plan is edited as text (tomlkit), so that comments and order of everything else stay.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any

import tomlkit
from tomlkit.items import InlineTable

from runner.core.rehearsal.pairing import Entry

Blocks = Sequence[Sequence[Entry]]  # the entries of each new block, by where they stand now


def pasted(text: str, session: str, blocks: Blocks) -> str:
    """The blocks as TOML, to stand under their session's own keys in place of the old ones."""
    old = _find(tomlkit.parse(text), session)["block"]
    document = tomlkit.document()
    array = tomlkit.aot()
    for members in blocks:
        array.append(_plain_block(old, members))
    document["session"] = {"block": array}
    return tomlkit.dumps(document).strip() + "\n"


def rewritten(text: str, session: str, blocks: Blocks) -> str:
    """The plan's text with the blocks of that session replaced."""
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
    else:  # a table can only come after the session's other keys
        del found["block"]
        found.append("block", new)
    return tomlkit.dumps(document)


def resettled(text: str, session: str, blocks: Blocks) -> list[tuple[Entry, tuple[str, ...]]]:
    """Entries that come under other settings of a block than they have now, and which keys."""
    old = _find(tomlkit.parse(text), session)["block"]
    found = []
    for members in blocks:
        new = _settings(old, members)
        for entry in members:
            own = _settings(old, [entry])
            keys = tuple(k for k in sorted({*own, *new}) if own.get(k) != new.get(k))
            if keys:
                found.append((entry, keys))
    return found


def _find(document: tomlkit.TOMLDocument, session: str) -> Any:
    return next(table for table in document["session"] if table["id"] == session)


def _table_block(old: Any, members: Sequence[Entry]) -> Any:
    """The block where the first member stands, comments and all, with other exercises."""
    stands = old[members[0].block]
    if isinstance(stands, InlineTable):
        return _plain_block(old, members)
    block = copy.deepcopy(stands)
    block["do"] = _exercises(old, members)
    return block


def _plain_block(old: Any, members: Sequence[Entry]) -> Any:
    """The same without comments."""
    table = tomlkit.table()
    table.update(_settings(old, members))
    table["do"] = _exercises(old, members)
    return table


def _inline_block(old: Any, members: Sequence[Entry]) -> InlineTable:
    table = tomlkit.inline_table()
    table.update(_settings(old, members))
    table["do"] = _exercises(old, members)
    return table


def _settings(old: Any, members: Sequence[Entry]) -> dict[str, Any]:
    stands: dict[str, Any] = old[members[0].block].unwrap()
    return {key: value for key, value in stands.items() if key != "do"}


def _exercises(old: Any, members: Sequence[Entry]) -> Any:
    row = tomlkit.array()
    for entry in members:
        item = tomlkit.inline_table()
        item.update(old[entry.block]["do"][entry.place].unwrap())
        row.append(item)
    return row
