"""A file that a command writes: there whole or not at all, and never over another unasked."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from runner.errors import Exit, MatsideError
from runner.record.text import shown


@contextmanager
def new_file(path: Path, *, force: bool) -> Iterator[TextIO]:
    """A file to write that is there whole or not at all, readable by its owner alone."""
    name = shown(path)
    try:
        if path.is_dir():
            raise MatsideError(f"{name} is a directory; name a file in it", code=Exit.CANT_CREATE)
        if path.exists() and not force:
            raise MatsideError(
                f"{name} exists; name another file, or --force to write over it",
                code=Exit.CANT_CREATE,
            )
        part = path.with_name(f".{path.name}.part")
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    except OSError as error:
        raise MatsideError(
            f"{name} cannot be made: {error.strerror}", code=Exit.CANT_CREATE
        ) from None
    try:
        with open(descriptor, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123 - a descriptor
            yield file
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise MatsideError(f"{name} cannot be written: {error.strerror}", code=Exit.IO) from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise
