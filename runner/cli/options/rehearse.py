"""The command line of `matside rehearse`."""

from __future__ import annotations

import argparse
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
        "matside rehearse kestrel-hut --recovery 1:30 --sets +1",
        "matside rehearse kestrel-hut --session B --json",
        "matside rehearse demo --watch --speed 10",
        "matside rehearse kestrel-hut --week",
        "matside rehearse kestrel-hut --within 35m",
    )
    plan_argument(parser)
    session_option(parser)
    for_option(parser, "trainee whose record is used; default the login name")
    parser.add_argument("--at", metavar="TIME", help="when it begins, for times of day: 18:30")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="write the chart as a picture")
    parser.add_argument("--force", action="store_true", help="write over an existing FILE")
    parser.add_argument("--week", action="store_true", help="all sessions, on days of a week")
    parser.add_argument("--json", action="store_true", help="the timeline as data")
    _what_if_options(parser)
    parser.add_argument(
        "--runs",
        metavar="N",
        help="so many runs with lengths of sets drawn at random, 100 to 100000; default 1000",
    )
    parser.add_argument("--seed", metavar="N", help="what the draws begin with; default 1")
    parser.add_argument(
        "--within", metavar="TIME", help="leave out sets so that it takes no longer: 35m"
    )
    parser.add_argument("--until", metavar="TIME", help="so that it is over by then: 07:10")
    parser.add_argument("--watch", action="store_true", help="watch it on the screen, with cues")
    parser.add_argument("--speed", metavar="N", help="so many times as fast; default 20")
    parser.add_argument("--mute", action="store_true", help="no sound while watching")
    parser.add_argument(
        "--voice",
        choices=("off", "on", "names"),
        help="what is spoken with --watch --speed 1: as of run (else MATSIDE_VOICE, else off)",
    )
    data_option(parser)


def _what_if_options(parser: argparse.ArgumentParser) -> None:
    """Settings to try: the command reads them, so that each fault is one line."""
    trying = parser.add_argument_group("what if, beside the plan as it is")
    trying.add_argument(
        "--recovery",
        metavar="TIME",
        help="another recovery wherever the plan has one: 1:30; least and cross follow"
        " where the plan does not fix them",
    )
    trying.add_argument(
        "--changeover", metavar="RANGE", help="another range of changeovers: 20s..40s"
    )
    trying.add_argument(
        "--reps", metavar="N", help="so many repetitions expected of every set, whatever is known"
    )
    trying.add_argument(
        "--pace",
        metavar="TIME",
        help="seconds a repetition where a version has no tempo: 2.5s; lengths on record of"
        " such sets are put aside",
    )
    trying.add_argument(
        "--sets", metavar="N", help="work sets of every exercise: 4, +1 or -1; one at least stays"
    )
