"""`matside` alone, and `run` without a plan: what is due, for whom, and what to type."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from runner.cli import today
from runner.cli.main import main
from runner.errors import Exit
from runner.record.record import Record
from tests.lines.process import matside
from tests.reports.winter import PLAN
from tests.reports.year import BERLIN, Person as Trainee

NOW = datetime(2026, 11, 27, 6, 0, tzinfo=BERLIN)  # a Friday


class Friday:
    def local(self) -> datetime:
        return NOW


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    folder = tmp_path / "data"
    (folder / "plans").mkdir(parents=True, mode=0o700)
    folder.chmod(0o700)
    (folder / "plans" / "dark.toml").write_text(PLAN, encoding="utf-8")
    monkeypatch.setenv("MATSIDE_DATA", str(folder))
    monkeypatch.setenv("LOGNAME", "Nell")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(today, "SystemClock", Friday)
    return folder


def trained(data: Path, name: str, *days: int, cut_off: bool = False) -> None:
    """Sessions A and B in turn on those days of November."""
    with Record.open(data / "record.db") as record:
        person = Trainee(record, name, seed=1)
        for number, day in enumerate(days):
            at = datetime(2026, 11, day, 6, 30, tzinfo=BERLIN)
            person.train(PLAN, "AB"[number % 2], at, close=not cut_off or day != days[-1])


def said(capsys: pytest.CaptureFixture[str]) -> list[str]:
    assert main([]) == Exit.OK
    out, err = capsys.readouterr()
    assert err == ""
    assert all(len(line) <= 80 for line in out.splitlines())
    return out.splitlines()


def test_a_newcomer_is_told_what_to_type_first(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = said(capsys)
    assert "matside run demo" in lines[1]
    assert not (data / "record.db").exists()


def test_what_is_due_comes_with_its_command(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trained(data, "Ada", 17, 20, 23)  # two sessions a week: due every third day
    trained(data, "Ben", 24, 26)
    lines = said(capsys)
    assert lines[0] == "Ada: session B has been due since Thursday 26 November."
    assert lines[1] == "  matside run dark --for Ada"
    assert "Not due: Ben on Sunday 29 November." in lines


def test_a_session_cut_off_and_advice_wait(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trained(data, "Ada", 17, 20, 24, cut_off=True)
    lines = said(capsys)
    assert lines[0] == "Ada: session A of Tuesday 24 November, started 06:30, was cut off."
    assert lines[1] == "  matside run dark --for Ada --resume"


def test_advice_waits_with_its_command(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    trained(data, "Ada", 26)
    whole = today.roster
    monkeypatch.setattr(
        today, "roster", lambda *of, **by: [one._replace(advice=2) for one in whole(*of, **by)]
    )
    assert said(capsys)[:2] == [
        "Ada: 2 advice wait for an answer.",
        "  matside next dark --for Ada",
    ]


def test_who_asks_comes_first_and_a_crew_fits_on_a_screen(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for number, name in enumerate(("Ada", "Ben", "Cem", "Dag", "Eva", "Finn", "Nell")):
        trained(data, name, 10 + number)
    lines = said(capsys)
    assert lines[0].startswith("Nell: ")
    assert lines[2].startswith("Finn: ")  # due last; Ada has been away for longest
    assert lines[-1] == "2 more to look at. matside roster: a line for everybody."
    assert len(lines) < 24


@pytest.mark.parametrize("gone", [False, True])
def test_without_a_plan_the_one_run_last_is_run(data: Path, tmp_path: Path, *, gone: bool) -> None:
    trained(data, "Ada", 24)
    if gone:
        (data / "plans" / "dark.toml").unlink()
    done = matside(
        "run", "--for", "Ada", "--plain", "--mute", "--yes", cwd=tmp_path, MATSIDE_DATA=str(data)
    )
    assert done.returncode == Exit.OK
    named = "Kestrel Hut, dark months"
    typed = f"the stored plan {named}" if gone else f"plan dark, {named}"
    assert f"matside: {typed}: Ada ran it last on Tuesday 2026-11-24" in done.stderr
    assert f"plan={named}" in done.stdout
    assert "plan_session=B" in done.stdout


def test_a_trial_is_no_plan_run_last(data: Path, tmp_path: Path) -> None:
    for words in (("demo", "--for", "Ada"), ("--for", "Ada")):
        done = matside(
            "run", *words, "--plain", "--mute", "--yes", cwd=tmp_path, MATSIDE_DATA=str(data)
        )
    assert (done.returncode, done.stdout) == (Exit.NO_INPUT, "")
    assert done.stderr == ("matside: Ada has run no plan yet; name one: matside run kestrel-hut\n")


def test_a_near_name_is_shown_before_a_person_starts_unseen(data: Path, tmp_path: Path) -> None:
    trained(data, "Ada", 24)
    done = matside("run", "--for", "ada", "--plain", "--mute", cwd=tmp_path, MATSIDE_DATA=str(data))
    assert done.returncode == Exit.NO_INPUT
    assert "similar names: Ada (--for NAME)" in done.stderr
