"""`matside forget`: exports one person's data, then erases it for good."""

from __future__ import annotations

import argparse
import errno
import shutil
import sys
from pathlib import Path

from runner.cli.common import confirmed, data_dir, data_option, examples, tell, typed
from runner.errors import Exit, MatsideError
from runner.output import new_file, record_path
from runner.record.backup import copies
from runner.record.erase import REST, forget, forget_in_copies, knows, rescued, write_rest
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.tables import TABLES, write_what
from runner.text import how_many, shown, trainee_name

OUT_OF_REACH = """\
matside cannot reach these copies; erase them yourself:
  the files just exported
  backups and exports in other places, and records in other --data folders
  matside-*.csv files of sessions that the record did not take, in the folders you started them in
  notes that other trainees wrote
  the voice's phrases in the cache folder; you may delete them at any time
  copies in a synchronising service, the system's backups and disk snapshots
  overwritten blocks that a flash disk still holds (disk encryption protects them)
"""
_ALWAYS = Period(plan=None, since=None, until=None)


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside forget Ada -o ada",
        "matside forget Ada -o ada --yes --again Ada",
    )
    parser.add_argument("name", metavar="NAME", help="the trainee")
    parser.add_argument(
        "-o",
        dest="output",
        metavar="DIR",
        type=Path,
        required=True,
        help="folder for the CSV files",
    )
    parser.add_argument("--yes", action="store_true", help="answer yes to the first question")
    parser.add_argument(
        "--again", metavar="NAME", help="answer the second question: the name again"
    )
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    name = trainee_name(args.name)
    records = [record_path(data, trial=trial) for trial in (False, True)]
    known = [path for path in records if knows(path, name)]
    in_copies = [copy for path in records for copy in copies(path) if knows(copy, name)]
    beside = rescued(data, name)
    if not known and not in_copies and not beside:
        raise MatsideError(_unknown(name, records), code=Exit.NO_INPUT)
    if not _asked_twice(args, name):
        print("nothing changed", file=sys.stderr)
        return Exit.OK
    _export(args.output, name, known + in_copies, beside, data)
    for path in records:
        count = forget(path, name) if path in known else 0
        gone = forget_in_copies(path, name)
        if count or path in known:
            print(f"erased: {shown(path)}: {how_many(count, 'session')}", file=sys.stderr)
        for copy in gone:
            print(f"erased: {shown(copy)}", file=sys.stderr)
    for line in OUT_OF_REACH.splitlines():
        tell(line)
    return Exit.OK


def _unknown(name: str, records: list[Path]) -> str:
    near: list[str] = []
    for path in records:
        with Record.open_readonly(path) as record:
            near += record.similar(name)
    hint = f"; did you mean {', '.join(dict.fromkeys(map(shown, near)))}?" if near else ""
    return f"the record has no trainee {shown(name)!r}{hint}"


def _asked_twice(args: argparse.Namespace, name: str) -> bool:
    tell(
        f"This exports everything about {shown(name)} to {shown(args.output)}, then erases it for "
        "good from the record and its copies. Close every running session first."
    )
    if not confirmed(f"Erase {shown(name)}?", yes=args.yes, option="--yes --again NAME"):
        return False
    again = args.again
    if again is None:
        again = typed("Type the name again: ", "--again NAME")
    return trainee_name(again) == name


def _export(folder: Path, name: str, known: list[Path], beside: list[Path], data: Path) -> None:
    """Write everything about a person, also from the copies, which may hold more."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise MatsideError(
            f"{shown(folder)} cannot be created: {error.strerror}; nothing erased",
            code=Exit.CANT_CREATE,
        ) from None
    for path in known:
        with Record.open_readonly(path) as record:
            for what in (*TABLES, *REST):
                with new_file(folder / f"{path.stem}-{what}.csv", force=None, data=data) as file:
                    if what in REST:
                        write_rest(what, path, name, file)
                    else:
                        write_what(what, record, name, _ALWAYS, file)
    print(f"wrote {shown(folder)}", file=sys.stderr)
    for path in beside:
        _move(path, folder)
        print(f"moved to the folder: {shown(path)}", file=sys.stderr)


def _move(path: Path, folder: Path) -> None:
    target = folder / path.name
    try:
        if not target.exists():
            shutil.move(path, target)
        elif not target.samefile(path):
            raise FileExistsError(errno.EEXIST, "a file with that name exists")
    except OSError as error:
        raise MatsideError(
            f"{shown(path)} cannot be moved to {shown(folder)}: {error.strerror}; nothing erased",
            code=Exit.CANT_CREATE,
        ) from None
