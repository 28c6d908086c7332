"""No socket of the net is ever made: not by our Python, not by a library, not by a program."""

from __future__ import annotations

import os
import re
import select
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

import pytest

from tests.lines.process import DEADLINE, ROOT, environment
from tests.shut.watch import AUDIT, events, no_strace, strace
from tests.sound.mat_sink import Sink, mat_sink, missing
from tests.sound.real_session import RealSession

NET = re.compile(r"AF_(?!UNIX|LOCAL)\w+")
traced = pytest.mark.skipif(bool(no_strace()), reason=no_strace() or "-")

OPENS_ONE = "import socket; socket.socket(socket.AF_INET6, socket.SOCK_DGRAM)"


@pytest.fixture(scope="module")
def sink() -> Iterator[Sink]:
    if why := missing("aplay"):
        pytest.skip(why)
    with mat_sink() as running:
        yield running


def families(log: Path) -> list[str]:
    """The families of the sockets that the system was asked for."""
    if not log.exists():
        return []
    return re.findall(r"socket\((AF_\w+)", log.read_text(encoding="utf-8", errors="replace"))


def test_python_makes_no_socket_of_the_net(played: Path) -> None:
    """Every command, a whole session on the screen, the look back, a voice rendering."""
    found = [one for one in events(played) if one[0].startswith("socket.")]
    made = [one for one in found if one[0] == "socket.__new__"]
    assert {int(one[1]) for one in made} == {int(socket.AF_UNIX)}  # the event loop's own pair
    assert found == made  # nothing is connected, bound or looked up


@traced
def test_libraries_and_programs_make_no_socket_of_the_net(played: Path) -> None:
    """The same commands, as the system sees them and all they start."""
    assert not [family for family in families(played / "strace.log") if NET.match(family)]


@traced
def test_a_session_that_sounds_makes_local_sockets_alone(tmp_path: Path, sink: Sink) -> None:
    log = tmp_path / "strace.log"
    command = [
        "run",
        "demo",
        "--plain",
        "--voice",
        "names",
        "--yes",
        "--for",
        "Ada",
        "--data",
        str(tmp_path),
    ]
    with subprocess.Popen(
        [*strace(log), sys.executable, "-m", "runner", *command],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env=environment(**sink.environ, MATSIDE_SOUND="simpleaudio,aplay,paplay"),
    ) as running:
        assert running.stdin is not None
        running.stdin.write("\n\ngo\n\n12\ngo\n\n")
        running.stdin.flush()
        # It goes on until its sound has come up; ended at once, there would be none yet.
        until = time.monotonic() + DEADLINE * 3
        while "AF_UNIX" not in families(log) and time.monotonic() < until:
            assert running.poll() is None
            select.select([], [], [], 0.05)
        out, err = running.communicate("end\n", timeout=DEADLINE * 3)
    assert running.returncode == 0, err
    assert "\tclosed\t" in out
    assert "AF_UNIX" in families(log)  # the sound server's, which is on this machine
    assert not [family for family in families(log) if NET.match(family)]


@traced
def test_a_session_in_a_terminal_makes_local_sockets_alone(tmp_path: Path, sink: Sink) -> None:
    log, program = tmp_path / "strace.log", tmp_path / "python"
    program.write_text(f'#!/bin/sh\nexec {" ".join(strace(log))} "{sys.executable}" "$@"\n')
    program.chmod(0o700)
    environ = {**sink.environ, "MATSIDE_SOUND": "simpleaudio,aplay,paplay"}
    with patch("tests.sound.real_session.sys.executable", str(program)):
        running = RealSession(tmp_path, environ)
    running.begin()
    running.wait_for("resting")
    running.press(" ")
    running.wait_for("started")
    running.child.close()
    assert "AF_UNIX" in families(log)
    assert not [family for family in families(log) if NET.match(family)]


def test_the_watch_of_python_sees_a_socket_of_the_net(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-c", OPENS_ONE],
        env={
            **os.environ,
            "PYTHONPATH": str(AUDIT),
            "MATSIDE_AUDIT": str(tmp_path / "audit.log"),
        },
        check=True,
    )
    (made,) = [one for one in events(tmp_path) if one[0] == "socket.__new__"]
    assert int(made[1]) == int(socket.AF_INET6)


@traced
def test_the_watch_of_the_system_sees_a_socket_of_the_net(tmp_path: Path) -> None:
    log = tmp_path / "strace.log"
    subprocess.run([*strace(log), sys.executable, "-c", OPENS_ONE], check=True)
    assert [family for family in families(log) if NET.match(family)] == ["AF_INET6"]
