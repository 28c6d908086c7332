"""The command line of `matside forget`."""

from __future__ import annotations

from pathlib import Path

from runner.cli.options.shared import Commands, command, data_option


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "forget",
        "export one person's data, then erase it for good",
        "matside forget Ada -o ada",
        "matside forget Ada -o ada --yes --again Ada",
    )
    parser.add_argument("name", metavar="NAME", help="the trainee")
    parser.add_argument(
        "-o", dest="output", metavar="DIR", type=Path, required=True, help="where the CSV files go"
    )
    parser.add_argument("--yes", action="store_true", help="the first question is answered")
    parser.add_argument("--again", metavar="NAME", help="the second one: the name again")
    data_option(parser)
