"""Questions before something is replaced or erased, and what is told around them."""

from __future__ import annotations

import shutil
import sys
from typing import TextIO

from runner.core.wrapping import hanging
from runner.errors import Exit, MatsideError


def tell(line: str, out: TextIO | None = None) -> None:
    """A line as wide as the terminal; what reads along from a pipe gets it in one.

    To standard error, unless `out` says where.
    """
    text = "".join(c if c.isprintable() else "?" for c in line)
    out = out or sys.stderr
    wide = shutil.get_terminal_size().columns if out.isatty() else max(len(text), 1)
    print("\n".join(hanging(text, wide)), file=out)


def confirmed(question: str, *, yes: bool, option: str = "--yes") -> bool:
    """Whether the person says yes: by an option, else asked for on the terminal.

    Raises MatsideError (2) where nobody can be asked.
    """
    if yes:
        return True
    return typed(f"{question} [yes/no] ", option).casefold() in {"y", "yes"}


def typed(question: str, option: str) -> str:
    """What the person types. Raises MatsideError (2) where nobody can be asked."""
    if not sys.stdin.isatty():
        raise MatsideError(
            f"nobody can be asked here; say it beforehand: {option}", code=Exit.USAGE
        )
    print(question, end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip()
