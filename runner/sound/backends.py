"""What makes the sound, inside the helper process: simpleaudio, a program, Windows, a double.

Nothing here is imported by the session's own process. simpleaudio is imported by its backend
alone and only when it is made: its `play()` holds the interpreter lock while the device opens, it
writes on the terminal, and on Python 3.12 and later it can take the interpreter down.
"""

from __future__ import annotations

import ctypes
import importlib
import os
import signal
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple, Protocol

QUIET_S = 0.05  # the silent sound that opens the device and so proves a way
PROBE_S = 2.0  # a program that has not played it by then is taken to hang
OVERRUN_S = 3.0  # a program still running so long after its sound should have ended is killed
AT_ONCE = 2  # cues are mixed at -6 dBFS each: more than two would clip


class Trouble(Exception):
    """A backend cannot play; the text says why, in one line."""


class Backend(Protocol):
    """A way of making sound. `play` must return at once and raise on failure."""

    def load(self, name: str, path: Path) -> None:
        """Make the WAV file at `path` playable as `name`."""

    def warm(self) -> None:
        """Open the device with a short silence; raises where it does not work."""

    def play(self, name: str) -> None:
        """Begin to play; KeyError for a name that was not loaded."""

    def stop(self) -> None:
        """Stop the sound begun last."""

    def poll(self) -> str | None:
        """Why a sound begun earlier failed, where that came out since the last call."""

    def busy(self) -> bool:
        """Whether something is still sounding."""

    def close(self) -> None:
        """Leave nothing behind: no process, no file."""


def die_with_parent(parent: int | None = None) -> None:
    """Have the kernel end this process when the one that started it ends (Linux only).

    `parent` is that one's id: it may have died before the call, and then there is nobody left to
    wait for. The signal is bound to the *thread* that started us, so that one has to live as long.
    Elsewhere the end of the input does it.
    """
    _ask_death_signal()
    if sys.platform == "linux" and parent is not None and os.getppid() != parent:
        os._exit(0)


def _libc() -> Any:
    try:
        return ctypes.CDLL(None)
    except OSError:
        return None


_LIBC = _libc() if sys.platform == "linux" else None
_PR_SET_PDEATHSIG = 1  # linux/prctl.h


def _ask_death_signal() -> None:
    if sys.platform == "linux" and _LIBC is not None:
        _LIBC.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)


class Format(NamedTuple):
    """What a WAV file holds: channels, bytes a sample, samples a second."""

    channels: int
    width: int
    rate: int

    def quiet(self, seconds: float) -> bytes:
        """Silence of that length."""
        return bytes(round(seconds * self.rate) * self.channels * self.width)

    def seconds(self, frames: bytes) -> float:
        """How long `frames` last."""
        return len(frames) / (self.channels * self.width * self.rate)


PLAIN = Format(1, 2, 48_000)


def read_wav(path: Path) -> tuple[Format, bytes]:
    """A WAV file's format and samples; wave.Error or OSError where it cannot be read."""
    with wave.open(str(path), "rb") as source:
        kind = Format(source.getnchannels(), source.getsampwidth(), source.getframerate())
        return kind, source.readframes(source.getnframes())


def write_wav(path: Path, kind: Format, frames: bytes) -> None:
    """Write `frames` as a WAV file."""
    with wave.open(str(path), "wb") as target:
        target.setnchannels(kind.channels)
        target.setsampwidth(kind.width)
        target.setframerate(kind.rate)
        target.writeframes(frames)


class Files:
    """Sounds by name, for players that want a file; with a quiet lead, copies that have one."""

    def __init__(self, lead_s: float) -> None:
        self._lead_s = lead_s
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._known: dict[str, tuple[Path, float]] = {}

    def load(self, name: str, path: Path) -> None:
        """Make `path` known as `name`; reads it, so that a bad file is refused now."""
        kind, frames = read_wav(path)
        if self._lead_s > 0:
            frames = kind.quiet(self._lead_s) + frames
            if self._folder is None:
                self._folder = tempfile.TemporaryDirectory(prefix="matside-sound-")
            path = Path(self._folder.name) / f"{len(self._known)}.wav"
            write_wav(path, kind, frames)
        self._known[name] = path, kind.seconds(frames)

    def __getitem__(self, name: str) -> tuple[Path, float]:
        """The file to play for `name`, and its length in seconds."""
        return self._known[name]

    def close(self) -> None:
        """Remove the copies."""
        if self._folder is not None:
            self._folder.cleanup()


@contextmanager
def quiet_file() -> Iterator[Path]:
    """A silent WAV file in a folder of its own, for the time of the block."""
    with tempfile.TemporaryDirectory(prefix="matside-sound-") as folder:
        path = Path(folder) / "quiet.wav"
        write_wav(path, PLAIN, PLAIN.quiet(QUIET_S))
        yield path


class SimpleAudio:
    """simpleaudio: mixes by itself, begins within a millisecond or so."""

    def __init__(self, lead_s: float) -> None:
        # Not by an import statement: it may be missing, has no types, and is for here alone.
        self._library: Any = importlib.import_module("simpleaudio")
        self._lead_s = lead_s
        self._sounds: dict[str, Any] = {}
        self._playing: list[Any] = []

    def load(self, name: str, path: Path) -> None:
        """Read the file into memory, with the quiet lead before it."""
        kind, frames = read_wav(path)
        self._sounds[name] = self._library.WaveObject(kind.quiet(self._lead_s) + frames, *kind)

    def warm(self) -> None:
        """Play a silence to its end: a library that breaks, breaks at the end of a sound."""
        quiet = self._library.WaveObject(PLAIN.quiet(QUIET_S), *PLAIN)
        quiet.play().wait_done()

    def play(self, name: str) -> None:
        """Begin to play."""
        sound = self._sounds[name]
        self._playing = [one for one in self._playing if one.is_playing()]
        self._playing.append(sound.play())

    def stop(self) -> None:
        """Stop the sound begun last."""
        self._playing[-1].stop()

    def poll(self) -> str | None:
        """Tell nothing: failures come at once."""
        return None

    def busy(self) -> bool:
        """Whether something is still sounding."""
        return any(one.is_playing() for one in self._playing)

    def close(self) -> None:
        """Nothing to do: its threads end with the process."""


class Program:
    """A player of the system, one process a sound, judged by its exit status."""

    def __init__(self, command: list[str], lead_s: float) -> None:
        self._command = command
        self._files = Files(lead_s)
        self._running: list[tuple[subprocess.Popen[bytes], float]] = []

    def load(self, name: str, path: Path) -> None:
        """Remember the file."""
        self._files.load(name, path)

    def warm(self) -> None:
        """Play a silence: raises Trouble unless the program ends well in time."""
        with quiet_file() as path:
            said = path.with_suffix(".txt")  # no pipe: one that fills up would hang the program
            with said.open("wb") as stderr:
                process = self._start(path, stderr.fileno())
            try:
                status = process.wait(PROBE_S)
            except subprocess.TimeoutExpired:
                raise Trouble(f"no answer within {PROBE_S:g} s") from None
            finally:
                process.kill()
                process.wait()
            if status != 0:
                text = said.read_bytes()[:2000].decode("utf-8", "replace").strip().split("\n")[0]
                raise Trouble(f"ended with status {status}" + (f": {text}" if text else ""))

    def _start(self, path: Path, stderr: int = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
        # The helper has one thread, so code between fork and exec is safe. The program dies with
        # the helper, as the helper does with the session.
        before: Callable[[], None] | None = _ask_death_signal if _LIBC is not None else None
        return subprocess.Popen(  # noqa: S603 - our table's program, our file, no shell
            [*self._command, str(path)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=stderr,
            preexec_fn=before,  # noqa: PLW1509 - one thread, see above
        )

    def play(self, name: str) -> None:
        """Start the program; Trouble where too many of them have not ended."""
        path, length_s = self._files[name]
        if len(self._running) >= AT_ONCE:
            raise Trouble(f"{len(self._running)} sounds have not ended")
        until = time.monotonic() + length_s + OVERRUN_S
        self._running.append((self._start(path), until))

    def stop(self) -> None:
        """Kill the program begun last."""
        process, _ = self._running.pop()
        process.kill()
        process.wait()

    def poll(self) -> str | None:
        """Reap what ended, kill what hangs."""
        trouble: str | None = None
        left = []
        for process, until in self._running:
            status = process.poll()
            if status is None and time.monotonic() > until:
                process.kill()
                process.wait()
                trouble = "did not end"
            elif status is None:
                left.append((process, until))
            elif status != 0:
                trouble = f"ended with status {status}"
        self._running = left
        return trouble

    def busy(self) -> bool:
        """Whether a program still runs; call `poll` to learn of its end."""
        return bool(self._running)

    def close(self) -> None:
        """Kill what still runs and remove the temporary files."""
        for process, _ in self._running:
            process.kill()
            process.wait()
        self._running = []
        self._files.close()


class Windows:
    """Windows' own player, part of Python there. It plays one sound at a time."""

    def __init__(self, lead_s: float) -> None:
        self._library: Any = importlib.import_module("winsound")
        self._files = Files(lead_s)
        self._until = 0.0

    def load(self, name: str, path: Path) -> None:
        """Remember the file."""
        self._files.load(name, path)

    def warm(self) -> None:
        """Play a silence and wait for its end."""
        with quiet_file() as path:
            flags = self._library.SND_FILENAME | self._library.SND_NODEFAULT
            self._library.PlaySound(str(path), flags)

    def play(self, name: str) -> None:
        """Begin to play, from the file: in the background Windows plays nothing from memory."""
        path, length_s = self._files[name]
        flags = self._library.SND_FILENAME | self._library.SND_NODEFAULT
        self._library.PlaySound(str(path), flags | self._library.SND_ASYNC)
        self._until = time.monotonic() + length_s

    def stop(self) -> None:
        """Stop whatever sounds."""
        self._library.PlaySound(None, 0)

    def poll(self) -> str | None:
        """Tell nothing: failures come at once."""
        return None

    def busy(self) -> bool:
        """Whether the last sound's time is not over."""
        return time.monotonic() < self._until

    def close(self) -> None:
        """Stop and remove the temporary files."""
        self.stop()
        self._files.close()


class Recording:
    """The double for tests: appends `name<TAB>monotonic ns` for every cue to a file.

    `trouble` makes it misbehave, as `KIND:N` from the N-th sound on: `fail` raises, `die` ends the
    process, `hang` never returns from `play`, `pause` returns after half a second. N = 0: already
    when it is warmed. The file need not be new.
    """

    def __init__(self, path: Path, trouble: str = "") -> None:
        self._path = path
        kind, _, nth = trouble.partition(":")
        self._kind, self._nth = kind, int(nth or 0)
        self._count = 0
        self._names: set[str] = set()

    def load(self, name: str, path: Path) -> None:
        """Read the file, so that a bad one is refused here as elsewhere."""
        read_wav(path)
        self._names.add(name)

    def _misbehave(self) -> None:
        if not self._kind or self._count < self._nth:
            return
        if self._kind == "fail":
            raise Trouble("told to fail")
        if self._kind == "die":
            os._exit(1)
        time.sleep(0.5 if self._kind == "pause" else 3600.0)

    def warm(self) -> None:
        """Note the fact as `(ready)`."""
        if self._nth == 0:
            self._misbehave()
        self._note("(ready)")

    def play(self, name: str) -> None:
        """Note the cue."""
        if name not in self._names:
            raise KeyError(name)
        self._count += 1
        self._misbehave()
        self._note(name)

    def stop(self) -> None:
        """Note the fact as `(stopped)`."""
        self._note("(stopped)")

    def _note(self, name: str) -> None:
        with self._path.open("a", encoding="utf-8") as out:
            out.write(f"{name}\t{time.monotonic_ns()}\n")

    def poll(self) -> str | None:
        """Tell nothing: failures come at once."""
        return None

    def busy(self) -> bool:
        """A note takes no time."""
        return False

    def close(self) -> None:
        """Nothing to leave behind."""
