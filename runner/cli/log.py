"""`matside log`: enters a session from paper, and corrects closed sessions."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import date, datetime, time
from pathlib import Path

from runner.cli.common import (
    data_dir,
    data_option,
    day,
    examples,
    for_option,
    session_option,
    tell,
    time_of_day,
    trainee_name,
)
from runner.errors import Exit, MatsideError
from runner.lines.paper import (
    Day,
    Talk,
    ask_dates,
    days_of,
    put_right,
    take_down,
    write_lines,
    write_up,
)
from runner.live.advice import Advisor, open_ones
from runner.live.clock import SystemClock
from runner.live.corrections import open_correction
from runner.live.paper import Paper, find_sheet, open_paper
from runner.output import record_path
from runner.plan.file import read_plan
from runner.plan.library import find_plan, plan_titled
from runner.plan.person import read_for
from runner.record.files import exposed
from runner.record.record import Record
from runner.record.sheets import Sheet
from runner.session.apply import new_levels
from runner.session.changes import level_text
from runner.text import long_day, shown


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside log kestrel-hut --on 2026-11-23 --session B --for Ada",
        "matside log kestrel-hut --on 2026-11-23 --on 2026-11-25 --for Ada",
        "matside log kestrel-hut --from week.txt --for Ada",
        "matside log --sheet k7m2pw",
        "matside log --sheet k7m2pw --from message.txt",
        "matside log --fix --on 2026-11-23 --for Ada",
    )
    parser.add_argument("plan", metavar="PLAN", nargs="?", help="path or name of a plan: demo")
    parser.add_argument(
        "--on",
        metavar="DATE",
        action="append",
        default=[],
        help="local date of the session: 2026-11-23; repeat it for more sessions",
    )
    parser.add_argument(
        "--at", metavar="TIME", help="time of day at which it started, if known: 06:30"
    )
    parser.add_argument(
        "--sheet", metavar="ID", help="id of a sheet; it gives trainee, plan, session and levels"
    )
    parser.add_argument(
        "--from",
        dest="source",
        metavar="FILE",
        help="text with a line `on DATE` before each session; - for standard input",
    )
    session_option(parser)
    for_option(parser, "trainee (default: login name)")
    parser.add_argument("--fix", action="store_true", help="correct entries of a closed session")
    parser.add_argument(
        "--id", metavar="ID", help="with --fix: id of the session, where that date has several"
    )
    parser.add_argument(
        "--trial", action="store_true", help="with --fix: use the record of trial plans"
    )
    parser.add_argument("--yes", action="store_true", help="save without asking")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    dates = [found for text in args.on if (found := day(text, "--on")) is not None]
    if not (dates or args.source or args.sheet):
        raise MatsideError("name the date: --on 2026-11-23", code=Exit.USAGE)
    trainee, data, clock = trainee_name(args.trainee), data_dir(args.data), SystemClock()
    if args.fix:
        if len(dates) != 1:
            raise MatsideError("--fix needs one date: --on 2026-11-23", code=Exit.USAGE)
        return _fix(args, dates[0], trainee, data, clock)
    if args.sheet and (args.plan or args.session):
        raise MatsideError(
            "--sheet names the plan and session; leave PLAN and --session out", code=Exit.USAGE
        )
    if not (args.plan or args.sheet or args.source):
        raise MatsideError(
            "name the plan: matside log kestrel-hut --on DATE; or pass --sheet or --fix",
            code=Exit.USAGE,
        )
    work = _Log(args, trainee, data, clock)
    if args.source:
        return work.take_down(dates)
    return work.write_up(dates)


class _Log:
    """Sessions one after the other, each saved before the next one begins."""

    def __init__(
        self, args: argparse.Namespace, trainee: str, data: Path, clock: SystemClock
    ) -> None:
        self._args, self._trainee, self._data, self._clock = args, trainee, data, clock

    def write_up(self, dates: list[date]) -> int:
        """Ask for the sessions of these dates, and of those named on the way."""
        talk, code = _talk(), int(Exit.OK)
        of = self._of("")
        if not dates:
            dates = ask_dates(talk, str(self._args.sheet))
        for on in dates:
            with self._paper(of, on) as paper:
                code = write_up(paper, talk, yes=self._args.yes)
                self._say_what_follows(paper, of)
            if code != Exit.OK:
                return code
            dates += [] if paper.then is None else [paper.then]
        return code

    def take_down(self, dates: list[date]) -> int:
        """Save the sessions of a text."""
        # An unknown sheet is refused before anything is read.
        asked = self._of("") if self._args.sheet else None
        days = days_of(_text(self._args.source))
        if not days:
            raise MatsideError(
                "the text holds no session; write a line for each exercise: row 12 11",
                code=Exit.DATA,
            )
        for found in days:
            found.on = found.on or (dates[0] if dates else None)
            with self._paper_of(found, asked) as (paper, _):
                write_lines(paper, found)
        for found in days:
            with self._paper_of(found, asked) as (paper, of):
                code = take_down(paper, found, _talk(), yes=self._args.yes)
                self._say_what_follows(paper, of)
            if code != Exit.OK:
                return code
        return Exit.OK

    @contextmanager
    def _paper_of(
        self, found: Day, asked: str | Sheet | None
    ) -> Iterator[tuple[Paper, str | Sheet]]:
        """The paper of a session of a text, and the sheet or plan that it is of."""
        if found.on is None:
            raise MatsideError(
                "write the date in a line before its session: on 2026-11-23", code=Exit.DATA
            )
        of = self._of(found.sheet)
        if isinstance(asked, Sheet) and isinstance(of, Sheet) and asked.trainee != of.trainee:
            raise MatsideError(
                f"sheet {of.id} of the text is {shown(of.trainee)}'s, and sheet {asked.id} "
                f"{shown(asked.trainee)}'s; name the other sheet",
                code=Exit.DATA,
            )
        if isinstance(of, Sheet) and found.session not in ("", of.session):
            raise MatsideError(
                f"the text is for session {shown(found.session)}, and sheet {of.id} is for "
                f"session {shown(of.session)}; name the other sheet",
                code=Exit.DATA,
            )
        with self._paper(of, found.on, found.session) as paper:
            yield paper, of

    def _of(self, id_: str) -> str | Sheet:
        """The sheet with that id, or the one asked for, or the plan. Raises MatsideError."""
        id_ = id_ or self._args.sheet or ""
        if not id_:
            if self._args.plan is None:
                raise MatsideError(
                    "the text names no sheet; name the plan: matside log kestrel-hut --from FILE",
                    code=Exit.USAGE,
                )
            return str(self._args.plan)
        sheet = find_sheet(self._data, id_)
        if sheet is None:
            raise MatsideError(
                f"this record has no sheet {shown(id_)}; check the id under the sheet's title",
                code=Exit.NO_INPUT,
            )
        if self._args.trainee is not None and self._trainee != sheet.trainee:
            raise MatsideError(
                f"sheet {sheet.id} is {shown(sheet.trainee)}'s; leave --for out", code=Exit.USAGE
            )
        return sheet

    @contextmanager
    def _paper(self, of: str | Sheet, on: date, session: str = "") -> Iterator[Paper]:
        args = self._args
        paper = open_paper(
            of,
            data=self._data,
            trainee=self._trainee,
            clock=self._clock,
            on=on,
            at=_hour(args.at),
            session=session or args.session,
        )
        with closing(paper.record):
            _say_exposed(paper.record)
            yield paper

    def _say_what_follows(self, paper: Paper, of: str | Sheet) -> None:
        if not paper.kept:
            return
        plan = plan_titled(of.plan, self._data) if isinstance(of, Sheet) else of
        _say_what_is_advised(paper, self._clock.local(), plan, self._data)


def _text(source: str) -> list[str]:
    """The lines of --from. Raises MatsideError (66, 65) for a file that cannot be read."""
    if source == "-":
        return list(_lines())
    try:
        text = Path(source).read_text(encoding="utf-8-sig")
    except OSError as error:
        line = f"{shown(source)} cannot be read: {error.strerror}"
        raise MatsideError(line, code=Exit.NO_INPUT) from None
    except ValueError:
        raise MatsideError(
            f"{shown(source)} is not a text in UTF-8; save it as UTF-8", code=Exit.DATA
        ) from None
    return text.splitlines()


def _say_what_is_advised(paper: Paper, now: datetime, plan: str, data: Path) -> None:
    """The advice that follows, a line each; `matside next` answers it.

    `plan` is what to type for the plan, "" where its file is gone.
    """
    trainee, session = paper.info.trainee, paper.info.id
    known = read_for(find_plan(plan, data), data, trainee).plan if plan else None
    advisor = Advisor(paper.record, trainee, [paper.workout], now, session_id=session, plan=known)
    there = open_ones(advisor.items)
    done = {row.exercise for row in advisor.past.rows if row.session_id == session}
    for line in _levels(paper, advisor):
        tell(line)
    for item in advisor.items:  # its number differs in the list of `next`
        answered = advisor.shows(item) if item.proposes else item.tells and item.exercise.id in done
        advice = [item.advice] if answered else []
        for one in (*advice, *(item.remarks if item.exercise.id in done else ())):
            tell(f"Advice: {item.name} ({item.id}): {one.line}")
    if there and plan:
        for_whom = shlex.join(("matside", "next", plan, "--for", trainee))
        tell(f"To answer: {for_whom}")


def _levels(paper: Paper, advisor: Advisor) -> Iterator[str]:
    """The levels that are not as planned, and whether the next session starts at them."""
    items = {(item.exercise.id, item.current.group): item for item in advisor.items}
    for one in new_levels(paper.result().state):
        item = items.get((one.exercise.id, one.group))
        if item is None or item.working is None:
            continue
        if item.working.source == paper.info.id:
            yield f"{one.text}: kept for next time"
        else:
            since = long_day(item.working.on)
            yield f"{one.text}: {level_text(item.level)} of {since} stays in force"


def _fix(args: argparse.Namespace, on: date, trainee: str, data: Path, clock: SystemClock) -> int:
    path = record_path(data, trial=args.trial or _is_trial(args.plan, data))
    with Record.open(path, create=False) as record:
        _say_exposed(record)
        correction = open_correction(record, trainee, on, args.id)
        return put_right(correction, _talk(), clock.local(), yes=args.yes)


def _say_exposed(record: Record) -> None:
    """Say that others can open the record, if they can."""
    warning = None if record.path is None else exposed(record.path)
    if warning:
        print(f"matside: {warning}", file=sys.stderr)


def _is_trial(plan: str | None, data: Path) -> bool:
    """Whether the sessions of that plan have a record of their own."""
    if plan is None:
        return False
    return read_plan(find_plan(plan, data), data).trial


def _hour(text: str | None) -> time | None:
    """A time of day: 06:30."""
    if text is None:
        return None
    seconds = time_of_day(text)
    return time(seconds // 3600, seconds // 60 % 60, seconds % 60)


def _talk() -> Talk:
    terminal = sys.stdin.isatty() and sys.stderr.isatty()
    seen = terminal and sys.stdout.isatty()
    return Talk(_lines(), sys.stdout, sys.stderr, terminal=terminal, seen=seen)


def _lines() -> Iterator[str]:
    """Lines of standard input."""
    sys.stdin.reconfigure(errors="replace")  # type: ignore[union-attr]
    for line in sys.stdin:
        yield line.rstrip("\n")
