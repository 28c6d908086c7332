"""However `matside run` ends in its terminal: nothing of it is left, no library is seen there."""

from __future__ import annotations

import os
import signal
import sys
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if sys.platform != "linux":
    pytest.skip("looks for processes as Linux shows them", allow_module_level=True)

from tests.sound.fakes import fake_player, left_of, marked
from tests.sound.real_session import ROOT, RealSession
from tests.sound.speakers import fake_engine, texts

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable

# A fork beside other threads: the child only becomes the program.
pytestmark = pytest.mark.filterwarnings("ignore:.*multi-threaded.*fork:DeprecationWarning")

NOISE = b"NOISE-OF-A-LIBRARY"
# A sound library as bad as they come: it writes on both descriptors whenever it can.
LIBRARY = f"""\
import os
def noise():
    os.write(1, {NOISE!r})
    os.write(2, {NOISE!r})
noise()
class Played:
    def is_playing(self): return False
    def wait_done(self): noise()
    def stop(self): noise()
class WaveObject:
    def __init__(self, data, channels, width, rate): noise()
    def play(self):
        noise()
        with open(os.environ["PLAYED"], "a") as out:
            out.write("played\\n")
        return Played()
"""
# The program, with a fault of ours in its alarm once a file is there.
FAULTY = """\
import os, sys
from runner.cli.main import main
from runner.screen.app import LiveApp
ring = LiveApp._ring
def broken(self):
    if os.path.exists(os.environ["BREAK"]):
        raise RuntimeError("told to")
    ring(self)
LiveApp._ring = broken
sys.exit(main())
"""


class Ended:
    """A session whose first cues have been played; `end` ends it and says what is left."""

    def __init__(
        self, folder: Path, environ: dict[str, str], played: Path, faulty: str = ""
    ) -> None:
        self.mark = f"matside-test-{uuid.uuid4()}"
        self.fault = folder / "break"
        environ = {**environ, "MARK": self.mark, "BREAK": str(self.fault)}
        command = ("-c", faulty) if faulty else ("-m", "runner")
        self.session = RealSession(folder, environ, command)
        self.session.begin()
        self.session.wait_until(
            lambda: played.exists() and len(played.read_text().splitlines()) > 1, "a cue"
        )
        assert len(marked(self.mark)) >= 2, "the session and its helper"

    def left(self) -> list[int]:
        """What is left, once the session is over and has had its time."""
        return left_of(self.mark)


def quit_by_key(ended: Ended) -> int | None:
    session = ended.session
    session.press("q")
    session.wait_text("Close the session now?")
    session.press("y")
    closed = session.wait_for("closed")
    session.press(" ", closed.utc + 0.9)
    return session.end()


def fail(ended: Ended) -> int | None:
    ended.fault.touch()
    return ended.session.end()


def by_signal(number: signal.Signals) -> Callable[[Ended], int | None]:
    def end(ended: Ended) -> int | None:
        os.kill(ended.session.child.pid, number)
        return ended.session.end()

    return end


def ctrl_c(ended: Ended) -> int | None:
    ended.session.press("\x03")
    return ended.session.end()


def close_the_window(ended: Ended) -> int | None:
    child = ended.session.child
    child.ptyproc.fileobj.close()  # the system tells the program, as for any terminal that goes
    child.ptyproc.closed = child.closed = True
    _, status = os.waitpid(child.pid, 0)
    child.terminated = child.ptyproc.terminated = True
    return os.waitstatus_to_exitcode(status)


ENDINGS: dict[str, tuple[Callable[[Ended], int | None], int]] = {
    "quit by key": (quit_by_key, 0),
    "exception": (fail, 70),
    "SIGTERM": (by_signal(signal.SIGTERM), 143),
    "SIGHUP": (by_signal(signal.SIGHUP), 129),
    "SIGINT": (by_signal(signal.SIGINT), 130),
    "ctrl+c": (ctrl_c, 130),
    "the window closed": (close_the_window, 129),
    "SIGKILL": (by_signal(signal.SIGKILL), -9),
}


# A player that hangs in a sound, a voice that hangs in a word, and a program that does or does not
# wait for them.
HANGING = ("quit by key", "SIGTERM", "SIGKILL")


@dataclass(frozen=True)
class Outcome:
    """How a session ended: its exit code, what was left running, what the terminal got."""

    code: int | None
    left: list[int]
    sent: bytes


def with_a_noisy_library(ending: str, folder: Path) -> Outcome:
    (folder / "simpleaudio.py").write_text(LIBRARY)
    played = folder / "played"
    environ = {
        "PYTHONPATH": os.pathsep.join([str(folder), str(ROOT)]),
        "MATSIDE_SOUND": "simpleaudio",
        "PLAYED": str(played),
    }
    ended = Ended(folder, environ, played, FAULTY if ending == "exception" else "")
    return Outcome(ENDINGS[ending][0](ended), ended.left(), ended.session.sent)


def with_a_hanging_player(ending: str, folder: Path) -> Outcome:
    log = fake_player(folder, "paplay", "stalls")
    fake_engine(folder, "say", "chokes")
    environ = {
        "MATSIDE_SOUND": "paplay",
        "PATH": f"{folder}{os.pathsep}{os.environ['PATH']}",
        "MATSIDE_VOICE": "on",
        "MATSIDE_VOICE_BY": "say",
        "MATSIDE_CACHE": str(folder / "cache"),
    }
    ended = Ended(folder, environ, log)
    assert len(marked(ended.mark)) >= 4, "the session, its helper and two players"
    assert texts(folder / "say"), "the voice's process has a program that hangs"
    return Outcome(ENDINGS[ending][0](ended), ended.left(), ended.session.sent)


def few_at_first(endings: Iterable[str], few: Collection[str]) -> list[Any]:
    return [e if e in few else pytest.param(e, marks=pytest.mark.slow) for e in endings]


@pytest.mark.parametrize("ending", few_at_first(ENDINGS, ("quit by key", "the window closed")))
def test_with_a_noisy_library(ending: str, tmp_path: Path) -> None:
    outcome = with_a_noisy_library(ending, tmp_path)
    assert outcome.code == ENDINGS[ending][1]
    assert outcome.left == []
    assert NOISE not in outcome.sent


@pytest.mark.parametrize("ending", few_at_first(HANGING, ("SIGTERM",)))
def test_with_a_player_and_a_voice_that_hang_in_the_middle(ending: str, tmp_path: Path) -> None:
    outcome = with_a_hanging_player(ending, tmp_path)
    assert outcome.code == ENDINGS[ending][1]
    assert outcome.left == []
