"""What cannot be used ends in one clear line, through the real command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.reports.plans import said, write

BLOCK = 'do = [{ exercise = "plank", sets = 2 }]'


@pytest.mark.parametrize("text", ["25:99", "24:00", "18", "", "6:3", "18:30:60", "١٨:٣٠", "now"])
def test_a_time_of_day_that_is_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    out, err = said(capsys, tmp_path, "demo", "--at", text, code=2)
    assert out == ""
    assert err == f"matside: --at {text!r} is not a time of day; write it as 18:30\n"


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ((BLOCK, "do = []"), "do"),
        ((BLOCK, ""), "do"),
        ((BLOCK, 'do = [{ exercise = "plank", sets = 0 }]'), "sets"),
        (('recovery = "1:00"', 'recovery = "1:00"\nrecovery_least = "2:00"'), "recovery"),
        (('changeover = ["10s", "20s"]', 'changeover = ["45s", "20s"]'), "changeover"),
    ],
)
@pytest.mark.parametrize("week", [(), ("--week",)])
def test_a_plan_with_a_fault_or_a_session_without_sets(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    change: tuple[str, str],
    wrong: str,
    week: tuple[str, ...],
) -> None:
    path = write(tmp_path)
    out, err = said(
        capsys, tmp_path, write(tmp_path, Path(path).read_text(), change), *week, code=65
    )
    assert out == ""
    (line,) = err.splitlines()
    assert "hut.toml:" in line
    assert wrong in line


@pytest.mark.parametrize(
    ("where", "said_of_it"),
    [
        ("there.svg", "exists; name another file, or pass --force to overwrite it"),
        (".", "is a directory; name a file in it"),
        ("no/such/folder.svg", "cannot be created: No such file or directory"),
        ("there.svg/below.svg", "cannot be created: Not a directory"),
        ("x" * 300, "cannot be created: File name too long"),
    ],
)
def test_a_picture_that_cannot_be_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], where: str, said_of_it: str
) -> None:
    there = tmp_path / "there.svg"
    there.write_text("mine", encoding="utf-8")
    path = tmp_path / where
    out, err = said(capsys, tmp_path, "demo", "--svg", str(path), code=73)
    assert out == ""
    assert err == f"matside: {path} {said_of_it}\n"
    assert there.read_text(encoding="utf-8") == "mine"
    assert sorted(p.name for p in tmp_path.iterdir() if p.suffix != ".db") == ["there.svg"]


def test_a_picture_is_written_over_only_when_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "there.svg"
    there.write_text("mine", encoding="utf-8")
    out, err = said(capsys, tmp_path, "demo", "--svg", str(there), "--force")
    assert "Length" in out
    assert err == f"written: {there}\n"
    assert there.read_text(encoding="utf-8").startswith("<svg")


@pytest.mark.parametrize(
    "option",
    [
        ("--session", "demo"),
        ("--at", "18:30"),
        ("--svg", "chart.svg"),
        ("--runs", "500"),
        ("--within", "35m"),
        ("--watch",),
        ("--sets", "+1"),
        ("--reps", "15"),
    ],
)
def test_a_week_has_no_place_for_what_is_of_one_session(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: tuple[str, ...]
) -> None:
    out, err = said(capsys, tmp_path, "demo", "--week", *option, code=2)
    assert out == ""
    assert err == f"matside: --week shows every session as planned; leave {option[0]} out\n"
