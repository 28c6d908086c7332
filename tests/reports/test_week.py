"""A plan's week: sets counted once more by hand, and golden texts."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from rich.cells import cell_len

from tests.plan.plans import shipped
from tests.reports.plans import SMALL, data, said, write
from tests.screen.golden_text import same

GOLDEN = Path(__file__).parent / "golden"


def counted(plan: Any, often: float) -> dict[str, float]:
    """Sets a week: a prime mover 1, a synergist 0.5 (Pelland et al. 2025), from the file alone."""
    found: dict[str, float] = {}
    for session in plan["session"]:
        for item in (item for block in session["block"] for item in block["do"]):
            exercise = plan["exercise"][item["exercise"]]
            helpers = {*exercise.get("assist", ()), *exercise.get("both_sides", ())}
            for muscle in helpers | {*exercise["prime"]}:
                share = 1.0 if muscle in exercise["prime"] else 0.5
                found[muscle] = found.get(muscle, 0.0) + share * item["sets"] * often
    return found


def test_the_shipped_plan_s_week(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = shipped("kestrel-hut")
    week = data(capsys, tmp_path, "kestrel-hut", "--week")
    sets = {m["muscle"]: m["sets"] for m in week["muscles"] if m["sets"]}
    assert sets == pytest.approx(counted(plan, 1.0))
    for muscle in week["muscles"]:
        low, high = plan["week"]["muscles"].get(muscle["muscle"], plan["week"]["sets"])
        assert muscle["aim"] == [low, high]
        assert muscle["aim_of"] == "plan"
        assert (muscle["judged"] == "in") == (low <= muscle["sets"] <= high)
    sessions = [data(capsys, tmp_path, "kestrel-hut", "--session", s)["total_s"] for s in "ABC"]
    assert [s["total_s"] for s in week["sessions"]] == sessions
    assert week["total_s"] == pytest.approx(sum(sessions))
    assert [(v["day"], v["session"]) for v in week["days"]] == [
        ("monday", "A"),
        ("wednesday", "B"),
        ("friday", "C"),
    ]
    assert week["under_48_h"] == []
    assert all(o["left_sets"] == o["right_sets"] for o in week["one_sided"])


def test_sessions_in_turn_count_on_average(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path, SMALL, ("sessions = [2, 3]", "sessions = [3, 4]"))
    week = data(capsys, tmp_path, path, "--week")
    plan = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    assert week["sessions_a_week"] == 3
    sets = {m["muscle"]: m["sets"] for m in week["muscles"]}
    assert sets == pytest.approx(counted(plan, 3 / 2))
    assert sets["chest"] == 7.5
    # Ramp sets count for nothing; left and right of one set are one.
    assert sets["upper-back"] == 4.5
    assert week["one_sided"][0]["left_sets"] == week["one_sided"][0]["right_sets"] == 4.5
    assert [(v["week"], v["session"]) for v in week["days"]] == [
        (1, "A"), (1, "B"), (1, "A"), (2, "B"), (2, "A"), (2, "B"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("week", ("", "")),
        ("week-in-turn", ("sessions = [2, 3]", "sessions = [5, 5]")),
        ("week-without-aims", ("sessions = [2, 3]\nsets = [4, 8]", "")),
        ("week-too-full", ("sessions = [2, 3]", "sessions = [9, 10]")),
    ],
)
def test_the_week_as_it_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, change: tuple[str, str]
) -> None:
    out, err = said(capsys, tmp_path, write(tmp_path, SMALL, change), "--week")
    assert err == ""
    assert max(cell_len(line) for line in out.splitlines()) <= 80
    same(name, out.splitlines(), GOLDEN)
