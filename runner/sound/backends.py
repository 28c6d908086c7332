"""Makes the sound, inside the helper process: simpleaudio, a program, Windows, or a test double.

The session's process imports nothing of this. Only its own backend imports simpleaudio, and only
when it is made: the library's `play()` holds the interpreter lock while the device opens, it writes
on the terminal, and on Python 3.12 and later it can crash the interpreter.
"""

from __future__ import annotations

import importlib
import subprocess
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from runner.sound.link import CAN_ASK, ask_death_signal
from runner.sound.wav import PLAIN, QUIET_S, Files, Format, Scratch, quiet_file, read_wav, scaled

# Seconds for the test sound; a program that takes longer counts as hanging. A server's buffer may
# hold two seconds; a program that waits until it is empty takes that long for any sound (measured).
PROBE_S = 4.0
OVERRUN_S = 3.0  # seconds after a sound should have ended; a program still running then is killed
MOST_RUNNING = 16  # programs at once, for the same reason: six ticks may come in a second


class Trouble(Exception):
    """A backend cannot play; the text says why, in one line."""


class Backend(Protocol):
    """A way of making sound: cues by name, and one phrase at a time from its file.

    `play` and `say` must return at once and raise on failure. A cue cuts the phrase that sounds.
    `mixes`: several can sound at once. `holds`: `play` may hang in the device and still sound once
    the device recovers; only the end of the process prevents that.
    """

    mixes: bool
    holds: bool

    def load(self, name: str, path: Path) -> None:
        """Make the WAV file at `path` playable as `name`."""

    def warm(self) -> None:
        """Open the device with a short silence; raises where that fails."""

    def level(self, cues: float, voice: float) -> None:
        """Set how loud cues and phrases are from now on, as gains from 0 to 1."""

    def say(self, path: Path, text: str) -> None:
        """Begin to play the phrase in the WAV file at `path`, which says `text`."""

    def hush(self) -> None:
        """Cut the phrase that sounds, if any."""

    def play(self, name: str) -> None:
        """Begin to play; KeyError for a name that was not loaded."""

    def stop(self) -> None:
        """Stop the cue that was begun last."""

    def cut(self, name: str) -> None:
        """Stop every `name` that is still in its quiet lead."""

    def begun(self) -> object:
        """The cue that was begun last, for a later `take_back`."""

    def take_back(self, begun: object) -> bool:
        """Stop a cue that certainly has not sounded yet; returns whether it could."""

    def poll(self) -> str | None:
        """Why an earlier sound failed, where that became known since the last call."""

    def busy(self) -> bool:
        """Whether a sound is still playing."""

    def close(self) -> None:
        """Leave nothing behind: no process, no file."""


class _Begun(NamedTuple):
    """A cue that was begun: `by` plays it; it sounds from `sounds` on, seconds of the clock."""

    name: str
    by: Any
    sounds: float
    until: float = 0.0  # when a program that still runs is killed


def _leading(begun: Iterable[_Begun], name: str) -> list[_Begun]:
    """The cues of that name that do not sound yet."""
    now = time.monotonic()
    return [one for one in begun if one.name == name and now < one.sounds]


class SimpleAudio:
    """simpleaudio: mixes sounds itself and begins within about a millisecond."""

    mixes = holds = True

    def __init__(self, lead_s: float) -> None:
        # No import statement: the library may be missing, and has no types.
        self._library: Any = importlib.import_module("simpleaudio")
        self._lead_s = lead_s
        self._gain = self._voice = 1.0
        self._loaded: dict[str, tuple[Format, bytes]] = {}
        self._sounds: dict[str, Any] = {}
        self._playing: list[_Begun] = []
        self._phrase: Any = None

    def load(self, name: str, path: Path) -> None:
        """Read the file into memory, with the quiet lead before it."""
        self._loaded[name] = read_wav(path)
        self._sounds[name] = self._made(*self._loaded[name], self._gain)

    def _made(self, kind: Format, frames: bytes, gain: float) -> Any:
        quiet = kind.quiet(self._lead_s)
        return self._library.WaveObject(quiet + scaled(kind, frames, gain), *kind)

    def level(self, cues: float, voice: float) -> None:
        """Make every cue whose gain changed anew now, so that none is made when it is due."""
        self._voice = voice
        if cues != self._gain:
            self._gain = cues
            for name, (kind, frames) in self._loaded.items():
                self._sounds[name] = self._made(kind, frames, cues)

    def warm(self) -> None:
        """Play a silence to its end: a broken library breaks at the end of a sound."""
        quiet = self._library.WaveObject(PLAIN.quiet(QUIET_S), *PLAIN)
        quiet.play().wait_done()

    def play(self, name: str) -> None:
        """Begin to play, then cut the phrase: the two mix, and the cue does not wait."""
        sound = self._sounds[name]
        self._playing = [one for one in self._playing if one.by.is_playing()]
        self._playing.append(_Begun(name, sound.play(), time.monotonic() + self._lead_s))
        self.hush()

    def say(self, path: Path, text: str) -> None:  # noqa: ARG002 - for the double alone
        """Begin to play the phrase; cuts the one before it."""
        phrase = self._made(*read_wav(path), self._voice)
        self.hush()
        self._phrase = phrase.play()

    def hush(self) -> None:
        """Cut the phrase."""
        phrase, self._phrase = self._phrase, None
        if phrase is not None and phrase.is_playing():
            phrase.stop()

    def stop(self) -> None:
        """Stop the cue that was begun last."""
        self._playing[-1].by.stop()

    def cut(self, name: str) -> None:
        """Stop every `name` that is still in its quiet lead."""
        for one in _leading(self._playing, name):
            one.by.stop()

    def begun(self) -> object:
        """The cue that was begun last."""
        return self._playing[-1]

    def take_back(self, begun: object) -> bool:  # noqa: ARG002 - what `play` has begun sounds
        """Nothing can be taken back once `play` has returned."""
        return False

    def poll(self) -> str | None:
        """Always None: failures are raised at once."""
        return None

    def busy(self) -> bool:
        """Whether a sound is still playing."""
        every = [
            *(one.by for one in self._playing),
            *([self._phrase] if self._phrase is not None else []),
        ]
        return any(one.is_playing() for one in every)

    def close(self) -> None:
        """Nothing to do: its threads end with the process."""


HEAD = 4096  # bytes; while it waits for a server paplay has read 44, and aplay has opened nothing


def has_read(pid: int, path: Path) -> bool:
    """Whether a running process has read more of a file than its head.

    Programs keep the file open until its last sample has sounded (paplay, aplay: measured). True
    where there is no /proc to look into.
    """
    try:
        for link in Path(f"/proc/{pid}/fd").iterdir():
            if link.readlink() == path:
                known = Path(f"/proc/{pid}/fdinfo/{link.name}").read_text("ascii")
                return int(known.split()[1]) > HEAD
    except (OSError, ValueError):
        return True
    return False


class Program:
    """A player of the system: one process for each sound, judged by its exit status."""

    mixes, holds = True, False

    def __init__(self, command: list[str], lead_s: float, scratch: Scratch | None = None) -> None:
        self._command = command
        self._scratch = scratch or Scratch()
        self._files = Files(lead_s, self._scratch)
        self._lead_s = lead_s
        self._voice = 1.0
        self._running: list[_Begun] = []
        self._phrase: tuple[subprocess.Popen[bytes], float] | None = None

    def load(self, name: str, path: Path) -> None:
        """Remember the file."""
        self._files.load(name, path)

    def level(self, cues: float, voice: float) -> None:
        """Make copies of that loudness; the programs differ in what volume they can set."""
        self._files.level(cues)
        self._voice = voice

    def warm(self) -> None:
        """Play a silence; raises Trouble unless the program ends well in time."""
        with quiet_file(self._scratch) as path:
            output = path.with_suffix(".txt")  # not a pipe: a full one would hang the program
            with output.open("wb") as stderr:
                process = self._start(path, stderr.fileno())
            try:
                status = process.wait(PROBE_S)
            except subprocess.TimeoutExpired:
                raise Trouble(f"no answer within {PROBE_S:g} s") from None
            finally:
                process.kill()
                process.wait()
            if status != 0:
                text = output.read_bytes()[:2000].decode("utf-8", "replace").strip().split("\n")[0]
                raise Trouble(f"ended with status {status}" + (f": {text}" if text else ""))

    def _start(self, path: Path, stderr: int = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
        # The helper has one thread, so code between fork and exec is safe. The program ends with
        # the helper, and the helper with the session.
        before: Callable[[], None] | None = ask_death_signal if CAN_ASK else None
        return subprocess.Popen(  # noqa: S603 - our table's program, our file, no shell
            [*self._command, str(path)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=stderr,
            preexec_fn=before,  # noqa: PLW1509 - one thread, see above
        )

    def play(self, name: str) -> None:
        """Start the program; raises Trouble where too many have not ended.

        Kills the program of the phrase first, for aplay may hold the device alone; does not wait
        for its end.
        """
        path, length_s = self._files[name]
        if len(self._running) >= MOST_RUNNING:
            raise Trouble(f"{len(self._running)} sounds are still playing")
        if self._phrase is not None:
            self._phrase[0].kill()
        now = time.monotonic()
        begun = _Begun(name, self._start(path), now + self._lead_s, now + length_s + OVERRUN_S)
        self._running.append(begun)
        self.hush()

    def say(self, path: Path, text: str) -> None:  # noqa: ARG002 - for the double alone
        """Start the program with the phrase; kills the one before it."""
        path, length_s = self._files.changed(path, *read_wav(path), self._voice, "phrase")
        self.hush()
        self._phrase = self._start(path), time.monotonic() + length_s + OVERRUN_S

    def hush(self) -> None:
        """Kill the program that plays the phrase."""
        phrase, self._phrase = self._phrase, None
        if phrase is not None:
            phrase[0].kill()
            phrase[0].wait()

    def stop(self) -> None:
        """Kill the program that was begun last."""
        self._end(self._running.pop())

    def cut(self, name: str) -> None:
        """Kill the programs that are still at the quiet lead of `name`."""
        for one in _leading(self._running, name):
            self._running.remove(one)
            self._end(one)

    @staticmethod
    def _end(begun: _Begun) -> None:
        begun.by.kill()
        begun.by.wait()

    def begun(self) -> object:
        """The cue that was begun last."""
        return self._running[-1]

    def take_back(self, begun: object) -> bool:
        """Kill a program that has not read its sound yet, as when a server hangs."""
        one = next((one for one in self._running if one is begun), None)
        if one is None or has_read(one.by.pid, self._files[one.name][0].resolve()):
            return False
        if one.by.poll() is not None:  # it has just ended
            return False
        self._running = [other for other in self._running if other is not one]
        self._end(one)
        return True

    def poll(self) -> str | None:
        """Collect programs that ended, kill those that hang; a phrase that fails is no trouble."""
        trouble: str | None = None
        if self._phrase is not None:
            process, until = self._phrase
            if process.poll() is not None or time.monotonic() > until:
                self.hush()
        kept = []
        for one in self._running:
            status = one.by.poll()
            if status is None and time.monotonic() > one.until:
                self._end(one)
                trouble = "did not end"
            elif status is None:
                kept.append(one)
            elif status != 0:
                trouble = f"ended with status {status}"
        self._running = kept
        return trouble

    def busy(self) -> bool:
        """Whether a program still runs; call `poll` to learn of its end."""
        return bool(self._running) or self._phrase is not None

    def close(self) -> None:
        """Kill what still runs and remove the temporary files."""
        self.hush()
        for one in self._running:
            self._end(one)
        self._running = []
        self._scratch.remove()


class Windows:
    """Windows' own player, part of Python there. It plays one sound at a time."""

    mixes = holds = False

    def __init__(self, lead_s: float, scratch: Scratch | None = None) -> None:
        self._library: Any = importlib.import_module("winsound")
        self._scratch = scratch or Scratch()
        self._files = Files(lead_s, self._scratch)
        self._voice = 1.0
        self._lead_s = lead_s
        self._until = self._said_until = self._sounds = 0.0
        self._name = ""

    def load(self, name: str, path: Path) -> None:
        """Remember the file."""
        self._files.load(name, path)

    def warm(self) -> None:
        """Play a silence and wait for its end."""
        with quiet_file(self._scratch) as path:
            flags = self._library.SND_FILENAME | self._library.SND_NODEFAULT
            self._library.PlaySound(str(path), flags)

    def level(self, cues: float, voice: float) -> None:
        """Make copies as loud as that."""
        self._files.level(cues)
        self._voice = voice

    def play(self, name: str) -> None:
        """Begin to play; this cuts a phrase that sounds."""
        path, length_s = self._files[name]
        self._begin(path)
        now = time.monotonic()
        self._name, self._sounds = name, now + self._lead_s
        self._until, self._said_until = now + length_s, 0.0

    def say(self, path: Path, text: str) -> None:  # noqa: ARG002 - for the double alone
        """Begin to play the phrase; raises Trouble while a cue sounds, for it would be cut."""
        if time.monotonic() < self._until:
            raise Trouble("a cue sounds")
        self.hush()  # its copy can be overwritten only after its end
        path, length_s = self._files.changed(path, *read_wav(path), self._voice, "phrase")
        self._begin(path)
        self._said_until = time.monotonic() + length_s

    def _begin(self, path: Path) -> None:
        # From the file: Windows cannot play from memory in the background.
        flags = self._library.SND_FILENAME | self._library.SND_NODEFAULT
        self._library.PlaySound(str(path), flags | self._library.SND_ASYNC)

    def hush(self) -> None:
        """Cut the phrase."""
        if time.monotonic() < self._said_until:
            self.stop()
        self._said_until = 0.0

    def stop(self) -> None:
        """Stop whatever sounds."""
        self._library.PlaySound(None, 0)

    def cut(self, name: str) -> None:
        """Stop `name` where it is still in its quiet lead."""
        if self._name == name and time.monotonic() < self._sounds:
            self.stop()

    def begun(self) -> object:
        """The cue that was begun last."""
        return self._name

    def take_back(self, begun: object) -> bool:  # noqa: ARG002 - it begins when it is asked
        """Nothing can be taken back."""
        return False

    def poll(self) -> str | None:
        """Always None: failures are raised at once."""
        return None

    def busy(self) -> bool:
        """Whether the last sound should still be playing."""
        return time.monotonic() < max(self._until, self._said_until)

    def close(self) -> None:
        """Stop and remove the temporary files."""
        self.stop()
        self._scratch.remove()
