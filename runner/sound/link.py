"""Processes of ours beside the session, and the session's end of the one that makes the sound.

Sound libraries and speech engines may hang, crash, or write on the terminal, so each works in a
process of its own. `Process` is what both have in common: it starts, takes lines and answers lines
(fields parted by tabs), and ends with the session. `Link` asks one for cues and phrases, and
notices that it hangs; `runner.sound.voice` asks another to render.
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

MOST_OPEN = 4  # requests without a reply; their lines always fit into a pipe, so no write blocks
LAST_S = 0.5  # for the last replies of one that has ended
LONGEST = 400  # letters of a phrase in a request
_ALARM: int = getattr(signal, "SIGALRM", 0) or -1
_NANO = 1_000_000_000
_FLAGS: int = getattr(subprocess, "CREATE_NO_WINDOW", 0) | getattr(
    subprocess, "CREATE_NEW_PROCESS_GROUP", 0
)  # of Windows alone


class Limits(Struct, frozen=True):
    """How long to wait, in seconds, and how often to try (our choice)."""

    ready_s: float = 6.0  # from start to the reply that it can play; a program has 4 s of its own
    reply_s: float = 1.0  # from then on it is thought to hang, and cues go elsewhere
    stuck_s: float = 8.0  # a helper that hangs so long is killed; a stopped server may come back
    restarts: int = 3  # for each way, in the whole session
    fails: int = 2  # cues in a row that did not play: as bad as a death
    again_s: tuple[float, ...] = (5.0, 30.0, 120.0, 600.0)  # without a way, when to look again


class Process:
    """A module of ours, run beside the session with `--parent PID` and `arguments`.

    From a thread of its own it calls `took` with the fields of each line of its output, and at
    the end `gone` with the exit status (None where that is not known yet). The thread that calls
    `start` has to outlive the process: on Linux the kernel ends it together with that thread.
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
            stderr=subprocess.DEVNULL,  # sound libraries write there, and it is the screen
            env=environment(),
            # Ctrl-C and a closing terminal are the session's affair, which ends it then.
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
        """Write whole or not at all: what waits there is far shorter than a pipe. Never blocks."""
        if self._input is None:
            return False
        try:
            os.write(self._input.fileno(), lines)
        except OSError:  # it has just died, or hangs and its pipe is full
            return False
        return True

    def close_input(self) -> None:
        """Have it end by itself."""
        if self._input is not None:
            with suppress(OSError):
                self._input.close()
            self._input = None

    def kill(self) -> None:
        """Kill it, from any thread; `end` is still to be called."""
        if self._process is not None:
            self._process.kill()

    def end(self, finish_s: float = 0.0) -> None:
        """Close its input, kill it `finish_s` later at most, reap it, take what it said last."""
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
    """One process that makes the sound; `changed` is called, from another thread, on any news."""

    def __init__(
        self,
        module: str,
        arguments: Sequence[str],
        limits: Limits,
        changed: Callable[[], None],
        now: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        # The helper makes it when it needs one. We remove it: one that is killed cannot. The next
        # session removes it where we are killed, by the number of this process in its name.
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
        self._lasts: dict[int, int] = {}  # of cues: nanoseconds from the request to their end
        self._sounds: dict[int, int] = {}  # of those begun: until when, on the system's clock
        self._ending = False
        self._phrases: set[int] = set()  # of the requests without a reply, those for a phrase
        self._level = b""  # of the loudness, what could not be written yet
        self._fails_in_a_row = 0
        self.ready = False
        self.gone = False
        self.why = ""
        self.played = 0
        self.said = 0
        self.late = 0
        self.lost = 0
        self.expired = False  # it ended itself, for its device would have played too late

    @property
    def pid(self) -> int | None:
        """The helper's process id, None before the start."""
        return self._process.pid

    def start(self) -> None:
        """Start the process; OSError where that fails. `changed` tells of its first reply."""
        remove_left(Path(tempfile.gettempdir()))
        self._process.start()

    def send(self, name: str, late_ns: int, lasts_s: float = 0.0) -> bool:
        """Ask for a cue that was due `late_ns` ago; False where the helper cannot take it.

        `lasts_s` until its end, with a quiet lead before it. Never blocks. A helper that hangs gets
        no further request: nothing piles up.
        """
        self._lasts[self._seq + 1] = round(lasts_s * _NANO)
        return self._ask("play", name, round(LATE_S * _NANO) - late_ns)

    def say(self, file: str, text: str, within_s: float) -> bool:
        """Ask for a phrase, to begin within that many seconds; False where it cannot be taken."""
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
        """Set the gains; where that cannot be written now, with the next request."""
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
        """Whether it has to be replaced: gone, stuck for too long, or playing nothing."""
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
        """Count what had no reply, and what still sounded, when the process was gone."""
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
                pass  # a phrase is worth no restart: cues may play all the same
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
        if begun:  # its `ok` came before
            self.played -= 1
            self._sounds.pop(seq, None)

    def end(self, finish_s: float = 0.0) -> None:
        """End the process, after what still sounds but at most `finish_s` later; reap it."""
        if self.pid is None:
            return
        with self._lock:
            self.ready = False
            self._ending = True
            hangs = self._hangs(self._now(), self._limits.reply_s)
            self._process.close_input()
        self._process.end(0.0 if hangs else finish_s)  # what it said last is counted too
        shutil.rmtree(self._scratch, ignore_errors=True)


def remove_left(temporary: Path) -> None:
    """Remove the folders of sounds that killed sessions of this person have left there."""
    for folder in temporary.glob(f"{PREFIX}*-*"):
        number = folder.name.removeprefix(PREFIX).split("-")[0]
        with suppress(OSError):
            known = folder.lstat()
            ours = sys.platform == "win32" or known.st_uid == os.getuid()
            if number.isdigit() and ours and stat.S_ISDIR(known.st_mode) and _is_gone(int(number)):
                shutil.rmtree(folder, ignore_errors=True)


def _is_gone(pid: int) -> bool:
    """Whether there is no such process; never so on Windows, where asking would end it."""
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
    """The environment in which the helper finds this very package, also in a checkout."""
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


# A process ends with the one that started it.


def die_with_parent(parent: int | None = None, number: int | None = None) -> None:
    """Have the kernel end this process when the one that started it ends (Linux only).

    By SIGKILL, or by the signal of that `number`, whose handler may leave things in order.

    `parent` is that one's id: it may have died before the call, and then there is nobody left to
    wait for. The signal is bound to the *thread* that started us, so that one has to live as long.
    Elsewhere the end of the input does it.
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


CAN_ASK = _LIBC is not None  # whether `ask_death_signal` does anything
