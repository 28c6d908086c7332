"""The JSON Schema, judged by a validator that is not ours."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, strategies as st
from jsonschema import Draft202012Validator

from runner.plan.explain import TABLES, keys_of
from runner.plan.faults import BadValueError, PlanFaults
from runner.plan.file import parse_plan
from runner.plan.schema import json_schema
from runner.plan.values import PATTERN, parse_duration
from runner.resources import plans_dir
from tests.plan.plans import EVERY_KEY, SMALL, varied

SCHEMA = json_schema()
SHIPPED = sorted(plans_dir().glob("*.toml"))


def complaints(text: str) -> list[str]:
    """Places that the validator complains of."""
    errors = Draft202012Validator(SCHEMA).iter_errors(tomllib.loads(text))
    return sorted({".".join(str(part) for part in error.absolute_path) for error in errors})


def walk(schema: Any) -> list[dict[str, Any]]:
    found = [schema] if isinstance(schema, dict) else []
    for member in schema.values() if isinstance(schema, dict) else schema:
        if isinstance(member, dict | list):
            found += walk(member)
    return found


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("text", [EVERY_KEY, SMALL], ids=["every key", "small"])
def test_good_plans_pass(text: str) -> None:
    assert complaints(text) == []


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_plans_pass(path: Path) -> None:
    assert complaints(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("title =", "titel =", ""),
        ('recovery = "8s"', 'recovery = "8 secs"', "timing.recovery"),
        ("lead_in", "leadin", "timing"),
        ("reps = [8, 30]", "reps = [8]", "effort.reps"),
        ("reps = [8, 30]", "reps = [8, 9, 10]", "effort.reps"),
        ('set_starts = "clock"', 'set_starts = "bell"', "timing.set_starts"),
        ("calves = [6, 12]", "calfs = [6, 12]", "week.muscles"),
        ("[station.bar]", "[station.Bar]", "station"),
        ('short = "PRESS"', 'short = "PRESSING"', "exercise.press.short"),
        ('prime = ["chest"]', 'prime = ["chets"]', "exercise.press.prime.0"),
        ('prime = ["chest"]', "prime = []", "exercise.press.prime"),
        ('tempo = "2-0-1"', 'tempo = "2-0"', "exercise.press.version.1.tempo"),
        ("priority = 1", "priority = 4", "exercise.press.priority"),
        ('to = "200 cm", ', "", "exercise.press.version.1.setup.anchor"),
        ("sets = 2 }", "sets = 0 }", "session.0.block.0.do.0.sets"),
        ('id = "A"', "", "session.0"),
    ],
)
def test_what_the_models_refuse_the_schema_refuses_there(old: str, new: str, place: str) -> None:
    text = varied((old, new))
    assert complaints(text) == [place]
    with pytest.raises(PlanFaults):
        parse_plan(text, "hut.toml")


def test_the_schema_knows_no_null_and_no_open_table() -> None:
    assert not [part for part in walk(SCHEMA) if part.get("type") == "null"]
    assert not [part for part in walk(SCHEMA) if None in part.values()]
    tables = [part for part in walk(SCHEMA) if part.get("type") == "object"]
    assert len(tables) >= 12
    assert not [part for part in tables if part.get("additionalProperties", True) is True]


def test_an_editor_can_say_what_a_key_is_for() -> None:
    timing = SCHEMA["$defs"]["PlanTiming"]["properties"]
    assert all("description" in key for key in timing.values())
    assert timing["recovery"]["description"] == "Recovery aimed at; default 2:00."


def test_every_table_of_the_schema_is_known_to_the_rows() -> None:
    tables = {name: set(part["properties"]) for name, part in SCHEMA["$defs"].items()}
    tables["Plan"] = set(SCHEMA["properties"])
    assert tables == {model.__name__: set(keys_of(model)) for model, _ in TABLES.values()}


@given(
    st.one_of(
        st.text("0123456789:hms. ", max_size=9),
        st.from_regex(PATTERN.replace("^", "").replace("$", ""), fullmatch=True),
    )
)
def test_the_pattern_and_the_reader_of_durations_agree(text: str) -> None:
    try:
        parse_duration(text)
        read = True
    except BadValueError as bad:
        read = "longer than a day" in bad.wrong
    assert read == bool(re.search(PATTERN, text.strip()))
