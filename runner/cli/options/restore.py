"""The command line of `matside restore`."""

from __future__ import annotations

from pathlib import Path

from runner.cli.options.shared import Commands, command, data_option


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "restore",
        "put a backup in the record's place; shows first what would be lost",
        "matside restore record-november.db",
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="a backup")
    parser.add_argument("--yes", action="store_true", help="do it without asking")
    parser.add_argument("--trial", action="store_true", help="the record of trial plans instead")
    data_option(parser)
