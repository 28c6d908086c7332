"""`matside export`: the record as CSV, on stdout or into a file."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from runner.cli.dates import day
from runner.cli.main import data_dir
from runner.errors import Exit, MatsideError
from runner.live.paths import record_path
from runner.record.csvfile import write_csv
from runner.record.store import Record
from runner.record.text import trainee_name


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    since, until = day(args.since, "--since"), day(args.until, "--until")
    if since is not None and until is not None and since > until:
        raise MatsideError(f"--since {since} is after --until {until}", code=Exit.USAGE)
    record = Record.open_readonly(record_path(data, trial=args.trial))
    if args.trainee is not None:
        args.trainee = trainee_name(args.trainee)
        _must_be_known(record, args.trainee)
    plan = None if args.plan is None else _title(args.plan, record, data)
    rows = record.rows(trainee=args.trainee, plan=plan, since=since, until=until)
    if args.output is None:
        # The CSV has its own line ends, on every system.
        out = io.TextIOWrapper(sys.stdout.buffer, encoding="utf-8", newline="", write_through=True)
        try:
            write_csv(rows, out)
        finally:
            out.detach()
    else:
        with _new_file(args.output, force=args.force) as file:
            write_csv(rows, file)
        print(f"written: {args.output}", file=sys.stderr)
    return Exit.OK


def _must_be_known(record: Record, trainee: str) -> None:
    names = record.trainees()
    if trainee in names:
        return
    near = record.similar(trainee)
    hint = f"did you mean {', '.join(near)}?" if near else f"it has {', '.join(names) or 'nobody'}"
    raise MatsideError(f"the record has no trainee {trainee!r}; {hint}", code=Exit.NO_INPUT)


def _title(name: str, record: Record, data: Path) -> str:
    """The plan's title: as it stands in the record, else that of the plan file so called."""
    if name in record.plans():
        return name
    from runner.plan.library import find_plan
    from runner.plan.read import read_plan

    return read_plan(find_plan(name, data)).title


@contextmanager
def _new_file(path: Path, *, force: bool) -> Iterator[TextIO]:
    """A file to write that is there whole or not at all, readable by its owner alone."""
    if path.is_dir():
        raise MatsideError(f"{path} is a directory; name a file in it", code=Exit.CANT_CREATE)
    if path.exists() and not force:
        raise MatsideError(
            f"{path} exists; name another file, or --force to write over it",
            code=Exit.CANT_CREATE,
        )
    part = path.with_name(f".{path.name}.part")
    try:
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    except OSError as error:
        raise MatsideError(
            f"{path} cannot be made: {error.strerror}", code=Exit.CANT_CREATE
        ) from None
    try:
        with open(descriptor, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123 - a descriptor
            yield file
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise MatsideError(f"{path} cannot be written: {error.strerror}", code=Exit.IO) from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise
