"""`matside handover`: writes everything of one person to one file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from runner.cli.common import (
    data_dir,
    data_option,
    examples,
    for_option,
    force_option,
    trainee_name,
)
from runner.cli.export import must_be_known
from runner.errors import Exit, MatsideError
from runner.output import new_file, record_path
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.plan.overlay import plan_meant, read_overlay
from runner.record.handover import HOLDS, overlay_file, plan_files
from runner.record.record import Record
from runner.resources import plans_dir
from runner.text import how_many, shown


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside handover --for Ada -o ada.zip",
        "matside handover plans/mine.toml --for Ada --plan-only -o ada.zip",
    )
    parser.add_argument(
        "plans",
        metavar="PLAN",
        nargs="*",
        help="plans to add to your own plans that the trainee ran",
    )
    for_option(parser, "trainee (default: login name)")
    parser.add_argument(
        "-o", dest="output", metavar="FILE", type=Path, required=True, help="the file to write"
    )
    parser.add_argument("--plan-only", action="store_true", help="plans without the record")
    force_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data, trainee = data_dir(args.data), trainee_name(args.trainee)
    named = [find_plan(name, data) for name in args.plans]
    for path in named:
        read_plan(path, data)
    overlay = read_overlay(data, trainee)  # refuses a faulty plan
    if overlay is not None and overlay.of:
        named += [path for path in [plan_meant(overlay, data)] if path.parent != plans_dir()]
    with Record.open_readonly(record_path(data, trial=False)) as record:
        if not args.plan_only:
            must_be_known(record, trainee)
        plans = plan_files(data, record.plans(trainee), named)
        own = overlay_file(data, trainee)
        if args.plan_only and not (plans or own):
            raise MatsideError(
                f"{trainee} ran no plan of your own; name one: matside handover PLAN --plan-only",
                code=Exit.NO_INPUT,
            )
        with new_file(args.output, force=args.force, data=data) as file:
            record.hand_over(trainee, file.buffer, {**plans, **own}, whole=not args.plan_only)
    holds = how_many(len(plans), "plan") + (" and the overlay" if own else "")
    if not args.plan_only:
        holds += f" and {HOLDS}"
    print(f"written: {shown(args.output)}: {trainee}, {holds}", file=sys.stderr)
    return Exit.OK
