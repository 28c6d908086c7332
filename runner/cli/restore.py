"""`matside restore`: shows a backup and the record, asks, and replaces the record."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from runner.cli.backup import described
from runner.cli.common import confirmed, data_dir, data_option, examples, tell, trial_option
from runner.errors import Exit, MatsideError
from runner.output import record_path
from runner.record import backup
from runner.text import how_many, shown

MOST_LOST = 12  # sessions listed; our choice


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside restore record-november.db",
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="a backup")
    parser.add_argument("--yes", action="store_true", help="do not ask")
    trial_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    path = record_path(data_dir(args.data), trial=args.trial)
    if args.file.exists() and path.exists() and args.file.samefile(path):
        raise MatsideError("this is the record itself; name a backup", code=Exit.USAGE)
    new = backup.look_at_backup(args.file)
    if new.trial is not None and new.trial != args.trial:
        holds = "sessions of trial plans: add" if new.trial else "no sessions of trials: leave out"
        raise MatsideError(f"{shown(args.file)} holds {holds} --trial", code=Exit.USAGE)
    tell(f"the backup: {described(new)}")
    if path.exists():
        _say_what_goes(new, backup.look(path))
    tell(
        "Close every running session first. matside copies the present record before it replaces "
        "it."
    )
    if not confirmed("Replace the record with the backup?", yes=args.yes):
        print("nothing changed", file=sys.stderr)
        return Exit.OK
    kept = backup.restore(args.file, path)
    print(f"restored: {shown(path)}", file=sys.stderr)
    if kept is not None:
        print(f"previous record: {shown(kept)}", file=sys.stderr)
    return Exit.OK


def _say_what_goes(new: backup.RecordSummary, now: backup.RecordSummary) -> None:
    tell(f"the record now: {described(now)}")
    lost = new.lacks(now)
    if lost:
        are = "is" if len(lost) == 1 else "are"
        line = f"{how_many(len(lost), 'session')} {are} not in the backup and would be lost:"
        print(line, file=sys.stderr)
    for session in lost[-MOST_LOST:]:
        print(f"  {session.begun}  {shown(session.trainee)}", file=sys.stderr)
