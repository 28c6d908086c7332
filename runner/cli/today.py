"""`matside` alone: what is due today and for whom, what waits, and what to type.

Due means the same as in the roster. Trainees with nothing due and nothing waiting share one line.
"""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final

from runner.cli.common import Busy, data_dir, default_trainee, tell
from runner.errors import Exit, MatsideError
from runner.live.clock import SystemClock
from runner.live.session_setup import due_session
from runner.output import record_path
from runner.plan.library import find_plan, plan_titled
from runner.plan.models import Plan
from runner.plan.person import ManyPeople, read_for
from runner.record.record import Record
from runner.reports.roster import Person, roster, stored_plan
from runner.text import long_day

MOST: Final = 5  # people with lines of their own; more would not fit 24 lines
NOBODY: Final = """\
Nobody has trained here yet. Start with one of these:
  matside run demo                     a demo session of two minutes
  matside rehearse kestrel-hut         the timing of a plan that is ready
  matside run kestrel-hut --for NAME   its first session
matside help plan explains a plan of your own; matside --help lists commands."""


def main(args: argparse.Namespace) -> int:
    """Print it; there are no options."""
    del args
    data, now = data_dir(None), SystemClock().local()
    path = record_path(data, trial=False)
    with Record.open_readonly(path) as record, Busy("Reading the record"):
        people = [
            one
            for one in roster(record, now, personal=ManyPeople(data).plan_of)
            if one.last or record.sessions(trainee=one.trainee)
        ]
        lines_of = {one.trainee: list(_lines(one, record, data, now)) for one in people}
    if not people:
        print(NOBODY)
        return Exit.OK
    # The person who asks comes first, then those due today, then those long away.
    people.sort(key=lambda one: one.due or date.min, reverse=True)
    people.sort(key=lambda one: one.trainee != default_trainee())
    waiting = [one for one in people if lines_of[one.trainee]]
    for one in waiting[:MOST]:
        for line in lines_of[one.trainee]:
            tell(line, sys.stdout)
    if not waiting:
        print("Nothing is due today.")
    later = [
        f"{one.trainee} {_when(one.due, now.date())}"
        for one in people
        if one not in waiting and one.due is not None
    ]
    if later:
        tell(f"Not due: {', '.join(later)}.", sys.stdout)
    if len(people) > 1:
        more = len(waiting) - MOST
        first = f"{more} more to look at. " if more > 0 else ""
        tell(f"{first}matside roster: a line for everybody.", sys.stdout)
    return Exit.OK


def _order(one: Person, today: date) -> tuple[bool, bool, int]:
    """The person who asks comes first; then those due, long away last; then the others."""
    due = one.due or date.min
    return one.trainee != default_trainee(), due > today, -due.toordinal()


def _lines(one: Person, record: Record, data: Path, now: datetime) -> Iterator[str]:
    """What a person has to do, each with the command below it; none where nothing is due."""
    today = now.date()
    newest = record.sessions(trainee=one.trainee)[-1]
    plan, typed = _plan(record, one.trainee, newest.plan, data)
    cut_off = record.open_sessions(one.trainee, newest.plan, record.path)[0]
    if cut_off is not None:
        begun = cut_off.info.local(0)
        yield (
            f"{one.trainee}: session {cut_off.info.session} of {_day(begun.date())}, started "
            f"{begun:%H:%M}, was cut off."
        )
        yield _command("run", *typed, "--for", one.trainee, "--resume")
    elif plan is not None and (one.due is None or one.due <= today):
        due = due_session(plan, record, one.trainee)
        name = next(session.name or session.id for session in plan.session if session.id == due)
        called = due if name == due else f"{due}, {name},"
        when = "is next" if one.due is None else _due(one.due, today)
        yield f"{one.trainee}: session {called} {when}."
        yield _command("run", *typed, "--for", one.trainee)
    if one.advice:
        verb = "waits" if one.advice == 1 else "wait"
        yield f"{one.trainee}: {one.advice} advice {verb} for an answer."
        yield _command("next", *(typed or ["PLAN"]), "--for", one.trainee)


def _plan(record: Record, trainee: str, title: str, data: Path) -> tuple[Plan | None, list[str]]:
    """The plan run last as its file has it now, else as it was run; and what to type for it."""
    typed = plan_titled(title, data)
    try:
        plan = read_for(find_plan(typed, data), data, trainee).plan if typed else None
    except MatsideError:  # `run` reports its faults
        plan = None
    stored = plan or stored_plan(record, record.sessions(trainee=trainee), title)
    return stored, [typed] if typed else []


def _command(*words: str) -> str:
    return f"  {shlex.join(('matside', *words))}"


def _due(on: date, today: date) -> str:
    return "is due today" if on == today else f"has been due since {_day(on)}"


def _when(on: date, today: date) -> str:
    return "tomorrow" if on == today + timedelta(days=1) else f"on {_day(on)}"


def _day(on: date) -> str:
    return f"{on:%A} {long_day(on)}"
