"""Faults of the terminal: other sizes, meaningless keys, bytes, signals, a closed window."""

from __future__ import annotations

import contextlib
import os
import random
import re
import signal
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect

from runner.live.session_setup import prepare
from runner.testing import ManualClock
from tests.faults.frame import Fault, Outcome
from tests.faults.hand import OnFile, events_of, hand, integrity, judge, sessions
from tests.faults.storage import DATABASE
from tests.kill.plan import PLAN
from tests.kill.terminal import SAVED
from tests.lines.process import DEADLINE
from tests.screen.test_terminal import Terminal

WRONG = b"\x1b[6;1:1~"  # a key report that no terminal should send
SIGNALS = {signal.SIGTERM: 143, signal.SIGHUP: 129, signal.SIGINT: 130}
# The last: keys behind its end reach the system's own terminal, where Ctrl+\\ is a quit.
ENDS = (0, 130, 143, 131)
BITS = (b"\x1b[A", b"\x1b[B", b"\x1b[5~", b"\x1b[6~", b"\x1bOP", b"\x1b", b"\r", b" ", b"12\r",
        b"\x1b[200~12\x1b[201~", b"\x1b[<0;10;10M", b"\x1b[I", b"\x1b[O", b"\xc3\xa9", b"\xff",
        b"\x1b[1;5C", b"\x1b[97;5u", b"\x1b]11;rgb:00/00/00\x07", b"\x1bP1$r0m\x1b\\",
        WRONG)  # fmt: skip


class Watched(Terminal):
    """A session on a full screen; the terminal's settings are compared before and after."""

    def __init__(self, data: Path, plan: Path, *options: str) -> None:
        self.data = data
        super().__init__(data, *options, size=(24, 80), colour=True, plan=str(plan))
        self.settings = termios.tcgetattr(self.child.child_fd)
        self.after: list[object] = []

    def take(self, seconds: float) -> bool:
        """Read what is sent for so long; False once the program is gone."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            try:
                self.sent += self.child.read_nonblocking(65536, timeout=left)
            except pexpect.TIMEOUT:
                break
            except pexpect.EOF:
                return False
        return True

    def send(self, keys: bytes) -> bool:
        """Send keys; False where no program reads them any more."""
        try:
            self.child.send(keys)
        except OSError:
            return False
        return True

    def last_settings(self) -> None:
        """Remember how the program left the terminal."""
        with contextlib.suppress(pexpect.TIMEOUT):
            self.child.expect(pexpect.EOF, timeout=DEADLINE)
        self.sent += self.child.before or b""
        self.after = termios.tcgetattr(self.child.child_fd)

    def judge(self, code: int | None, *codes: int) -> Outcome:
        """Check the exit, the terminal, and what was shown as saved."""
        outcome = Outcome(notes=[f"ended {code}"])
        lost = outcome.lost
        if code not in codes:
            lost.append(f"ended {code}, not {codes}: {self.sent[-300:]!r}")
        if self.after != self.settings:
            lost.append(f"the terminal's settings were {self.settings}, are {self.after}")
        if not self.restored():
            lost.append(f"the screen is not left, or the cursor hidden: {self.sent[-200:]!r}")
        if b"Traceback" in self.sent:
            lost.append(f"a traceback: {self.sent[self.sent.find(b'Traceback') :][:800]!r}")
        if code == 70 and self.sent.count(b"which is our fault") != 1:
            lost.append(f"ended 70 without its one line: {self.sent[-400:]!r}")
        path = self.data / DATABASE
        if integrity(path) != "ok":
            lost.append(integrity(path))
        shown = {int(number) for number in SAVED.findall(self.sent)}
        counts = {
            e.data.get("reps") for e in all_events(path) if e.name in ("entered", "corrected")
        }
        lost += [f"{number} was shown as saved, and is not on file" for number in shown - counts]
        outcome.acknowledged = len(shown)
        return outcome


def all_events(path: Path) -> list[OnFile]:
    """The events of all sessions."""
    return [event for name in sessions(path) for event in events_of(path, name)]


@contextmanager
def on_screen(folder: Path, *options: str) -> Iterator[Watched]:
    """A session of the hasty plan on a full screen; the block's end certainly ends it."""
    plan = folder / "hurry.toml"
    if not plan.exists():
        plan.write_text(PLAN, encoding="utf-8")
    live = Watched(folder / "data", plan, *options)
    try:
        yield live
    finally:
        live.child.close(force=True)


def into_sets(live: Watched, rng: random.Random, sets: int) -> None:
    """Begin, then end sets and give their counts, as fast as the guards let it."""
    live.wait("start")
    live.send(b" ")
    for number in range(sets):
        live.take(rng.uniform(0.9, 1.2))
        live.send(b" ")
        live.take(0.2)
        live.send(b"%d\r" % (11 + number))


def ended(live: Watched) -> int | None:
    """Wait for the end; the exit code, as a shell has it where a late Ctrl+C was the end."""
    live.last_settings()
    live.child.close()
    killed = live.child.signalstatus
    return live.child.exitstatus if killed is None else 128 + int(killed)


def resumable(data: Path, plan: Path) -> list[str]:
    """Whether the session cut off is offered, and goes on from all that is on file."""
    opening = prepare(str(plan), data=data, trainee="Ada", clock=ManualClock())
    try:
        if opening.unfinished is None:
            return ["it is not offered again"]
        live = opening.resume(_Silence())
        live.driver.come_back()
        return [] if live.driver.state.phase != "ready" else ["gone on with, it is not begun"]
    finally:
        opening.record.close()


class _Silence:
    def play(self, name: str, late_s: float = 0.0) -> None:
        """Do nothing."""


SIZES_A_RUN = 200


def resized(seed: int, folder: Path) -> Outcome:
    """That many sizes, 1x1 and 500x300 among them, while keys come."""
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    with on_screen(folder) as live:
        into_sets(live, rng, 2)
        gone = False
        for number in range(SIZES_A_RUN):
            size = rng.choice([(1, 1), (300, 500), (rng.randint(1, 300), rng.randint(1, 500)),
                               (24, 80), (rng.randint(1, 40), rng.randint(1, 120))])  # fmt: skip
            live.child.setwinsize(*size)
            if number % 4 == 0:
                live.send(rng.choice([b" ", b"+", b"?", b"12\r", b"p", b"\x1b[6~"]))
            gone = gone or not live.take(rng.uniform(0.0, 0.03))
        live.child.setwinsize(24, 80)
        live.take(0.5)
        live.send(b"\x03")
        code = ended(live)
        outcome = live.judge(code, 130)
        outcome.lost += ["it was gone before its end"] if gone else []
    outcome.lost += resumable(folder / "data", folder / "hurry.toml")
    return outcome


def odd_bytes(seed: int, folder: Path) -> Outcome:
    """An odd report during the session, which then goes on."""
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    with on_screen(folder) as live:
        into_sets(live, rng, rng.randint(1, 3))
        live.take(0.5)
        live.send(WRONG)
        if live.take(3.0):
            live.send(b"\x03")
        outcome = live.judge(ended(live), 130)
    outcome.lost += resumable(folder / "data", folder / "hurry.toml")
    return outcome


KEYS_A_RUN = 200


def random_keys(seed: int, folder: Path) -> Outcome:
    """Keys of every byte, and of sequences; begun again, or gone on with, whenever it has ended."""
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    outcome, left, first = Outcome(), KEYS_A_RUN, True
    while left > 0:
        with on_screen(folder, *(() if first else (rng.choice(["--resume", "--fresh"]),))) as live:
            if first:  # so that something has been acknowledged
                into_sets(live, rng, 2)
            first = False
            # Before its screen stands, the terminal is the system's: Ctrl+\ would be a quit.
            live.press_until("", re.compile(rb"start|block [0-9]|paused|wrap|complete|unfinished"))
            alive = True
            while alive and left > 0:
                some = min(rng.randint(1, 12), left)
                left -= some
                keys = b"".join(
                    rng.choice(BITS) if rng.random() < 0.4 else bytes([rng.randrange(256)])
                    for _ in range(some)
                )
                alive = live.send(keys) and live.take(rng.uniform(0.0, 0.08))
            live.send(b"\x03")
            if not live.take(3.0):
                alive = False
            if alive:  # a question lies over it, or the sequence before has swallowed it
                os.kill(live.child.pid, signal.SIGTERM)
            found = live.judge(ended(live), *ENDS)
            outcome.acknowledged += found.acknowledged
            outcome.lost += found.lost
            outcome.notes += found.notes
    return outcome


def by_signal(seed: int, folder: Path) -> Outcome:
    """SIGTERM, SIGHUP and SIGINT to a session on a full screen."""
    number = tuple(SIGNALS)[seed % 3]
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    with on_screen(folder) as live:
        into_sets(live, rng, rng.randint(1, 3))
        live.take(rng.uniform(0.2, 0.8))
        os.kill(live.child.pid, number)
        outcome = live.judge(ended(live), SIGNALS[number])
    outcome.notes = [f"{number.name} ended {SIGNALS[number]}"]
    outcome.lost += resumable(folder / "data", folder / "hurry.toml")
    return outcome


def window_closed(seed: int, folder: Path) -> Outcome:
    """The terminal itself goes away; nothing more can be written to it."""
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    with on_screen(folder) as live:
        into_sets(live, rng, rng.randint(1, 3))
        live.take(rng.uniform(0.2, 0.8))
        child = live.child
        child.ptyproc.fileobj.close()
        child.ptyproc.closed = child.closed = True
        until, gone, status = time.monotonic() + DEADLINE, 0, 0
        while not gone and time.monotonic() < until:
            gone, status = os.waitpid(child.pid, os.WNOHANG)
            time.sleep(0.02)
        if not gone:
            os.kill(child.pid, signal.SIGKILL)
            _, status = os.waitpid(child.pid, 0)
        child.terminated = child.ptyproc.terminated = True
        code = os.waitstatus_to_exitcode(status)
        live.after, live.sent = (
            live.settings,
            live.sent + b"\x1b[?1049l\x1b[?25h",
        )  # nobody can look
        outcome = live.judge(code, 129)
    outcome.lost += resumable(folder / "data", folder / "hurry.toml")
    return outcome


def line_mode_by_signal(seed: int, folder: Path) -> Outcome:
    """The same signals to a session in line mode."""
    number = tuple(SIGNALS)[seed % 3]
    data = folder / "data"
    with hand(seed, folder, data) as one:
        one.type("")
        one.some()
        code = one.live.kill(number)
    outcome = judge(one, code, data / DATABASE)
    outcome.notes = [f"{number.name} ended {code}"]
    outcome.lost += [] if code == SIGNALS[number] else [f"{number.name} ended {code}"]
    outcome.lost += resumable(data, folder / "hurry.toml")
    return outcome


FAULTS = (
    Fault("terminal resized", f"{SIZES_A_RUN} sizes a run from 1x1 to 500x300 while keys come",
          resized, 5, 1),
    Fault("ESC[6;1:1~", "in mid-session, on a full screen", odd_bytes, 10, 0),
    Fault("random keys", f"{KEYS_A_RUN} a run through a terminal, every byte and odd sequences",
          random_keys, 50, 1),
    Fault("signals on a full screen", "SIGTERM, SIGHUP, SIGINT; settings, screen, cursor, resumed",
          by_signal, 30, 0),
    Fault("terminal closed", "its other end closed in mid-session", window_closed, 10, 0),
    Fault("signals in line mode", "SIGTERM, SIGHUP, SIGINT at random instants",
          line_mode_by_signal, 30, 1),
)  # fmt: skip
