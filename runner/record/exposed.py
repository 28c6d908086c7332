"""Whether others on the machine can get at a record, by the permissions of its file and folder."""

from __future__ import annotations

import os
import shlex
import stat
from pathlib import Path

from runner.record.text import shown

_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def exposed(path: Path) -> str | None:
    """One line that says what others can get at, and the remedy; None where they cannot.

    Where there are no POSIX permissions, or no such file, nothing is known and nothing said.
    """
    if os.name != "posix":
        return None
    try:
        file, folder = path.stat(), path.absolute().parent.stat()
    except OSError:
        return None
    open_file, open_folder = bool(file.st_mode & _OTHERS), bool(folder.st_mode & _OTHERS)
    if not (open_file or open_folder):
        return None
    remedies = []
    # A folder that is not the person's alone has other uses: it is not for us to close it.
    theirs = folder.st_uid != os.getuid() or bool(folder.st_mode & stat.S_ISVTX)
    if open_folder and not theirs:
        remedies.append(f"chmod 700 {_word(path.parent)}")
    if open_file:
        remedies.append(f"chmod 600 {_word(path)}")
    if open_folder and theirs:
        remedies.append("a folder of your own (--data DIR)")
    what = " and its folder" if open_file and open_folder else ""
    which = shown(path) + what if open_file else f"the folder of {shown(path)}"
    return f"others on this machine can open {which}; to keep it to yourself: " + ", ".join(
        remedies
    )


def _word(path: Path) -> str:
    """A path as a shell takes it."""
    return shlex.quote(shown(path))
