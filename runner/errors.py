"""Exit codes, and the one exception that ends a command with a clear line."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """What the command returns; the numbers from 65 on are those of BSD's sysexits.h."""

    OK = 0
    USAGE = 2
    DATA = 65
    NO_INPUT = 66
    UNAVAILABLE = 69
    SOFTWARE = 70
    CANT_CREATE = 73
    IO = 74
    NO_PERMISSION = 77
    HANGUP = 129
    INTERRUPT = 130
    TERMINATED = 143


MEANINGS = {
    Exit.OK: "all is well, warnings included",
    Exit.USAGE: "wrong usage",
    Exit.DATA: "a faulty plan; a record of another program, or of a newer matside",
    Exit.NO_INPUT: "unknown plan, file, session or trainee",
    Exit.UNAVAILABLE: "a needed extra or device is missing",
    Exit.SOFTWARE: "a fault of the program",
    Exit.CANT_CREATE: "the output exists, or cannot be created",
    Exit.IO: "writing failed; the record lacks a part of the session",
    Exit.NO_PERMISSION: "not permitted",
    Exit.HANGUP: "ended because the terminal closed; the session stays open",
    Exit.INTERRUPT: "ended by Ctrl+C; the session stays open",
    Exit.TERMINATED: "ended by a signal to stop; the session stays open",
}


class MatsideError(Exception):
    """A fault that a person can mend: `lines` say where, what is wrong, what to do instead."""

    def __init__(self, *lines: str, code: Exit) -> None:
        super().__init__(" ".join(lines))
        self.lines = lines
        self.code = code
