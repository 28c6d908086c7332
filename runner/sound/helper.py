"""The process that makes the sound: `python -m runner.sound.helper --backend WAY …`.

It is started by `runner.sound.link` and speaks lines over its standard input and output, fields
parted by tabs:

    in   play SEQ NAME LATEST   play NAME unless the monotonic clock is past LATEST ns
         say SEQ FILE LATEST TEXT  the same for a phrase, a file in the folder of phrases
         hush                   cut the phrase that sounds
         cut NAME               cut every NAME that is still in its quiet lead
         level CUES VOICE       from now on so loud, gains from 0 to 1
    out  ready                  once: the sounds are loaded and the device has played a silence
         fault TEXT             instead of it: this way does not work; the process ends
         ok SEQ                 begun
         late SEQ               not played, it came too late; also after its `ok`, where a program
                                turned out to wait for its server
         fail SEQ TEXT          not played; SEQ 0: a sound begun earlier turned out not to play

A cue cuts the phrase that sounds, and is never held up by one. Two sounds may overlap, for each
has half of full scale; a third waits until one of them is over, or until it is too late. A device
that hangs may not play later what it was given: where that cannot be called back, the alarm of
`_within` ends this process (with SIGALRM). The end of the input ends it, after
what still sounds. The monotonic clock is the system's, one for all processes. A process of its own,
because a sound library may hang in an unresponsive server, may write on the terminal and may crash,
and none of that is to reach the session.

A cue more than 0.3 s late says something untrue, so it is left out, counted, and told after the
session. Whoever starts the helper names and removes its folder, for a helper that hangs is killed.
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

FINISH_S = 2.5  # a sound that has not ended so long after the end of the input is cut
GRACE_S = 0.2  # a device that opens so much after a sound's last moment may still be told to stop
AT_ONCE = 2  # sounds that may overlap; each has half of full scale
AFTER_S = 0.1  # what outputs hold in their buffers (simpleaudio's latency; our choice for others)
_TICK_S = 0.02  # how often running sounds are looked at; nothing ticks while it is quiet


def tidy(text: str) -> str:
    """One printable line of at most 160 characters, fit for a reply and for a terminal."""
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
    """The way back. Takes standard output for itself and lets nothing else write there."""

    def __init__(self) -> None:
        self._out = os.dup(1)  # not inherited by the programs that are started
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        os.close(nowhere)

    def say(self, *fields: object) -> None:
        """Send one line; a session that no longer listens is no fault."""
        line = "\t".join(tidy(str(field)) for field in fields) + "\n"
        try:
            os.write(self._out, line.encode())
        except OSError:
            _end(0)


def _end(status: int) -> NoReturn:
    # No interpreter shutdown: it would wait for a library that hangs.
    os._exit(status)


def _leave(scratch: Path | None) -> NoReturn:
    """End at once, without files left; the programs that play end with this process."""
    if scratch is not None:
        shutil.rmtree(scratch, ignore_errors=True)
    _end(0)


def _wait_for_input(*, busy: bool) -> bool:
    """Whether there is input; waits for it, but only a tick while something sounds."""
    if sys.platform == "win32":
        return True  # pipes cannot be waited for there, and nothing needs to be looked at either
    return bool(select.select([0], [], [], _TICK_S if busy else None)[0])


def _lines(look: Callable[[], bool]) -> Iterator[str]:
    """The lines of the input until its end; between them `look` is called, True while busy."""
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
    """Have the kernel end this process at `latest` and `GRACE_S`; nothing where it cannot.

    The interpreter's lock may be held by what hangs, so no handler and no thread would do.
    """
    if hasattr(signal, "setitimer"):
        seconds = (latest - time.monotonic_ns()) / 1e9 + GRACE_S
        signal.setitimer(signal.ITIMER_REAL, max(seconds, GRACE_S))


def _returned() -> None:
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, 0.0)


class Desk:
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
        self._sounding: list[tuple[float, float]] = []  # from and until when, of the clock
        # Cues begun that may yet turn out to wait: request, last moment, the backend's own.
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
        """Tell what came out since, and whether something is still sounding."""
        while self._unsure and time.monotonic_ns() > self._unsure[0][1]:
            seq, _, begun = self._unsure.popleft()
            if self._backend.take_back(begun):
                self._replies.say("late", seq)
        trouble = self._backend.poll()
        if trouble:
            self._replies.say("fail", 0, trouble)
        return self._backend.busy() or bool(self._unsure)

    def _wait_for_room(self, length_s: float, latest: int) -> None:
        """Let two sounds go on before a third is begun; not beyond its last moment."""
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


def _serve(desk: Desk) -> None:
    for line in _lines(desk.look):
        desk.obey(line)
    until = time.monotonic() + FINISH_S
    while desk.look() and time.monotonic() < until:
        time.sleep(_TICK_S)


def _load(backend: backends.Backend, folder: Path) -> dict[str, float]:
    """Load every sound; how long each is, in seconds."""
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
    """Run until the input ends. Returns by ending the process."""
    options = _options(argv)
    if options.backend == "program" and sys.platform == "linux":
        # It may have files, and hangs in no library: it can still remove them.
        signal.signal(signal.SIGTERM, lambda *_: _leave(options.scratch))
        die_with_parent(options.parent, signal.SIGTERM)
    else:
        die_with_parent(options.parent)
    replies = Replies()
    if hasattr(signal, "SIGALRM"):
        signal.signal(signal.SIGALRM, signal.SIG_DFL)  # it may have been inherited as ignored
    backend, lengths = _prepare(options, make, replies)
    replies.say("ready")
    _serve(Desk(backend, replies, options.phrases, lengths, options.lead))
    backend.close()
    _end(0)


if __name__ == "__main__":
    main(sys.argv[1:])
