"""What sets from paper are expected to take, once some were done live."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.record.csvfile import write_csv
from tests.rows import row

PLAN = """\
title = "Kestrel Hut"
[exercise.push-up]
name = "Push-up"
pattern = "horizontal push"
prime = ["chest"]
version = [{ id = "v1", name = "one" }, { id = "v2", name = "two" }]
[[session]]
id = "A"
[[session.block]]
do = [{ exercise = "push-up", sets = 2 }]
"""


def expected(tmp_path: Path, capsys: pytest.CaptureFixture[str], *rows: object) -> list[float]:
    """Seconds of each set, after these rows."""
    plan, sheet = tmp_path / "hut.toml", tmp_path / "rows.csv"
    plan.write_text(PLAN, encoding="utf-8")
    data = ("--data", str(tmp_path / "data"))
    if rows:
        with sheet.open("w", encoding="utf-8", newline="") as file:
            write_csv(rows, file)  # type: ignore[arg-type]
        assert main(["import", str(sheet), "--yes", *data]) == 0
    capsys.readouterr()
    assert main(["rehearse", str(plan), "--for", "Ada", "--json", *data]) == 0
    steps = json.loads(capsys.readouterr().out)["steps"]
    return [step["end_s"] - step["start_s"] for step in steps if step["kind"] == "set"]


LIVE = row(version="v1", reps=10, work_s=35.0)
PAPER = row(
    session_id="20261126-053000-bbbb",
    session_start="2026-11-26T06:30:00+01:00",
    set_start="2026-11-26T06:35:00.000+01:00",
    version="v2",
    reps=8,
    work_s=None,
)


def test_a_set_from_paper_is_taken_at_the_pace_of_the_sets_done_live(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """35 s for 10 are 3.5 s a repetition; 8 of them are 28 s."""
    assert expected(tmp_path, capsys, LIVE, PAPER) == [28.0, 28.0]


def test_without_a_live_set_the_plan_s_pace_holds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The middle of 8 to 30 repetitions at 2 s."""
    assert expected(tmp_path, capsys) == [38.0, 38.0]
    assert expected(tmp_path, capsys, PAPER) == [38.0, 38.0]
