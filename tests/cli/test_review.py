"""`matside review`: what it says, and what it says where there is nothing to say."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.cli.main import main
from runner.record.record import Record
from tests.cli.test_commands import imported
from tests.reports.winter import some_weeks


@pytest.fixture
def data(tmp_path: Path) -> Path:
    with Record.open(tmp_path / "record.db") as record:
        some_weeks(record, weeks=2)
    return tmp_path


def review(data: Path, *arguments: str) -> int:
    return main(["review", "--plain", "--data", str(data), *arguments])


def test_the_whole_and_one_exercise(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert review(data, "--for", "Ada") == 0
    whole = capsys.readouterr()
    assert whole.out.startswith("Ada   ")
    assert whole.err == ""
    assert review(data, "--for", "Ada", "--all") == 0
    everything = capsys.readouterr().out
    assert review(data, "--for", "Ada", "--exercise", "Rucksack Row") == 0
    one = capsys.readouterr().out
    assert "Rucksack row" in one
    assert len(one) < len(everything) / 4
    assert len(whole.out.splitlines()) < 24 < len(everything.splitlines())
    assert everything.startswith(whole.out.partition("matside review --all")[0])


def test_without_a_terminal_it_is_text_and_says_so(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", "--data", str(data), "--for", "Ada"]) == 0
    shown = capsys.readouterr()
    assert shown.out.startswith("Ada   ")
    assert shown.err == "this is not a terminal: printing text\n"


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("--for", "Adda"), 66, "did you mean Ada?"),
        (
            ("--for", "Ada", "--exercise", "juggling"),
            66,
            "the record has calf, sack-row, push-up, plank",
        ),
        (("--for", "Ada", "--since", "2031-01-01"), 0, "the record has no session of"),
        (("--for", "Ada", "--since", "soon"), 2, "is not a date"),
        (("--for", "Ada", "--trial"), 66, "there is no record yet"),
    ],
)
def test_what_cannot_be_shown_is_one_line(
    data: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    code: int,
    said: str,
) -> None:
    assert review(data, *arguments) == code
    shown = capsys.readouterr()
    assert shown.out == ""
    assert len(shown.err.splitlines()) == 1
    assert said in shown.err


def test_pictures_are_listed_and_not_written_over(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "pictures"
    given = ("--for", "Ada", "--exercise", "plank", "--svg", str(folder))
    assert review(data, *given) == 0
    assert capsys.readouterr().out.splitlines() == [str(folder / "trend-plank.svg")]
    assert review(data, *given) == 73
    assert "--force" in capsys.readouterr().err
    assert review(data, *given, "--force") == 0


def test_as_text_no_screen_is_loaded(data: Path) -> None:
    modules = imported("review", "--plain", "--for", "Ada", data=data)
    assert "runner.reports.pages" in modules
    assert not modules & {"textual", "wakepy", "simpleaudio"}


def test_after_nothing_but_the_demo_it_says_where_that_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Record.open(tmp_path / "trial.db") as record:
        some_weeks(record, weeks=1)
    assert main(["review", "--data", str(tmp_path), "--for", "Ada"]) == 66
    assert "the record has sessions of trial plans only: matside review --trial" in (
        capsys.readouterr().err
    )
