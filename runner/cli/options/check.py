"""The command line of `matside check`."""

from __future__ import annotations

from runner.cli.options.shared import Commands, command, data_option


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "check",
        "check plan files, every fault at once",
        "matside check plans/mine.toml",
        "matside check --schema > plan.schema.json",
    )
    parser.add_argument("plans", metavar="PLAN", nargs="*", help="a path, or the name of a plan")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of plans")
    data_option(parser)
