"""`check --follow`: what each save of a plan comes to."""

from __future__ import annotations

import queue
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.plan.file import parse_plan
from runner.reports.follow import follow_lines, snapshot

# Holds of 30 s, so lengths are sums by hand: straight sets recover two minutes each.
HUT = """\
title = "Hut"
[effort]
hold = ["30s", "30s"]
[week]
sets = [4, 9]
[exercise.push-up]
name = "Push-up"
pattern = "horizontal push"
prime = ["chest"]
measure = "hold"
version = [{ id = "one", name = "one" }]
[[session]]
id = "A"
minutes = "9:00"
warm_up = "1:00"
[[session.block]]
do = [{ exercise = "push-up", sets = 2 }]
"""
TWO, THREE = "sets = 2 }", "sets = 3 }"


def lines(text: str, before: str | None = None) -> list[str]:
    old = None if before is None else snapshot(parse_plan(before, "hut.toml"))
    return follow_lines(snapshot(parse_plan(text, "hut.toml")), old)


def test_lengths_sets_and_what_there_is_time_for() -> None:
    """60 + 10 + 30 + 120 + 30 = 250 s; a third set takes 150 s more."""
    assert lines(HUT) == [
        "A: 4:10 of 9:00, 4:50 free",
        "sets a week: 0 muscles within the aim; outside it: chest 2 (little, aim 4-9)",
        "4 minutes free in A: a third set of Push-up brings chest from 2 to 3",
    ]


def test_what_a_save_changed() -> None:
    assert lines(HUT.replace(TWO, THREE), HUT) == [
        "A: 6:40 of 9:00, 2:20 free",
        "sets a week: 0 muscles within the aim; outside it: chest 3 (little, aim 4-9)",
        "changed: A, push-up: 3 sets, not 2",
        "changed: A: 6:40, not 4:10",
        "changed: chest: 3 sets a week, not 2",
    ]
    assert "changed: neither sets nor lengths" in lines(HUT, HUT)


def test_a_week_holds_a_session_as_often_as_it_says() -> None:
    text = HUT.replace("sets = [4, 9]", "sessions = [2, 2]\nsets = [4, 9]")
    assert "sets a week: 1 muscle within the aim" in lines(text)
    over = lines(text.replace("9:00", "4:00"))
    assert over[0] == "A: 4:10 of 4:00, 0:10 over"


def test_objections_come_and_go() -> None:
    bad = HUT.replace('hold = ["30s", "30s"]', 'hold = ["30s", "30s"]\nreserve = 0')
    found = lines(bad, HUT)
    assert any(line.startswith("effort: objection:") for line in found)
    assert any("objection settled: effort" in line for line in lines(HUT, bad))


def test_within_says_what_there_is_time_to_add(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "hut.toml"
    path.write_text(HUT, encoding="utf-8")
    asked = ["rehearse", str(path), "--within", "8m", "--data", str(tmp_path)]
    assert main(asked) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "3:50 left over. In A: a third set of Push-up brings chest from 2 to 3." in said


def test_one_plan_is_followed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "demo", "kestrel-hut", "--follow"]) == 2
    assert "one plan" in capsys.readouterr().err


@pytest.mark.slow
def test_each_save_is_seen_in_an_instant(tmp_path: Path) -> None:
    path = tmp_path / "hut.toml"
    path.write_text(HUT, encoding="utf-8")
    asked = [sys.executable, "-m", "runner", "check", str(path), "--follow"]
    followed = subprocess.Popen(
        [*asked, "--data", str(tmp_path / "data")], stdout=subprocess.PIPE, text=True
    )
    said: queue.Queue[str] = queue.Queue()

    def read() -> None:
        for line in followed.stdout or ():
            said.put(line)

    threading.Thread(target=read, daemon=True).start()

    def until(text: str) -> None:
        while text not in said.get(timeout=60):
            pass

    try:
        until("4 minutes free")
        saved = tmp_path / "hut.toml.new"  # as many editors save
        saved.write_text(HUT.replace(TWO, THREE), encoding="utf-8")
        saved.replace(path)
        until("push-up: 3 sets, not 2")
        path.write_text("titel = 3\n", encoding="utf-8")
        until('did you mean "title"?')
        path.unlink()
        until("does not exist")
    finally:
        followed.terminate()
        followed.wait()
        assert followed.stdout is not None
        followed.stdout.close()
