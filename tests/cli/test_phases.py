"""Phases of a plan, by hand sums, and what `next`, `rehearse` and a session make of them."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from runner.cli.main import main
from runner.progress.phases import Phase, phase_of_week, week_of_plan
from tests.plan.plans import SMALL, text_rows

PLAN = (
    SMALL.replace("sets = 3", "sets = 4")
    + """\
[[session]]
id = "B"
[[session.block]]
do = [{ exercise = "row", sets = 1 }]
[[phase]]
weeks = 2
[[phase]]
weeks = 1
sets = "-1"
reserve = 4
"""
)
TODAY = date.today()  # noqa: DTZ011 - the local date, as on the person's calendar


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "hut.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def out(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    capsys.readouterr()
    assert main(list(words)) == 0
    return capsys.readouterr().out


def typed(text: str) -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8")


def test_weeks_go_round_through_the_phases() -> None:
    phases = (Phase(2), Phase(1, -1, 4))
    numbers = [one.number for n in range(7) if (one := phase_of_week(phases, n)) is not None]
    assert numbers == [1, 1, 2, 1, 1, 2, 1]
    assert phase_of_week((), 3) is None


def test_weeks_are_iso_weeks_from_the_one_of_the_first_session() -> None:
    """ISO 8601: 2026-W01 begins on Monday 29 December 2025."""
    sunday, monday = date(2026, 1, 4), date(2026, 1, 5)
    assert week_of_plan(sunday, sunday) == 0
    assert week_of_plan(sunday, monday) == 1
    assert week_of_plan(monday, monday + timedelta(days=6)) == 0
    assert week_of_plan(None, monday) == 0


def test_a_rehearsal_of_weeks_has_the_sums_by_hand(
    plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """4 + 1 sets in a usual week; 3 + 1 in the lighter one, for one set stays."""
    data: dict[str, Any] = json.loads(out(capsys, "rehearse", str(plan), "--weeks", "4", "--json"))
    assert [week["phase"] for week in data["weeks"]] == [1, 1, 2, 1]
    assert [week["sets"] for week in data["weeks"]] == [5, 5, 4, 5]
    assert [week["muscles"] for week in data["weeks"]] == [
        {"upper-back": sets} for sets in (5, 5, 4, 5)
    ]
    lines = out(capsys, "rehearse", str(plan), "--weeks", "4").splitlines()
    assert "phase 2: 1 set fewer of each exercise, 4 in reserve" in lines
    rows = {line.split()[0]: line.split()[1:] for line in lines if line}
    assert rows["sets"] == ["5", "5", "4", "5"]
    assert rows["upper-back"] == ["5", "5", "4", "5"]


def test_the_phase_in_force_counts_from_the_first_session_and_is_a_deload(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    who = ("--for", "Ada", "--data", str(tmp_path / "data"))
    assert "Phase 1 of 2, week 1 of 2: as planned." in out(capsys, "next", str(plan), *who)
    monkeypatch.setattr("sys.stdin", typed("12 12 12 12\n\n"))
    two_weeks_ago = (TODAY - timedelta(days=14)).isoformat()
    assert main(["log", str(plan), "--session", "A", "--on", two_weeks_ago, *who, "--yes"]) == 0
    said = out(capsys, "next", str(plan), *who)
    assert "Phase 2 of 2, week 1 of 1: 1 set fewer of each exercise, 4 in reserve." in said
    timeline = json.loads(out(capsys, "rehearse", str(plan), "--session", "A", "--json", *who))
    assert len([step for step in timeline["steps"] if step["kind"] == "set"]) == 3
    asked = [sys.executable, "-m", "runner", "run", str(plan), "--session", "A", "--plain"]
    lines = b"\ngo\n\n12\nend\n"
    subprocess.run([*asked, "--mute", "--yes", *who], input=lines, check=True, capture_output=True)
    rows = list(csv.DictReader(io.StringIO(out(capsys, "export", *who))))
    year, number, _ = TODAY.isocalendar()
    weeks: dict[str, set[str]] = {}
    for row in rows:
        weeks.setdefault(row["iso_week"], set()).add(row["deload"])
    assert weeks.pop(f"{year}-W{number:02}") == {"yes"}
    assert list(weeks.values()) == [{""}]


@pytest.mark.parametrize(
    ("keys", "row"),
    [
        ("weeks = 0", "phase 1.weeks"),
        ("weeks = 1\nsets = 2", "phase 1.sets: 2 is not a step; write it with its sign in quotes"),
        ('weeks = 1\nsets = "fewer"', 'phase 1.sets: "fewer" is not a step; write "-1" or "+1"'),
        ("week = 3", "phase 1.week"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_phase_is_a_row(keys: str, row: str) -> None:
    assert any(one.startswith(row) for one in text_rows(SMALL + f"[[phase]]\n{keys}\n"))


@pytest.mark.parametrize("number", ["0", "105", "some"])
def test_weeks_are_a_number(number: str, plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", str(plan), "--weeks", number]) == 2
    assert "write 1 to 104" in capsys.readouterr().err
