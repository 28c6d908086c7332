"""Plans for tests: the exercises of Kestrel Hut, what is other in them, and what a session does.

    plan("Kestrel Hut", {"press": {}, "row": {"sides": "left first"}}, [{"press": 3, "row": 3}])

is the text of a plan whose session A alternates three sets of each. An exercise that has no
usual form here gives all its keys.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

Keys = Mapping[str, Any]
USUAL: dict[str, Keys] = {
    "press": {"name": "Press at the post", "pattern": "horizontal push", "prime": ["chest"]},
    "push-up": {"name": "Push-up", "pattern": "horizontal push", "prime": ["chest"]},
    "row": {"name": "Rucksack row", "pattern": "horizontal pull", "prime": ["upper-back"]},
    "squat": {"name": "Rucksack squat", "pattern": "squat", "prime": ["quadriceps"]},
    "plank": {"name": "Plank", "pattern": "trunk", "prime": ["abdomen"], "measure": "hold"},
}
ONE = [{"id": "one", "name": "one"}]


def versions(*names: str, **changes: Keys) -> list[Keys]:
    """Versions by their names, which are their ids too; `changes` by id."""
    return [{"id": name, "name": name, **changes.get(name, {})} for name in names]


def loads(least: float, most: float, by: float) -> Keys:
    """A range of loads in kilograms."""
    return {"from": least, "to": most, "by": by}


def plan(
    title: str,
    exercises: Mapping[str, Keys],
    *sessions: list[Mapping[str, Any]] | Keys,
    **others: Any,
) -> str:
    """A plan as TOML.

    A session is the list of its blocks, each exercise with its sets or its keys; or a table with
    such a list as `block`. Ids are A, B, ... unless it has its own. `others` are tables as
    `effort`, and keys as `trial`.
    """
    lines = [f"title = {_toml(title)}"]
    tables = {name: keys for name, keys in others.items() if isinstance(keys, Mapping)}
    lines += [f"{name} = {_toml(others[name])}" for name in others if name not in tables]
    for name, keys in tables.items():
        lines += _table(f"[{name}]", keys)
    for name, changes in exercises.items():
        keys = {**USUAL.get(name, {}), **changes}
        made = keys.pop("version", ONE)
        lines += _table(f"[exercise.{name}]", keys)
        for one in made:
            lines += _table(f"[[exercise.{name}.version]]", one)
    for letter, session in zip("ABCDEFG", sessions, strict=False):
        keys = {"block": session} if isinstance(session, list) else dict(session)
        blocks = keys.pop("block")
        lines += _table("[[session]]", {"id": letter, **keys})
        for block in blocks:
            lines += _table("[[session.block]]", _block(block))
    return "\n".join(lines) + "\n"


def _table(head: str, keys: Keys) -> list[str]:
    return [head, *(f"{key} = {_toml(value)}" for key, value in keys.items())]


def _block(block: Mapping[str, Any]) -> Keys:
    items = [
        {"exercise": name, **(keys if isinstance(keys, Mapping) else {"sets": keys})}
        for name, keys in block.items()
    ]
    return {"do": items}


def _toml(value: Any) -> str:
    """A value as TOML: strings, numbers and lists are JSON's, tables stand on one line."""
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {_toml(one)}' for key, one in value.items())} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_toml(one) for one in value)}]"
    return json.dumps(value, ensure_ascii=False)
