"""Pages of text: eighty columns, the pager, and what takes a while."""

from __future__ import annotations

import io
import re
import sys
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import pexpect
import pytest

from runner.cli import common
from runner.cli.common import Busy, show_lines
from runner.cli.main import COMMANDS, build_parser, main
from runner.errors import Exit
from runner.record.record import Record
from tests.cli.test_asking import Terminal
from tests.lines.process import ROOT, environment, matside
from tests.reports.winter import PLAN, some_weeks
from tests.reports.year import BERLIN, Person

SIZE = {"LINES": "", "COLUMNS": ""}  # the terminal's own, not that of whoever runs the tests


def at_terminal(*words: str, rows: int = 24, columns: int = 100, **env: str) -> str:
    child = pexpect.spawn(
        sys.executable,
        ["-m", "runner", *words],
        cwd=str(ROOT), env=environment(TERM="xterm", **SIZE, **env), dimensions=(rows, columns),
        encoding="utf-8", timeout=60,
    )  # fmt: skip
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == Exit.OK
    assert child.before is not None
    return child.before


@pytest.mark.parametrize(
    "words",
    [
        ("rehearse", "kestrel-hut"),
        ("rehearse", "kestrel-hut", "--week"),
        ("rehearse", "kestrel-hut", "--recovery", "1:30", "--runs", "100"),
        ("check", "kestrel-hut"),
        ("next", "kestrel-hut"),
        ("show", "push-up"),
        ("help", "plan"),
        ("--help",),
        *((command, "--help") for command in COMMANDS),
    ],
    ids=" ".join,
)
def test_no_line_is_wider_than_eighty_columns(
    words: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("MATSIDE_DATA", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "200")
    with suppress(SystemExit):
        assert main(words) == Exit.OK
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if len(line) > 80 and str(ROOT) not in line] == []


def test_nor_of_what_commands_say_of_people(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of two trainees with some weeks behind them, one with a long name."""
    monkeypatch.setenv("MATSIDE_DATA", str(tmp_path))
    long = "Ada of the upper meteorological station on the ridge"
    with Record.open(tmp_path / "record.db") as record:
        some_weeks(record, long, weeks=6)
        some_weeks(record, "Ben", weeks=6)
    plan = tmp_path / "hut.toml"
    plan.write_text(PLAN, encoding="utf-8")
    who = ("--for", long)
    for words in (
        (),
        ("roster",),
        ("review", "--plain", *who),
        ("review", "--all", *who),
        ("next", str(plan), *who),
        ("next", str(plan), "--on", "2026-11-02", *who),
        ("check", str(plan), *who),
        ("rehearse", str(plan), *who),
        ("rehearse", str(plan), "--within", "15m"),
        ("pairs", str(plan)),
        ("help", "files"),
        ("help",),
    ):
        code = main(words)
        said = capsys.readouterr()
        assert code == Exit.OK, (words, said.err)
        lines = said.out.splitlines()
        # What is typed again, a command or a path, stays whole.
        wide = [line for line in lines if len(line) > 80]
        assert [line for line in wide if "matside " not in line and str(tmp_path) not in line] == []


def test_long_help_is_paged_too(tmp_path: Path) -> None:
    pager = tmp_path / "pager"
    pager.write_text("#!/bin/sh\necho PAGED; head -1\n", encoding="utf-8")
    pager.chmod(0o755)
    for rows, paged in ((12, True), (100, False)):
        said = at_terminal("rehearse", "--help", rows=rows, PAGER=str(pager))
        assert ("PAGED" in said) is paged
        assert "usage: matside rehearse" in said


def test_the_list_of_commands_is_one_screen() -> None:
    commands = build_parser("").format_help().partition("options:")[0]
    assert len(commands.splitlines()) <= 8 + len(COMMANDS)  # a line each


def test_the_pager_is_the_person_s_own_and_only_for_more_than_a_screen(tmp_path: Path) -> None:
    pager = tmp_path / "pager"
    pager.write_text('#!/bin/sh\necho "PAGER $1 BEGINS"; head -3\n', encoding="utf-8")
    pager.chmod(0o755)
    data = {"MATSIDE_DATA": str(tmp_path / "data")}
    for rows, paged in ((24, True), (600, False)):
        said = at_terminal("rehearse", "kestrel-hut", rows=rows, PAGER=f"{pager} -x", **data)
        assert ("PAGER -x BEGINS" in said) is paged
        assert "Kestrel Hut, winter, session A" in said


@pytest.mark.parametrize("pager", ["", "cat", "/nowhere/at/all", '"'])
def test_without_a_pager_that_starts_it_is_printed(tmp_path: Path, pager: str) -> None:
    said = at_terminal("rehearse", "demo", PAGER=pager, MATSIDE_DATA=str(tmp_path / "data"))
    assert "works" in said.splitlines()[-1]


def test_a_pipe_has_no_pager(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PAGER", "false")
    show_lines(["a line"] * 500)
    assert capsys.readouterr().out.count("a line") == 500


def test_what_takes_a_while_is_told_at_a_terminal_and_leaves_no_trace() -> None:
    out = Terminal()
    busy = Busy("Simulated runs", out)
    busy._over = Once()
    with busy:
        assert list(busy.each(range(4), 4)) == [0, 1, 2, 3]
        busy._thread.join()
    said = out.getvalue()
    assert re.fullmatch(r"\r\x1b\[KSimulated runs \.\.\. (75 %|\d+ s|\d+ %)\r\x1b\[K", said), said


class Once:
    """An event whose first wait is over at once, without the work being done."""

    def __init__(self) -> None:
        self.waits: list[float] = []

    def wait(self, seconds: float) -> bool:
        self.waits.append(seconds)
        return len(self.waits) > 1

    def set(self) -> None:
        assert self.waits == [Busy.AFTER, Busy.EVERY]


def test_a_pipe_hears_nothing_of_it() -> None:
    pipe = io.StringIO()
    with Busy("Exporting", pipe) as busy:
        assert busy._thread is None
    assert pipe.getvalue() == ""


@pytest.mark.slow
def test_many_runs_show_how_far_they_are(tmp_path: Path) -> None:
    said = at_terminal(
        "rehearse", "kestrel-hut", "--runs", "4000", MATSIDE_DATA=str(tmp_path), PAGER=""
    )
    assert re.search(r"Simulated runs \.\.\. \d+ %", said)
    assert common.WIDEST == 80


def test_sets_are_counted_in_one_way_everywhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Work sets, both sides one; warm-up sets apart: counted by hand in the plan's own file."""
    monkeypatch.setenv("MATSIDE_DATA", str(tmp_path))
    block = "block = [{ do = [{ exercise = 'push-up', sets = 3, ramp = 1 }, "
    block += "{ exercise = 'sack-row', sets = 2 }] }]\n"
    plan = tmp_path / "hut.toml"
    plan.write_text(PLAN.partition("[[session]]")[0] + f'[[session]]\nid = "A"\n{block}')
    said = {}
    for words in (("check",), ("rehearse",), ("rehearse", "--week")):
        assert main([words[0], str(plan), *words[1:]]) == Exit.OK
        said[words] = capsys.readouterr().out
    assert "5 sets and 1 warm-up set\n" in said["check",]
    assert "\n5 sets and 1 warm-up set in 1 block\n" in said["rehearse",]
    (line,) = (one for one in said["rehearse", "--week"].splitlines() if one.startswith("A "))
    assert line.split()[-1] == "5"
    with Record.open(tmp_path / "record.db") as record:
        at = datetime(2026, 11, 23, 6, 30, tzinfo=BERLIN)
        Person(record, "Ada", seed=1).train(plan.read_text(), "A", at)
    assert main(["review", "--plain", "--for", "Ada"]) == Exit.OK
    assert capsys.readouterr().out.partition("\n")[0].endswith("1 session, 5 sets")


@pytest.mark.parametrize("words", [("review", "--all", "--for", "Ada"), ("rehearse", "demo")])
def test_an_encoding_without_the_signs_gets_tables_alone(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    with Record.open(tmp_path / "record.db") as record:
        some_weeks(record, weeks=2)
    done = matside(*words, MATSIDE_DATA=str(tmp_path), PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == Exit.OK
    assert "\\u" not in done.stdout
