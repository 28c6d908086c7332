"""The command line of `matside rehearse`."""

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
        "rehearse",
        "show a session's timing beforehand",
        "matside rehearse kestrel-hut",
        "matside rehearse kestrel-hut --session B --at 18:30",
        "matside rehearse kestrel-hut --svg monday.svg",
        "matside rehearse kestrel-hut --session B --json",
        "matside rehearse demo --watch --speed 10",
    )
    plan_argument(parser)
    session_option(parser)
    for_option(parser, "trainee whose record is used; default the login name")
    parser.add_argument("--at", metavar="TIME", help="when it begins, for times of day: 18:30")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="write the chart as a picture")
    parser.add_argument("--force", action="store_true", help="write over an existing FILE")
    parser.add_argument("--json", action="store_true", help="the timeline as data")
    parser.add_argument(
        "--runs",
        metavar="N",
        type=int,
        default=1000,
        help="so many runs with lengths of sets drawn at random, 100 to 100000; default 1000",
    )
    parser.add_argument(
        "--seed", metavar="N", type=int, default=1, help="what the draws begin with; default 1"
    )
    parser.add_argument("--watch", action="store_true", help="watch it on the screen, with cues")
    parser.add_argument("--speed", metavar="N", help="so many times as fast; default 20")
    parser.add_argument("--mute", action="store_true", help="no sound while watching")
    data_option(parser)
