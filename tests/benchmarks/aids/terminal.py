"""A program in a terminal of its own: what it writes, when, and what it takes of the machine."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Callable
from pathlib import Path
from typing import Self

ROOT = Path(__file__).resolve().parents[3]
AIDS = Path(__file__).resolve().parent
DEADLINE_S = 60.0
# Sequences of control (ECMA-48): CSI, strings up to their end, and escapes of two or three bytes.
_CONTROL = re.compile(
    rb"\x1b(?:\[[0-?]*[ -/]*[@-~]|[]PX^_].*?(?:\x07|\x1b\\)|[ -/]*[0-Z\\^-~])", re.DOTALL
)
_UNENDED = re.compile(rb"\x1b[^\x1b]{0,63}\Z", re.DOTALL)


def glyphs(written: bytes) -> bytes:
    """What of it is to be seen: no control, no blank."""
    seen = _UNENDED.sub(b"", _CONTROL.sub(b"", written))
    return bytes(byte for byte in seen if byte > 0x20 and byte != 0x7F)


class Terminal:
    """A program in a terminal of 80 columns and 24 rows; ended with the block."""

    def __init__(self, *command: str, environ: dict[str, str] | None = None) -> None:
        kept = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "CI", "COLORTERM")}
        kept |= {"TERM": "xterm-256color", "LC_ALL": "C.UTF-8", "PYTHONPATH": str(ROOT)}
        kept |= environ or {}
        self.begun = time.perf_counter()
        self.pid, self.end = pty.fork()
        if not self.pid:
            fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
            os.execve(sys.executable, [sys.executable, *command], kept)  # noqa: S606 - our own
        self.written = b""
        self._open = True

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        if self._open:
            os.kill(self.pid, signal.SIGKILL)
        while self._open:
            self.read(1.0)
        os.close(self.end)
        os.waitpid(self.pid, 0)

    def read(self, seconds: float) -> bytes:
        """The next that is written within so long; empty for nothing, and at the end."""
        ready = self._open and select.select([self.end], [], [], max(seconds, 0))[0]
        try:
            chunk = os.read(self.end, 1 << 16) if ready else b""
            self._open = self._open and not (ready and not chunk)
        except OSError:  # the last that held the terminal has gone
            chunk, self._open = b"", False
        self.written += chunk
        return chunk

    def until(self, seen: Callable[[bytes], object], what: str) -> float:
        """Read until it is seen in all that was written; seconds since the start."""
        limit = time.perf_counter() + DEADLINE_S
        while not seen(self.written):
            assert self._open, f"it ended before {what}: {self.written[-2000:]!r}"
            assert time.perf_counter() < limit, f"{what} never came: {self.written[-2000:]!r}"
            self.read(0.5)
        return time.perf_counter() - self.begun

    def until_text(self, text: str) -> float:
        """Read until a text is there."""
        wanted = glyphs(text.encode())
        return self.until(lambda written: wanted in glyphs(written), repr(text))

    def until_ended(self) -> None:
        """Read until the program is over."""
        limit = time.perf_counter() + DEADLINE_S
        while self._open and time.perf_counter() < limit:
            self.read(0.5)

    def quiet(self, seconds: float) -> None:
        """Read until nothing has come for so long."""
        while self.read(seconds):
            pass

    def wait(self, seconds: float) -> None:
        """Read for so long, whatever comes."""
        until = time.perf_counter() + seconds
        while (left := until - time.perf_counter()) > 0 and self._open:
            self.read(left)

    def press(self, keys: str) -> float:
        """Press keys; the seconds until something to be seen has changed."""
        before, begun = len(self.written), time.perf_counter()
        os.write(self.end, keys.encode())
        self.until(lambda written: glyphs(written[before:]), f"an answer to {keys!r}")
        return time.perf_counter() - begun

    # Linux alone says the rest so easily.

    def cpu_s(self) -> float:
        """Seconds of processor of this program and of all that it has started."""
        mine = [_stat(int(entry.name)) for entry in Path("/proc").iterdir() if entry.name.isdigit()]
        ticks = sum(sum(map(int, one[11:13])) for one in mine if one and int(one[3]) == self.pid)
        return ticks / os.sysconf("SC_CLK_TCK")

    def peak_mib(self) -> float:
        """The most memory that the program itself has had so far."""
        return peak_mib(self.pid)


def _stat(pid: int) -> list[str]:
    """The fields of /proc/PID/stat from the state on (proc(5): 3 on); empty of one that is gone."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    except OSError:
        return []


def peak_mib(pid: int) -> float:
    """The peak of a process's resident memory (VmHWM of proc(5)), in MiB."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    return 0.0


def has_proc() -> bool:
    """Whether the system tells of processor and memory in /proc."""
    return Path("/proc/self/status").exists()
