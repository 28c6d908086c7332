"""Keys and lists that are almost right, set right in a copy so that they hide nothing else.

A misspelt key reaches pydantic as one key missing and one too many, and nothing below it is
looked at. So it is renamed, one row each, and the content is validated again; the same for a
single value or table where a list belongs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from runner.plan.explain import (
    NO_LIST,
    Data,
    bad_value,
    explain,
    file_loc,
    keys_at,
    lone_table,
    stands_elsewhere,
    value_at,
)
from runner.plan.faults import Finding, Loc
from runner.plan.models import Plan
from runner.plan.words import near

_PASSES = 9  # the deepest table lies seven levels down; each pass may lay bare one more
_MISSPELT = 0.65  # likeness of a misspelt key to the right one; our choice
_MISPLACED = 0.85  # the same for a key that is right in another table


@dataclass(slots=True)
class Validated:
    """What came of validating; `data` and the places of `findings` have the keys set right."""

    data: Data
    plan: Plan | None = None
    findings: list[Finding] = field(default_factory=list)
    renamed: dict[Loc, str] = field(default_factory=dict)  # the spelling that the file has
    wrapped: set[Loc] = field(
        default_factory=set
    )  # lone values, put in a list, that the file has to have anew

    def stands(self, loc: Loc) -> bool:
        """Whether the file has such a place: a list made of a lone value has more of them."""
        return not any(loc[:end] in self.wrapped for end in range(1, len(loc)))


def validate(data: Data, at_most: int) -> Validated:
    """The plan where the content is one, else what is wrong with single keys.

    `data` is changed: misspelt keys are renamed and lone values put in lists. A search for
    near words takes long, so of each kind of fault little more than `at_most` are looked at.
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
        result.findings += repaired
        if len(result.findings) > at_most:
            return _only_if_faultless(result)
    result.findings += explain(errors, data)
    return result


def _only_if_faultless(result: Validated) -> Validated:
    if result.findings:
        result.plan = None
    return result


def _rename(
    errors: Iterable[ErrorDetails], data: Data, renamed: dict[Loc, str]
) -> Iterator[Finding]:
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
        yield Finding(loc, "unknown key", f'did you mean "{meant}"?')


def _replace_key(table: Data, old: str, new: str) -> None:
    """Rename a key in its position, by which rows are put in order."""
    items = [(new if key == old else key, value) for key, value in table.items()]
    table.clear()
    table.update(items)


def _wrap(errors: Iterable[ErrorDetails], data: Data, wrapped: set[Loc]) -> Iterator[Finding]:
    """Lone values where lists belong: a row each, and the list made for the checks to come."""
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
        yield Finding(loc, wrong, remedy)
