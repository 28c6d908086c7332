"""The command line of `matside run`."""

from __future__ import annotations

from runner.cli.options.shared import (
    Commands,
    command,
    data_option,
    for_option,
    heard_options,
    plan_argument,
    session_option,
)


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "run",
        "run a session live",
        "matside run demo",
        "matside run kestrel-hut --session B --for Ada",
        "matside run demo --plain --mute",
        "matside run kestrel-hut --voice on --volume 60",
    )
    plan_argument(parser)
    session_option(parser)
    for_option(parser, "trainee; default the login name")
    parser.add_argument("--plain", action="store_true", help="line mode, without a full screen")
    parser.add_argument("--mute", action="store_true", help="no sound")
    parser.add_argument(
        "--voice",
        choices=("off", "on", "names"),
        help="what is spoken: nothing, all, or names alone (else MATSIDE_VOICE, else off)",
    )
    heard_options(parser)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--resume", action="store_true", help="go on with the session cut off")
    which.add_argument("--fresh", action="store_true", help="begin afresh, leave that one open")
    parser.add_argument("--yes", action="store_true", help="the cautions are known")
    parser.add_argument("--within", metavar="TIME", help="there is so much time for it: 35m")
    parser.add_argument("--until", metavar="TIME", help="it should be over by then: 07:10")
    data_option(parser)
