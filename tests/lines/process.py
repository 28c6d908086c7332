"""A session in line mode as a process of its own, driven by what it prints.

Nothing sleeps: a reader waits for a line, with a deadline.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO

DEADLINE = 20.0
ROOT = Path(__file__).parents[2]


def heed_signals() -> None:
    """Let what is started from here heed signals, as what a terminal's shell starts does.

    A shell starts what it runs in the background, and nohup its command, with signals ignored; a
    program that is started inherits that, and tests send such signals.
    """
    for name in ("SIGINT", "SIGQUIT", "SIGHUP"):
        number = getattr(signal, name, None)  # Windows has but the first
        if number is not None and signal.getsignal(number) == signal.SIG_IGN:
            usual = signal.default_int_handler if name == "SIGINT" else signal.SIG_DFL
            signal.signal(number, usual)


@dataclass(frozen=True)
class Line:
    """A line of stdout: its time and name, and its key=value pairs."""

    utc: str
    name: str
    pairs: dict[str, str]

    @classmethod
    def of(cls, text: str) -> Line:
        utc, name, *pairs = text.rstrip("\n").split("\t")
        return cls(utc, name, dict(pair.split("=", 1) for pair in pairs))


class Stream:
    """Lines of one of the process's streams, read as they come."""

    def __init__(self, file: IO[str]) -> None:
        self.seen: list[str] = []
        self._file = file
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        for line in self._file:
            self._lines.put(line.rstrip("\n"))
        self._lines.put(None)

    def wait(self, wanted: Callable[[str], bool], what: str) -> str:
        """The next line that is wanted; fails at the end and after the deadline."""
        until = time.monotonic() + DEADLINE
        while True:
            try:
                line = self._lines.get(timeout=max(until - time.monotonic(), 0.01))
            except queue.Empty:
                line = None
            if line is None:
                self._lines.put(None)  # the end stays the end
            assert line is not None, f"no {what}; so far: {[s[:200] for s in self.seen]}"
            self.seen.append(line)
            if wanted(line):
                return line

    def silent(self, seconds: float) -> None:
        """Hold that no line comes for so long."""
        with contextlib.suppress(queue.Empty):
            line = self._lines.get(timeout=max(seconds, 0.001))
            raise AssertionError(f"nothing should come, but: {line!r}")

    def rest(self) -> list[str]:
        """All lines to the end; the process must be over."""
        self._thread.join(DEADLINE)
        if not self._file.closed:
            while (line := self._lines.get(timeout=DEADLINE)) is not None:
                self.seen.append(line)
            self._file.close()
        return self.seen


class Session:
    """A running `matside run PLAN --plain`."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stderr is not None
        self.process, self._input = process, process.stdin
        self.out, self.err = Stream(process.stdout), Stream(process.stderr)

    def send(self, line: str = "") -> None:
        self._input.write(line + "\n")
        self._input.flush()

    def event(self, name: str, **pairs: str) -> Line:
        """Wait for an event of that name with those values."""

        def wanted(text: str) -> bool:
            line = Line.of(text)
            return line.name == name and pairs.items() <= line.pairs.items()

        return Line.of(self.out.wait(wanted, f"event {name} {pairs}"))

    def end_after(self, started: Line, seconds: float) -> None:
        """End a running set so long after it began, by the clock that dated its line."""
        due = datetime.fromisoformat(started.utc).timestamp() + seconds
        self.out.silent(due - time.time())
        self.send()

    def said(self, text: str) -> str:
        """Wait for a line on stderr that holds the text."""
        return self.err.wait(lambda line: text in line, f"{text!r} on stderr")

    def close_input(self) -> None:
        self._input.close()

    def end(self) -> int:
        """Close the input and wait for the end; the exit code."""
        self.close_input()
        return self.wait()

    def wait(self) -> int:
        """Wait for the end; the exit code."""
        code = self.process.wait(DEADLINE)
        self.out.rest()
        self.err.rest()
        return code

    def kill(self, number: signal.Signals) -> int:
        self.process.send_signal(number)
        return self.wait()

    @property
    def lines(self) -> list[Line]:
        return [Line.of(text) for text in self.out.seen]


def environment(**more: str) -> dict[str, str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("MATSIDE_DATA", "PYTHONWARNINGS")}
    return {**kept, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", **more}


def matside(*args: str, cwd: Path | None = None, **env: str) -> subprocess.CompletedProcess[str]:
    """Run a command to its end, without input."""
    return subprocess.run(
        [sys.executable, "-m", "runner", *args],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=DEADLINE * 2,
        check=False,
        cwd=cwd,
        env=environment(**env),
    )


@contextmanager
def session(
    plan: Path | str,
    data: Path,
    *args: str,
    cwd: Path | None = None,
    by: Sequence[str] = (),
    mute: bool = True,
    **env: str,
) -> Iterator[Session]:
    """A session in line mode that is surely ended with the block; `by` another program, if so."""
    command = [*by, sys.executable, "-m", "runner", "run", str(plan), "--plain"]
    command += ["--mute"] * mute
    process = subprocess.Popen(
        [*command, "--data", str(data), "--for", "Ada", *args],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=cwd,
        env=environment(**env),
    )
    running = Session(process)
    try:
        yield running
    finally:
        if process.poll() is None:
            process.kill()
            process.wait(DEADLINE)
        running.close_input()
        running.out.rest()
        running.err.rest()
