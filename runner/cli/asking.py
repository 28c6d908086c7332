"""Questions before something is replaced or erased."""

from __future__ import annotations

import sys

from runner.errors import Exit, MatsideError


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
