"""`matside backup`: the record copied to a file."""

from __future__ import annotations

import argparse

from runner.cli.asking import tell
from runner.cli.main import data_dir
from runner.errors import Exit, MatsideError
from runner.live.paths import record_path
from runner.record import backup
from runner.record.text import how_many, shown


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    target = args.file
    if target.is_dir():
        line = f"{shown(target)} is a directory; name a file in it"
        raise MatsideError(line, code=Exit.CANT_CREATE)
    if target.exists() and not args.force:
        line = f"{shown(target)} exists; name another file, or --force to write over it"
        raise MatsideError(line, code=Exit.CANT_CREATE)
    if not target.parent.is_dir():
        line = f"{shown(target)} cannot be made: there is no such folder"
        raise MatsideError(line, code=Exit.CANT_CREATE)
    source = record_path(data_dir(args.data), trial=args.trial)
    if target.exists() and source.exists() and target.samefile(source):
        raise MatsideError("that is the record itself; name another file", code=Exit.CANT_CREATE)
    made = backup.back_up(source, target)
    tell(f"written: {shown(target)}: {told(made)}")
    return Exit.OK


def told(look: backup.Look) -> str:
    """What a record holds, in a line."""
    if not look.sessions:
        return "no session"
    people = ", ".join(map(shown, look.trainees))
    first, last = look.sessions[0].begun[:10], look.sessions[-1].begun[:10]
    return (
        f"{how_many(len(look.sessions), 'session')} of {people}, {first} to {last}, "
        f"{how_many(look.rows, 'row')}, integrity checked"
    )
