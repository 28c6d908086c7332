"""The command line of `matside pairs`."""

from __future__ import annotations

from pathlib import Path

from runner.cli.options.shared import (
    Commands,
    command,
    data_option,
    for_option,
    plan_argument,
    session_option,
)


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "pairs",
        "find which exercises may alternate, or the shortest order of blocks",
        "matside pairs kestrel-hut --session B",
        "matside pairs kestrel-hut --order",
        "matside pairs mine.toml --write mine.toml",
    )
    plan_argument(parser)
    session_option(parser)
    for_option(parser, "trainee whose record is used; default the login name")
    parser.add_argument("--order", action="store_true", help="the shortest order of the blocks")
    parser.add_argument(
        "--write", metavar="FILE", type=Path, help="write the plan with these blocks; may be PLAN"
    )
    parser.add_argument("--force", action="store_true", help="write over another existing FILE")
    data_option(parser)
