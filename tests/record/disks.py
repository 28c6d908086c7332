"""A file system of a few hundred KiB of its own, to be filled."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class NoDisk(Exception):
    """A small disk can be mounted by root alone, on Linux."""


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """Mount a tmpfs at a new folder. Raises NoDisk."""
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=256k,mode=700", "tmpfs", str(folder)]
    try:
        subprocess.run(mount, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        raise NoDisk(str(NoDisk.__doc__)) from None
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def remount_readonly(folder: Path) -> None:
    """Let nobody write there, root neither. No file may be open for writing."""
    subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)


def fill(folder: Path, *, leave: int = 0) -> None:
    """Write until nothing more fits, then give `leave` bytes back."""
    with (folder / "ballast").open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"x" * 512)
        except OSError:
            pass
        file.truncate(max(file.tell() - leave, 0))


def free(folder: Path) -> None:
    """Make room again."""
    (folder / "ballast").unlink()
