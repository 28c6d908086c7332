"""The process that makes the sound: `python -m runner.sound.helper --backend WAY …`.

It is started by `runner.sound.link` and speaks lines over its standard input and output, fields
parted by tabs:

    in   play SEQ NAME LATEST   play NAME unless the monotonic clock is past LATEST ns
         say SEQ FILE LATEST TEXT  the same for a phrase, a file in the folder of phrases
         hush                   cut the phrase that sounds
         level CUES VOICE       from now on so loud, gains from 0 to 1
    out  ready                  once: the sounds are loaded and the device has played a silence
         fault TEXT             instead of it: this way does not work; the process ends
         ok SEQ                 begun
         late SEQ               not played, it came too late
         fail SEQ TEXT          not played; SEQ 0: a sound begun earlier turned out not to play

A cue cuts the phrase that sounds, and is never held up by one. The end of the input ends it, after
what still sounds. The monotonic clock is the system's, one for all processes. A process of its own,
because a sound library may hang in an unresponsive server, may write on the terminal and may crash,
and none of that is to reach the session.
"""

from __future__ import annotations

import argparse
import os
import select
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NoReturn

from runner.sound import backends
from runner.sound.doubles import Recording
from runner.sound.parent import die_with_parent
from runner.sound.wav import Scratch

FINISH_S = 2.5  # a sound that has not ended so long after the end of the input is cut
_TICK_S = 0.02  # how often running sounds are looked at; nothing ticks while it is quiet


def tidy(text: str) -> str:
    """One printable line of at most 160 characters, fit for a reply and for a terminal."""
    line = "".join(char if char.isprintable() else " " for char in text)
    return " ".join(line.split())[:160]


def make_backend(options: argparse.Namespace) -> backends.Backend:
    """The backend that the arguments name; ImportError where its library is missing."""
    if options.backend == "simpleaudio":
        return backends.SimpleAudio(options.lead)
    if options.backend == "winsound":
        return backends.Windows(options.lead, Scratch(options.scratch))
    if options.backend == "recording":
        return Recording(Path(options.file), options.trouble)
    return backends.Program(options.command, options.lead, Scratch(options.scratch))


def _options(argv: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="runner.sound.helper")
    known = ("simpleaudio", "program", "winsound", "recording")
    parser.add_argument("--backend", choices=known, required=True)
    parser.add_argument("--sounds", type=Path, required=True, help="folder of the WAV files")
    parser.add_argument("--lead", type=float, default=0.0, help="seconds of quiet before a sound")
    parser.add_argument("--phrases", type=Path, help="folder of rendered phrases")
    parser.add_argument("--scratch", type=Path, help="the folder to make where files are needed")
    parser.add_argument("--parent", type=int, help="end when this process is no longer the parent")
    parser.add_argument("--file", help="recording: where to note the cues")
    parser.add_argument("--trouble", default="", help="recording: how to misbehave")
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


class Desk:
    """Does what the lines ask of a backend, and answers them."""

    def __init__(self, backend: backends.Backend, replies: Replies, phrases: Path | None) -> None:
        self._backend, self._replies, self._phrases = backend, replies, phrases

    def obey(self, line: str) -> None:
        """Do what one line asks."""
        match line.split("\t"):
            case ["play", seq, name, latest] if (seq + latest).isdigit():
                backend = self._backend
                self._begin(seq, int(latest), lambda: backend.play(name), backend.stop)
            case ["say", seq, file, latest, text] if (seq + latest).isdigit():
                self._begin(seq, int(latest), lambda: self._say(file, text), self._backend.hush)
            case ["level", cues, voice]:
                self._backend.level(float(cues), float(voice))
            case ["hush"]:
                self._backend.hush()
            case _:
                self._replies.say("fail", 0, f"unknown request: {line}")

    def _begin(
        self, seq: str, latest: int, begin: Callable[[], None], stop: Callable[[], None]
    ) -> None:
        if time.monotonic_ns() > latest:
            self._replies.say("late", seq)
            return
        try:
            begin()
        except Exception as fault:  # noqa: BLE001 - whatever a library throws is one failed cue
            self._replies.say("fail", seq, f"{type(fault).__name__}: {fault}")
            return
        if time.monotonic_ns() > latest:  # the device took too long to open
            stop()
            self._replies.say("late", seq)
        else:
            self._replies.say("ok", seq)

    def _say(self, file: str, text: str) -> None:
        if self._phrases is None or Path(file).name != file:
            raise backends.Trouble("no such phrase")
        self._backend.say(self._phrases / file, text)


def _serve(backend: backends.Backend, replies: Replies, phrases: Path | None) -> None:
    desk = Desk(backend, replies, phrases)

    def look() -> bool:
        trouble = backend.poll()
        if trouble:
            replies.say("fail", 0, trouble)
        return backend.busy()

    for line in _lines(look):
        desk.obey(line)
    until = time.monotonic() + FINISH_S
    while look() and time.monotonic() < until:
        time.sleep(_TICK_S)


def _load(backend: backends.Backend, folder: Path) -> None:
    paths = sorted(folder.glob("*.wav"))
    if not paths:
        raise backends.Trouble(f"no sounds in {folder}")
    for path in paths:
        backend.load(path.stem, path)


def _prepare(options: argparse.Namespace, replies: Replies) -> backends.Backend:
    backend: backends.Backend | None = None
    try:
        backend = make_backend(options)
        _load(backend, options.sounds)
        backend.warm()
    except backends.Trouble as fault:
        why = str(fault)
    except Exception as fault:  # noqa: BLE001 - a way that does not work, whatever the reason
        why = f"{type(fault).__name__}: {fault}"
    else:
        return backend
    if backend is not None:
        backend.close()
    replies.say("fault", why)
    _end(3)


def main(argv: list[str]) -> NoReturn:
    """Run until the input ends. Returns by ending the process."""
    options = _options(argv)
    die_with_parent(options.parent)
    replies = Replies()
    backend = _prepare(options, replies)
    replies.say("ready")
    _serve(backend, replies, options.phrases)
    backend.close()
    _end(0)


if __name__ == "__main__":
    main(sys.argv[1:])
