"""The process that renders phrases: `python -m runner.sound.speech.worker --engine NAME …`.

It is started by `runner.sound.speech.renderer` and speaks lines, fields parted by tabs:

    in   render SEQ TEXT
    out  ready VERSION           once: the engine has rendered a word
         fault TEXT              instead of it: this engine does not work; the process ends
         ok SEQ FILE SECONDS     the phrase is in the folder, made now or kept from another day
         fail SEQ TEXT           it could not be made

It runs at a low priority, so that a session never waits for it, and ends with its input. A process
of its own for its licence (see `synths`) and because an engine may hang or crash.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import NoReturn

from runner.sound.helper import Replies
from runner.sound.parent import die_with_parent
from runner.sound.speech.cache import Cache
from runner.sound.speech.levelling import levelled
from runner.sound.speech.synths import Synth, make

LONGEST_S = 8.0  # a phrase longer than this fits no rest; our choice
TIDY_EVERY = 64  # phrases made between two looks at the folder's size


def _options(argv: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="runner.sound.speech.worker")
    parser.add_argument("--engine", required=True)
    parser.add_argument("--program", default="", help="path of the engine's program")
    parser.add_argument("--folder", type=Path, required=True, help="where phrases are kept")
    parser.add_argument("--parent", type=int, help="end when this process is no longer the parent")
    return parser.parse_args(argv)


def _render(synth: Synth, cache: Cache, text: str) -> float:
    kept = cache.seconds(text)
    if kept is not None:
        return kept
    kind, frames = levelled(*synth.render(text, cache.scratch))
    seconds = kind.seconds(frames)
    if seconds > LONGEST_S:
        cache.scratch.unlink(missing_ok=True)
        raise ValueError(f"{seconds:.1f} s long")
    cache.keep(text, kind, frames)
    return seconds


def main(argv: list[str]) -> NoReturn:
    """Render until the input ends. Returns by ending the process."""
    options = _options(argv)
    die_with_parent(options.parent)
    replies = Replies()
    os.umask(0o077)
    if hasattr(os, "nice"):
        os.nice(10)
    try:
        synth = make(options.engine, options.program)
        cache = Cache(options.folder, options.engine, synth.version)
        cache.tidy()
        _render(synth, cache, "ready")
    except Exception as fault:  # noqa: BLE001 - an engine that does not work, whatever the reason
        replies.say("fault", fault)
        os._exit(3)
    replies.say("ready", synth.version)
    for number, line in enumerate(sys.stdin.buffer, 1):
        kind, seq, text = [*line.decode("utf-8", "replace").rstrip("\n").split("\t", 2), "", ""][:3]
        if kind != "render":
            continue
        try:
            seconds = _render(synth, cache, text)
        except Exception as fault:  # noqa: BLE001 - one phrase less
            replies.say("fail", seq, fault)
            continue
        replies.say("ok", seq, cache.name(text), f"{seconds:.3f}")
        if number % TIDY_EVERY == 0:
            cache.tidy()
    cache.scratch.unlink(missing_ok=True)
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1:])
