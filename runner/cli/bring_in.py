"""`matside import`: shows the rows of a CSV, asks, and writes them into the record."""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

from msgspec.structs import replace

from runner.cli.common import (
    Busy,
    confirmed,
    data_dir,
    data_option,
    default_trainee,
    examples,
    for_option,
    tell,
    trial_option,
)
from runner.errors import Exit, MatsideError
from runner.live.clock import SystemClock
from runner.live.corrections import corrections
from runner.output import record_path
from runner.progress.history import SetRow
from runner.record import importing
from runner.record.csvfile import read_csv, read_table
from runner.record.importing import Update
from runner.record.record import Record
from runner.record.rows import COLUMNS
from runner.record.sheet_import import NEEDED, POSSIBLE, Sheet, read_sheet
from runner.record.tables import DecisionLine
from runner.text import how_many, shown, trainee_name

DECISIONS = DecisionLine._fields[: DecisionLine._fields.index("on")]  # columns that make a file one
LARGEST = 64 * 1024 * 1024  # bytes; our choice: some two hundred thousand rows


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside import ada.csv",
        "matside import own.csv --plan mine --for Ada --columns date=Day,reps=Count",
        'matside import own.csv --plan mine --exercise "Press-ups=push-up" --yes',
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        type=Path,
        help="an exported table of sets or decisions, or a sheet with date, exercise, set, reps",
    )
    parser.add_argument("--plan", metavar="PLAN", help="for a sheet: plan with its exercises")
    for_option(parser, "for a sheet: the trainee (default: login name)")
    parser.add_argument(
        "--columns",
        metavar="OURS=THEIRS,...",
        help="for a sheet: which of its columns is which; OURS is date, exercise, set, reps, "
        "version, load_kg, reserve, note or trainee",
    )
    parser.add_argument(
        "--exercise",
        metavar="THEIRS=ID",
        action="append",
        default=[],
        help="for a sheet: its name of an exercise; repeat for more",
    )
    parser.add_argument("--yes", action="store_true", help="do not ask")
    trial_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    text = _text(args.file)
    path = record_path(data, trial=args.trial)
    if args.plan is None and set(DECISIONS) <= set(_header(text)):
        return _decisions(text, path, yes=args.yes)
    rows = _rows(text, args, data)
    with Record.open_readonly(path) as record:
        with Busy("Comparing with the record"):
            preview = importing.preview(record, rows, dated=args.plan is not None)
        known = set(record.trainees())
    _say(preview, known)
    preview = replace(preview, updates=tuple(_wanted(preview.updates, yes=args.yes)))
    if not preview.changes:
        return Exit.OK
    if not confirmed("Import them?", yes=args.yes):
        print("nothing changed", file=sys.stderr)
        return Exit.OK
    now = SystemClock().local()
    preview = replace(preview, updates=tuple(_dated(one, now) for one in preview.updates))
    corrected = []
    if preview.updates:
        with Record.open_readonly(path) as record:
            corrected = corrections(record, preview.updates, now)
    with Busy("Importing"):
        importing.bring_in(path, preview, corrected, trial=args.trial)
    print(f"imported: {_what(preview)}", file=sys.stderr)
    return Exit.OK


def _decisions(text: str, path: Path, *, yes: bool) -> int:
    """Import a table of decisions."""
    lines = read_table(io.StringIO(text, newline=""), DecisionLine, DECISIONS, _name_strange)
    with Record.open_readonly(path) as record:
        found = importing.look_at_decisions(record, lines)
    print(f"new: {how_many(len(found.new), 'decision')}", file=sys.stderr)
    if found.there:
        print(f"already in the record: {how_many(len(found.there), 'decision')}", file=sys.stderr)
    if not found.new:
        return Exit.OK
    if not confirmed("Import them?", yes=yes):
        print("nothing changed", file=sys.stderr)
        return Exit.OK
    importing.bring_in_decisions(path, found)
    print(f"imported: {how_many(len(found.new), 'decision')}", file=sys.stderr)
    return Exit.OK


def _wanted(updates: Sequence[Update], *, yes: bool) -> Iterator[Update]:
    """The counts to import: every newer one, and of the others those that the person chooses."""
    for one in updates:
        if one.newer:
            print(f"the file has a later correction: {one.text}", file=sys.stderr)
            yield one
        elif yes:
            tell(f"kept the record's count, because the file has no corrected_at: {one.text}")
        else:
            tell(f"counts differ, and the file has no corrected_at: {one.text}")
            if confirmed("Use the file's count?", yes=False):
                yield one


def _dated(update: Update, now: datetime) -> Update:
    """A row whose count a person has just chosen: corrected now."""
    if update.newer and (update.row.corrected_at is not None or not update.events):
        return update
    row = update.row._replace(corrected="yes", corrected_at=now.isoformat(timespec="seconds"))
    return replace(update, row=row)


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
    except OSError as error:
        code = Exit.NO_PERMISSION if isinstance(error, PermissionError) else Exit.NO_INPUT
        raise MatsideError(
            f"{shown(path)} cannot be read: {(error.strerror or 'it is not a file').lower()}",
            code=code,
        ) from None
    if len(content) > LARGEST:
        raise MatsideError(f"{shown(path)} is larger than 64 MiB; split it", code=Exit.DATA)
    if b"\0" in content:  # as every database and zip has
        raise MatsideError(
            f"{shown(path)} is not a text; save a sheet as CSV. A backup comes back with matside "
            "restore, a handover with matside receive",
            code=Exit.DATA,
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise MatsideError(
            f"{shown(path)}: line {line} is not UTF-8; save it as UTF-8", code=Exit.DATA
        ) from None


def _header(text: str) -> list[str]:
    try:
        return next(csv.reader(io.StringIO(text, newline="")), [])
    except csv.Error:
        return []


def _rows(text: str, args: argparse.Namespace, data: Path) -> Sequence[SetRow]:
    header = _header(text)
    if args.plan is None and set(COLUMNS) & set(header) >= {"session_id", "session_start"}:
        found = read_csv(io.StringIO(text, newline=""), _name_strange)
        with Busy("Reading the file") as busy:
            return list(busy.each(found, max(text.count("\n"), 1)))
    if args.plan is None:
        raise MatsideError(
            "this is not a matside export; for a sheet with date, exercise, set and reps, name "
            "the plan that has its exercises: --plan PLAN",
            code=Exit.DATA,
        )
    from msgspec.structs import replace

    from runner.plan.compile import compile_session
    from runner.plan.library import find_plan
    from runner.plan.person import read_for

    trainee = trainee_name(args.trainee or default_trainee())
    personal = read_for(find_plan(args.plan, data), data, trainee)
    # Exercises that the overlay leaves out may have been done before; its reserve holds.
    own, shared = (
        compile_session(plan, plan.session[0].id).exercises
        for plan in (personal.plan, personal.shared)
    )
    past = {id_: replace(e, reserve=own.get(id_, e).reserve) for id_, e in shared.items()}
    exercises = {**own, **past}
    sheet = Sheet(
        plan=personal.plan.title,
        exercises=exercises,
        trainee=trainee,
        local=lambda naive: naive.astimezone(),
        columns=_columns(args.columns or ""),
        names=_names(args.exercise, exercises),
    )
    return read_sheet(text, sheet)


def _name_strange(columns: list[str]) -> None:
    print(f"ignored columns: {', '.join(columns)}", file=sys.stderr)


def _columns(text: str) -> dict[str, str]:
    pairs = [part.partition("=") for part in text.split(",") if part.strip()]
    for ours, sign, theirs in pairs:
        if ours.strip() not in (*NEEDED, *POSSIBLE) or not sign or not theirs.strip():
            raise MatsideError(
                f"--columns {shown(ours)}{sign}{shown(theirs)}: write OURS=THEIRS, where OURS is "
                f"one of {', '.join((*NEEDED, *POSSIBLE))}",
                code=Exit.USAGE,
            )
    return {ours.strip(): theirs.strip() for ours, _, theirs in pairs}


def _names(given: Sequence[str], exercises: object) -> dict[str, str]:
    pairs = [text.rpartition("=") for text in given]
    for theirs, sign, ours in pairs:
        if not sign or not theirs or ours not in exercises:  # type: ignore[operator]
            raise MatsideError(
                f"--exercise {shown(theirs + sign + ours)}: write THEIRS=ID, with the id of an "
                "exercise of the plan",
                code=Exit.USAGE,
            )
    return {theirs: ours for theirs, _, ours in pairs}


def _say(preview: importing.ImportPreview, known: set[str]) -> None:
    print(f"new: {_number(preview.new)}", file=sys.stderr)
    if preview.there:
        print(f"already in the record, unchanged: {_number(preview.there)}", file=sys.stderr)
    for session in preview.more:
        first = session.rows[0]
        was = "was cut off; this import closes it" if session.cut_off else "grows"
        who = f"{shown(first.trainee)}, {first.session_start[:10]}"
        tell(f"{who}: the session {was}: {how_many(len(session.rows), 'row')}")
    for update in preview.older:
        tell(f"the file is older, so the record's count stays: {update.text}")
    people = dict.fromkeys(session.rows[0].trainee for session in preview.new)
    for name in people:
        dates = [a.rows[0].session_start[:10] for a in preview.new if a.rows[0].trainee == name]
        new = "" if name in known else ", a new trainee"
        print(f"  {shown(name)}{new}: {min(dates)} to {max(dates)}", file=sys.stderr)


def _what(preview: importing.ImportPreview) -> str:
    parts = [_number((*preview.new, *preview.more))] if preview.new or preview.more else []
    if preview.updates:
        parts.append(how_many(len(preview.updates), "corrected count"))
    return ", ".join(parts)


def _number(sessions: Sequence[importing.FileSession]) -> str:
    rows = sum(len(session.rows) for session in sessions)
    return f"{how_many(len(sessions), 'session')}, {how_many(rows, 'row')}"
