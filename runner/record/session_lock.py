"""Which sessions are running: each holds a lock that the system releases when its process ends.

A lock is one byte of the file `running.lock` beside the record, at an offset computed from the
session's id. The file stays empty, and a crash leaves nothing to tidy up. On a system without such
locks (some network drives) every open session counts as cut off.

So an open session without a lock was cut off. One with a lock is neither offered nor taken over.
"""

from __future__ import annotations

import hashlib
import os
import sys
import time
from pathlib import Path

from runner.output import LOCK

_PATIENCE_S = 0.2  # seconds; a process that only asks holds the byte for less
# One descriptor for each file: closing any would release all locks of this process there (POSIX).
_opened: dict[Path, int] = {}
_claimed: set[tuple[Path, int]] = set()

if sys.platform == "win32":
    import msvcrt

    def _lock(file: int, offset: int) -> None:
        os.lseek(file, offset, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)

    def _unlock(file: int, offset: int) -> None:
        os.lseek(file, offset, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _lock(file: int, offset: int) -> None:
        fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, offset)

    def _unlock(file: int, offset: int) -> None:
        fcntl.lockf(file, fcntl.LOCK_UN, 1, offset)


def claim(record: Path, session_id: str) -> bool:
    """Mark a session of that record as running in this process; False where it runs in another."""
    where = _lock_place(record, session_id)
    try:
        file = _open(where[0], os.O_CREAT)
    except OSError:
        return True  # the folder cannot be written, so the session is not kept there either
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
        _claimed.add(where)
        return True


def release(record: Path, session_id: str) -> None:
    """Give up a session that this process had claimed."""
    where = _lock_place(record, session_id)
    if where in _claimed:
        _claimed.remove(where)
        _unlock(_opened[where[0]], where[1])


def is_running(record: Path, session_id: str) -> bool:
    """Whether a living process has claimed the session."""
    where = _lock_place(record, session_id)
    if where in _claimed:
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


def _lock_place(record: Path, session_id: str) -> tuple[Path, int]:
    digest = hashlib.sha256(session_id.encode()).digest()
    # 31 bits: Windows' C library and `lseek` on some file systems take no larger offset.
    return record.absolute().parent / LOCK, int.from_bytes(digest[:4], "big") >> 1


def _open(path: Path, flags: int) -> int:
    if path not in _opened:
        _opened[path] = os.open(path, os.O_RDWR | flags, 0o600)
    return _opened[path]
