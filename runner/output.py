"""A file that a command writes: there whole or not at all, and never over another unasked.

It is written beside its name first and moved there once it is whole. That first file is made
exclusively, under a name nobody can guess, for the owner alone: so a link or a file that
somebody else has put there is never followed nor written to. A record is never written over,
by whatever name or link it is reached, for `--force` is typed for a picture or a table. The names
that the program keeps for itself in the data directory are refused also where no file is there.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, TextIO

from runner.errors import Exit, MatsideError
from runner.text import shown

# The first bytes of a SQLite file, and where its application id stands: the file format at
# https://www.sqlite.org/fileformat.html
SQLITE: Final = b"SQLite format 3\0"
_ID_AT: Final = 68
APPLICATION_ID: Final = 0x6D617473  # "mats"
# What the program keeps in a data directory. SQLite's own files beside a record: "Temporary Files
# Used By SQLite" at https://www.sqlite.org/tempfiles.html
RECORD: Final = "record.db"
TRIAL: Final = "trial.db"
LOCK: Final = "running.lock"
COPIES: Final = "copies"
_BESIDE: Final = ("-journal", "-wal", "-shm")


def record_path(data: Path, *, trial: bool) -> Path:
    """The record that a plan's sessions are kept in, in the data directory."""
    return data / (TRIAL if trial else RECORD)


_UNSAFE: Final = re.compile(r'[%/\\:*?"<>|\x00-\x1f\x7f]|^\.|[. ]$')


def overlay_path(data: Path, trainee: str) -> Path:
    """The file of a person's overlay; what a file name cannot hold is percent-encoded."""
    name = _UNSAFE.sub(lambda found: f"%{ord(found[0]):02X}", trainee)
    return data / "people" / f"{name}.toml"


@contextmanager
def new_file(path: Path, *, force: bool | None, data: Path | None) -> Iterator[TextIO]:
    """A file to write that is there whole or not at all, readable by its owner alone.

    `force` writes over a file that exists; None where the command has no --force to name. `data`
    is the data directory in use, None without one.
    Raises MatsideError: 73 where the file exists or cannot be made, 74 where writing failed.
    """
    name = shown(path)
    refuse_to_replace(path, force=force, data=data)
    try:
        part = part_beside(path)
    except OSError as error:
        raise MatsideError(
            f"{name} cannot be created: {error.strerror}", code=Exit.CANT_CREATE
        ) from None
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            yield file
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise MatsideError(f"{name} cannot be written: {error.strerror}", code=Exit.IO) from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def refuse_to_replace(
    path: Path, *, force: bool | None, data: Path | None, backups: bool = False
) -> None:
    """Raise MatsideError (73) where a file must not be written at `path`.

    A record of ours is refused whatever `force` says, unless `backups` may be written over. So is
    what the program keeps for itself in the data directory `data`.
    """
    name = shown(path)
    try:
        if _is_kept(path, data):
            raise MatsideError(
                f"matside keeps {name} for itself; name another file", code=Exit.CANT_CREATE
            )
        if path.is_dir():
            raise MatsideError(f"{name} is a directory; name a file in it", code=Exit.CANT_CREATE)
        if not path.exists():
            return
        if not backups and is_record(path):
            raise MatsideError(
                f"{name} is a record of matside, which stays untouched; name another file",
                code=Exit.CANT_CREATE,
            )
        if not force:
            way = "name another file" + (
                "" if force is None else ", or pass --force to overwrite it"
            )
            raise MatsideError(f"{name} exists; {way}", code=Exit.CANT_CREATE)
    except OSError as error:
        raise MatsideError(
            f"{name} cannot be created: {error.strerror}", code=Exit.CANT_CREATE
        ) from None


def _is_kept(path: Path, data: Path | None) -> bool:
    """Whether the program keeps that name for itself, whether a file is there or not."""
    name, folder = path.name.casefold(), path.parent  # some file systems do not tell A from a
    stem = next((name.removesuffix(end) for end in _BESIDE if name.endswith(end)), name)
    if stem != name and is_record(path.with_name(path.name[: len(stem)])):
        return True
    if name == LOCK and (is_record(folder / RECORD) or is_record(folder / TRIAL)):
        return True
    if data is None:
        return False
    if _is_same_folder(folder, data):
        return name == LOCK or stem in (RECORD, TRIAL)
    return _is_same_folder(folder, data / COPIES)


def _is_same_folder(one: Path, other: Path) -> bool:
    if one.exists() and other.exists():
        return one.samefile(other)
    return one.resolve() == other.resolve()


def is_record(path: Path) -> bool:
    """Whether the file is a record of ours, or a copy of one. Raises OSError."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        head = file.read(_ID_AT + 4)
    return head.startswith(SQLITE) and head[_ID_AT:] == APPLICATION_ID.to_bytes(4, "big")


def part_beside(path: Path) -> Path:
    """A new empty file beside `path`, under a name of its own, for the owner alone.

    Raises OSError.
    """
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    os.close(descriptor)
    return Path(name)
