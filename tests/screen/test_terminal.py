"""The real program in a real terminal: what it sends, how it ends, what it leaves behind."""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is POSIX", allow_module_level=True)

import termios

import pexpect

ROOT = Path(__file__).parents[2]
DEADLINE = 30
RESTORED = (b"\x1b[?1049l", b"\x1b[?25h")
COLOUR = re.compile(rb"\x1b\[[0-9;:]*[34]8[;:][25][0-9;:]*m")


class Terminal:
    """The program in a terminal of so many rows and columns; everything it sent is kept."""

    def __init__(
        self, data: Path, *options: str, size: tuple[int, int], colour: bool, plan: str = "demo"
    ) -> None:
        environment = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "CI")}
        environment.update(TERM="xterm-256color", COLORTERM="truecolor", LC_ALL="C.UTF-8")
        if not colour:
            environment["NO_COLOR"] = "1"
        arguments = ["-m", "runner", "run", plan, "--for", "Ada", "--mute", "--yes"]
        self.child = pexpect.spawn(
            sys.executable,
            [*arguments, "--data", str(data), *options],
            env=environment,
            dimensions=size,
            timeout=DEADLINE,
            cwd=str(ROOT),
        )
        self.sent = b""

    def wait(self, text: str) -> None:
        """Wait until this text is sent."""
        self.child.expect_exact(text.encode())
        self.sent += self.child.before + text.encode()

    def press_until(self, key: str, wanted: object) -> None:
        """Press until it is sent; a main key counts only some time after the one before."""
        for _ in range(DEADLINE):
            self.child.send(key)
            if self.child.expect([wanted, pexpect.TIMEOUT], timeout=1.0) == 0:
                after = self.child.after
                self.sent += self.child.before + (after if isinstance(after, bytes) else b"")
                return
        raise AssertionError(f"{wanted!r} never came; so far {self.sent[-500:]!r}")

    def end(self) -> int | None:
        """Wait for the end; the exit code."""
        self.child.expect(pexpect.EOF)
        self.sent += self.child.before
        self.child.close()
        return self.child.exitstatus

    def restored(self) -> bool:
        """Whether the other screen is left, and the cursor is shown, for good."""
        off, cursor = (self.sent.rfind(sign) for sign in RESTORED)
        hidden = max(self.sent.rfind(b"\x1b[?1049h"), self.sent.rfind(b"\x1b[?25l"))
        return min(off, cursor) > hidden


@contextmanager
def terminal(
    data: Path, *options: str, size: tuple[int, int] = (24, 80), colour: bool = True
) -> Iterator[Terminal]:
    running = Terminal(data, *options, size=size, colour=colour)
    try:
        yield running
    finally:
        running.child.close(force=True)


def into_the_warm_up(live: Terminal) -> None:
    live.wait("begin")
    live.child.send(" ")
    live.wait("Arm circles")


def events(data: Path) -> list[str]:
    with closing(sqlite3.connect(data / "trial.db")) as record:
        assert record.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [name for (name,) in record.execute("SELECT name FROM event ORDER BY session, seq")]


@pytest.mark.parametrize(
    ("number", "code"),
    [(signal.SIGTERM, 143), (signal.SIGHUP, 129), (signal.SIGINT, 130)],
)
def test_a_signal_restores_the_terminal_and_the_session_can_be_gone_on_with(
    tmp_path: Path, number: signal.Signals, code: int
) -> None:
    with terminal(tmp_path) as live:
        into_the_warm_up(live)
        os.kill(live.child.pid, number)
        assert live.end() == code
        assert live.restored()
    assert events(tmp_path) == ["opened", "begun"]
    with terminal(tmp_path) as again:
        again.wait("was cut off. Go on with it?")
        again.child.send("y")
        again.wait("block 1 of 2")
        again.child.send("\x03")
        assert again.end() == 130
        assert again.restored()
    assert events(tmp_path)[:2] == ["opened", "begun"]


@pytest.mark.parametrize("nonsense", [b"\x1b[6;1:1~", b"\xff", b"\xfcbung", b"\x1b[1114112u"])
def test_bytes_that_no_terminal_should_send_end_nothing(tmp_path: Path, nonsense: bytes) -> None:
    with terminal(tmp_path) as live:
        into_the_warm_up(live)
        live.child.send(nonsense)
        live.press_until("?", b"Keys")
        live.child.send("\x03")
        assert live.end() == 130
        assert live.restored()
        assert b"Traceback" not in live.sent
    assert events(tmp_path) == ["opened", "begun"]


def test_a_continue_without_a_stop_starts_nothing_anew(tmp_path: Path) -> None:
    with terminal(tmp_path) as live:
        before = termios.tcgetattr(live.child.child_fd)
        into_the_warm_up(live)
        os.kill(live.child.pid, signal.SIGCONT)
        live.press_until("?", b"Keys")
        live.child.send("\x03")
        live.child.expect(pexpect.EOF)
        assert termios.tcgetattr(live.child.child_fd) == before
        assert live.end() == 130


def test_no_color_sends_no_colour(tmp_path: Path) -> None:
    with terminal(tmp_path, colour=False) as live:
        into_the_warm_up(live)
        live.child.send("?")
        live.wait("Keys")
        live.child.send("?")
        live.child.send("\x03")
        assert live.end() == 130
        assert not COLOUR.findall(live.sent)


def test_colour_is_sent_where_it_is_wanted(tmp_path: Path) -> None:
    with terminal(tmp_path) as live:
        into_the_warm_up(live)
        live.child.send("\x03")
        live.end()
        assert COLOUR.findall(live.sent)


def test_a_terminal_of_twenty_columns_and_five_rows(tmp_path: Path) -> None:
    with terminal(tmp_path, size=(5, 20)) as live:
        live.wait("begin")
        live.press_until("\x1b[6~", b"WARM-UP")  # page down, a remote's next
        live.press_until("\x1b[6~", b"REST")
        live.child.send("\x03")
        assert live.end() == 130
        assert live.restored()
    assert events(tmp_path)[:3] == ["opened", "begun", "resting"]


def test_a_session_ended_by_its_question_is_closed(tmp_path: Path) -> None:
    with terminal(tmp_path) as live:
        into_the_warm_up(live)
        live.child.send("q")
        live.wait("Close the session now?")
        live.child.send("y")
        live.wait("Closed as unfinished.")
        live.press_until(" ", pexpect.EOF)
        assert live.end() == 0
        assert live.restored()
    assert events(tmp_path) == ["opened", "begun", "closed"]
