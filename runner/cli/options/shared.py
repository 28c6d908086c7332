"""Options and arguments that several commands have, with the same meaning in each."""

from __future__ import annotations

import argparse
import os
from functools import lru_cache
from pathlib import Path
from typing import TypeAlias

from runner.sound.levels import read_volume


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


Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001


def command(commands: Commands, name: str, text: str, *examples: str) -> argparse.ArgumentParser:
    """A command's parser: `text` for the list of commands, `examples` for its own help."""
    return commands.add_parser(
        name,
        help=text,
        description=text[0].upper() + text[1:] + ".",
        epilog="examples:\n" + "\n".join(f"  {e}" for e in examples),
        formatter_class=Help,
    )


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
