"""`matside restore`: a backup in the record's place, after a look at both."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from runner.cli.backup import told
from runner.cli.common import confirmed, data_dir, data_option, examples, tell
from runner.errors import Exit, MatsideError
from runner.output import record_path
from runner.record import backup
from runner.text import how_many, shown

MOST_LOST = 12  # sessions that are named, our choice


def options(parser: argparse.ArgumentParser) -> None:
    """What the command line of it may hold."""
    examples(
        parser,
        "matside restore record-november.db",
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="a backup")
    parser.add_argument("--yes", action="store_true", help="do it without asking")
    parser.add_argument("--trial", action="store_true", help="the record of trial plans instead")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    path = record_path(data_dir(args.data), trial=args.trial)
    if args.file.exists() and path.exists() and args.file.samefile(path):
        raise MatsideError("that is the record itself; name a backup", code=Exit.USAGE)
    new = backup.look_at_backup(args.file)
    if new.trial is not None and new.trial != args.trial:
        holds = "sessions of trial plans: add" if new.trial else "no sessions of trials: leave out"
        raise MatsideError(f"{shown(args.file)} holds {holds} --trial", code=Exit.USAGE)
    tell(f"the backup: {told(new)}")
    if path.exists():
        _say_what_goes(new, backup.look(path))
    tell("No session must be running. The record as it is now is copied first.")
    if not confirmed("Put the backup in its place?", yes=args.yes):
        print("nothing was changed", file=sys.stderr)
        return Exit.OK
    kept = backup.restore(args.file, path)
    print(f"restored: {shown(path)}", file=sys.stderr)
    if kept is not None:
        print(f"what was there before: {shown(kept)}", file=sys.stderr)
    return Exit.OK


def _say_what_goes(new: backup.Look, now: backup.Look) -> None:
    tell(f"the record now: {told(now)}")
    lost = new.lacks(now)
    if lost:
        are = "is" if len(lost) == 1 else "are"
        line = f"{how_many(len(lost), 'session')} {are} not in the backup, and would be gone:"
        print(line, file=sys.stderr)
    for session in lost[-MOST_LOST:]:
        print(f"  {session.begun}  {shown(session.trainee)}", file=sys.stderr)
