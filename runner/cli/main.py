"""`matside`: reads the command line and hands over to a command."""

from __future__ import annotations

import argparse
import importlib
import io
import os
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import TypeAlias

from runner import __version__
from runner.errors import Exit, MatsideError

EXAMPLES = """\
examples:
  matside run demo                      a session of two minutes, to see how it goes
  matside rehearse kestrel-hut          the timing of a session, before anybody lies on the mat
  matside run plans/mine.toml --for Ada
  matside check plans/mine.toml         every fault of a plan, and what to write instead
  matside export --since 2026-11-01 -o november.csv
  matside cues                          hear every cue, and by which way it plays
"""


def build_parser() -> argparse.ArgumentParser:
    """Every command and option; also what shell completion is made from."""
    parser = argparse.ArgumentParser(
        prog="matside",
        description="Runs a strength session from a laptop beside the mat, and keeps its record.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"matside {__version__}")
    parser.add_argument(
        "--print-completion",
        choices=("bash", "zsh", "tcsh"),
        metavar="SHELL",
        help="print the completion script for bash, zsh or tcsh",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    _run(commands)
    _rehearse(commands)
    _export(commands)
    _check(commands)
    _cues(commands)
    return parser


Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001


def _command(commands: Commands, name: str, text: str, *examples: str) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=text,
        description=text[0].upper() + text[1:] + ".",
        epilog="examples:\n" + "\n".join(f"  {e}" for e in examples),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _data_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--data",
        metavar="DIR",
        type=Path,
        help="where record and own plans lie (else MATSIDE_DATA, else the platform's place)",
    )


def _for_option(parser: argparse.ArgumentParser, text: str) -> None:
    parser.add_argument("--for", dest="trainee", metavar="NAME", help=text)


def _plan_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("plan", metavar="PLAN", help="a path, or the name of a plan: demo")


def _run(commands: Commands) -> None:
    parser = _command(
        commands,
        "run",
        "run a session live",
        "matside run demo",
        "matside run kestrel-hut --session B --for Ada",
        "matside run demo --plain --mute",
    )
    _plan_argument(parser)
    parser.add_argument("--session", metavar="ID", help="which session of the plan; else the due")
    _for_option(parser, "trainee; default the login name")
    parser.add_argument("--plain", action="store_true", help="line mode, without a full screen")
    parser.add_argument("--mute", action="store_true", help="no sound")
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--resume", action="store_true", help="go on with the session cut off")
    which.add_argument("--fresh", action="store_true", help="begin afresh, leave that one open")
    parser.add_argument("--yes", action="store_true", help="the cautions are known")
    _data_option(parser)


def _rehearse(commands: Commands) -> None:
    parser = _command(
        commands,
        "rehearse",
        "show a session's timing beforehand",
        "matside rehearse kestrel-hut",
        "matside rehearse kestrel-hut --session B --json",
    )
    _plan_argument(parser)
    parser.add_argument("--session", metavar="ID", help="which session of the plan; else the due")
    _for_option(parser, "trainee whose record is used; default the login name")
    parser.add_argument("--json", action="store_true", help="the timeline as data")
    _data_option(parser)


def _export(commands: Commands) -> None:
    parser = _command(
        commands,
        "export",
        "write the record as CSV",
        "matside export > record.csv",
        "matside export --for Ada --since 2026-11-01 -o ada.csv",
    )
    parser.add_argument("-o", dest="output", metavar="FILE", type=Path, help="else standard output")
    parser.add_argument("--force", action="store_true", help="write over an existing FILE")
    _for_option(parser, "one trainee only; else everybody")
    parser.add_argument("--plan", metavar="PLAN", help="one plan only: its title, name or path")
    parser.add_argument("--since", metavar="DATE", help="first local date: 2026-11-25")
    parser.add_argument("--until", metavar="DATE", help="last local date, included")
    parser.add_argument("--trial", action="store_true", help="the record of trial plans instead")
    _data_option(parser)


def _check(commands: Commands) -> None:
    parser = _command(
        commands,
        "check",
        "check plan files, every fault at once",
        "matside check plans/mine.toml",
        "matside check --schema > plan.schema.json",
    )
    parser.add_argument("plans", metavar="PLAN", nargs="*", help="a path, or the name of a plan")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of plans")
    _data_option(parser)


def _cues(commands: Commands) -> None:
    parser = _command(
        commands, "cues", "play every cue and say by which way it plays", "matside cues"
    )
    parser.add_argument("cues", metavar="CUE", nargs="*", help="only these")


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
        for line in error.lines:
            print(f"matside: {line}", file=sys.stderr)
        return error.code
    except Exception:  # noqa: BLE001 - said in full, with the code that means "our fault"
        traceback.print_exc()
        print("matside: this is a fault of the program, not yours", file=sys.stderr)
        return Exit.SOFTWARE
    return code


if __name__ == "__main__":
    sys.exit(main())
