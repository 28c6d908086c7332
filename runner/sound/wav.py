"""WAV files in the helper: read, written, made softer, with a quiet lead.

Ways of playing differ in what volume they can set, so the samples themselves are made softer, in
memory or in copies of the files. That happens when the volume changes, not when a cue is due. Some
outputs sleep in the quiet and swallow the first sound while they wake. Playing silence all the time
would keep them awake and drain every battery; so a setting puts quiet before each sound.
"""

from __future__ import annotations

import array
import shutil
import sys
import tempfile
import wave
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

PREFIX = "matside-sound-"  # the name of the helper's folder begins so
QUIET_S = 0.05  # the silence that opens the device and so shows that a way works


class Format(NamedTuple):
    """The format of a WAV file: channels, bytes a sample, samples a second."""

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


def scaled(kind: Format, frames: bytes, gain: float) -> bytes:
    """The samples times `gain`, 0 to 1; samples that are not of 16 bits stay as they are."""
    if gain >= 1 or kind.width != 2:
        return frames
    samples = array.array("h", frames)
    if sys.byteorder == "big":
        samples.byteswap()
    samples = array.array("h", [round(sample * gain) for sample in samples])
    if sys.byteorder == "big":
        samples.byteswap()
    return samples.tobytes()


class Scratch:
    """The helper's own folder, made when a file is first needed.

    `place` is its path. The process that starts the helper names it and removes it afterwards,
    because a killed helper cannot. Without one it lies in the system's temporary folder.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._made: Path | None = None

    @property
    def folder(self) -> Path:
        """The folder; OSError where it cannot be made."""
        if self._made is None:
            if self._folder is None:
                self._made = Path(tempfile.mkdtemp(prefix=PREFIX))
            else:
                self._folder.mkdir(mode=0o700)
                self._made = self._folder
        return self._made

    def remove_if_empty(self) -> None:
        """Remove the folder where it is empty."""
        if self._made is not None:
            with suppress(OSError):
                self._made.rmdir()
                self._made = None

    def remove(self) -> None:
        """Remove the folder and what is in it."""
        if self._made is not None:
            shutil.rmtree(self._made, ignore_errors=True)
            self._made = None


class Files:
    """Sounds by name, for players that want a file; changed ones are copies in `scratch`."""

    def __init__(self, lead_s: float, scratch: Scratch) -> None:
        self._lead_s = lead_s
        self._gain = 1.0
        self._scratch = scratch
        self._loaded: dict[str, tuple[Path, Format, bytes]] = {}
        self._known: dict[str, tuple[Path, float]] = {}

    def load(self, name: str, path: Path) -> None:
        """Make `path` known as `name`; reads it, so that a bad file is refused now."""
        kind, frames = read_wav(path)
        self._loaded[name] = path, kind, frames
        self._known[name] = self.changed(path, kind, frames, self._gain, str(len(self._known)))

    def level(self, gain: float) -> None:
        """Make every sound as loud as `gain` says, 0 to 1."""
        if gain == self._gain:
            return
        self._gain = gain
        for number, (name, loaded) in enumerate(self._loaded.items()):
            self._known[name] = self.changed(*loaded, gain, str(number))

    def changed(
        self, path: Path, kind: Format, frames: bytes, gain: float, copy: str
    ) -> tuple[Path, float]:
        """The file to play for a sound, and its length; a copy named `copy` where it differs."""
        if self._lead_s > 0 or gain < 1:
            frames = kind.quiet(self._lead_s) + scaled(kind, frames, gain)
            path = self._scratch.folder / f"{copy}.wav"
            write_wav(path, kind, frames)
        return path, kind.seconds(frames)

    def __getitem__(self, name: str) -> tuple[Path, float]:
        """The file to play for `name`, and its length in seconds."""
        return self._known[name]


@contextmanager
def quiet_file(scratch: Scratch) -> Iterator[Path]:
    """A silent WAV file, there while the block runs.

    Files put beside it are removed with it, and so is its folder if made for it alone.
    """
    path = scratch.folder / "quiet.wav"
    try:
        write_wav(path, PLAIN, PLAIN.quiet(QUIET_S))
        yield path
    finally:
        for one in path.parent.glob("quiet.*"):
            one.unlink(missing_ok=True)
        scratch.remove_if_empty()
