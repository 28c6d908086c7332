"""`rehearse --watch`, refused: one clear line each, before anything is read or made."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.cli.main import main


@pytest.mark.parametrize(
    ("options", "code", "said"),
    [
        (("--watch", "--speed", "0"), 2, "--speed 0: write a factor from"),
        (("--watch", "--speed", "-3"), 2, "--speed -3: write a factor from"),
        (("--watch", "--speed", "nan"), 2, "--speed nan: write"),
        (("--watch", "--speed", "inf"), 2, "--speed inf: write"),
        (("--watch", "--speed", "1e9"), 2, "from 0.1 to 100"),
        (("--watch", "--speed", "fast"), 2, "--speed fast: write"),
        (("--watch", "--speed", "20", "--json"), 2, "on the screen; leave --json out"),
        (("--watch", "--svg", "x.svg"), 2, "leave --svg out"),
        (("--watch", "--runs", "200"), 2, "leave --runs out"),
        (("--watch", "--seed", "2"), 2, "leave --seed out"),
        (("--at", "18:30", "--json"), 2, "--json shows no times of day; leave --at out"),
        (("--speed", "20"), 2, "--speed needs --watch"),
        (("--mute",), 2, "--mute needs --watch"),
        (("--voice", "on"), 2, "--voice needs --watch"),
        (("--watch", "--voice", "on"), 2, "add --speed 1"),
        (("--watch",), 69, "no terminal: --watch needs a full screen"),
        (("--watch", "--speed", "60", "--session", "Z"), 69, "no terminal"),
    ],
)
def test_what_cannot_be_watched(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    options: tuple[str, ...],
    code: int,
    said: str,
) -> None:
    data = tmp_path / "data"
    assert main(["rehearse", "demo", *options, "--data", str(data)]) == code
    shown = capsys.readouterr()
    assert shown.out == ""
    (line,) = shown.err.splitlines()
    assert line.startswith("matside: ")
    assert said in line
    assert not data.exists()


def test_with_an_end_a_begin_is_of_use_to_data_as_well(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    when = ("--at", "06:30", "--until", "06:34", "--json", "--runs", "100")
    assert main(["rehearse", "demo", *when, "--data", str(tmp_path)]) == 0
    assert '"total_s"' in capsys.readouterr().out


def test_a_dumb_terminal_has_no_screen(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERM", "dumb")
    assert main(["rehearse", "demo", "--watch"]) == 69
    assert capsys.readouterr().err.startswith("matside: TERM is dumb: --watch needs")
