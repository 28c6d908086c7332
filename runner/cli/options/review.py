"""The command line of `matside review`."""

from __future__ import annotations

from pathlib import Path

from runner.cli.options.shared import Commands, command, data_option, for_option


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "review",
        "look back: trends, weeks against their targets, sessions, bests",
        "matside review --for Ada",
        "matside review --for Ada --plain --since 2026-09-01 --exercise push-up",
        "matside review --for Ada --svg pictures",
    )
    for_option(parser, "trainee; default the login name")
    parser.add_argument("--plain", action="store_true", help="as text, without a full screen")
    parser.add_argument("--since", metavar="DATE", help="first local date: 2026-11-25")
    parser.add_argument("--until", metavar="DATE", help="last local date, included")
    parser.add_argument("--exercise", metavar="NAME", help="one exercise only: its id or name")
    parser.add_argument("--svg", metavar="DIR", type=Path, help="write pictures into DIR instead")
    parser.add_argument("--force", action="store_true", help="write over existing pictures")
    parser.add_argument("--trial", action="store_true", help="the record of trial plans instead")
    data_option(parser)
