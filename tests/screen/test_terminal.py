"""The real program in a real terminal: what it sends, how it ends, what it leaves behind."""

from __future__ import annotations

import os
import random
import re
import signal
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is POSIX", allow_module_level=True)

import termios

import pexpect

from runner.record.record import Record
from tests.plans import plan
from tests.sound.real_session import RealSession

ROOT = Path(__file__).parents[2]
DEADLINE = 30
ASKED, TO_SAVE = " count\x1b", " save\x1b"  # the footer: a count is missing, one is typed
RESTORED = (b"\x1b[?1049l", b"\x1b[?25h")
COLOUR = re.compile(rb"\x1b\[[0-9;:]*[34]8[;:][25][0-9;:]*m")


class Terminal:
    """The program in a terminal of so many rows and columns; everything it sent is kept."""

    def __init__(
        self,
        data: Path,
        *options: str,
        size: tuple[int, int],
        colour: bool,
        plan: Path | str = "demo",
        by: tuple[str, ...] = (),
    ) -> None:
        """`by` is a command that starts the program."""
        environment = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "CI")}
        environment.update(TERM="xterm-256color", COLORTERM="truecolor", LC_ALL="C.UTF-8")
        if not colour:
            environment["NO_COLOR"] = "1"
        arguments = ["-m", "runner", "run", str(plan), "--for", "Ada", "--mute", "--yes"]
        first, *others = [*by, sys.executable, *arguments, "--data", str(data), *options]
        self.child = pexpect.spawn(
            first,
            others,
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

    def gave(self, some: bytes) -> bool:
        """Send bytes and read what comes back; False once the program is gone."""
        try:
            self.child.send(some)
            with suppress(pexpect.TIMEOUT):
                for _ in range(100):
                    self.sent += self.child.read_nonblocking(65536, timeout=0.02)
        except (OSError, pexpect.EOF):
            return False
        return True

    def watch(self, seconds: float) -> None:
        """Look at the screen for as long as a guard against double keys needs, and a little more.

        On a loaded machine it is longer, which no guard minds.
        """
        self.child.expect([pexpect.TIMEOUT], timeout=seconds + 0.2)

    def end(self) -> int | None:
        """Wait for the end; the exit code."""
        self.child.expect(pexpect.EOF)
        self.sent += self.child.before
        self.child.wait()  # closing would hang up on a program that is still leaving
        self.child.close()
        return self.child.exitstatus

    def restored(self) -> bool:
        """Whether the other screen is left, and the cursor is shown, for good."""
        off, cursor = (self.sent.rfind(sign) for sign in RESTORED)
        hidden = max(self.sent.rfind(b"\x1b[?1049h"), self.sent.rfind(b"\x1b[?25l"))
        return min(off, cursor) > hidden


@contextmanager
def terminal(
    data: Path,
    *options: str,
    size: tuple[int, int] = (24, 80),
    colour: bool = True,
    plan: Path | str = "demo",
    by: tuple[str, ...] = (),
) -> Iterator[Terminal]:
    running = Terminal(data, *options, size=size, colour=colour, plan=plan, by=by)
    try:
        yield running
    finally:
        running.child.close(force=True)


def into_the_warm_up(live: Terminal) -> None:
    live.wait("start")
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
        again.wait("was cut off. Continue it?")
        again.child.send("y")
        again.wait("block 1 of 2")
        again.child.send("\x03")
        assert again.end() == 130
        assert again.restored()
    assert events(tmp_path)[:2] == ["opened", "begun"]


NO_PIXELS = b"\x1b[48;24;80;0;0t"  # a window's size in the band of the keys


@pytest.mark.parametrize(
    "nonsense",
    [
        b"\x1b[6;1:1~",
        b"\xff",
        b"\xfcbung",
        b"\x1b[1114112u",
        NO_PIXELS + b"\x1b[<0;10;10M",
        b"\x1b[48;0;0;0;0t\x1b[<35;1;1M",
        b"\x1b[48;99999;99999;1;1t",
    ],
)
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


STOPPED = [
    pytest.param("rest", 7.0, id="rest"),
    pytest.param("rest", 40.0, id="rest, 40 s", marks=pytest.mark.slow),
    pytest.param("set", 7.0, id="set", marks=pytest.mark.slow),
]


@pytest.mark.parametrize(("where", "seconds"), STOPPED)
def test_a_program_that_was_stopped_waits_for_its_person(
    tmp_path: Path, where: str, seconds: float
) -> None:
    """SIGSTOP and SIGCONT: no set begins that nobody heard, none has a length that nobody saw."""
    with terminal(tmp_path) as live:
        into_the_warm_up(live)
        live.press_until(" ", b"start now")
        if where == "set":
            live.press_until(" ", b"end set")
        os.kill(live.child.pid, signal.SIGSTOP)
        live.watch(seconds)
        os.kill(live.child.pid, signal.SIGCONT)
        live.wait("go on")
        assert ("started" in events(tmp_path)) == (where == "set")
        live.press_until(" ", b"end set")  # go on, and once more
        live.press_until("?", b"Keys")
        live.child.send("\x03")
        assert live.end() == 130
        assert live.restored()
    with closing(sqlite3.connect(tmp_path / "trial.db")) as record:
        why, works = (
            [value for (value,) in record.execute(query)]
            for query in (
                "SELECT json_extract(data, '$.why') FROM event WHERE name = 'paused'",
                "SELECT work_s FROM set_row WHERE status = 'done'",
            )
        )
    assert why == ["suspend"]
    assert works == ([None] if where == "set" else [])


def test_a_hangup_that_is_ignored_at_the_start_ends_nothing(tmp_path: Path) -> None:
    """As nohup has it; nohup itself would take the terminal away from the program."""
    ignoring = ("sh", "-c", 'trap "" HUP; exec "$@"', "sh")
    with terminal(tmp_path, by=ignoring) as live:
        into_the_warm_up(live)
        os.kill(live.child.pid, signal.SIGHUP)
        live.press_until("?", b"Keys")
        live.child.send("\x03")
        assert live.end() == 130
        assert live.restored()
    assert events(tmp_path) == ["opened", "begun"]


def test_under_nohup_there_is_no_full_screen(tmp_path: Path) -> None:
    """It takes the terminal away: line mode, told in the file that it writes, up to the end."""
    script = ("sh", "-c", 'cd "$0" && exec nohup "$@"', str(tmp_path))
    with terminal(tmp_path, by=script) as live:
        assert live.end() == 0
    told = (tmp_path / "nohup.out").read_text(encoding="utf-8")
    assert "no full screen, so matside uses line mode" in told
    assert events(tmp_path) == ["opened", "closed"]


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
        live.wait("start")
        live.press_until("\x1b[6~", b"start now")  # page down, a remote's next
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
        live.wait("Closed before its end.")
        live.press_until(" ", pexpect.EOF)
        assert live.end() == 0
        assert live.restored()
    assert events(tmp_path) == ["opened", "begun", "closed"]


# -- Bytes by the hundred thousand ----------------------------------------------------------------

PIECES = (
    *(bytes([sign]) for sign in b" \r\x1b.q?axngfmrupkwytv\x10\x1c"),
    *(b"\x1b[6~", b"\x1b[5~", b"12\r", b"0 ", b"122  ", b"???????", b"\x1b\x1b\x1b", b"\r\r\r\r\r"),
    *(b"q n q n q n", b"f1 12\r\r\r\r", b"nnnnnnn\r\r"),
    *(NO_PIXELS, NO_PIXELS + b"\x1b[<0;10;10M", b"\x1b[48;3;200;9;9t", b"\x1b[?2048;2$y"),
    *(b"\x1b[?2048;1$y", b"\x1b[?2026;2$y", b"\x1b[6;1:1~"),
    *(b"\x1b[<0;10;10M", b"\x1b[<0;10;10m", b"\x1b[<35;999;0M", b"\x1b[<64;3;3M", b"\x1b[M   "),
    *(b"\x1b[200~12\x1b[201~", b"\x1b[200~", b"\x1b[201~", b"\x1b[I", b"\x1b[O", b"\x1b[1;5C"),
    *(b"\xc3\xa9", b"\x1b[97;5u", b"\x1b[0u", b"\x1b[1114112u", b"\x1b[3;4R"),
    *(b"\x1b]11;rgb:00/00/00\x07", b"\x1bP1$r0m\x1b\\", b"\x1bP", b"\x1b]", b"\x1b[", b"\x1bO"),
)
FINALS = b"ABCDEFHPQRSZ~uMmtyc$IO"
ENDS = (0, 130)  # closed and left, or Ctrl+C


def drawn_bytes(rng: random.Random) -> bytes:
    """Keys, floods of them, reports of terminals whole and broken, and any bytes."""
    kind = rng.random()
    if kind < 0.6:
        return rng.choice(PIECES) * rng.choice((1, 1, 1, 3, 20))
    if kind < 0.8:
        numbers = (rng.choice(("", "0", "1", "48", "99", "65536", "-1", "1:1", "9" * 20))
                   for _ in range(rng.randint(0, 5)))  # fmt: skip
        head = rng.choice((b"\x1b[", b"\x1b[<", b"\x1b[?", b"\x1b[>"))
        return head + ";".join(numbers).encode() + bytes([rng.choice(FINALS)])
    # What is no UTF-8 loses all that was read with it, so most of them are.
    signs = SAFE if rng.random() < 0.1 else SAFE[:126]
    return bytes(rng.choice(signs) for _ in range(rng.randint(1, 12)))


SAFE = [byte for byte in range(256) if byte not in b"\x03\x11"]  # no Ctrl+C, no Ctrl+Q


# Out of a text or a paste that has not ended, which would swallow all that follows.
OUT_OF_ALL = b"\x1b\\\x07\x1b[201~"


def flood(data: Path, seed: int, total: int) -> int:
    """Send so many bytes; how many sessions they took. Each ends as a person would end one."""
    rng, left, sessions = random.Random(seed), total, 0  # noqa: S311 - a test's own draws
    while left > 0:
        sessions += 1
        with terminal(data / str(sessions)) as live:
            live.wait("start")
            alive = True
            while alive and left > 0:
                some = b"".join(drawn_bytes(rng) + rng.choice((b"", OUT_OF_ALL)) for _ in range(8))
                left -= len(some)
                alive = live.gave(some)
            if alive:
                live.gave(b"\x03")  # Ctrl+C
                live.press_until("\x03", pexpect.EOF)
            code = live.end()
            # Ctrl+\ means what it means elsewhere once the terminal is given back.
            quit_late = live.child.signalstatus == signal.SIGQUIT and live.restored()
            assert quit_late or code in ENDS, (code, sessions, live.sent[-2000:])
            at = live.sent.find(b"Traceback")
            assert at < 0, live.sent[max(at - 300, 0) : at + 3000]
    return sessions


@pytest.mark.parametrize("seed", [1, 2])
def test_no_bytes_from_a_terminal_end_a_session(tmp_path: Path, seed: int) -> None:
    flood(tmp_path, seed, 4_000)


@pytest.mark.slow
def test_four_hundred_thousand_bytes(tmp_path: Path) -> None:
    flood(tmp_path, 3, 400_000)


# -- A session by digits and space alone, and by a remote alone -----------------------------------

SPACE, NEXT, BACK, OPENER = " ", "\x1b[6~", "\x1b[5~", "."
BOTTOM = 8


def counted_plan(folder: Path, sets: int) -> Path:
    """So many sets of two exercises in turn, in rests that nobody waits out."""
    path = folder / "counted.toml"
    text = plan(
        "Hut, counted",
        {"press": {"name": "Press", "short": "PRESS"}, "row": {"name": "Row", "short": "ROW"}},
        [{"press": sets // 2, "row": sets // 2}],
        timing={"recovery": "10m", "changeover": ["5m", "5m"], "lead_in": "5m"},
        effort={"reps": [BOTTOM, 15]},
    )
    path.write_text(text, encoding="utf-8")
    return path


def kept_counts(data: Path) -> list[int | None]:
    with closing(sqlite3.connect(data / "record.db")) as record:
        return [n for (n,) in record.execute("SELECT reps FROM set_row ORDER BY entry")]


class Presses:
    """A person at one device: every press is counted by what it is for."""

    def __init__(self, live: Terminal, main: str) -> None:
        self.live, self.main = live, main
        self.made: dict[str, int] = {}
        self.took_s = 0.0  # from the last `go` to its picture

    def press(self, what: str, key: str) -> None:
        self.made[what] = self.made.get(what, 0) + 1
        self.live.child.send(key)

    def go(self) -> None:
        """Begin the set once two seconds of its rest, and two since saving, are over."""
        self.live.watch(2.0)
        pressed = time.time()
        self.press("go", self.main)
        self.live.wait("end set")
        self.took_s = time.time() - pressed

    def end(self) -> None:
        """End the set once it is old enough."""
        self.live.watch(1.5)
        self.press("end", self.main)


def by_digits(hand: Presses, name: str, count: int) -> None:
    hand.live.wait(ASKED)
    for digit in str(count):
        hand.press("digits", digit)
    hand.live.wait(TO_SAVE)
    hand.press("save", SPACE)
    hand.live.wait(f"{name}: {count} saved")


def by_remote(hand: Presses, name: str, count: int, offered: int) -> None:
    hand.live.wait(ASKED)
    hand.press("open", OPENER)
    hand.live.wait("one less or more")
    for _ in range(abs(count - offered)):
        hand.press("steps", NEXT if count > offered else BACK)
        hand.live.watch(0.3)  # a finger's presses lie apart; a bouncing key's do not
    hand.live.watch(0.7)  # `.` again is another press, and no key held down
    hand.press("save", OPENER)
    hand.live.wait(f"{name}: {count} saved")


SETS = [pytest.param(2, id="2 sets"), pytest.param(6, id="6 sets", marks=pytest.mark.slow)]


@pytest.mark.parametrize("sets", SETS)
@pytest.mark.parametrize("device", ["digits and space", "remote"])
def test_every_count_is_right_and_takes_few_presses(
    tmp_path: Path, sets: int, device: str, record_property: pytest.RecordProperty
) -> None:
    counts = [(BOTTOM + (5 * n) % 7) for n in range(sets)]
    steps, last = 0, {0: BOTTOM, 1: BOTTOM}
    with terminal(tmp_path, plan=counted_plan(tmp_path, sets)) as live:
        hand = Presses(live, SPACE if device != "remote" else NEXT)
        live.wait("start")
        live.child.send(hand.main)
        live.wait("start now")
        for number, count in enumerate(counts):
            hand.go()
            hand.end()
            name = f"{'PRESS' if number % 2 == 0 else 'ROW'} {number // 2 + 1}"
            if device == "remote":
                by_remote(hand, name, count, last[number % 2])
                steps += abs(count - last[number % 2])
                last[number % 2] = count
            else:
                by_digits(hand, name, count)
        live.watch(0.7)
        live.press_until(hand.main, b"The session is complete.")
        live.watch(0.7)
        live.child.send(hand.main)
        assert live.end() == 0
    assert kept_counts(tmp_path) == counts
    wanted = {"go": sets, "end": sets, "save": sets}
    if device == "remote":
        wanted |= {"open": sets, **({"steps": steps} if steps else {})}
    else:
        wanted |= {"digits": sum(len(str(count)) for count in counts)}
    assert hand.made == wanted
    record_property("presses", str(hand.made))


def test_a_record_that_is_locked_at_the_start_is_read_on_the_ready_screen(tmp_path: Path) -> None:
    """Greeted by what is on file, and one session, once the other program lets go."""
    path = tmp_path / "trial.db"
    Record.open(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        session = RealSession(tmp_path, {"MATSIDE_SOUND": "silence"})
        session.wait_text("tries again until you")
        other.execute("ROLLBACK")
        session.wait_text("The record can be read now.")
        session.begin()
        session.press("\x03")
        assert session.end() == 130
        assert other.execute("SELECT count(*) FROM session").fetchone() == (1,)
    names = [event.name for event in session.events()]
    assert names[:2] == ["opened", "begun"]


def test_a_locked_record_holds_up_no_key_and_nothing_is_called_saved(tmp_path: Path) -> None:
    """What is pressed is seen at once; that it is saved is said once it is on file."""
    with terminal(tmp_path, plan=counted_plan(tmp_path, 2)) as live:
        hand = Presses(live, SPACE)
        live.wait("start")
        live.child.send(SPACE)
        live.wait("start now")
        hand.go()
        path = tmp_path / "record.db"
        with closing(sqlite3.connect(path, isolation_level=None, timeout=DEADLINE)) as other:
            other.execute("BEGIN EXCLUSIVE")
            live.watch(1.5)
            pressed = time.time()
            live.child.send(SPACE)
            live.wait("how many?")
            live.child.send("12")
            live.wait(TO_SAVE)
            seen = time.time()
            live.child.send(SPACE)
            live.wait("PRESS 1: not saved yet")
            assert b"12 saved" not in live.sent
            other.execute("ROLLBACK")
        live.wait("Kept now: ")
        live.child.send("\x03")
        assert live.end() == 130
    # A commit is tried for 2 s; two pictures may be as late as one was without a lock.
    assert seen - pressed < 1.5 + 2 * hand.took_s
    with closing(sqlite3.connect(path)) as record:
        ((utc,),) = record.execute("SELECT utc FROM event WHERE name = 'ended'")
    assert abs(datetime.fromisoformat(utc).timestamp() - pressed) < 1.0 + hand.took_s
    assert kept_counts(tmp_path) == [12]
