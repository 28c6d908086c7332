"""`matside`: reads the command line and runs a command.

argparse is in the standard library and starts fast; shtab (0.2 MB) makes completion for three
shells from its parser. Only the module of the named command is imported, so `export` loads no user
interface and `--help` no plan.
"""

from __future__ import annotations

import argparse
import atexit
import gc
import importlib
import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from functools import partial
from typing import Any, NoReturn, TextIO

from runner import __version__
from runner.cli.common import Help
from runner.errors import Exit, MatsideError

# By name: the command's module, and its line in the list of commands.
COMMANDS = {
    "run": ("run", "run a session live"),
    "rehearse": ("rehearse", "show a session's timing before you start"),
    "compose": ("compose", "compose a balanced week from a shelf, for the time you have"),
    "pairs": ("pairs", "find the best pairs of exercises, or the shortest order"),
    "log": ("log", "enter a session from paper, or correct a closed one"),
    "next": ("next", "show working levels and advice; accept, refuse, or set a level"),
    "review": ("review", "look back: what needs a look, trends, weeks, bests"),
    "roster": ("roster", "show one line for each trainee, those who need a look first"),
    "sheet": ("sheet", "write a session's page for print and phone, as one HTML file"),
    "export": ("export", "write the record as CSV"),
    "for": ("person", "show or edit how a plan differs for one person"),
    "check": ("check", "check plan files, every fault at once"),
    "show": ("show", "show the card of an exercise: movement, tips, progression"),
    "cues": ("cues", "play every cue and the voice, and name what plays them"),
    "handover": ("handover", "write everything of one person to a file, for another laptop"),
    "receive": ("receive", "take in a handover; shows it, then asks"),
    "backup": ("backup", "copy the record to a file, also during a session"),
    "restore": ("restore", "replace the record with a backup; shows it, then asks"),
    "import": ("bring_in", "import a CSV, all rows or none; shows them, then asks"),
    "forget": ("forget", "export one person's data, then erase it for good"),
    "help": ("help", "explain a topic: keys, words, columns, plan, cues, files"),
}
TODAY = ("today", "what is due today, without a command")
NEW_OBJECTS = (
    200_000  # objects between two garbage collections; our choice, twice what a session loads
)
EXAMPLES = """\
examples:
  matside                               what is due today, and what to type
  matside run demo                      a demo session of two minutes
  matside rehearse kestrel-hut          the timing of a session
  matside run plans/mine.toml --for Ada
  matside check plans/mine.toml         every fault of a plan
  matside export --since 2026-11-01 -o november.csv
  matside cues                          hear every cue
"""


class OneLine(argparse.ArgumentParser):
    """Reports wrong usage in one line, like any other mistake."""

    def error(self, message: str) -> NoReturn:
        """Exit with that line and the code for wrong usage."""
        from runner.text import escaped

        line = escaped(f"matside: {message}; see {self.prog} --help")
        self.exit(Exit.USAGE, f"{line}\n")

    def print_help(self, file: Any = None) -> None:
        """Show help like any other page: through the pager where it fills more than a screen."""
        if file is None and sys.stdout.isatty():
            from runner.cli.common import show_lines

            show_lines(self.format_help().splitlines())
        else:
            super().print_help(file)


def build_parser(*wanted: str) -> argparse.ArgumentParser:
    """Build the parser of the command `wanted`, with its options.

    Without `wanted` it has every command with its options: completion needs them. With a word
    that names no command it has every command without options: the help needs no more.
    """
    parser = OneLine(
        prog="matside",
        description="Runs a strength session from a laptop beside the mat, and keeps its record.\n"
        "Without a command: what is due today.",
        epilog=EXAMPLES,
        formatter_class=partial(Help, max_help_position=14),
    )
    parser.add_argument("--version", action="version", version=f"matside {__version__}")
    parser.add_argument(
        "--print-completion",
        choices=("bash", "zsh", "tcsh"),
        metavar="SHELL",
        help="print the completion script for bash, zsh or tcsh",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for name in [name for name in wanted if name in COMMANDS] or COMMANDS:
        module, text = COMMANDS[name]
        described = text[0].upper() + text[1:] + "."
        command = commands.add_parser(name, help=text, description=described, formatter_class=Help)
        if name in wanted or not wanted:
            _module(module).options(command)
    return parser


def _module(name: str) -> Any:
    return importlib.import_module(f"runner.cli.{name}")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code."""
    _open_what_is_closed()
    _leave_loaded_alone()
    argv = sys.argv[1:] if argv is None else argv
    # Loads only the named command, for loading takes time; completion needs all.
    parser = build_parser() if "--print-completion" in argv else build_parser(*argv[:1] or [""])
    args = parser.parse_args(argv)
    if args.print_completion:
        import shtab

        print(shtab.complete(parser, shell=args.print_completion))
        return Exit.OK
    return _run_command(args)


def _open_what_is_closed() -> None:
    """A standard stream that was closed before the start is the null device from here on.

    Python has None there, and the number would go to the next file that is opened: the record.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115 - stays


def _leave_loaded_alone() -> None:
    """Keep the garbage collector off what is loaded, for it stays to the end.

    Otherwise the collector looks at it after every 700 new objects (before 3.13), and several times
    as Python ends. `check demo` takes 260 ms of processor time over a bare Python; freezing at the
    end saves 40 ms of it, and the threshold 10 (medians of 15 runs each, in turn).
    """
    gc.set_threshold(NEW_OBJECTS)
    atexit.register(gc.freeze)


def _run_command(args: argparse.Namespace) -> int:
    """Run the command that `args` name and report any error; returns the exit code."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A character that the terminal's encoding lacks must not end a session.
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        module, _ = COMMANDS.get(args.command, TODAY)
        code = int(_module(module).main(args))
        if code == Exit.OK:  # after a signal unread output is no error
            sys.stdout.flush()
    except BrokenPipeError:
        return Exit.OK  # the reader of the output has closed it
    except KeyboardInterrupt:
        return Exit.INTERRUPT
    except MatsideError as error:
        # It may hold names of files and people, whose characters must not control the terminal.
        from runner.text import escaped

        for line in error.lines:
            print(f"matside: {escaped(line)}", file=sys.stderr)
        return error.code
    except Exception:  # noqa: BLE001 - said in full, with the code that means "our fault"
        import traceback

        traceback.print_exc()
        print("matside: this is a fault in matside, not in your input", file=sys.stderr)
        return Exit.SOFTWARE
    finally:
        for stream in (sys.stdout, sys.stderr):
            _flush_or_drop(stream)
    return code


def _flush_or_drop(stream: TextIO) -> None:
    """Write the rest of a stream; give it a sink where nobody reads it any more.

    Python flushes again as it ends, and where that fails it ends with its own code, 120: after a
    closed pipe, or a terminal whose window is gone.
    """
    try:
        stream.flush()
    except (OSError, ValueError):
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


if __name__ == "__main__":
    sys.exit(main())
