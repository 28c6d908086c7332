"""What stands on the command line is shown as a text too: file names come from strangers."""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from runner.cli.main import build_parser, main
from runner.plan.library import find_plan
from runner.record.record import Record
from tests.record.hut import Sitting
from tests.shut import hostile_text
from tests.shut.test_texts import FORBIDDEN

HOSTILE = "a\x1b[2J\u202e\x9b31m\x07"
NEEDED = {  # what a command wants before it looks at the option in question
    "run": ["demo", "--plain", "--mute", "--yes"],
    "rehearse": ["demo"],
    "compose": ["small.toml", "--sessions", "1", "--minutes", "50", "-o", "mine.toml"],
    "pairs": ["demo"],
    "log": ["demo", "--on", "2026-11-23"],
    "next": ["demo"],
    "review": ["--plain"],
    "backup": ["copy.db"],
    "restore": ["copy.db"],
    "import": ["sheet.csv", "--plan", "demo"],
    "forget": ["Ada", "-o", "gone"],
}


def options() -> Iterator[tuple[str, str]]:
    """Every option that takes a value, with its command; and of each command none."""
    (commands,) = (a for a in build_parser()._actions if isinstance(a, argparse._SubParsersAction))
    for name, parser in commands.choices.items():
        yield name, ""
        for action in parser._actions:
            if action.option_strings and action.nargs != 0:
                yield name, action.option_strings[-1]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MATSIDE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("MATSIDE_SOUND", "silence")
    (tmp_path / "small.toml").write_text(hostile_text.shelf(), encoding="utf-8")
    with Path(os.devnull).open(encoding="utf-8") as nobody:
        monkeypatch.setattr(sys, "stdin", nobody)
        yield tmp_path


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    with contextlib.suppress(SystemExit):  # by which wrong usage ends
        main(words)
    out, err = capsys.readouterr()
    assert "Traceback" not in err, words
    return f"{out}\n{err}"


@pytest.mark.parametrize(("command", "option"), list(options()))
def test_no_argument_drives_the_terminal(
    command: str, option: str, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    needed = NEEDED.get(command, [])
    # Cues are played, which takes its time.
    for value in (HOSTILE,) if command == "cues" else (HOSTILE, f"no/{HOSTILE}"):
        text = said(capsys, command, *needed, *([option] if option else []), value)
        assert FORBIDDEN.search(text) is None, ascii(text)


def test_no_name_of_a_file_that_is_read_or_made_drives_it(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = f"{HOSTILE}.toml"
    shutil.copy(find_plan("demo", here), plan)
    with Record.open(here / "data" / "trial.db") as record:
        Sitting(record, trainee="Ada").whole(12)
    text = "".join(
        said(capsys, *words)
        for words in (
            ("check", plan),
            ("run", plan, "--plain", "--mute", "--yes", "--for", "Ada"),
            ("run", plan, "--plain", "--mute", "--yes", "--for", "Ada", "--session", HOSTILE),
            ("next", plan, "--for", "Ada"),
            ("pairs", plan, "--write", f"{HOSTILE}-paired.toml"),
            ("rehearse", plan, "--svg", f"{HOSTILE}.svg"),
            ("review", "--trial", "--for", "Ada", "--svg", f"{HOSTILE}-pictures"),
            ("review", "--trial", "--for", "Ada", "--svg", f"{HOSTILE}-pictures"),
            ("export", "--trial", "-o", f"{HOSTILE}.csv"),
            ("backup", "--trial", f"{HOSTILE}.db"),
            ("restore", "--trial", f"{HOSTILE}.db", "--yes"),
            ("import", f"{HOSTILE}.csv", "--yes"),
            ("forget", "Ada", "-o", f"{HOSTILE}-gone", "--yes", "--again", "Ada"),
        )
    )
    assert FORBIDDEN.search(text) is None, ascii(text)
    made = {path.name for path in here.iterdir()}
    assert len([name for name in made if name.startswith(HOSTILE)]) == 7, made
