"""The process that renders phrases: `python -m runner.sound.speech --engine NAME …`.

`runner.sound.voice` starts it. Each side writes lines with tabs between the fields:

    in   render SEQ TEXT
    out  ready VERSION           once: the engine has rendered a word
         fault TEXT              instead of ready: this engine does not work; the process ends
         ok SEQ FILE SECONDS     the phrase is in the folder, made now or kept from another day
         fail SEQ TEXT           it could not be made

It runs at a low priority, so that a session never waits for it, and ends with its input. It is a
process of its own because of its licence (see `synths`), and because an engine may hang or crash.

A session's phrases are known when it opens, and are asked for in the order of need; what a rest
needs now comes first. A file's name is a hash of all that its sound depends on. Playing sets the
loudness, so one file serves every volume. Speech has peaks 17 dB over its RMS, the cues 4 dB; so
the peaks of speech are rounded off, or it would be far too quiet.
"""

from __future__ import annotations

import argparse
import array
import hashlib
import math
import os
import sys
import time
import wave
from collections.abc import Mapping
from pathlib import Path
from typing import NoReturn

import platformdirs

from runner.sound.helper import Replies
from runner.sound.link import die_with_parent
from runner.sound.sounds import PEAK
from runner.sound.synths import Synth, make
from runner.sound.wav import Format, read_wav, write_wav

# How a rendered phrase is trimmed and brought near the loudness of the cues, no louder.
#
# The cues have a peak of -6 dBFS and, over their sounding parts, an RMS of -10.6 dBFS. Speech has
# far higher peaks for the same loudness: scaled to the same peak, it would be 12 dB softer than the
# cues. So its highest peaks are rounded off (a hyperbolic tangent, a usual soft limiter).

# Of full scale. Speech is a little quieter than the cues, which have to be heard first (our
# choice). Before limiting, so what comes out is about a decibel less.
TARGET_RMS = 0.2
MOST_DRIVE = 3.0  # most that peaks are pressed down; with more it sounds hoarse (our choice)
SOUNDING = 0.01  # of the peak, -40 dB: quieter samples are a pause
QUIET = 0.005  # of full scale: quieter samples at the ends are cut off
EDGE_S = 0.008  # raised-cosine, as the cues have
LEAD_S, TAIL_S = 0.01, 0.03  # seconds of silence that stay at the ends


def levelled(kind: Format, frames: bytes) -> tuple[Format, bytes]:
    """The phrase as mono 16-bit samples; ValueError where it is silent or of another kind.

    The rate stays: every way of playing takes the engines' 22,050 Hz.
    """
    samples = _mono(kind, frames)
    samples = _trimmed(samples, kind.rate)
    peak = max(map(abs, samples)) / 32768
    loud = [s for s in samples if abs(s) > SOUNDING * peak * 32768]
    rms = math.sqrt(sum(s * s for s in loud) / len(loud)) / 32768
    gain = min(TARGET_RMS / rms, MOST_DRIVE * PEAK / peak)
    factor, most = gain / (32768 * PEAK), PEAK * 32767
    tanh = math.tanh
    made = array.array("h", [round(most * tanh(factor * s)) for s in samples])
    _ramp(made, round(EDGE_S * kind.rate))
    if sys.byteorder == "big":
        made.byteswap()
    return Format(1, 2, kind.rate), made.tobytes()


def _mono(kind: Format, frames: bytes) -> array.array[int]:
    if kind.width != 2:
        raise ValueError(f"samples of {8 * kind.width} bits")
    samples = array.array("h", frames[: len(frames) // 2 * 2])
    if sys.byteorder == "big":
        samples.byteswap()
    return samples[:: kind.channels]  # the first of several channels; engines repeat it


def _trimmed(samples: array.array[int], rate: int) -> array.array[int]:
    loud = [i for i, s in enumerate(samples) if abs(s) > QUIET * 32768]
    if not loud:
        raise ValueError("silence")
    return samples[max(loud[0] - round(LEAD_S * rate), 0) : loud[-1] + 1 + round(TAIL_S * rate)]


def _ramp(samples: array.array[int], length: int) -> None:
    for i in range(min(length, len(samples) // 2)):
        factor = 0.5 - 0.5 * math.cos(math.pi * (i + 0.5) / length)
        samples[i] = round(samples[i] * factor)
        samples[-1 - i] = round(samples[-1 - i] * factor)


# Rendered phrases, stored by their content, so that tomorrow's session finds today's.
#
# A file's name is made from everything that its sound depends on. Only the owner can read the
# folder, for names of exercises say what somebody trains. The folder never grows past a bound.

SETTING = "MATSIDE_CACHE"  # another place for what can be made again
MAKE = 1  # raise it when phrases are levelled otherwise, so that no old one is used
MOST_BYTES = 32 * 1024 * 1024  # a session has about 8 MB; our choice
STALE_S = 3600.0  # seconds; no process still writes a half-written file this old


def phrase_folder(environ: Mapping[str, str]) -> Path:
    """Where phrases are stored: under MATSIDE_CACHE, else in the platform's cache directory."""
    named = environ.get(SETTING)
    root = Path(named) if named else Path(platformdirs.user_cache_dir("matside", appauthor=False))
    return root / "voice"


class Cache:
    """The folder of phrases of one engine and version."""

    def __init__(self, folder: Path, engine: str, version: str) -> None:
        """Make the folder where it is missing; OSError where it cannot be used safely."""
        self.folder = folder
        self._of = f"{MAKE}\0{engine}\0{version}\0"
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if sys.platform != "win32":
            state = folder.stat()
            if state.st_uid != os.getuid():
                raise PermissionError(f"{folder} belongs to somebody else")
            if state.st_mode & 0o077:
                folder.chmod(0o700)

    def name(self, text: str) -> str:
        """The file's name for a text."""
        return hashlib.sha256((self._of + text).encode()).hexdigest()[:32] + ".wav"

    def seconds(self, text: str) -> float | None:
        """How long the stored phrase of a text is; None where there is no whole one."""
        path = self.folder / self.name(text)
        try:
            kind, frames = read_wav(path)
            os.utime(path)
        except (OSError, EOFError, wave.Error):
            return None
        return kind.seconds(frames) or None

    @property
    def scratch(self) -> Path:
        """A file for this process alone."""
        return self.folder / f"part-{os.getpid()}.wav"

    def keep(self, text: str, kind: Format, frames: bytes) -> None:
        """Store a phrase, whole or not at all."""
        os.close(os.open(self.scratch, os.O_WRONLY | os.O_CREAT, 0o600))
        write_wav(self.scratch, kind, frames)
        self.scratch.replace(self.folder / self.name(text))

    def tidy(self, most: int = MOST_BYTES) -> None:
        """Remove the phrases unused for longest, down to three quarters of the bound."""
        found = []
        for path in self.folder.glob("*.wav"):
            try:
                state = path.stat()
            except OSError:
                continue
            if path.name.startswith("part-"):
                if time.time() - state.st_mtime > STALE_S:
                    path.unlink(missing_ok=True)
                continue
            found.append((state.st_mtime, state.st_size, path))
        total = sum(size for _, size, _ in found)
        if total <= most:
            return
        for _, size, path in sorted(found):
            if total <= most * 3 / 4:
                break
            path.unlink(missing_ok=True)
            total -= size


LONGEST_S = 8.0  # seconds; a longer phrase fits no rest; our choice
TIDY_EVERY = 64  # phrases made between two checks of the folder's size


def _options(argv: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="runner.sound.speech")
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
    """Render until the input ends, then end the process."""
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
