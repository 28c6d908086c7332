"""`matside`: reads the command line and hands over to a command."""

from __future__ import annotations

import argparse
import atexit
import gc
import importlib
import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from runner import __version__
from runner.cli.options import (
    backup,
    bring_in,
    check,
    cues,
    export,
    forget,
    log,
    next as next_,
    pairs,
    rehearse,
    restore,
    review,
    run,
    shared,
)
from runner.errors import Exit, MatsideError

COMMANDS = (
    run,
    rehearse,
    pairs,
    log,
    next_,
    review,
    export,
    check,
    cues,
    backup,
    restore,
    bring_in,
    forget,
)
NEW_OBJECTS = 50_000  # between two looks for rubbish; about what a session loads; our choice
EXAMPLES = """\
examples:
  matside run demo                      a session of two minutes, to see how it goes
  matside rehearse kestrel-hut          the timing of a session, before anybody lies on the mat
  matside run plans/mine.toml --for Ada
  matside check plans/mine.toml         every fault of a plan, and what to write instead
  matside export --since 2026-11-01 -o november.csv
  matside cues                          hear every cue, and by which way it plays
"""


class OneLine(argparse.ArgumentParser):
    """Says what is wrong in one line, as any other mistake is said."""

    def error(self, message: str) -> NoReturn:
        """End with that line and the code for wrong usage."""
        from runner.plan.words import shown

        line = shown(f"matside: {message}; {self.prog} --help shows what there is")
        self.exit(Exit.USAGE, f"{line}\n")


def build_parser() -> argparse.ArgumentParser:
    """Every command and option; also what shell completion is made from."""
    parser = OneLine(
        prog="matside",
        description="Runs a strength session from a laptop beside the mat, and keeps its record.",
        epilog=EXAMPLES,
        formatter_class=shared.Help,
    )
    parser.add_argument("--version", action="version", version=f"matside {__version__}")
    parser.add_argument(
        "--print-completion",
        choices=("bash", "zsh", "tcsh"),
        metavar="SHELL",
        help="print the completion script for bash, zsh or tcsh",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for options in COMMANDS:
        options.add(commands)
    return parser


def data_dir(given: Path | None) -> Path:
    """--data, else MATSIDE_DATA, else the platform's data directory."""
    if given is not None:
        return given
    named = os.environ.get("MATSIDE_DATA")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("matside", appauthor=False))


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code."""
    _leave_loaded_alone()
    parser = build_parser()
    args = parser.parse_args(argv)
    if args.print_completion:
        import shtab

        print(shtab.complete(parser, shell=args.print_completion))
        return Exit.OK
    if args.command is None:
        parser.print_help()
        return Exit.USAGE
    return _run_command(args)


def _leave_loaded_alone() -> None:
    """What is loaded stays to the end, so Python need not keep looking for rubbish in it.

    It would at every 700 new objects (before 3.13), and several times as it ends.
    """
    gc.set_threshold(NEW_OBJECTS)
    atexit.register(gc.freeze)


def _run_command(args: argparse.Namespace) -> int:
    """Run the command that `args` name, whatever becomes of it; the exit code."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A sign that the terminal's encoding lacks must not end a session.
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        command = importlib.import_module(f"runner.cli.{args.command}")
        code = int(command.main(args))
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read our output has had enough. Python flushes again at exit: give it a sink.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return Exit.OK
    except KeyboardInterrupt:
        return Exit.INTERRUPT
    except MatsideError as error:
        # Names of files and of people stand in it: no sign of theirs drives the terminal.
        from runner.plan.words import shown

        for line in error.lines:
            print(f"matside: {shown(line)}", file=sys.stderr)
        return error.code
    except Exception:  # noqa: BLE001 - said in full, with the code that means "our fault"
        import traceback

        traceback.print_exc()
        print("matside: this is a fault of the program, not yours", file=sys.stderr)
        return Exit.SOFTWARE
    return code


if __name__ == "__main__":
    sys.exit(main())
