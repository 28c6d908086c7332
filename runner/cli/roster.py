"""`matside roster`: one line for each trainee, those who need a look first."""

from __future__ import annotations

import argparse
import io
import json
import sys

from runner.cli.common import Busy, data_dir, data_option, examples, show_lines
from runner.errors import Exit
from runner.live.clock import SystemClock
from runner.output import record_path
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.plan.person import ManyPeople
from runner.record.record import Record
from runner.record.tables import write_table
from runner.reports.roster import Row, columns, roster, table


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside roster",
        "matside roster kestrel-hut",
        "matside roster --csv > roster.csv",
    )
    parser.add_argument(
        "plans",
        metavar="PLAN",
        nargs="*",
        help="only trainees who ran one of these plans last (default: everybody)",
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON, one list of objects")
    form.add_argument("--csv", action="store_true", help="print CSV")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data, now = data_dir(args.data), SystemClock().local()
    plans = [read_plan(find_plan(name, data), data) for name in args.plans]
    record_of_all = record_path(data, trial=False)
    with Record.open_readonly(record_of_all) as record, Busy("Reading the record"):
        people = roster(record, now, plans, ManyPeople(data).plan_of)
    if args.json:
        print(json.dumps([one.as_data for one in people], ensure_ascii=False, indent=2))
    elif args.csv:
        # RFC 4180's line ends, on every system.
        out = io.TextIOWrapper(sys.stdout.buffer, encoding="utf-8", newline="", write_through=True)
        try:
            write_table(columns(people), Row, out)
        finally:
            out.detach()
    elif people:
        show_lines(table(people, now.date()))
    elif plans:
        print("nobody ran that plan last; matside roster lists everybody", file=sys.stderr)
    else:
        print("nobody has trained yet: matside run kestrel-hut --for NAME", file=sys.stderr)
    return Exit.OK
