"""The command line of `matside cues`."""

from __future__ import annotations

from runner.cli.options.shared import Commands, command, heard_options


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "cues",
        "play every cue and the voice, and say by which way they play",
        "matside cues",
        "matside cues start switch --volume 40",
        "matside cues --say 'hollow hold, thirty seconds'",
    )
    parser.add_argument("cues", metavar="CUE", nargs="*", help="only these")
    parser.add_argument("--say", metavar="TEXT", help="let the voice say this")
    heard_options(parser)
