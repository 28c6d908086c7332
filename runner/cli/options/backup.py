"""The command line of `matside backup`."""

from __future__ import annotations

from pathlib import Path

from runner.cli.options.shared import Commands, command, data_option


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "backup",
        "copy the record to a file, also during a session",
        "matside backup record-november.db",
        "matside backup --trial trial-november.db",
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="the backup; readable by you alone")
    parser.add_argument("--force", action="store_true", help="write over an existing FILE")
    parser.add_argument("--trial", action="store_true", help="the record of trial plans instead")
    data_option(parser)
