"""`matside pairs`: what it says, and the plan file that it writes only when it is asked to."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

from runner.cli.main import main
from runner.resources import plans_dir
from tests.plans import plan

LATE = plan(
    "Hut",
    {
        "press": {"name": "Press", "measure": "hold"},
        "fly": {
            "name": "Fly",
            "pattern": "horizontal push",
            "prime": ["chest"],
            "measure": "hold",
        },
        "squat": {"name": "Squat", "measure": "hold"},
    },
    [{"press": 1}, {"fly": 1}, {"squat": 1}],
    effort={"hold": ["20s", "20s"]},
)

TRAINED = [
    "squat", "pull-down", "push-up", "bar-row", "hinge",
    "side-raise", "curl", "push-down", "plank", "calf-raise",
]  # fmt: skip


def pairs(tmp_path: Path, *arguments: str) -> int:
    return main(["pairs", *arguments, "--data", str(tmp_path / "data")])


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "hut.toml"
    path.write_text(LATE, encoding="utf-8")
    return path


def test_pairs_of_the_hut(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert pairs(tmp_path, "kestrel-hut", "--session", "A") == 0
    text, err = capsys.readouterr()
    assert err == ""
    lines = text.splitlines()
    assert lines[2].startswith("The best pairs")  # the answer first
    assert max(map(len, lines)) <= 80
    assert "  saves 6:51  antagonists    Push-up 4 · Leaning-back row 3" in lines
    kinds = [
        found[1] for line in lines if (found := re.match("  saves +[0-9:]+  ([a-z ]+?)  ", line))
    ]
    assert set(kinds) == {"antagonists", "unrelated", "shared helper"}
    toml = text[text.index("[[session.block]]") :]
    blocks = tomllib.loads('[[session]]\nid = "A"\n' + toml)["session"][0]["block"]
    assert sorted(i["exercise"] for b in blocks for i in b["do"]) == sorted(TRAINED)
    assert all(len(b["do"]) == 2 for b in blocks)


def test_nothing_is_written_unasked(tmp_path: Path, plan: Path) -> None:
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert pairs(tmp_path, str(plan), "--order") == 0
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before


def test_the_order_and_the_plan_s_own_file(
    tmp_path: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan.chmod(0o644)
    assert pairs(tmp_path, str(plan), "--order", "--write", str(plan)) == 0
    text, err = capsys.readouterr()
    assert "The shortest order, 3:10:" in text
    assert err == f"wrote {plan}\n"
    assert plan.stat().st_mode & 0o777 == 0o644
    blocks = tomllib.loads(plan.read_text(encoding="utf-8"))["session"][0]["block"]
    assert [b["do"][0]["exercise"] for b in blocks] == ["press", "squat", "fly"]
    assert main(["check", str(plan)]) == 0
    assert pairs(tmp_path, str(plan), "--order") == 0
    assert "That is the plan's own order." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["nowhere"], 66, "nowhere"),
        (["kestrel-hut", "--session", "Q"], 66, 'unknown session "Q"; write one of A, B, C'),
        (["kestrel-hut", "--write", "/nowhere/at/all.toml"], 73, "cannot be created"),
        (["kestrel-hut", "--write", "{other}"], 73, "--force"),
        (["{many}", "--order"], 2, "12 at most"),
        (["{faulty}"], 65, "unknown"),
    ],
)
def test_one_clear_line(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    code: int,
    said: str,
) -> None:
    files = {name: tmp_path / f"{name}.toml" for name in ("other", "many", "faulty")}
    shutil.copy(plans_dir() / "demo.toml", files["other"])
    block = '[[session.block]]\ndo = [{ exercise = "squat", sets = 1 }]\n'
    files["many"].write_text(LATE + block * 10, encoding="utf-8")
    files["faulty"].write_text(LATE.replace("pattern", "patern", 1), encoding="utf-8")
    given = [argument.format(**files) for argument in arguments]
    assert pairs(tmp_path, *given) == code
    err = capsys.readouterr().err
    assert said in err
    assert "Traceback" not in err


def blocks_of(path: Path, session: str) -> list[dict[str, Any]]:
    sessions = tomllib.loads(path.read_text(encoding="utf-8"))["session"]
    found: list[dict[str, Any]] = next(s for s in sessions if s["id"] == session)["block"]
    return found


def seconds(path: Path, session: str, capsys: pytest.CaptureFixture[str]) -> float:
    capsys.readouterr()
    assert main(["rehearse", str(path), "--session", session, "--json"]) == 0
    return float(json.loads(capsys.readouterr().out)["total_s"])


@pytest.mark.parametrize("session", ["A", "B", "C"])
def test_a_plan_is_never_written_longer_than_it_was(
    tmp_path: Path, session: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "hut.toml"
    shutil.copy(plans_dir() / "kestrel-hut.toml", path)
    before = seconds(path, session, capsys)
    assert pairs(tmp_path, str(path), "--session", session, "--write", str(path)) == 0
    assert seconds(path, session, capsys) <= before
    assert pairs(tmp_path, str(path), "--session", session, "--write", str(path)) == 0
    assert "Keep the plan's blocks" in capsys.readouterr().out


MORE = """\
[exercise.row]
name = "Row"
pattern = "horizontal pull"
prime = ["upper-back"]
measure = "hold"
version = [{ id = "one", name = "one" }]
[exercise.curl]
name = "Curl"
pattern = "elbow"
prime = ["biceps"]
measure = "hold"
version = [{ id = "one", name = "one" }]
"""


def test_circuits_and_the_settings_of_a_block_stay_and_what_changes_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "hut.toml"
    text = (
        LATE[: LATE.index("[[session]]")]
        + MORE
        + """[[session]]
id = "A"
[[session.block]]
do = [
  { exercise = "press", sets = 2 },
  { exercise = "squat", sets = 2 },
  { exercise = "row", sets = 2 },
]
[[session.block]]
recovery = "1:00"
do = [{ exercise = "fly", sets = 2 }]
[[session.block]]
do = [{ exercise = "curl", sets = 3 }]
[[session.block]]
do = [{ exercise = "squat", sets = 3 }]
"""
    )
    path.write_text(text, encoding="utf-8")
    assert pairs(tmp_path, str(path), "--write", str(path)) == 0
    said = capsys.readouterr().out
    assert "What changes:" in said
    assert "  Curl 3 · Squat 3: take turns" in said
    blocks = blocks_of(path, "A")
    assert [[item["exercise"] for item in one["do"]] for one in blocks] == [
        ["press", "squat", "row"], ["fly"], ["curl", "squat"],
    ]  # fmt: skip
    assert [one.get("recovery") for one in blocks] == [None, "1:00", None]


def test_an_order_that_gains_nothing_says_so_first_and_is_not_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "hut.toml"
    shutil.copy(plans_dir() / "kestrel-hut.toml", path)
    before = blocks_of(path, "B")
    asked = (str(path), "--session", "B", "--order", "--write", str(path))
    assert pairs(tmp_path, *asked) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[2].startswith("No order is shorter than the plan's own, ")
    assert blocks_of(path, "B") == before
