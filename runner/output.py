"""A file that a command writes: there whole or not at all, and never over another unasked.

It is written beside its name first and moved there once it is whole. That first file is made
exclusively, under a name nobody can guess, for the owner alone: so a link or a file that
somebody else has put there is never followed nor written to. A record is never written over,
by whatever name or link it is reached, for `--force` is typed for a picture or a table.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, TextIO

from runner.errors import Exit, MatsideError
from runner.text import shown

# The first bytes of a SQLite file, and where its application id stands: the file format at
# https://www.sqlite.org/fileformat.html
_SQLITE: Final = b"SQLite format 3\0"
_ID_AT: Final = 68
APPLICATION_ID: Final = 0x6D617473  # "mats"


@contextmanager
def new_file(path: Path, *, force: bool | None) -> Iterator[TextIO]:
    """A file to write that is there whole or not at all, readable by its owner alone.

    `force` writes over a file that exists; None where the command has no --force to name.
    Raises MatsideError: 73 where the file exists or cannot be made, 74 where writing failed.
    """
    name = shown(path)
    refuse_to_replace(path, force=force)
    try:
        part = part_beside(path)
    except OSError as error:
        raise MatsideError(
            f"{name} cannot be made: {error.strerror}", code=Exit.CANT_CREATE
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


def refuse_to_replace(path: Path, *, force: bool | None, backups: bool = False) -> None:
    """Raise MatsideError (73) where a file must not be written at `path`.

    A record of ours is refused whatever `force` says, unless `backups` may be written over.
    """
    name = shown(path)
    try:
        if path.is_dir():
            raise MatsideError(f"{name} is a directory; name a file in it", code=Exit.CANT_CREATE)
        if not path.exists():
            return
        if not backups and is_record(path):
            raise MatsideError(
                f"{name} is a record of matside, and is not written over; name another file",
                code=Exit.CANT_CREATE,
            )
        if not force:
            way = "name another file" + ("" if force is None else ", or --force to write over it")
            raise MatsideError(f"{name} exists; {way}", code=Exit.CANT_CREATE)
    except OSError as error:
        raise MatsideError(
            f"{name} cannot be made: {error.strerror}", code=Exit.CANT_CREATE
        ) from None


def is_record(path: Path) -> bool:
    """Whether the file is a record of ours, or a copy of one. Raises OSError."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        head = file.read(_ID_AT + 4)
    return head.startswith(_SQLITE) and head[_ID_AT:] == APPLICATION_ID.to_bytes(4, "big")


def part_beside(path: Path) -> Path:
    """A new empty file beside `path`, under a name of its own, for the owner alone.

    Raises OSError.
    """
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    os.close(descriptor)
    return Path(name)
