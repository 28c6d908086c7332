"""`matside sheet`: writes a session's page for print and phone, as one HTML file."""

from __future__ import annotations

import argparse
import shlex
import sys
from contextlib import closing
from pathlib import Path

from runner.cli.common import (
    data_dir,
    data_option,
    day,
    examples,
    for_option,
    force_option,
    plan_argument,
    trainee_name,
)
from runner.cli.next import say_new
from runner.errors import Exit, MatsideError
from runner.live.clock import SystemClock
from runner.output import new_file, record_path
from runner.plan.library import find_plan
from runner.plan.person import read_for
from runner.record.record import Record
from runner.reports.sheet import MOST_COLUMNS, Subject, pages, render
from runner.text import how_many, shown


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside sheet kestrel-hut --for Ada -o ada.html",
        "matside sheet kestrel-hut --for Ada --session A --columns 4 -o ada-a.html",
        "matside sheet mine --for Ada --on 2026-12-14 -o ada-december.html",
    )
    plan_argument(parser)
    for_option(parser, "trainee (default: login name)")
    parser.add_argument("--session", metavar="ID", help="session of the plan (default: all)")
    parser.add_argument(
        "--on",
        metavar="DATE",
        help="date of the plan's phase to print, today or later (default: today)",
    )
    parser.add_argument(
        "--columns",
        metavar="N",
        type=int,
        choices=range(1, MOST_COLUMNS + 1),
        default=MOST_COLUMNS,
        help=f"number of dates on a page, 1 to {MOST_COLUMNS} (default: {MOST_COLUMNS})",
    )
    parser.add_argument(
        "-o", dest="output", metavar="FILE", type=Path, required=True, help="the file to write"
    )
    force_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data, trainee, now = data_dir(args.data), trainee_name(args.trainee), SystemClock().local()
    on = day(args.on, "--on")
    if on is not None and on < now.date():
        raise MatsideError(
            f"--on {on} is past; write today, {now.date()}, or a later date", code=Exit.USAGE
        )
    personal = read_for(find_plan(args.plan, data), data, trainee)
    plan = personal.plan
    if on is not None and not plan.phase:
        print("the plan has no [[phase]]: --on changes nothing", file=sys.stderr)
    sessions = [one.id for one in plan.session] if args.session is None else [args.session]
    with closing(Record.open(record_path(data, trial=plan.trial))) as record:
        if trainee not in record.trainees():
            say_new(record, trainee)
        made = pages(Subject(record, trainee, personal, now, on), sessions)
        with new_file(args.output, force=args.force, data=data) as file:
            file.write(render(made, args.columns))
            record.keep_sheets([one.sheet for one in made], now)
    holds = f"{how_many(len(made), 'page')} for {trainee}, health data, readable by you alone"
    print(f"written: {shown(args.output)}: {holds}", file=sys.stderr)
    for one in made:
        line = shlex.join(["matside", "log", "--sheet", one.sheet.id])
        print(f"to enter session {one.sheet.session}: {line}", file=sys.stderr)
    return Exit.OK
