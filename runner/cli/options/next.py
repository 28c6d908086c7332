"""The command line of `matside next`."""

from __future__ import annotations

from runner.cli.options.shared import Commands, command, data_option, for_option, plan_argument


def add(commands: Commands) -> None:
    """Add the command."""
    parser = command(
        commands,
        "next",
        "show the working levels and what is advised; accept, refuse, set by hand",
        "matside next kestrel-hut --for Ada",
        "matside next kestrel-hut --accept push-up --refuse band-press",
        "matside next kestrel-hut --set band-press=mark-2:140cm --on 2026-11-22",
    )
    plan_argument(parser)
    for_option(parser, "trainee; default the login name")
    what = "an exercise, or exercise/version where the plan names versions for its sets"
    parser.add_argument(
        "--accept",
        metavar="EXERCISE",
        action="append",
        default=[],
        help=f"accept what is advised for {what}, or its number in the list; "
        "EXERCISE:2 takes the second choice",
    )
    parser.add_argument(
        "--refuse", metavar="EXERCISE", action="append", default=[], help="refuse it; it rests"
    )
    parser.add_argument(
        "--set",
        metavar="EXERCISE=VERSION",
        dest="by_hand",
        action="append",
        default=[],
        help="decide on a version, or a position of it: press=mark-2:120cm",
    )
    parser.add_argument(
        "--on", metavar="DATE", help="the local date that a decision is of; default today"
    )
    parser.add_argument(
        "--as-planned",
        metavar="EXERCISE",
        action="append",
        default=[],
        help="end what was agreed beside the version: recovery, sets, substitute",
    )
    data_option(parser)
