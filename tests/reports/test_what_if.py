"""What if, on the command line: both sides as text and as data, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from runner.cli.main import main
from runner.errors import Exit
from runner.plan.edit import Sets
from runner.reports.compare import WhatIf, read_what_if
from tests.lines.process import ROOT

EVERY_KEY = str(ROOT / "tests" / "data" / "every-key.toml")
FEW = ("--runs", "100")


def rehearse(data: Path, plan: str, *options: str) -> int:
    return main(["rehearse", plan, "--data", str(data), *FEW, *options])


def data(capsys: pytest.CaptureFixture[str], path: Path, *options: str) -> dict[str, Any]:
    assert rehearse(path, "kestrel-hut", "--session", "B", "--json", *options) == Exit.OK
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_both_sides_as_data_are_those_of_each_alone(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    alone = data(capsys, tmp_path)
    changed = data(capsys, tmp_path, "--recovery", "1:30", "--sets", "+1")
    both = changed["what_if"]
    assert "what_if" not in alone
    assert both["tried"] == "--recovery 1:30 --sets +1"
    for side, of in (("as_planned", alone), ("as_tried", changed)):
        assert both[side]["total_s"] == of["total_s"]
        assert both[side]["straight_sets_s"] == of["straight_sets_s"]
        percentiles = {k: of["length_s"][k] for k in ("p10", "p50", "p90")}
        assert both[side]["length_s"] == percentiles
        sets = {(s["exercise"], s["set"]) for s in of["steps"] if s["kind"] == "set"}
        assert both[side]["sets"] == len(sets)
    assert both["as_tried"]["sets"] - both["as_planned"]["sets"] == 10
    # 7/8 and 3/4 of it follow: the shipped plan fixes neither.
    laws = [step["law"] for step in changed["steps"] if step["kind"] == "set"]
    assert {(law["recovery_s"], law["recovery_least_s"]) for law in laws} == {(90, 78.75)}
    assert {law["recovery_cross_s"] for law in laws} == {67.5}


@pytest.mark.parametrize(
    ("options", "seconds"),
    [(("--reps", "15"), 45), (("--pace", "2.5s"), 35), (("--reps", "10", "--pace", "3s"), 30)],
)
def test_repetitions_and_pace_make_the_lengths(
    options: tuple[str, ...],
    seconds: float,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    found = data(capsys, tmp_path, *options)
    press = [s for s in found["steps"] if s.get("exercise") == "band-press"]
    assert {round(s["end_s"] - s["start_s"], 3) for s in press} == {seconds}
    held = [s for s in found["steps"] if s.get("exercise") == "back-raise"]
    assert {round(s["end_s"] - s["start_s"], 3) for s in held} == {40}  # a hold keeps its time


def test_both_sides_as_text_with_the_difference(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert rehearse(tmp_path, "kestrel-hut", "--session", "B", "--sets", "-1") == Exit.OK
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "What if --sets -1:"  # what was asked for comes first
    lines = lines[: lines.index("")]
    assert lines[1].split() == ["as", "planned", "as", "tried", "difference"]
    assert lines[5].split()[2:] == ["49:36", "35:08", "-14:28"]
    assert lines[-2].split() == ["Sets", "29", "19", "-10"]
    assert lines[-1].split() == ["Runs", "under", "the", "least", "0", "0"]
    assert all(len(line) <= 80 for line in lines)


def test_without_such_an_option_nothing_is_compared(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert rehearse(tmp_path, "demo") == Exit.OK
    assert "What if" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("plan", "options", "line"),
    [
        ("demo", ("--recovery", "0s"), "--recovery: a recovery of 0; write more than 0, like 1:30"),
        ("demo", ("--recovery", "soon"), '--recovery: "soon" is not a duration; write it like'),
        (
            "demo",
            ("--changeover", "45s..20s"),
            '--changeover: "45s..20s" goes backwards; write 20s..45s',
        ),
        ("demo", ("--changeover", "20s..x"), '--changeover: "x" is not a duration; write it like'),
        ("demo", ("--changeover", ".."), '--changeover: "" is not a duration; write it like'),
        ("demo", ("--reps", "0"), '--reps: "0" is not a number of repetitions; write 1 to 1000'),
        ("demo", ("--reps", "many"), '--reps: "many" is not a number of repetitions; write 1 to'),
        ("demo", ("--pace", "0s"), '--pace: "0s" for one repetition; write 0.5s to 60s'),
        ("demo", ("--pace", "2:00"), '--pace: "2:00" for one repetition; write 0.5s to 60s'),
        ("demo", ("--sets", "0"), '--sets: "0" is not a number of sets; write 1 to 100, like 4'),
        ("demo", ("--sets", "+0"), '--sets: "+0" is not a number of sets; write 1 to 100, like 4'),
        (
            "demo",
            ("--sets", "a\x1b[31m"),
            '--sets: "a\\u001b[31m" is not a number of sets; write 1',
        ),
        (
            "kestrel-hut",
            ("--sets", "+90"),
            "--sets +90: then 932 sets in one session; write at most 500",
        ),
        (
            EVERY_KEY,
            ("--recovery", "5s"),
            '--recovery 5s: the plan sets recovery_least for press, and "7s" is longer than',
        ),
    ],
)
def test_nonsense_is_refused_in_one_line(
    plan: str,
    options: tuple[str, ...],
    line: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    assert rehearse(tmp_path, plan, *options) == Exit.USAGE
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"matside: {line}")
    assert err.count("\n") == 1


def test_what_is_tried_is_told_as_it_is_written() -> None:
    whole = read_what_if("90", "20s..40s", "15", "2.5", "4")
    assert whole == WhatIf(90.0, (20.0, 40.0), 15, 2.5, Sets(4, added=False))
    assert whole.text == "--recovery 1:30 --changeover 20s..40s --reps 15 --pace 2.5s --sets 4"
    assert read_what_if(None, None, None, None, "-2").text == "--sets -2"
    assert not read_what_if(None, None, None, None, None)
