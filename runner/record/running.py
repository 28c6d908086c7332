"""Which sessions are running: each holds a lock that the system takes back with its process.

A lock is a byte of the file `running.lock` beside the record, its place worked out from the
session's id. The file stays empty, and nothing is left to be tidied up after a crash. Where the
system has no such locks (some network drives), every open session counts as cut off.

So an open session that nobody holds was cut off, and one that somebody holds is neither offered
nor taken over.
"""

from __future__ import annotations

import hashlib
import os
import sys
import time
from pathlib import Path

from runner.output import LOCK

_PATIENCE_S = 0.2  # somebody who only looks has the byte for less than that
# One descriptor a file: closing any would let go of all this process holds there (POSIX).
_opened: dict[Path, int] = {}
_held: set[tuple[Path, int]] = set()

if sys.platform == "win32":
    import msvcrt

    def _lock(file: int, place: int) -> None:
        os.lseek(file, place, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)

    def _unlock(file: int, place: int) -> None:
        os.lseek(file, place, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _lock(file: int, place: int) -> None:
        fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, place)

    def _unlock(file: int, place: int) -> None:
        fcntl.lockf(file, fcntl.LOCK_UN, 1, place)


def hold(record: Path, session_id: str) -> bool:
    """Let a session of that record run in this process; False where it runs in another one."""
    where = _place(record, session_id)
    try:
        file = _open(where[0], os.O_CREAT)
    except OSError:
        return True  # a folder that cannot be written: then nothing of the session is there
    until = time.monotonic() + _PATIENCE_S
    while True:
        try:
            _lock(file, where[1])
        except (BlockingIOError, PermissionError):
            if time.monotonic() >= until:
                return False
            time.sleep(_PATIENCE_S / 10)
            continue
        except OSError:
            return True  # no locks here
        _held.add(where)
        return True


def release(record: Path, session_id: str) -> None:
    """Let go of a session that this process has held."""
    where = _place(record, session_id)
    if where in _held:
        _held.remove(where)
        _unlock(_opened[where[0]], where[1])


def is_running(record: Path, session_id: str) -> bool:
    """Whether a process that is there now has the session."""
    where = _place(record, session_id)
    if where in _held:
        return True
    try:
        file = _open(where[0], 0)
    except OSError:
        return False
    try:
        _lock(file, where[1])
    except (BlockingIOError, PermissionError):
        return True
    except OSError:
        return False
    _unlock(file, where[1])
    return False


def _place(record: Path, session_id: str) -> tuple[Path, int]:
    digest = hashlib.sha256(session_id.encode()).digest()
    return record.absolute().parent / LOCK, int.from_bytes(digest[:6], "big")


def _open(path: Path, flags: int) -> int:
    if path not in _opened:
        _opened[path] = os.open(path, os.O_RDWR | flags, 0o600)
    return _opened[path]
