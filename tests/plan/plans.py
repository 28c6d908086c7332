"""Plans to test with: the one that shows every key, and variations of it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from runner.plan.faults import PlanFaults
from runner.plan.file import parse_plan, read_whole
from runner.plan.models import Plan

SHIPPED = Path(__file__).parents[2] / "plans"
EVERY_KEY = (Path(__file__).parents[1] / "data/every-key.toml").read_text(encoding="utf-8")

SMALL = """\
title = "Hut"
[exercise.row]
name = "Row"
pattern = "horizontal pull"
prime = ["upper-back"]
[[exercise.row.version]]
id = "one"
name = "rucksack"
[[session]]
id = "A"
[[session.block]]
do = [{ exercise = "row", sets = 3 }]
"""


def varied(*changes: tuple[str, str], text: str = EVERY_KEY) -> str:
    """The plan with its first `old` replaced by `new`, for each change; `old` must be there."""
    for old, new in changes:
        assert old in text, f"not in the plan: {old}"
        text = text.replace(old, new, 1)
    return text


def plan(*changes: tuple[str, str], text: str = EVERY_KEY) -> Plan:
    """The varied plan, which must be accepted."""
    return parse_plan(varied(*changes, text=text), "hut.toml")


def rows(*changes: tuple[str, str], text: str = EVERY_KEY) -> list[str]:
    """The rows of the varied plan, which must be refused."""
    return text_rows(varied(*changes, text=text))


def text_rows(text: str) -> list[str]:
    """The rows of a plan that must be refused, without the file's name and the line."""
    with pytest.raises(PlanFaults) as refused:
        parse_plan(text, "hut.toml")
    lines = [re.fullmatch(r"hut\.toml:[0-9]+: (.*)", line) for line in refused.value.lines]
    assert len(lines) == len(refused.value.faults)
    return [line[1] for line in lines if line is not None]


def shipped(stem: str) -> dict[str, Any]:
    """A shipped plan's content with all of the shelf, put together without the program."""
    plan, shelf = (
        tomllib.loads((SHIPPED / f"{name}.toml").read_text(encoding="utf-8"))
        for name in (stem, "shelf")
    )
    for kind in ("station", "exercise"):
        plan[kind] = {**shelf[kind], **plan.get(kind, {})}
    return plan


def whole(stem: str) -> str:
    """A shipped plan's text as a session keeps it, with what it takes from the shelf."""
    return read_whole(SHIPPED / f"{stem}.toml")[1]
