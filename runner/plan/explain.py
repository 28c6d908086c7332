"""pydantic's errors in the words of the file.

A misspelt key reaches pydantic as one missing and one unknown key, and pydantic looks at nothing
below it. So the key is renamed in a copy, with a row for it, and the content is validated again;
the same for a single value or table where a list belongs. So one fault hides no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from decimal import Decimal
from itertools import chain
from string import ascii_lowercase, ascii_uppercase
from typing import Any

from msgspec import Struct, field
from pydantic import ValidationError
from pydantic_core import ErrorDetails

from runner.law.muscles import MUSCLES, fits
from runner.plan.checks import tables, texts
from runner.plan.faults import BadValueError, KeyFault, Loc, did_you_mean, listed, near, quoted
from runner.plan.models import (
    PLAIN,
    RANGE,
    Block,
    EffortKeys,
    Exercise,
    Item,
    LoadRange,
    Phase,
    Plan,
    PlanTiming,
    Session,
    SetupRange,
    Station,
    Table,
    Version,
    Week,
)
from runner.plan.values import DAYS, FAULT, PATTERNS, Measure, number_text, parse_measure
from runner.text import escaped

Data = dict[str, Any]

# The place of each table; `*` is an id or a position in a list. The second text names it in a row.
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
    ("phase", "*"): (Phase, "[[phase]]"),
}

_EXAMPLES = {
    "title": 'title = "Morning at the hut"',
    "name": 'name = "…"',
    "weeks": "weeks = 3",
    "session": "a [[session]] with id and block",
    "block": "a [[session.block]] with do",
}
_LISTED = {  # lists whose members need a description, because quotes alone do not say it
    **dict.fromkeys(("prime", "assist", "both_sides"), f"one or more of {listed(MUSCLES)}"),
    "instead": "ids of other exercises",
    "versions": "an id of a version for each set",
}
_SETS, _STEPS, _BY = 3, 4, 2  # for examples: sets, steps of a range, their size
_TYPES = {
    "bool_type": ("true or false", "write true or false, without quotes"),
    "int_type": ("a whole number", "write a whole number, without quotes"),
    "int_from_float": ("a whole number", "write a whole number"),
    "float_type": ("a number", "write a number, without quotes"),
    "finite_number": ("a number to count with", "write a number"),
}
NO_LIST = frozenset({"tuple_type", "list_type"})
_NO_TABLE = frozenset({"dict_type", "model_type", "model_attributes_type"})
_LISTS_OF_TABLES = frozenset({"version", "session", "block", "phase"})


def explain(errors: Iterable[ErrorDetails], data: Data) -> Iterator[KeyFault]:
    """A row for each of pydantic's errors, except those that only repeat another."""
    for error in errors:
        loc = file_loc(error["loc"], data)
        if error["type"] == "extra_forbidden":
            yield _unknown_key(loc)
        elif error["type"] == "missing":
            yield KeyFault(loc, "this key is missing", f"write {_example(loc, data)}")
        elif error["type"] == "too_short" and value_at(loc, data):
            continue  # the fault is in its members, which have rows of their own
        else:
            wrong, remedy = bad_value(error, loc, data)
            yield KeyFault(loc, wrong, remedy)


def _example(loc: Loc, data: Data) -> str:
    """What to write for a key, such that it fits the rest of the plan."""
    key = str(loc[-1])
    if key in _FITTING:
        return _FITTING[key](loc, data)
    return f"{key} = [ … ] with {_LISTED[key]}" if key in _LISTED else _EXAMPLES.get(key, "one")


def _sets(loc: Loc, data: Data) -> str:
    versions = value_at((*loc[:-1], "versions"), data)
    return f"sets = {len(versions) if isinstance(versions, list) and versions else _SETS}"


def _range_end(loc: Loc, data: Data) -> str:
    """An end or the step of a range, such that the step reaches the end."""
    key, table = str(loc[-1]), value_at(loc[:-1], data)
    given: dict[str, Measure] = {}
    for name, value in table.items() if isinstance(table, dict) else ():
        with suppress(BadValueError):
            given[name] = parse_measure(value)
    unit = next((one.unit for one in given.values() if one.unit), "" if given else " cm")
    numbers = {name: one.number for name, one in given.items()}
    start, stop = numbers.get("from"), numbers.get("to")
    by = abs(numbers.get("by") or Decimal(_BY))
    if key == "by":
        way = by if start is None or stop is None else abs(stop - start)
        number = way if way % by else by
    elif key == "to":
        number = (start or Decimal(0)) + by * _STEPS
    else:
        number = by if stop is None else stop - by * min(Decimal(_STEPS), stop // by)
    return (
        f'{key} = "{number_text(number)}{unit}"'
        if "setup" in loc
        else (f"{key} = {number_text(number)}")
    )


def _free_id(loc: Loc, data: Data) -> str:
    """An id that a block asks for and no session has, else a free letter."""
    taken = _texts_of(value_at(loc[:-2], data), "id")
    if "version" not in loc:
        return next((one for one in ascii_uppercase if one not in taken), "another")
    asked = [name for name in _versions_asked(str(loc[1]), data) if name not in taken]
    free = (one for one in ascii_lowercase if one not in taken)
    return next(chain(asked, free, ["another"]))


def _versions_asked(exercise: str, data: Data) -> Iterator[str]:
    """The versions of an exercise that the plan's blocks name."""
    for _, session in tables(data.get("session")):
        for _, block in tables(session.get("block")):
            for _, item in tables(block.get("do")):
                if item.get("exercise") == exercise:
                    yield from (name for _, name in texts(item.get("versions")))


def _texts_of(members: object, key: str) -> set[str]:
    """The texts that a list's tables have for a key."""
    found = (one.get(key) for _, one in tables(members))
    return {one for one in found if isinstance(one, str)}


def _free_exercise(loc: Loc, data: Data) -> str:
    """An exercise of the plan that the block lacks; another one for each member."""
    exercises = data.get("exercise")
    names = [escaped(name) for name in exercises] if isinstance(exercises, dict) else []
    taken = _texts_of(value_at(loc[: loc.index("do") + 1], data), "exercise")
    free = [name for name in names if name not in taken]
    index = next((part for part in loc[loc.index("do") :] if isinstance(part, int)), 0)
    return (free[min(index, len(free) - 1) :] or names or ["row"])[0]


_FITTING: dict[str, Callable[[Loc, Data], str]] = {
    **dict.fromkeys(("from", "to", "by"), _range_end),
    "sets": _sets,
    "id": lambda loc, data: f'id = "{_free_id(loc, data)}"',
    "exercise": lambda loc, data: (
        f'exercise = "{_free_exercise(loc, data)}"'
        if "do" in loc
        else f"an [exercise.ID]{_with(('exercise', '*'))}"
    ),
    "version": lambda loc, _: f"a [[{_dotted(loc)}]]{_with((*loc, 0))}",
    "pattern": lambda *_: f'pattern = "…" with one of {listed(PATTERNS)}',
    "do": lambda loc, data: f"do = [{_item(loc, data)}]",
}


def _item(loc: Loc, data: Data) -> str:
    return f'{{ exercise = "{_free_exercise(loc, data)}", sets = {_SETS} }}'


def _table(loc: Loc, data: Data) -> str:
    """How to write a table at a place."""
    if loc[-1] == "setup":
        return 'setup = { height = "60 cm" }'
    if "do" in loc:
        return _item(loc, data)
    if loc in {("exercise",), ("station",)}:
        return f"[{loc[0]}.ID]{_with((*loc, '*'))}"
    brackets = f"[[{_dotted(loc)}]]" if isinstance(loc[-1], int) else f"[{_dotted(loc)}]"
    return brackets + _with(loc)


def _with(loc: Loc) -> str:
    """The keys that the table at a place needs."""
    model = _model_at(loc)
    fields = {} if model is None else model.model_fields
    names = [field.alias or name for name, field in fields.items() if field.is_required()]
    return f" with {listed(names)}" if names else ""


def _unknown_key(loc: Loc) -> KeyFault:
    key = str(loc[-1])
    homes = [home for model, home in TABLES.values() if key in keys_of(model)]
    if homes:
        remedy = f"move it to {listed(homes)}, or leave it out"
        return KeyFault(loc, "this key does not belong here", remedy)
    remedy = f"leave it out; the keys here are {listed(keys_at(loc[:-1]), 40)}"
    return KeyFault(loc, "unknown key", remedy)


def bad_value(error: ErrorDetails, loc: Loc, data: Data) -> tuple[str, str]:
    """What is wrong with a single value, and the remedy."""
    kind, value = error["type"], error["input"]
    if kind in _TYPES:
        wanted, remedy = _TYPES[kind]
        return f"{quoted(value)} is not {wanted}", remedy
    if kind in NO_LIST:
        return _no_list(loc, value, data)
    if kind in _NO_TABLE:
        return f"{quoted(value)} is not a table", f"write {_table(loc, data)}"
    if kind == FAULT and len(loc) == 3 and loc[0] == "exercise" and loc[-1] == "pattern":
        return _pattern(value, loc, data)
    return _bad_size(error, loc, data)


def _pattern(value: object, loc: Loc, data: Data) -> tuple[str, str]:
    """An unknown pattern; the suggestion fits the exercise's main muscles."""
    exercise = value_at(loc[:-1], data)
    prime = texts(exercise.get("prime")) if isinstance(exercise, dict) else []
    fitting = [pattern for pattern in PATTERNS if fits(pattern, [muscle for _, muscle in prime])]
    return f"{quoted(value)} is not known here", did_you_mean(value, fitting)


def _bad_size(error: ErrorDetails, loc: Loc, data: Data) -> tuple[str, str]:
    kind, context, value = error["type"], error.get("ctx", {}), error["input"]
    known = {
        FAULT: (str(context.get("wrong")), str(context.get("remedy"))),
        "greater_than_equal": (
            f"{quoted(value)} is too small",
            f"write {context.get('ge', 0):g} or more",
        ),
        "less_than_equal": (
            f"{quoted(value)} is too large",
            f"write {context.get('le', 0):g} or less",
        ),
        "too_short": ("this list is empty", f"write {_example(loc, data)}"),
        "too_long": ("too many entries", f"write at most {context.get('max_length')}"),
    }
    other = (escaped(str(error["msg"])), "see the schema: matside check --schema")
    return known.get(kind, other)


def lone_table(loc: Loc, value: Data) -> bool:
    """Whether a table in place of a list has keys of that list's tables, so is no stray value."""
    return any(key in keys_at((*loc, 0)) for key in value)


def _no_list(loc: Loc, value: object, data: Data) -> tuple[str, str]:
    key = loc[-1]
    if key in _LISTS_OF_TABLES:
        single = isinstance(value, dict) and lone_table(loc, value)
        remedy = f"write [[{_dotted(loc)}]]{', with two brackets' if single else _with((*loc, 0))}"
        return f"{quoted(value)} is not a list of tables", remedy
    if key == "do":
        remedy = f"write do = [{_item(loc, data)}]"
    elif key == "days":
        day = value if value in DAYS else DAYS[0]
        remedy = f"write days = [{quoted(day)}]"
    elif key in _LISTED:
        known = isinstance(value, str) and value in MUSCLES
        remedy = f"write {key} = [{quoted(value)}]" if known else f"write {_example(loc, data)}"
    else:
        written = isinstance(value, str) and value.strip()
        remedy = f"write {key} = [{quoted(value)}]" if written else f'write {key} = ["…"]'
    return f"{quoted(value)} is not a list", remedy


def _dotted(loc: Loc) -> str:
    return ".".join(escaped(part) for part in loc if isinstance(part, str))


def file_loc(loc: tuple[int | str, ...], data: Data) -> Loc:
    """A place of pydantic's without its own additions: the tags of unions and keys."""
    parts: list[str | int] = []
    here: object = data
    for part in loc:
        if part in {PLAIN, RANGE, "[key]"} and not (isinstance(here, dict) and part in here):
            continue
        parts.append(part)
        here = _member(here, part)
    return tuple(parts)


def value_at(loc: Loc, data: Data) -> object:
    """The value at a place of the content, None without one."""
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
    """The keys that the table at a place may have; none where we know no such table."""
    model = _model_at(loc)
    return [] if model is None else keys_of(model)


def _model_at(loc: Loc) -> type[Table] | None:
    for places, (model, _) in TABLES.items():
        if len(places) == len(loc) and all(
            place in {"*", part} for place, part in zip(places, loc, strict=True)
        ):
            return model
    return None


def keys_of(model: type[Table]) -> list[str]:
    """The keys of a table, as a file spells them."""
    return [field.alias or name for name, field in model.model_fields.items()]


def stands_elsewhere(key: str) -> bool:
    """Whether some table of a plan has this key."""
    return any(key in keys_of(model) for model, _ in TABLES.values())


# Keys and lists that are almost right.

_PASSES = 9  # the deepest table lies seven levels down; each pass may uncover one more
_MISSPELT = 0.65  # least likeness of a misspelt key to the right one; our choice
_MISPLACED = 0.85  # the same for a key that belongs to another table


class Validated(Struct):
    """What validation found; `data` and the places of `key_faults` have the keys corrected."""

    data: Data
    plan: Plan | None = None
    key_faults: list[KeyFault] = field(default_factory=list)
    renamed: dict[Loc, str] = field(
        default_factory=dict
    )  # by corrected place: the spelling in the file
    wrapped: set[Loc] = field(default_factory=set)  # lone values that were put in a list

    def items(self, loc: Loc) -> bool:
        """Whether the file has such a place: a list made of a lone value has more of them."""
        return not any(loc[:end] in self.wrapped for end in range(1, len(loc)))


def validate(data: Data, at_most: int) -> Validated:
    """The plan where the content is one, else what is wrong with single keys.

    Changes `data`: renames misspelt keys and puts lone values into lists. The search for similar
    words is slow, so little more than `at_most` of each kind of fault are looked at.
    """
    result = Validated(data)
    errors: list[ErrorDetails] = []
    for _ in range(_PASSES):
        try:
            result.plan = Plan.model_validate(data)
        except ValidationError as error:
            errors = error.errors(include_url=False)[: at_most + 1]
        else:
            return _only_if_faultless(result)
        repaired = [*_rename(errors, data, result.renamed), *_wrap(errors, data, result.wrapped)]
        if not repaired:
            break
        result.key_faults += repaired
        if len(result.key_faults) > at_most:
            return _only_if_faultless(result)
    result.key_faults += explain(errors, data)
    return result


def _only_if_faultless(result: Validated) -> Validated:
    if result.key_faults:
        result.plan = None
    return result


def _rename(
    errors: Iterable[ErrorDetails], data: Data, renamed: dict[Loc, str]
) -> Iterator[KeyFault]:
    for error in errors:
        if error["type"] != "extra_forbidden":
            continue
        *above, key = file_loc(error["loc"], data)
        table = value_at(tuple(above), data)
        if not isinstance(table, dict) or not isinstance(key, str):
            continue
        free = [name for name in keys_at(tuple(above)) if name not in table]
        meant = near(key, free, _MISPLACED if stands_elsewhere(key) else _MISSPELT)
        if meant is None:
            continue
        _replace_key(table, key, meant)
        loc = (*above, meant)
        renamed[loc] = key
        yield KeyFault(loc, "unknown key", f'did you mean "{meant}"?')


def _replace_key(table: Data, old: str, new: str) -> None:
    """Rename a key in its position, for rows are sorted by position."""
    items = [(new if key == old else key, value) for key, value in table.items()]
    table.clear()
    table.update(items)


def _wrap(errors: Iterable[ErrorDetails], data: Data, wrapped: set[Loc]) -> Iterator[KeyFault]:
    """Put lone values into lists: a row for each, and the list for the checks that follow."""
    for error in errors:
        loc = file_loc(error["loc"], data)
        above, value = value_at(loc[:-1], data), error["input"]
        if error["type"] not in NO_LIST or not isinstance(value, dict | str):
            continue
        if not isinstance(above, dict):
            continue
        wrong, remedy = bad_value(error, loc, data)
        above[loc[-1]] = [value]
        if isinstance(value, str) or loc[-1] == "do" or not lone_table(loc, value):
            wrapped.add(loc)
        yield KeyFault(loc, wrong, remedy)
