"""`matside export`: writes the record as CSV, to standard output or a file."""

from __future__ import annotations

import argparse
import io
import sys
from contextlib import nullcontext
from datetime import date
from pathlib import Path

from runner.cli.common import (
    Busy,
    data_dir,
    data_option,
    day,
    examples,
    for_option,
    force_option,
    trial_option,
)
from runner.errors import Exit, MatsideError
from runner.output import new_file, record_path
from runner.record.record import Reader
from runner.record.rows import Period
from runner.record.tables import TABLES, open_for, write_what
from runner.text import shown, trainee_name


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside export > record.csv",
        "matside export --for Ada --since 2026-11-01 -o ada.csv",
        "matside export --what weeks -o weeks.csv",
    )
    parser.add_argument(
        "--what",
        choices=TABLES,
        default=TABLES[0],
        help="sets (default): a row for each set; sessions: for each session; weeks: for each week "
        "and muscle; held: for each decision about a level",
    )
    parser.add_argument(
        "-o",
        dest="output",
        metavar="FILE",
        type=Path,
        help="file to write (default: standard output)",
    )
    force_option(parser)
    for_option(parser, "one trainee (default: everybody)")
    parser.add_argument("--plan", metavar="PLAN", help="one plan: title, name or path")
    period_options(parser)
    trial_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    since, until = given_period(args)
    with open_for(args.what, record_path(data, trial=args.trial)) as record:
        return _export(args, record, Period(since=since, until=until), data)


def _export(args: argparse.Namespace, record: Reader, period: Period, data: Path) -> int:
    if args.trainee is not None:
        args.trainee = trainee_name(args.trainee)
        must_be_known(record, args.trainee)
    if args.plan is not None:
        period["plan"] = _title(args.plan, record, data)
    # No progress on a terminal that also shows the table.
    silent = args.output is None and sys.stdout.isatty()
    with nullcontext() if silent else Busy("Exporting"):
        return _write(args, record, period, data)


def _write(args: argparse.Namespace, record: Reader, period: Period, data: Path) -> int:
    if args.output is None:
        # RFC 4180's line ends, on every system.
        out = io.TextIOWrapper(sys.stdout.buffer, encoding="utf-8", newline="", write_through=True)
        try:
            write_what(args.what, record, args.trainee, period, out)
        finally:
            out.detach()
    else:
        with new_file(args.output, force=args.force, data=data) as file:
            write_what(args.what, record, args.trainee, period, file)
        print(f"wrote {shown(args.output)}", file=sys.stderr)
    return Exit.OK


def period_options(parser: argparse.ArgumentParser) -> None:
    """--since and --until."""
    parser.add_argument("--since", metavar="DATE", help="first local date: 2026-11-25")
    parser.add_argument("--until", metavar="DATE", help="last local date, included")


def given_period(args: argparse.Namespace) -> tuple[date | None, date | None]:
    """--since and --until; both included."""
    since, until = day(args.since, "--since"), day(args.until, "--until")
    if since is not None and until is not None and since > until:
        raise MatsideError(f"--since {since} is after --until {until}", code=Exit.USAGE)
    return since, until


def must_be_known(record: Reader, trainee: str) -> None:
    """Raise MatsideError (66), with similar names, where the record has no such trainee."""
    names = record.trainees()
    if trainee in names:
        return
    near = record.similar(trainee)
    hint = (
        f"did you mean {', '.join(near)}?" if near else f"it has {', '.join(names) or 'no trainee'}"
    )
    raise MatsideError(f"the record has no trainee {trainee!r}; {hint}", code=Exit.NO_INPUT)


def _title(name: str, record: Reader, data: Path) -> str:
    """The plan's title: as the record has it, else that of the plan file with that name."""
    if name in record.plans():
        return name
    from runner.plan.file import read_plan
    from runner.plan.library import find_plan

    return read_plan(find_plan(name, data), data).title
