"""Loaded by every Python that has this folder on PYTHONPATH: notes what could let something in.

One line of JSON for each socket that is made or connected, each program that is started, each
shell and each file that is opened for writing; into the file that MATSIDE_AUDIT names.
"""

from __future__ import annotations

import json
import os
import sys

_PROGRAMS = frozenset({"subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "pty.spawn"})
_log = os.environ.get("MATSIDE_AUDIT")
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT


def _note(event: str, arguments: tuple[object, ...]) -> None:
    told: list[object]
    if event.startswith("socket."):
        told = [str(int(one)) if isinstance(one, int) else repr(one) for one in arguments[1:]]
    elif event in _PROGRAMS:
        told = [_texts(one) for one in arguments[:2]]
    elif event == "open" and isinstance(arguments[2], int) and arguments[2] & _WRITES:
        told = [_texts(arguments[0])]
    elif event in {"os.mkdir", "os.rename", "os.link", "os.symlink"}:
        told = [_texts(one) for one in arguments[:2]]
    else:
        return
    line = json.dumps([event, *told]) + "\n"
    os.write(_file, line.encode())


def _texts(value: object) -> object:
    if isinstance(value, list | tuple):
        return [_texts(one) for one in value]
    return os.fsdecode(value) if isinstance(value, str | bytes | os.PathLike) else repr(value)


if _log:
    _file = os.open(_log, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    sys.addaudithook(_note)
