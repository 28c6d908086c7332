"""Exit codes, and the one exception that ends a command with a clear line."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """What the command returns; the numbers from 65 on are those of BSD's sysexits.h."""

    OK = 0
    USAGE = 2
    DATA = 65  # a faulty plan, a record that is not ours or newer
    NO_INPUT = 66  # no such plan, file, session or trainee
    UNAVAILABLE = 69  # an extra or a device that the command cannot do without is missing
    SOFTWARE = 70  # our fault
    CANT_CREATE = 73  # the output exists or cannot be made
    IO = 74  # writing failed
    NO_PERMISSION = 77
    HANGUP = 129
    INTERRUPT = 130
    TERMINATED = 143


class MatsideError(Exception):
    """A fault that a person can mend: `lines` say where, what is wrong, what to do instead."""

    def __init__(self, *lines: str, code: Exit) -> None:
        super().__init__(" ".join(lines))
        self.lines = lines
        self.code = code
