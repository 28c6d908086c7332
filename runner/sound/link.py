"""Processes of ours beside the session, and the session's side of the one that plays sound.

Sound libraries and speech engines may hang, crash, or write on the terminal, so each works in a
process of its own. `Process` is what both share: it starts, takes lines and answers lines (tabs
between fields), and ends with the session. `Link` asks one for cues and phrases, and notices when
it hangs; `runner.sound.voice` asks another to render.
"""

from __future__ import annotations

import ctypes
import os
import secrets
import shutil
import signal
import site
import stat
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO, Any, cast

from msgspec import Struct

from runner.sound.sounds import LATE_S
from runner.sound.wav import PREFIX

MOST_OPEN = 4  # most requests without a reply; their lines fit into a pipe, so no write blocks
LAST_S = 0.5  # seconds to wait for the last replies of a process that has ended
LONGEST = 400  # letters of a phrase in a request
_ALARM: int = getattr(signal, "SIGALRM", 0) or -1
_NANO = 1_000_000_000
_FLAGS: int = getattr(subprocess, "CREATE_NO_WINDOW", 0) | getattr(
    subprocess, "CREATE_NEW_PROCESS_GROUP", 0
)  # Windows only


class Limits(Struct, frozen=True):
    """How long to wait, in seconds, and how often to try (our choice)."""

    ready_s: float = 6.0  # from its start to the reply that it can play; a program has 4 s
    reply_s: float = 1.0  # without a reply; then it counts as hanging, and cues go elsewhere
    stuck_s: float = 8.0  # of hanging; then it is killed; a stopped server may come back
    restarts: int = 3  # starts of each way in the whole session
    fails: int = 2  # cues in a row not played; then the helper is replaced
    again_s: tuple[float, ...] = (
        5.0,
        30.0,
        120.0,
        600.0,
    )  # without a way that works, until the next try


class Process:
    """A module of ours, run beside the session with `--parent PID` and `arguments`.

    A thread of its own calls `took` with the fields of each line of its output, and at the end
    `gone` with the exit status (None where that is not known yet). The thread that calls `start`
    must outlive the process: on Linux the kernel ends the process together with that thread.
    """

    def __init__(
        self,
        module: str,
        arguments: Sequence[str],
        took: Callable[[list[str]], None],
        gone: Callable[[int | None], None],
    ) -> None:
        self._module, self._arguments = module, arguments
        self._took, self._gone = took, gone
        self._process: subprocess.Popen[bytes] | None = None
        self._input: IO[bytes] | None = None
        self._reader: threading.Thread | None = None

    @property
    def pid(self) -> int | None:
        """Its process id, None before the start."""
        return self._process.pid if self._process else None

    @property
    def status(self) -> int | None:
        """How it ended; None while it runs."""
        return self._process.poll() if self._process else None

    def start(self) -> None:
        """Start it; OSError where that fails."""
        self._process = process = subprocess.Popen(  # noqa: S603 - our own module, no shell
            [
                *(sys.executable, "-P", "-m", self._module, "--parent", str(os.getpid())),
                *self._arguments,
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # sound libraries write there, over the screen
            env=environment(),
            # Ctrl-C and a closing terminal reach the session alone, which then ends this process.
            start_new_session=True,
            creationflags=_FLAGS,
        )
        self._input = cast("IO[bytes]", process.stdin)
        if sys.platform != "win32":
            os.set_blocking(self._input.fileno(), False)
        self._reader = threading.Thread(
            target=self._read, args=(process,), name=f"{self._module}-replies", daemon=True
        )
        self._reader.start()

    def _read(self, process: subprocess.Popen[bytes]) -> None:
        with cast("IO[bytes]", process.stdout) as replies:
            for line in replies:
                self._took(line.decode("utf-8", "replace").rstrip("\n").split("\t"))
        status = None
        with suppress(subprocess.TimeoutExpired):
            status = process.wait(LAST_S)
        self._gone(status)

    def write(self, lines: bytes) -> bool:
        """Write a line whole or not at all; never blocks, for a pipe holds more than that."""
        if self._input is None:
            return False
        try:
            os.write(self._input.fileno(), lines)
        except OSError:  # the process has just ended, or it hangs and its pipe is full
            return False
        return True

    def close_input(self) -> None:
        """Close its input, so that it ends by itself."""
        if self._input is not None:
            with suppress(OSError):
                self._input.close()
            self._input = None

    def kill(self) -> None:
        """Kill it, from any thread; call `end` afterwards."""
        if self._process is not None:
            self._process.kill()

    def end(self, finish_s: float = 0.0) -> None:
        """Close its input, kill it at most `finish_s` later, and read its last lines."""
        self.close_input()
        if self._process is None:
            return
        if finish_s > 0:
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(finish_s)
        self._process.kill()
        self._process.wait()
        if self._reader is not None:
            self._reader.join(LAST_S)


class Link:
    """One process that plays sound; calls `changed` from another thread on any news."""

    def __init__(
        self,
        module: str,
        arguments: Sequence[str],
        limits: Limits,
        changed: Callable[[], None],
        now: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        # The helper makes this folder when it needs one. The session removes it, because a killed
        # helper cannot. After a killed session the next one does, by the process id in its name.
        name = f"{PREFIX}{os.getpid()}-{secrets.token_hex(8)}"
        self._scratch = Path(tempfile.gettempdir(), name)
        scratch = ["--scratch", str(self._scratch)]
        self._process = Process(module, [*scratch, *arguments], self._took, self._ended)
        self._now = now
        self._limits = limits
        self._changed = changed
        self._lock = threading.Lock()
        self._seq = 0
        self._open: dict[int, int] = {}
        self._lasts: dict[int, int] = {}  # by cue: nanoseconds from the request to its end
        self._sounds: dict[int, int] = {}  # when the cues begun will end, on the system's clock
        self._ending = False
        self._phrases: set[int] = set()  # requests for a phrase without a reply
        self._level = b""  # a loudness that could not be written yet
        self._fails_in_a_row = 0
        self.ready = False
        self.gone = False
        self.why = ""
        self.played = 0
        self.said = 0
        self.late = 0
        self.lost = 0
        self.expired = False  # it ended itself, because its device would have played too late

    @property
    def pid(self) -> int | None:
        """The helper's process id, None before the start."""
        return self._process.pid

    def start(self) -> None:
        """Start the process; OSError where that fails. Its first reply comes through `changed`."""
        remove_leftovers(Path(tempfile.gettempdir()))
        self._process.start()

    def send(self, name: str, late_ns: int, lasts_s: float = 0.0) -> bool:
        """Ask for a cue that was due `late_ns` ago; returns False where the helper cannot take it.

        `lasts_s`: seconds to the cue's end, quiet lead included. Never blocks. A helper that hangs
        gets no further request, so nothing piles up.
        """
        self._lasts[self._seq + 1] = round(lasts_s * _NANO)
        return self._ask("play", name, round(LATE_S * _NANO) - late_ns)

    def say(self, file: str, text: str, within_s: float) -> bool:
        """Ask for a phrase that begins within that many seconds; False where it cannot be taken."""
        return self._ask("say", file, round(within_s * _NANO), " ".join(text.split())[:LONGEST])

    def _ask(self, what: str, name: str, within_ns: int, *more: str) -> bool:
        now = self._now()
        # The helper's clock is the system's, whatever ours is.
        latest = time.monotonic_ns() + within_ns
        with self._lock:
            if not self.ready or len(self._open) >= MOST_OPEN:
                return False
            if self._hangs(now, self._limits.reply_s):
                return False
            if what == "say" and self._open:
                return False  # a phrase takes no room from a cue
            self._seq += 1
            line = "\t".join([what, str(self._seq), name, str(latest), *more])
            if not self._process.write(self._level + f"{line}\n".encode()):
                return False
            self._level = b""
            self._open[self._seq] = now
            if what == "say":
                self._phrases.add(self._seq)
        return True

    def level(self, cues: float, voice: float) -> None:
        """Set the gains; where they cannot be written now, they go with the next request."""
        with self._lock:
            self._level = f"level\t{cues:.4g}\t{voice:.4g}\n".encode()
            hangs = self._hangs(self._now(), self._limits.reply_s)
            if self.ready and not hangs and self._process.write(self._level):
                self._level = b""

    def hush(self) -> None:
        """Cut the phrase that sounds."""
        self._tell("hush")

    def cut(self, name: str) -> None:
        """Cut every `name` that is still in its quiet lead."""
        self._tell(f"cut\t{name}")

    def _tell(self, line: str) -> None:
        with self._lock:
            if self.ready and not self._hangs(self._now(), self._limits.reply_s):
                self._process.write(f"{line}\n".encode())

    def _hangs(self, now: int, limit_s: float) -> bool:
        first = next(iter(self._open.values()), now)
        return now - first > limit_s * _NANO

    @property
    def broken(self) -> bool:
        """Whether to replace it: it has ended, hangs for too long, or plays nothing."""
        with self._lock:
            stuck = self._hangs(self._now(), self._limits.stuck_s)
            return self.gone or stuck or self._fails_in_a_row >= self._limits.fails

    def _took(self, fields: list[str]) -> None:
        with self._lock:
            self._take(fields)
        self._changed()

    def _ended(self, status: int | None) -> None:
        with self._lock:
            self.gone = True
            self.ready = False
            self.why = self.why or exit_text(status)
            self.expired = status is not None and status == -_ALARM
            self._count_unheard()
        self._changed()

    def _count_unheard(self) -> None:
        """Count the cues without a reply, and those still sounding, when the process ended."""
        waiting = len(self._open.keys() - self._phrases)
        if self.expired:
            self.late += waiting
        else:
            self.lost += waiting
        self._open.clear()
        now = time.monotonic_ns()
        cut = 0 if self._ending else sum(until > now for until in self._sounds.values())
        self.played -= cut
        self.lost += cut

    def _take(self, fields: list[str]) -> None:
        kind, seq, text = (*fields, "", "")[:3]
        phrase = False
        known = True
        if seq.isdigit():
            known = self._open.pop(int(seq), None) is not None
            phrase = int(seq) in self._phrases
            self._phrases.discard(int(seq))
        match kind:
            case "ready":
                self.ready = True
            case "fault":
                self.why = seq
            case "ok" if phrase:
                self.said += 1
            case "late" | "fail" if phrase:
                pass  # no restart for a phrase: cues may still play
            case "ok":
                self._begun(int(seq))
            case "late":
                self._too_late(int(seq), begun=not known)
            case "fail":
                self.lost += 1
                self.why = text
                self._fails_in_a_row += 1
                if seq == "0":  # a program ended badly after its cue was reported as begun
                    self.played -= 1
                    self._fails_in_a_row = self._limits.fails

    def _begun(self, seq: int) -> None:
        self.played += 1
        self._fails_in_a_row = 0
        now = time.monotonic_ns()
        self._sounds = {n: until for n, until in self._sounds.items() if until > now}
        self._sounds[seq] = now + self._lasts.pop(seq, 0)

    def _too_late(self, seq: int, *, begun: bool) -> None:
        self.late += 1
        if begun:  # it was counted at its `ok`
            self.played -= 1
            self._sounds.pop(seq, None)

    def end(self, finish_s: float = 0.0) -> None:
        """Let what sounds end, for at most `finish_s`; then end the process."""
        if self.pid is None:
            return
        with self._lock:
            self.ready = False
            self._ending = True
            hangs = self._hangs(self._now(), self._limits.reply_s)
            self._process.close_input()
        self._process.end(0.0 if hangs else finish_s)  # its last replies are counted too
        shutil.rmtree(self._scratch, ignore_errors=True)


def remove_leftovers(temporary: Path) -> None:
    """Remove the folders of sounds that this person's killed sessions left in `there`."""
    for folder in temporary.glob(f"{PREFIX}*-*"):
        number = folder.name.removeprefix(PREFIX).split("-")[0]
        with suppress(OSError):
            known = folder.lstat()
            ours = sys.platform == "win32" or known.st_uid == os.getuid()
            if number.isdigit() and ours and stat.S_ISDIR(known.st_mode) and _is_gone(int(number)):
                shutil.rmtree(folder, ignore_errors=True)


def _is_gone(pid: int) -> bool:
    """Whether no such process exists; always False on Windows, where asking would end it."""
    if sys.platform == "win32":
        return False
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False


def environment() -> dict[str, str]:
    """The environment in which the helper finds this package, also in a checkout."""
    environment = dict(os.environ)
    root = str(Path(__file__).resolve().parents[2])
    if root not in {*site.getsitepackages(), site.getusersitepackages()}:
        before = environment.get("PYTHONPATH")
        environment["PYTHONPATH"] = os.pathsep.join([root, *([before] if before else [])])
    return environment


def exit_text(status: int | None) -> str:
    """How a process ended, in words."""
    if status is None:
        return "does not answer"
    if status < 0:
        try:
            return f"was ended by {signal.Signals(-status).name}"
        except ValueError:
            return f"was ended by signal {-status}"
    return f"ended with status {status}"


# How a process ends with the one that started it.


def die_with_parent(parent: int | None = None, number: int | None = None) -> None:
    """Have the kernel end this process when its parent ends (Linux only).

    By SIGKILL, or by the signal `number`, whose handler may tidy up. `parent` is the parent's id:
    if the parent died before this call, this process ends at once. The signal belongs to the
    *thread* that started this process, so that thread must live as long. Elsewhere the end of the
    input does it.
    """
    ask_death_signal(number)
    if sys.platform == "linux" and parent is not None and os.getppid() != parent:
        os._exit(0)


def _libc() -> Any:
    try:
        return ctypes.CDLL(None)
    except OSError:
        return None


_LIBC = _libc() if sys.platform == "linux" else None
_PR_SET_PDEATHSIG = 1  # linux/prctl.h


def ask_death_signal(number: int | None = None) -> None:
    """Have the kernel signal this process when the thread that started it ends (Linux only)."""
    if sys.platform == "linux" and _LIBC is not None:
        _LIBC.prctl(_PR_SET_PDEATHSIG, number or signal.SIGKILL, 0, 0, 0)


CAN_ASK = _LIBC is not None  # whether the kernel can do this
