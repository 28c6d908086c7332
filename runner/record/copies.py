"""Copies of a record that are made by themselves, before something replaces what it holds.

They lie in `copies/` beside the record, for the owner alone, numbered in the order in which they
were made: `record-0003-form-2.db`. Only the newest few are kept.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

from runner.record import faults, files
from runner.record.new_file import part_beside

KEPT = 3  # of each record; our choice
FOLDER = "copies"


def copies(path: Path) -> list[Path]:
    """The copies of the record at `path` that are there, the oldest first."""
    form = re.compile(rf"{re.escape(path.stem)}-([0-9]{{4,}})-[a-z0-9-]+{re.escape(path.suffix)}")
    folder = path.parent / FOLDER
    try:
        found = [(int(m[1]), p) for p in folder.iterdir() if (m := form.fullmatch(p.name))]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise faults.from_os(folder, error) from error
    return [p for _, p in sorted(found)]


def half_made(path: Path) -> list[Path]:
    """What is left in that folder of copies of the record at `path` that were cut off."""
    return sorted((path.parent / FOLDER).glob(f".{path.stem}-*{path.suffix}.part*"))


def keep_copy(
    connection: sqlite3.Connection, path: Path, why: str, spare: Path | None = None
) -> Path:
    """Copy the record that `connection` has open; `why` becomes part of the name.

    The oldest copies beyond `KEPT` go, but never `spare`, which is still to be read. Raises
    Unwritable where none can be made; then nothing must be replaced.
    """
    there = copies(path)
    last = int(re.sub(r"\D.*", "", there[-1].stem[len(path.stem) + 1 :])) if there else 0
    target = path.parent / FOLDER / f"{path.stem}-{last + 1:04}-{why}{path.suffix}"
    copy_to(connection, target)
    for old in [*there, target][:-KEPT]:
        if spare is None or not old.samefile(spare):
            old.unlink(missing_ok=True)
    return target


def copy_to(connection: sqlite3.Connection, target: Path) -> None:
    """Copy a record into a file, whole or not at all; what was there is replaced.

    SQLite's own backup, in one step: it has all that was committed, whoever is writing. Raises
    Unwritable.
    """
    try:
        files.make_folder(target.parent)
        part = part_beside(target)
        try:
            with closing(files.connect(part)) as made:
                connection.backup(made)
                files.make_durable(made)
            part.replace(target)
        except sqlite3.Error as error:
            raise faults.copy_failed(target, error) or error from error
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise faults.copy_failed(target, error) or error from error
