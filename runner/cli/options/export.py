"""The command line of `matside export`."""

from __future__ import annotations

from pathlib import Path

from runner.cli.options.shared import Commands, command, data_option, for_option

WHAT = ("sets", "sessions", "weeks", "held")


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "export",
        "write the record as CSV",
        "matside export > record.csv",
        "matside export --for Ada --since 2026-11-01 -o ada.csv",
        "matside export --what weeks -o weeks.csv",
    )
    parser.add_argument(
        "--what",
        choices=WHAT,
        default=WHAT[0],
        help="a row for each set (default), each session, each week and muscle, each version held",
    )
    parser.add_argument("-o", dest="output", metavar="FILE", type=Path, help="else standard output")
    parser.add_argument("--force", action="store_true", help="write over an existing FILE")
    for_option(parser, "one trainee only; else everybody")
    parser.add_argument("--plan", metavar="PLAN", help="one plan only: its title, name or path")
    parser.add_argument("--since", metavar="DATE", help="first local date: 2026-11-25")
    parser.add_argument("--until", metavar="DATE", help="last local date, included")
    parser.add_argument("--trial", action="store_true", help="the record of trial plans instead")
    data_option(parser)
