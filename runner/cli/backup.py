"""`matside backup`: copies the record to a file."""

from __future__ import annotations

import argparse
from pathlib import Path

from runner.cli.common import (
    Busy,
    data_dir,
    data_option,
    examples,
    force_option,
    tell,
    trial_option,
)
from runner.errors import Exit, MatsideError
from runner.output import record_path, refuse_to_replace
from runner.record import backup
from runner.record.backup import copies
from runner.text import how_many, shown


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside backup record-november.db",
        "matside backup --trial trial-november.db",
    )
    parser.add_argument(
        "file", metavar="FILE", type=Path, help="file of the backup; only you can read it"
    )
    force_option(parser)
    trial_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    target = args.file
    data = data_dir(args.data)
    refuse_to_replace(target, force=args.force, data=data, backups=True)
    if not target.parent.is_dir():
        line = f"{shown(target)} cannot be written: its folder does not exist"
        raise MatsideError(line, code=Exit.CANT_CREATE)
    _refuse_what_is_in_use(target, data)
    source = record_path(data, trial=args.trial)
    with Busy("Copying the record"):
        made = backup.back_up(source, target)
    tell(f"wrote {shown(target)}: {described(made)}")
    return Exit.OK


def _refuse_what_is_in_use(target: Path, data: Path) -> None:
    """Refuse a target that is a record in use or one of the program's copies."""
    if not target.exists():
        return
    for record in (record_path(data, trial=False), record_path(data, trial=True)):
        for path in (record, *copies(record)):
            if path.exists() and target.samefile(path):
                what = "the record itself" if path == record else "a copy of the record"
                raise MatsideError(
                    f"{shown(target)} is {what}; name another file", code=Exit.CANT_CREATE
                )


def described(look: backup.RecordSummary) -> str:
    """What a record holds, in one line."""
    if not look.sessions:
        return "no session"
    people = ", ".join(map(shown, look.trainees))
    first, last = look.sessions[0].begun[:10], look.sessions[-1].begun[:10]
    return (
        f"{how_many(len(look.sessions), 'session')} of {people}, {first} to {last}, "
        f"{how_many(look.rows, 'row')}, integrity checked"
    )
