"""However the session ends, no process of sound is left."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from runner.sound.wav import PREFIX
from tests.sound.fakes import Ending, fake_player

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="watches processes as Linux does")

ROOT = Path(__file__).resolve().parents[2]
SOON_S = 20.0
SESSION = """
import os, signal, sys
from runner.sound.player import open_player
player = open_player()
assert player.settled(20), "not settled"
assert player.way == os.environ["WAY"], player.report()
{before}
print(player._link.pid, flush=True)
sys.stdin.readline()
{end}
"""
WAIT = "sys.stdin.readline()"
ENDS = {
    "closed": "player.close()",
    "quit without closing": "sys.exit(3)",
    "end of the program": "",
    "exception": "raise ValueError('told to')",
    "at once": "os._exit(4)",
    "exec": "os.execv('/bin/true', ['true'])",
}
SIGNALS = [signal.SIGTERM, signal.SIGHUP, signal.SIGINT, signal.SIGQUIT, signal.SIGKILL]


class Session:
    """A process with a player; `helper` watches for the end of its helper."""

    def __init__(self, environ: dict[str, str], end: str, before: str = "") -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", SESSION.format(end=end, before=before)],
            env={**os.environ, **environ},
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self.process.stdout is not None
        self.helper_pid = int(self.process.stdout.readline())
        self.helper = Ending(self.helper_pid)

    def go_on(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()

    def over(self) -> None:
        self.process.wait(SOON_S)
        assert self.helper.came(SOON_S)

    def clear(self) -> None:
        self.process.kill()
        self.process.communicate()
        self.helper.close()


@pytest.fixture
def sessions() -> Iterator[list[Session]]:
    made: list[Session] = []
    yield made
    for session in made:
        session.clear()


def recording(tmp_path: Path) -> dict[str, str]:
    return {"MATSIDE_SOUND": f"recording:{tmp_path / 'cues'}", "WAY": "recording"}


@pytest.mark.parametrize("end", ENDS)
def test_however_the_program_ends(end: str, tmp_path: Path, sessions: list[Session]) -> None:
    session = Session(recording(tmp_path), ENDS[end])
    sessions.append(session)
    assert not session.helper.came(0)
    session.go_on()
    session.over()


@pytest.mark.parametrize("number", SIGNALS)
def test_whatever_signal_ends_it(
    number: signal.Signals, tmp_path: Path, sessions: list[Session]
) -> None:
    session = Session(recording(tmp_path), WAIT)
    sessions.append(session)
    session.process.send_signal(number)
    session.over()
    assert session.process.returncode in (-number, 1)  # SIGINT is an exception in Python


def test_the_helper_does_not_hear_the_terminals_signals(
    tmp_path: Path, sessions: list[Session]
) -> None:
    session = Session(recording(tmp_path), "player.close()")
    sessions.append(session)
    assert os.getpgid(session.helper_pid) != os.getpgid(session.process.pid)
    assert os.getsid(session.helper_pid) != os.getsid(session.process.pid)


def test_a_helper_that_stands_still_ends_with_its_killed_session(
    tmp_path: Path, sessions: list[Session]
) -> None:
    session = Session(recording(tmp_path), WAIT)
    sessions.append(session)
    os.kill(session.helper_pid, signal.SIGSTOP)
    assert not session.helper.came(0)
    session.process.kill()
    session.over()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_the_program_that_plays_ends_too(
    number: signal.Signals, tmp_path: Path, sessions: list[Session]
) -> None:
    log = fake_player(tmp_path, "paplay", "stalls")
    environ = {"MATSIDE_SOUND": "paplay", "PATH": str(tmp_path), "WAY": "paplay"}
    log.touch()  # the program writes its id when it runs
    # Asked again, for on a busy machine one that begins too late is killed.
    begun = (
        f"while not os.path.getsize({str(log)!r}):\n"
        "    player.play('start')\n"
        "    player.wait_for(lambda: False, 0.5)\n"
    )
    session = Session(environ, WAIT, begun)
    sessions.append(session)
    program = Ending(int(log.read_text().split()[-1]))
    assert not program.came(0)
    session.process.send_signal(number)
    session.over()
    assert program.came(SOON_S)
    program.close()


def test_a_killed_session_leaves_no_files_nor_those_of_one_that_was_killed_with_its_helper(
    tmp_path: Path, sessions: list[Session]
) -> None:
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    foreign = temporary / "matside-sound-notes"
    foreign.mkdir()
    linked = temporary / f"{PREFIX}999999999-link"
    linked.symlink_to(tmp_path)
    fake_player(tmp_path, "paplay", "works")
    environ = {
        "MATSIDE_SOUND": "paplay",
        "MATSIDE_SOUND_LEAD": "0.2",
        "PATH": str(tmp_path),
        "WAY": "paplay",
        "TMPDIR": str(temporary),
    }

    def left(session: Session) -> int:
        return len(list(temporary.glob(f"{PREFIX}{session.process.pid}-*")))

    killed, both = Session(environ, WAIT), Session(environ, WAIT)
    running = Session(environ, "player.close()")
    sessions += [killed, both, running]
    assert (left(killed), left(both), left(running)) == (1, 1, 1)
    killed.process.kill()
    killed.over()
    assert left(killed) == 0
    os.kill(both.helper_pid, signal.SIGSTOP)  # so that it sees nothing of its session's end
    both.process.kill()
    both.process.wait(SOON_S)
    os.kill(both.helper_pid, signal.SIGKILL)
    assert left(both) == 1
    after = Session(environ, "player.close()")
    sessions.append(after)
    assert (left(both), left(running)) == (0, 1), "the next session clears up, what plays stays"
    assert foreign.exists()
    assert linked.is_symlink()
    for session in (running, after):
        session.go_on()
        session.over()
    assert left(running) == left(after) == 0
