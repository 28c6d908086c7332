"""The process that makes the sound: `python -m runner.sound.helper --backend WAY …`.

`runner.sound.link` starts it. Each side writes lines with tabs between the fields, on the standard
input and output:

    in   play SEQ NAME LATEST   play NAME unless the monotonic clock is past LATEST ns
         say SEQ FILE LATEST TEXT  the same for a phrase, a file in the folder of phrases
         hush                   cut the phrase that sounds
         cut NAME               cut every NAME that is still in its quiet lead
         level CUES VOICE       set the loudness from now on, gains from 0 to 1
    out  ready                  once: the sounds are loaded and the device has played a silence
         fault TEXT             instead of ready: this way does not work; the process ends
         ok SEQ                 begun
         late SEQ               not played, because too late; also after its `ok`, where a program
                                turned out to wait for its server
         fail SEQ TEXT          not played; SEQ 0: a sound begun earlier turned out not to play

A cue cuts the phrase that sounds, and is never held up by one. Two sounds may overlap, for each
has half of full scale; a third waits until one of them ends, or until it is too late. A device that
hangs must not play a cue later; where the cue cannot be taken back, the alarm of `_within` ends the
process (with SIGALRM). When the input ends, the process ends too, after what still sounds. The
monotonic clock is the system's, the same for all processes. Sound needs a process of its own: a
sound library may hang in an unresponsive server, write on the terminal, or crash, and none of that
may reach the session.

A cue more than 0.3 s late says something untrue, so it is left out, counted, and reported after the
session. The process that starts the helper names its folder and removes it, for a killed helper
cannot.
"""

from __future__ import annotations

import argparse
import os
import select
import shutil
import signal
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import NoReturn

from runner.sound import backends
from runner.sound.link import die_with_parent
from runner.sound.wav import Scratch, read_wav
from runner.text import shown

FINISH_S = 2.5  # seconds after the end of the input; a sound still playing then is cut
GRACE_S = 0.2  # seconds; a device that opens this late can still be told to stop
AT_ONCE = 2  # sounds that may overlap; each has half of full scale
AFTER_S = 0.1  # of sound in an output's buffer (simpleaudio's latency; else our choice)
_TICK_S = 0.02  # between looks at running sounds; none while it is quiet


def tidy(text: str) -> str:
    """One printable line of at most 160 characters, fit for a reply and a terminal."""
    return " ".join(shown(text, " ").split())[:160]


def make_backend(options: argparse.Namespace) -> backends.Backend:
    """The backend that the arguments name; ImportError where its library is missing."""
    if options.backend == "simpleaudio":
        return backends.SimpleAudio(options.lead)
    if options.backend == "winsound":
        return backends.Windows(options.lead, Scratch(options.scratch))
    return backends.Program(options.command, options.lead, Scratch(options.scratch))


Make = Callable[[argparse.Namespace], backends.Backend]


def _options(argv: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="runner.sound.helper")
    parser.add_argument("--backend", choices=("simpleaudio", "program", "winsound"))
    parser.add_argument("--sounds", type=Path, required=True, help="folder of the WAV files")
    parser.add_argument("--lead", type=float, default=0.0, help="seconds of quiet before a sound")
    parser.add_argument("--phrases", type=Path, help="folder of rendered phrases")
    parser.add_argument("--scratch", type=Path, help="the folder to make where files are needed")
    parser.add_argument("--parent", type=int, help="end when this process is no longer the parent")
    parser.add_argument("command", nargs="*", help="program: after --, the player")
    return parser.parse_args(argv)


class Replies:
    """Writes the replies. Takes standard output for itself, so that nothing else writes there."""

    def __init__(self) -> None:
        self._out = os.dup(1)  # the programs that are started do not inherit it
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        os.close(nowhere)

    def say(self, *fields: object) -> None:
        """Send one line; does nothing where the session no longer listens."""
        line = "\t".join(tidy(str(field)) for field in fields) + "\n"
        try:
            os.write(self._out, line.encode())
        except OSError:
            _end(0)


def _end(status: int) -> NoReturn:
    # No orderly shutdown of the interpreter: it would wait for a library that hangs.
    os._exit(status)


def _leave(scratch: Path | None) -> NoReturn:
    """End at once and leave no files; the programs that play end with this process."""
    if scratch is not None:
        shutil.rmtree(scratch, ignore_errors=True)
    _end(0)


def _wait_for_input(*, busy: bool) -> bool:
    """Wait for input, but only a tick while something sounds; True where there is some."""
    if sys.platform == "win32":
        return True  # Windows cannot wait for a pipe, and no player there needs looking at
    return bool(select.select([0], [], [], _TICK_S if busy else None)[0])


def _lines(look: Callable[[], bool]) -> Iterator[str]:
    """The lines of the input until its end; calls `look` between them, which is True while busy."""
    rest = b""
    while True:
        if not _wait_for_input(busy=look()):
            continue
        data = os.read(0, 65536)
        if not data:
            return
        *whole, rest = (rest + data).split(b"\n")
        for line in whole:
            yield line.decode("utf-8", "replace")


def _within(latest: int) -> None:
    """Have the kernel end this process `GRACE_S` after `latest`; does nothing where it cannot.

    A handler or a thread would not do: what hangs may hold the interpreter's lock.
    """
    if hasattr(signal, "setitimer"):
        seconds = (latest - time.monotonic_ns()) / 1e9 + GRACE_S
        signal.setitimer(signal.ITIMER_REAL, max(seconds, GRACE_S))


def _returned() -> None:
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, 0.0)


class CommandLoop:
    """Does what the lines ask of a backend, and answers them."""

    def __init__(
        self,
        backend: backends.Backend,
        replies: Replies,
        phrases: Path | None,
        lengths: Mapping[str, float],
        lead_s: float,
    ) -> None:
        self._backend, self._replies, self._phrases = backend, replies, phrases
        self._lengths, self._lead_s = lengths, lead_s
        self._sounding: list[tuple[float, float]] = []  # when they begin and end, by the clock
        # Cues begun that may still turn out to wait: request, last moment, the backend's cue.
        self._unsure: deque[tuple[str, int, object]] = deque()

    def obey(self, line: str) -> None:
        """Do what one line asks."""
        backend = self._backend
        match line.split("\t"):
            case ["play", seq, name, latest] if (seq + latest).isdigit():
                self._wait_for_room(self._lengths.get(name, 0.0), int(latest))
                if self._begin(seq, int(latest), lambda: backend.play(name), backend.stop):
                    self._sounds(self._lengths[name])
                    self._unsure.append((seq, int(latest), backend.begun()))
            case ["say", seq, file, latest, text] if (seq + latest).isdigit():
                self._begin(seq, int(latest), lambda: self._say(file, text), backend.hush)
            case ["level", cues, voice]:
                backend.level(float(cues), float(voice))
            case ["hush"]:
                backend.hush()
            case ["cut", name]:
                backend.cut(name)
            case _:
                self._replies.say("fail", 0, f"unknown request: {line}")

    def look(self) -> bool:
        """Report what became known since the last call; returns whether a sound still plays."""
        while self._unsure and time.monotonic_ns() > self._unsure[0][1]:
            seq, _, begun = self._unsure.popleft()
            if self._backend.take_back(begun):
                self._replies.say("late", seq)
        trouble = self._backend.poll()
        if trouble:
            self._replies.say("fail", 0, trouble)
        return self._backend.busy() or bool(self._unsure)

    def _wait_for_room(self, length_s: float, latest: int) -> None:
        """Wait while two sounds play, before a third; not beyond its last moment."""
        while self._backend.mixes and time.monotonic_ns() < latest and self._crowded(length_s):
            self.look()
            time.sleep(_TICK_S / 4)

    def _crowded(self, length_s: float) -> bool:
        now = time.monotonic()
        self._sounding = [one for one in self._sounding if one[1] > now]
        begin = now + self._lead_s
        with_it = [one for one in self._sounding if one[1] > begin and one[0] < begin + length_s]
        instants = [begin, *(one[0] for one in with_it)]
        return any(sum(a <= at < b for a, b in with_it) >= AT_ONCE for at in instants)

    def _sounds(self, length_s: float) -> None:
        begin = time.monotonic() + self._lead_s
        self._sounding.append((begin, begin + length_s + AFTER_S))

    def _begin(
        self, seq: str, latest: int, begin: Callable[[], None], stop: Callable[[], None]
    ) -> bool:
        if time.monotonic_ns() > latest:
            self._replies.say("late", seq)
            return False
        try:
            if self._backend.holds:
                _within(latest)
            begin()
            _returned()
        except Exception as fault:  # noqa: BLE001 - whatever a library throws is one failed cue
            _returned()
            self._replies.say("fail", seq, f"{type(fault).__name__}: {fault}")
            return False
        if time.monotonic_ns() > latest:  # the device took too long to open
            stop()
            self._replies.say("late", seq)
            return False
        self._replies.say("ok", seq)
        return True

    def _say(self, file: str, text: str) -> None:
        if self._phrases is None or Path(file).name != file:
            raise backends.Trouble("no such phrase")
        self._backend.say(self._phrases / file, text)


def _serve(loop: CommandLoop) -> None:
    for line in _lines(loop.look):
        loop.obey(line)
    until = time.monotonic() + FINISH_S
    while loop.look() and time.monotonic() < until:
        time.sleep(_TICK_S)


def _load(backend: backends.Backend, folder: Path) -> dict[str, float]:
    """Load every sound; returns the length of each, in seconds."""
    paths = sorted(folder.glob("*.wav"))
    if not paths:
        raise backends.Trouble(f"no sounds in {folder}")
    lengths = {}
    for path in paths:
        backend.load(path.stem, path)
        kind, frames = read_wav(path)
        lengths[path.stem] = kind.seconds(frames)
    return lengths


def _prepare(
    options: argparse.Namespace, make: Make, replies: Replies
) -> tuple[backends.Backend, dict[str, float]]:
    backend: backends.Backend | None = None
    try:
        backend = make(options)
        lengths = _load(backend, options.sounds)
        backend.warm()
    except backends.Trouble as fault:
        why = str(fault)
    except Exception as fault:  # noqa: BLE001 - a way that does not work, whatever the reason
        why = f"{type(fault).__name__}: {fault}"
    else:
        return backend, lengths
    if backend is not None:
        backend.close()
    replies.say("fault", why)
    _end(3)


def main(argv: list[str], make: Make = make_backend) -> NoReturn:
    """Run until the input ends, then end the process."""
    options = _options(argv)
    if options.backend == "program" and sys.platform == "linux":
        # It hangs in no library, so it can still remove its files.
        signal.signal(signal.SIGTERM, lambda *_: _leave(options.scratch))
        die_with_parent(options.parent, signal.SIGTERM)
    else:
        die_with_parent(options.parent)
    replies = Replies()
    if hasattr(signal, "SIGALRM"):
        signal.signal(
            signal.SIGALRM, signal.SIG_DFL
        )  # the parent may have ignored this signal, which is inherited
    backend, lengths = _prepare(options, make, replies)
    replies.say("ready")
    _serve(CommandLoop(backend, replies, options.phrases, lengths, options.lead))
    backend.close()
    _end(0)


if __name__ == "__main__":
    main(sys.argv[1:])
