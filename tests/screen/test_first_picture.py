"""The first picture: there at once, and gone where something else has to be said."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from runner.resources import plans_dir
from runner.screen.first_picture import CLOSE, OPEN, READING, FirstPicture, title
from tests.lines.process import environment

if sys.platform == "win32":
    pytest.skip("the first picture is for POSIX", allow_module_level=True)

from tests.benchmarks.aids.terminal import Terminal

DEMO = plans_dir() / "demo.toml"


class Screen(io.StringIO):
    """A terminal that keeps what it gets."""

    def isatty(self) -> bool:
        return True


def test_it_says_the_plan_and_is_handed_over_open() -> None:
    screen = Screen()
    with FirstPicture(DEMO, screen) as picture:
        assert screen.getvalue().startswith(OPEN)
        assert "Kestrel Hut, demo" in screen.getvalue()
        assert READING in screen.getvalue()
        picture.hand_over()
    assert CLOSE not in screen.getvalue()


def test_it_is_taken_away_once_for_what_has_to_be_said() -> None:
    screen = Screen()
    picture = FirstPicture(DEMO, screen)
    with picture:
        picture.clear()
    picture.__exit__(KeyError)
    assert screen.getvalue().count(CLOSE) == 1


def test_a_fault_takes_it_away() -> None:
    screen = Screen()
    with FirstPicture(DEMO, screen) as picture:
        picture.__exit__(KeyError)
    assert screen.getvalue().endswith(CLOSE)


def test_without_a_terminal_nothing_is_drawn() -> None:
    for stream in (io.StringIO(), None):
        with FirstPicture(DEMO, stream) as picture:
            picture.clear()
        assert stream is None or stream.getvalue() == ""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('title = "Kestrel Hut"\n', "Kestrel Hut"),
        ("summary = 1\ntitle = 'x'\n", "mine"),
        ('title = "\\u001b[2J"\n', "mine"),
        ('title = "a\x1b[2Jb"\n', "a\\u001b[2Jb"),
        ("\udcff", "mine"),
    ],
)
def test_a_title_is_text_and_nothing_else(tmp_path: Path, text: str, said: str) -> None:
    plan = tmp_path / "mine.toml"
    plan.write_bytes(text.encode("utf-8", "surrogateescape"))
    assert title(plan) == said
    assert title(tmp_path / "none.toml") == "none"


def test_a_faulty_plan_is_told_of_on_a_whole_terminal(tmp_path: Path) -> None:
    plan = tmp_path / "faulty.toml"
    plan.write_text('title = "Kestrel Hut"\nsession = 3\n', encoding="utf-8")
    with Terminal("-m", "runner", "run", str(plan), "--data", str(tmp_path)) as terminal:
        terminal.until_ended()
        shown, told = terminal.written.split(CLOSE.encode())
    assert READING.encode() in shown
    assert b"faulty.toml" in told
    assert b"\x1b" not in told


def test_a_signal_while_it_stands_leaves_a_whole_terminal(tmp_path: Path) -> None:
    with Terminal("-m", "runner", "run", "demo", "--data", str(tmp_path)) as terminal:
        terminal.until(lambda written: READING.encode() in written, READING)
        os.kill(terminal.pid, signal.SIGTERM)
        terminal.until_ended()
    assert terminal.written.endswith(CLOSE.encode())


def test_keys_are_echoed_neither_while_it_loads_nor_after_it_has_closed(tmp_path: Path) -> None:
    with Terminal("-m", "runner", "run", "demo", "--data", str(tmp_path)) as terminal:
        terminal.until(lambda written: READING.encode() in written, READING)
        os.write(terminal.end, b"qqq   zzz\r")
        terminal.until_text("? help")
        terminal.quiet(0.3)
        assert b"Warm-up" not in terminal.written  # they are dropped as well: nothing has begun
        assert b"Close the session now?" not in terminal.written
        os.write(terminal.end, b"\x03vvv\r")
        terminal.until_ended()
    for typed in (b"qqq", b"zzz", b"vvv"):
        assert typed not in terminal.written


def test_nothing_heavy_is_loaded_before_it() -> None:
    code = "import sys, runner.cli.main, runner.cli.run, runner.screen.first_picture"
    code += "; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment()
    )
    heavy = {"textual", "rich", "pydantic", "sqlite3", "networkx", "runner.session.events"}
    assert not heavy & set(done.stdout.split())
