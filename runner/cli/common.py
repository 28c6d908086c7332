"""What several commands share: options with one meaning in each, where data lies, questions.

Light, for every command loads it: what it takes some time to import stands in its functions.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TextIO

from runner.errors import Exit, MatsideError
from runner.live.session_setup import default_trainee
from runner.sound.sounds import read_volume
from runner.text import hanging

YEARS = range(1900, 3000)  # as of dates that are taken from a file; our choice


class Help(argparse.RawDescriptionHelpFormatter):
    """Help as wide as the terminal, whose width is asked for once: each option makes one of these.

    By the rule of `shutil.get_terminal_size`, whose module takes its time to load.
    """

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=_columns() - 2)


@lru_cache(maxsize=1)
def _columns() -> int:
    try:
        columns = int(os.environ.get("COLUMNS", "0"))
    except ValueError:
        columns = 0
    if columns > 0:
        return columns
    try:
        return os.get_terminal_size(1).columns or 80
    except OSError:  # no terminal, or nothing at all
        return 80


def examples(parser: argparse.ArgumentParser, *lines: str) -> None:
    """What stands at the end of a command's help: ways to call it."""
    parser.epilog = "examples:\n" + "\n".join(f"  {line}" for line in lines)


def data_option(parser: argparse.ArgumentParser) -> None:
    """--data DIR."""
    parser.add_argument(
        "--data",
        metavar="DIR",
        type=Path,
        help="where record and own plans lie (else MATSIDE_DATA, else the platform's place)",
    )


def for_option(parser: argparse.ArgumentParser, text: str) -> None:
    """--for NAME; `text` says what it does here."""
    parser.add_argument("--for", dest="trainee", metavar="NAME", help=text)


def session_option(parser: argparse.ArgumentParser) -> None:
    """--session ID."""
    parser.add_argument("--session", metavar="ID", help="which session of the plan; else the due")


def plan_argument(parser: argparse.ArgumentParser) -> None:
    """PLAN."""
    parser.add_argument("plan", metavar="PLAN", help="a path, or the name of a plan: demo")


def heard_options(parser: argparse.ArgumentParser) -> None:
    """--volume and --voice-volume."""
    for name, what in (("--volume", "cues"), ("--voice-volume", "the voice")):
        parser.add_argument(
            name, metavar="N", type=_volume, help=f"how loud {what} shall be, 0 to 100"
        )


def _volume(text: str) -> int:
    try:
        return read_volume(text)
    except ValueError as fault:
        raise argparse.ArgumentTypeError(str(fault)) from None


def data_dir(given: Path | None) -> Path:
    """--data, else MATSIDE_DATA, else the platform's data directory."""
    if given is not None:
        return given
    named = os.environ.get("MATSIDE_DATA")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("matside", appauthor=False))


def trainee_name(given: str | None) -> str:
    """--for, else the login name; without control characters, not empty, not endless."""
    from runner.text import trainee_name as as_recorded

    if given is not None and not given.isprintable():
        given = ""
    name = as_recorded(default_trainee() if given is None else given)
    if not name or len(name) > 60 or not name.isprintable():
        raise MatsideError(
            "--for wants a name of 1 to 60 letters without control characters", code=Exit.USAGE
        )
    return name


def day(text: str | None, option: str) -> date | None:
    """A local date as on the calendar: 2026-11-25; None for an option not given."""
    if text is None:
        return None
    try:
        found = datetime.strptime(text, "%Y-%m-%d").date()  # noqa: DTZ007 - a date has no zone
    except ValueError:
        found = None
    if found is None or found.year not in YEARS:
        raise MatsideError(f"{option} {text!r} is no date; write it as 2026-11-25", code=Exit.USAGE)
    return found


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
