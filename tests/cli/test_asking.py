"""What is told around a question: as wide as the terminal, in one line for a pipe."""

from __future__ import annotations

import io

import pytest

from runner.cli.common import tell
from runner.cli.forget import OUT_OF_REACH


class Terminal(io.StringIO):
    """Says that somebody is there."""

    def isatty(self) -> bool:
        return True


def test_no_word_is_broken_at_the_edge_of_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    out, pipe = Terminal(), io.StringIO()
    for line in OUT_OF_REACH.splitlines():
        tell(line, out)
        tell(line, pipe)
    for page in (out, pipe):  # a page has 80 columns wherever it goes
        assert max(map(len, page.getvalue().splitlines())) <= 80
        assert page.getvalue().split() == OUT_OF_REACH.split()


def test_narration_in_a_pipe_is_one_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for line in OUT_OF_REACH.splitlines():
        tell(line)
    assert capsys.readouterr().err == OUT_OF_REACH


def test_what_is_told_is_no_command_for_the_terminal() -> None:
    out = io.StringIO()
    tell("Ada\x1b[2J", out)
    assert out.getvalue() == "Ada?[2J\n"
