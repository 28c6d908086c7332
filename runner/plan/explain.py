"""pydantic's errors in the words of the file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic_core import ErrorDetails

from runner.plan.faults import Finding, Loc
from runner.plan.fields import FAULT
from runner.plan.models import (
    PLAIN,
    RANGE,
    Block,
    EffortKeys,
    Exercise,
    Item,
    LoadRange,
    Plan,
    PlanTiming,
    Session,
    SetupRange,
    Station,
    Table,
    Version,
    Week,
)
from runner.plan.words import listed, quoted, shown

Data = dict[str, Any]

# Where each table stands; `*` is an id or a place in a list. The second text names it in a row.
TABLES: dict[tuple[str, ...], tuple[type[Table], str]] = {
    (): (Plan, "the top of the file"),
    ("timing",): (PlanTiming, "[timing]"),
    ("effort",): (EffortKeys, "[effort]"),
    ("week",): (Week, "[week]"),
    ("station", "*"): (Station, "[station.ID]"),
    ("exercise", "*"): (Exercise, "[exercise.ID]"),
    ("exercise", "*", "version", "*"): (Version, "[[exercise.ID.version]]"),
    ("exercise", "*", "version", "*", "load"): (LoadRange, "a load's range"),
    ("exercise", "*", "version", "*", "setup", "*"): (SetupRange, "a set-up's range"),
    ("session", "*"): (Session, "[[session]]"),
    ("session", "*", "block", "*"): (Block, "[[session.block]]"),
    ("session", "*", "block", "*", "do", "*"): (Item, "a block's do"),
}

_EXAMPLES = {
    "title": 'title = "Morning at the hut"',
    "name": 'name = "…"',
    "pattern": 'pattern = "horizontal pull"',
    "prime": 'prime = ["upper-back"]',
    "version": "a [[exercise.….version]] with id and name",
    "id": 'id = "A"',
    "block": "a [[session.block]] with do",
    "do": 'do = [{ exercise = "row", sets = 3 }]',
    "exercise": 'exercise = "row"',
    "sets": "sets = 3",
    "session": "a [[session]] with id and block",
    "from": 'from = "120 cm"',
    "to": 'to = "200 cm"',
    "by": 'by = "20 cm"',
}
_TYPES = {
    "bool_type": ("true or false", "write true or false, without quotes"),
    "int_type": ("a whole number", "write a whole number, without quotes"),
    "int_from_float": ("a whole number", "write a whole number"),
    "float_type": ("a number", "write a number, without quotes"),
    "finite_number": ("a number to count with", "write a number"),
}
NO_LIST = frozenset({"tuple_type", "list_type"})
_NO_TABLE = frozenset({"dict_type", "model_type", "model_attributes_type"})
_LISTS_OF_TABLES = frozenset({"version", "session", "block"})


def explain(errors: Iterable[ErrorDetails], data: Data) -> Iterator[Finding]:
    """A row for each of pydantic's errors that is not only the echo of another."""
    for error in errors:
        loc = file_loc(error["loc"], data)
        if error["type"] == "extra_forbidden":
            yield _unknown_key(loc)
        elif error["type"] == "missing":
            yield _missing(loc)
        elif error["type"] == "too_short" and value_at(loc, data):
            continue  # its members are at fault, and have rows of their own
        else:
            wrong, remedy = bad_value(error, loc)
            yield Finding(loc, wrong, remedy)


def _missing(loc: Loc) -> Finding:
    return Finding(loc, "this is missing", f"write {_example(loc)}")


def _example(loc: Loc) -> str:
    if loc == ("exercise",):
        return "an [exercise.ID] with name, pattern, prime and version"
    return _EXAMPLES.get(str(loc[-1]), "at least one")


def _table(loc: Loc) -> str:
    """How a table is written at a place."""
    if loc[-1] == "setup":
        return 'setup = { height = "60 cm" }'
    if "do" in loc:
        return '{ exercise = "row", sets = 3 }'
    if loc in {("exercise",), ("station",)}:
        return f"[{loc[0]}.ID]"
    return f"[[{_dotted(loc)}]]" if isinstance(loc[-1], int) else f"[{_dotted(loc)}]"


def _unknown_key(loc: Loc) -> Finding:
    key = str(loc[-1])
    homes = [home for model, home in TABLES.values() if key in keys_of(model)]
    if homes:
        return Finding(loc, "this key does not belong here", f"it belongs in {listed(homes)}")
    return Finding(loc, "unknown key", f"the keys here are {listed(keys_at(loc[:-1]), 40)}")


def bad_value(error: ErrorDetails, loc: Loc) -> tuple[str, str]:
    """What is wrong with a single value, and the remedy."""
    kind, value = error["type"], error["input"]
    if kind in _TYPES:
        wanted, remedy = _TYPES[kind]
        return f"{quoted(value)} is not {wanted}", remedy
    if kind in NO_LIST:
        return _no_list(loc, value)
    if kind in _NO_TABLE:
        return f"{quoted(value)} where a table belongs", f"write {_table(loc)}"
    return _bad_size(error, loc)


def _bad_size(error: ErrorDetails, loc: Loc) -> tuple[str, str]:
    kind, context, value = error["type"], error.get("ctx", {}), error["input"]
    said = {
        FAULT: (str(context.get("wrong")), str(context.get("remedy"))),
        "greater_than_equal": (
            f"{quoted(value)} is too small",
            f"write {context.get('ge')} or more",
        ),
        "less_than_equal": (f"{quoted(value)} is too large", f"write {context.get('le')} or less"),
        "too_short": ("there is none", f"write {_example(loc)}"),
        "too_long": ("there are too many", f"write at most {context.get('max_length')}"),
    }
    other = (shown(str(error["msg"])), "see the schema: matside check --schema")
    return said.get(kind, other)


def _no_list(loc: Loc, value: object) -> tuple[str, str]:
    if loc[-1] in _LISTS_OF_TABLES:
        remedy = f"write [[{_dotted(loc)}]], with two brackets"
        return f"{quoted(value)} where a list of tables belongs", remedy
    return f"{quoted(value)} where a list belongs", f"write {loc[-1]} = [ … ]"


def _dotted(loc: Loc) -> str:
    return ".".join(shown(part) for part in loc if isinstance(part, str))


def file_loc(loc: tuple[int | str, ...], data: Data) -> Loc:
    """A place of pydantic's without what only pydantic knows: the tags of unions and of keys."""
    parts: list[str | int] = []
    here: object = data
    for part in loc:
        if part in {PLAIN, RANGE, "[key]"} and not (isinstance(here, dict) and part in here):
            continue
        parts.append(part)
        here = _member(here, part)
    return tuple(parts)


def value_at(loc: Loc, data: Data) -> object:
    """What stands at a place of the content, None where nothing does."""
    here: object = data
    for part in loc:
        here = _member(here, part)
    return here


def _member(here: object, part: str | int) -> object:
    if isinstance(here, Mapping):
        return here.get(part)
    if isinstance(here, list) and isinstance(part, int) and part < len(here):
        return here[part]
    return None


def keys_at(loc: Loc) -> list[str]:
    """The keys that the table at a place may have; none where it is not one of ours."""
    for places, (model, _) in TABLES.items():
        if len(places) == len(loc) and all(
            place in {"*", part} for place, part in zip(places, loc, strict=True)
        ):
            return keys_of(model)
    return []


def keys_of(model: type[Table]) -> list[str]:
    """The keys of a table, as a file spells them."""
    return [field.alias or name for name, field in model.model_fields.items()]


def stands_elsewhere(key: str) -> bool:
    """True for a key of some table of a plan."""
    return any(key in keys_of(model) for model, _ in TABLES.values())
