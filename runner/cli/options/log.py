"""The command line of `matside log`."""

from __future__ import annotations

from runner.cli.options.shared import (
    Commands,
    command,
    data_option,
    for_option,
    session_option,
)


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "log",
        "write up a session from paper, or put entries of a closed one right",
        "matside log kestrel-hut --on 2026-11-23 --session B --for Ada",
        "matside log --fix --on 2026-11-23 --for Ada",
    )
    parser.add_argument(
        "plan", metavar="PLAN", nargs="?", help="a path, or the name of a plan: demo"
    )
    parser.add_argument(
        "--on", metavar="DATE", help="the local date on which it was begun: 2026-11-23"
    )
    parser.add_argument("--at", metavar="TIME", help="when it was begun, if known: 06:30")
    session_option(parser)
    for_option(parser, "trainee; default the login name")
    parser.add_argument("--fix", action="store_true", help="put entries of a closed session right")
    parser.add_argument("--id", metavar="ID", help="with --fix: which session of that date")
    parser.add_argument("--trial", action="store_true", help="with --fix: of the trial record")
    parser.add_argument("--yes", action="store_true", help="keep it without asking")
    data_option(parser)
