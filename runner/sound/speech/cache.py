"""Rendered phrases, kept by their content so that tomorrow's session finds today's.

A file's name is made from everything that its sound depends on. The folder is readable by its owner
alone, for names of exercises say what somebody trains, and it never grows past a bound.
"""

from __future__ import annotations

import hashlib
import os
import sys
import time
import wave
from collections.abc import Mapping
from pathlib import Path

import platformdirs

from runner.sound.wav import Format, read_wav, write_wav

SETTING = "MATSIDE_CACHE"  # another place for what can be made again
MAKE = 1  # to be raised when phrases are levelled otherwise: then nothing old is found
MOST_BYTES = 32 * 1024 * 1024  # a session has about 8 MB; our choice
STALE_S = 3600.0  # a half-written file so old belongs to nobody


def phrase_folder(environ: Mapping[str, str]) -> Path:
    """Where phrases are kept: under MATSIDE_CACHE, else the platform's cache directory."""
    named = environ.get(SETTING)
    root = Path(named) if named else Path(platformdirs.user_cache_dir("matside", appauthor=False))
    return root / "voice"


class Cache:
    """The folder of phrases of one engine and version."""

    def __init__(self, folder: Path, engine: str, version: str) -> None:
        """Make the folder where it is not there; OSError where it cannot be used safely."""
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
        """How long the phrase is that is kept for a text; None where there is none whole."""
        path = self.folder / self.name(text)
        try:
            kind, frames = read_wav(path)
            os.utime(path)
        except (OSError, EOFError, wave.Error):
            return None
        return kind.seconds(frames) or None

    @property
    def scratch(self) -> Path:
        """A file of this process alone."""
        return self.folder / f"part-{os.getpid()}.wav"

    def keep(self, text: str, kind: Format, frames: bytes) -> None:
        """Keep a phrase: whole or not at all."""
        os.close(os.open(self.scratch, os.O_WRONLY | os.O_CREAT, 0o600))
        write_wav(self.scratch, kind, frames)
        self.scratch.replace(self.folder / self.name(text))

    def tidy(self, most: int = MOST_BYTES) -> None:
        """Remove what was not used for the longest time, down to three quarters of the bound."""
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
