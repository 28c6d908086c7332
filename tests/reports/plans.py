"""Plans of the hut to rehearse, and the real command line to rehearse them with."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from runner.cli.main import main

# A pair with one-sided rows, a change of the bar, then planks alone. Holds: lengths are exact.
SMALL = """\
title = "Hut, small"
[timing]
recovery = "1:00"
changeover = ["10s", "20s"]
[effort]
hold = ["20s", "20s"]
[week]
sessions = [2, 3]
sets = [4, 8]
[station.bar]
name = "Low bar"
change = "30s"
[exercise.press]
name = "Press"
pattern = "horizontal push"
prime = ["chest"]
assist = ["triceps"]
measure = "hold"
instead = ["row"]
[[exercise.press.version]]
id = "one"
name = "one stride"
[exercise.row]
name = "Rucksack row"
pattern = "horizontal pull"
prime = ["upper-back"]
assist = ["biceps"]
both_sides = ["low-back"]
sides = "left first"
measure = "hold"
station = "bar"
[[exercise.row.version]]
id = "low"
name = "low bar"
setup = { height = "60 cm" }
[[exercise.row.version]]
id = "high"
name = "high bar"
setup = { height = "80 cm" }
[exercise.plank]
name = "Plank"
pattern = "trunk"
prime = ["abdomen"]
measure = "hold"
hold = ["30s", "30s"]
[[exercise.plank.version]]
id = "toes"
name = "on the toes"
[[session]]
id = "A"
name = "Morning"
warm_up = "30s"
cool_down = "20s"
[[session.block]]
do = [
  { exercise = "press", sets = 3, ramp = 1 },
  { exercise = "row", sets = 3, versions = ["low", "high", "high"] },
]
[[session.block]]
do = [{ exercise = "plank", sets = 2 }]
[[session]]
id = "B"
[[session.block]]
do = [{ exercise = "press", sets = 2 }, { exercise = "plank", sets = 2 }]
"""


def write(folder: Path, text: str = SMALL, *changes: tuple[str, str]) -> str:
    """The plan as a file, the first `old` of each change replaced; its path."""
    for old, new in changes:
        assert old in text, f"not in the plan: {old}"
        text = text.replace(old, new, 1)
    path = folder / "hut.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def said(
    capsys: pytest.CaptureFixture[str], folder: Path, *arguments: str, code: int = 0
) -> tuple[str, str]:
    """What `matside rehearse` says on standard output and standard error; few runs, for speed."""
    runs = () if {"--runs", "--week"} & {*arguments} else ("--runs", "100")
    assert main(["rehearse", *arguments, *runs, "--data", str(folder / "data")]) == code
    out, err = capsys.readouterr()
    return out, err


def data(capsys: pytest.CaptureFixture[str], folder: Path, *arguments: str) -> Any:
    """What `matside rehearse --json` says."""
    return json.loads(said(capsys, folder, *arguments, "--json")[0])
