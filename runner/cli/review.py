"""`matside review`: looks back, on a screen, as text or as pictures."""

from __future__ import annotations

import argparse
import os
import sys
from datetime import datetime
from pathlib import Path

from runner.cli.common import (
    can_write,
    data_dir,
    data_option,
    default_trainee,
    examples,
    for_option,
    show_lines,
    trial_option,
    width,
)
from runner.cli.export import given_period, must_be_known, period_options
from runner.errors import Exit, MatsideError
from runner.output import record_path
from runner.record.record import Record
from runner.reports.past import Past, Trend, look_back
from runner.reports.roster import person
from runner.text import hanging, shown, trainee_name


def _nothing_yet(args: argparse.Namespace) -> str:
    """Why there is nothing to review; after only the demo there is a record of trial plans."""
    if not args.trial:
        with Record.open_readonly(record_path(data_dir(args.data), trial=True)) as trials:
            if trials.trainees():
                return "the record has sessions of trial plans only: matside review --trial"
    return "there is no record yet; your first session starts one: matside run kestrel-hut"


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside review --for Ada",
        "matside review --for Ada --all",
        "matside review --for Ada --plain --since 2026-09-01 --exercise push-up",
        "matside review --for Ada --svg pictures",
    )
    for_option(parser, "trainee (default: login name)")
    parser.add_argument("--plain", action="store_true", help="print text, without a full screen")
    parser.add_argument(
        "--all", action="store_true", help="print everything: charts, weeks, sessions, bests"
    )
    period_options(parser)
    parser.add_argument("--exercise", metavar="NAME", help="one exercise: id or name")
    parser.add_argument(
        "--svg", metavar="DIR", type=Path, help="write the charts as pictures into DIR"
    )
    parser.add_argument("--force", action="store_true", help="overwrite existing pictures")
    trial_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    since, until = given_period(args)
    trainee = trainee_name(args.trainee or default_trainee())
    data = data_dir(args.data)
    with Record.open_readonly(record_path(data, trial=args.trial)) as record:
        if not record.trainees():
            raise MatsideError(_nothing_yet(args), code=Exit.NO_INPUT)
        must_be_known(record, trainee)
        now = datetime.now().astimezone()
        past = look_back(record, trainee, since=since, until=until)
        if past is None:
            print(f"the record has no session of {trainee}{_period_words(args)}", file=sys.stderr)
            return Exit.OK
        chosen = _chosen(past, args.exercise)
        if args.svg is not None:
            from runner.reports.pictures import write_pictures

            today = now.date()
            for path in write_pictures(
                past, chosen, args.svg, force=args.force, data=data, today=today
            ):
                print(shown(path))
            return Exit.OK
        about = person(record, trainee, now)
        if args.plain or args.all or not _has_screen():
            from runner.reports.charts import SIGNS
            from runner.reports.pages import lines

            if not args.plain and not args.all:
                print("this is not a terminal: printing text", file=sys.stderr)
            whole = args.exercise is None
            given = lines(
                *(past, chosen, now),
                whole=whole,
                person=about,
                short=not args.all,
                drawn=can_write(SIGNS),
            )
            show_lines([part for line in given for part in hanging(line, width(), words=True)])
            return Exit.OK
        from runner.screen.full_screen import run
        from runner.screen.review_app import ReviewApp

        first = chosen[0] if args.exercise else None
        code = run(ReviewApp(record, past, now, about, first=first))
    if code is None or code == Exit.SOFTWARE:
        raise MatsideError(
            "the screen failed, which is a fault in matside; --plain prints text",
            code=Exit.SOFTWARE,
        )
    return code


def _period_words(args: argparse.Namespace) -> str:
    pairs = (("from", args.since), ("to", args.until))
    return "".join(f" {word} {day}" for word, day in pairs if day)


def _chosen(past: Past, exercise: str | None) -> tuple[Trend, ...]:
    """The trends to show: all, or the one of the named exercise."""
    if exercise is None:
        return past.trends
    wanted = exercise.strip().casefold()
    found = tuple(
        t for t in past.trends if wanted in (t.exercise.casefold(), t.name.casefold(), *t.earlier)
    )
    if not found:
        known = ", ".join(t.exercise for t in past.trends)
        raise MatsideError(
            f"{past.trainee} did no {exercise!r} from {past.since} to {past.until}; "
            f"the record has {known or 'nothing'}",
            code=Exit.NO_INPUT,
        )
    return found


def _has_screen() -> bool:
    terminal = sys.stdin.isatty() and sys.stdout.isatty()
    return terminal and os.environ.get("TERM", "") not in ("", "dumb")
