"""`matside receive`: what was handed over, merged into the record."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from runner.cli.common import confirmed, data_dir, data_option, examples, tell
from runner.errors import Exit
from runner.live.paper import replayed
from runner.output import record_path
from runner.record.handover import Parcel
from runner.record.record import Record


def options(parser: argparse.ArgumentParser) -> None:
    """What the command line of it may hold."""
    examples(parser, "matside receive ada.zip --dry-run", "matside receive ada.zip --yes")
    parser.add_argument("file", metavar="FILE", type=Path, help="what `matside handover` wrote")
    parser.add_argument("--dry-run", action="store_true", help="say what is new, change nothing")
    parser.add_argument("--yes", action="store_true", help="take it without asking")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    path = record_path(data, trial=False)
    with Parcel(args.file) as parcel:
        with Record.open_readonly(path) as record:
            known = parcel.trainee in record.trainees()
            news = record.receive(parcel, replayed, data, keep=False)
        new = "" if known else " (new here)"
        tell(f"{parcel.trainee}{new}: {news.text}", sys.stdout)
        for line in news.conflicts:
            tell(f"  conflict: {line}", sys.stdout)
        if args.dry_run or (known and not news.changes):
            return Exit.OK
        if not confirmed(f"Take all of it for {parcel.trainee}?", yes=args.yes):
            print("nothing was changed", file=sys.stderr)
            return Exit.OK
        with Record.open(path) as record:
            record.receive(parcel, replayed, data, keep=True)
    return Exit.OK
