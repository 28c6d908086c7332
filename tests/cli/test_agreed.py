"""A rehearsal of somebody who has agreed to differ from the plan is that of their next session."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from runner.cli.main import main
from runner.cli.selection import changed_levels
from runner.law.workout import Item
from runner.output import record_path
from runner.progress.adjust import Baseline
from runner.progress.answers import Answer
from runner.record.record import Record
from tests.plans import plan, versions
from tests.record.hut import morning

PLAN = plan(
    "Kestrel Hut, one exercise",
    {"press": {"measure": "hold", "hold": ["20s", "40s"], "version": versions("near")}},
    [{"press": 3}],
    timing={"recovery": "2:00", "lead_in": "10s"},
)
LONGER = {"kind": "recovery", "text": "30 s more recovery", "seconds": 30.0}
MORE = {"kind": "more sets", "text": "one set more for some weeks"}
LIGHTER = {"kind": "lighter week", "text": "a lighter week, from today"}


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "one.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def agree(data: Path, exercise: str, change: dict[str, Any]) -> None:
    now = datetime.now().astimezone()
    said = Answer(exercise, "", "drop", "", change, accepted=True, on=now.date())
    with Record.open(record_path(data, trial=False)) as record:
        record.agree("Ada", said, [], now)


def rehearsed(
    plan: Path, capsys: pytest.CaptureFixture[str], *options: str, who: str = "Ada"
) -> str:
    wanted = ["rehearse", str(plan), "--for", who, "--data", str(plan.parent), *options]
    assert main(wanted) == 0
    return capsys.readouterr().out


def test_rests_and_sets_are_those_agreed(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Three sets of 30 s with two rests of 120 s, after a lead-in of 10 s.
    planned = json.loads(rehearsed(plan, capsys, "--json"))
    assert planned["total_s"] == 10 + 3 * 30 + 2 * 120
    assert "agreed" not in planned
    agree(plan.parent, "press", LONGER)
    agree(plan.parent, "press", MORE)
    found = json.loads(rehearsed(plan, capsys, "--json"))
    assert found["total_s"] == 10 + 4 * 30 + 3 * 150
    assert [one["kind"] for one in found["agreed"]] == ["recovery", "sets"]
    text = rehearsed(plan, capsys)
    assert "Different from the plan, as accepted or last trained: Press at" in text
    assert "chest    4.0" in text
    other = json.loads(rehearsed(plan, capsys, "--json", who="Bo"))
    assert other["total_s"] == planned["total_s"]


def test_what_is_tried_or_left_out_stands_against_what_is_agreed(
    plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree(plan.parent, "press", MORE)
    tried = json.loads(rehearsed(plan, capsys, "--json", "--sets", "+1"))["what_if"]
    assert [tried[side]["sets"] for side in ("as_planned", "as_tried")] == [4, 5]
    fits = json.loads(rehearsed(plan, capsys, "--json", "--within", "6m"))["fit"]
    assert fits["left_out"] == [{"block": 1, "exercise": "press", "sets": 1, "of": 4}]
    (chest,) = fits["week"]
    assert (chest["before"], chest["after"]) == (4.0, 3.0)


def test_a_lighter_week_is_today_s_and_not_every_week_s(
    plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree(plan.parent, "", LIGHTER)
    found = json.loads(rehearsed(plan, capsys, "--json"))
    assert sum(step["kind"] == "set" for step in found["steps"]) == 2
    week = json.loads(rehearsed(plan, capsys, "--json", "--week"))
    assert week["sessions"][0]["sets"] == 3
    agree(plan.parent, "press", MORE)
    week = json.loads(rehearsed(plan, capsys, "--json", "--week"))
    assert week["sessions"][0]["sets"] == 4


def test_a_level_that_was_accepted_stands_at_the_top(
    plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Accepted advice to go up is no adjustment of sets or rests, but the next session has it."""
    far = '[[exercise.press.version]]\nid = "far"\nname = "two strides away"\n[[session]]'
    plan.write_text(PLAN.replace("[[session]]", far), encoding="utf-8")
    before = rehearsed(plan, capsys)
    assert "Different from the plan" not in before
    agree(plan.parent, "press", LONGER)
    at = ["next", str(plan), "--for", "Ada", "--data", str(plan.parent)]
    assert main([*at, "--set", "press=far"]) == 0
    capsys.readouterr()
    said = next(one for one in rehearsed(plan, capsys).split("\n\n") if "Different" in one)
    assert " ".join(said.split()).endswith(
        "Press at the post: 30 s more recovery; Press at the post: far, not near."
    )
    found = json.loads(rehearsed(plan, capsys, "--json"))
    assert found["levels"] == [
        {"exercise": "press", "version": "far", "setup": {}, "load_kg": None}
    ]


def test_a_bridge_is_told_of_its_set_alone() -> None:
    workout = morning((Item("row", 3),))
    baseline = replace(Baseline(), working_levels={("row", ""): 0, ("row", "first:"): 1})
    (level,) = changed_levels(workout, baseline)
    assert level.text == "Rucksack row: light, 6 kg, not light, 4 kg (set 1)"
    (every,) = changed_levels(workout, replace(Baseline(), working_levels={("row", ""): 1}))
    assert every.text == "Rucksack row: light, 6 kg, not light, 4 kg"
