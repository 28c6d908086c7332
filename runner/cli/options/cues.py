"""The command line of `matside cues`."""

from __future__ import annotations

from runner.cli.options.shared import Commands, command


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands, "cues", "play every cue and say by which way it plays", "matside cues"
    )
    parser.add_argument("cues", metavar="CUE", nargs="*", help="only these")
