"""`matside next`: shows working levels and advice, and takes the answers."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import date

from runner.cli.common import (
    data_dir,
    data_option,
    day,
    examples,
    for_option,
    plan_argument,
    tell,
    trainee_name,
)
from runner.errors import Exit, MatsideError
from runner.lines.paper import Talk
from runner.lines.session import answering
from runner.live.advice import Advisor, ExerciseAdvice, open_ones
from runner.live.advice_lines import SOURCES_LINE, answer, exercise_lines
from runner.live.clock import SystemClock
from runner.live.session_setup import due_on, due_session, phase_now
from runner.output import record_path
from runner.plan.compile import compile_plan
from runner.plan.library import find_plan
from runner.plan.models import Plan
from runner.plan.person import PersonalPlan, read_for
from runner.progress.advice import RULES
from runner.progress.layoff import layoff_text
from runner.progress.pain import lately, pain_advice
from runner.progress.weeks import counts_for_week
from runner.record.files import exposed
from runner.record.record import Record
from runner.reports.roster import is_stalled
from runner.session.apply import Refused
from runner.text import long_day


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside next kestrel-hut --for Ada",
        "matside next kestrel-hut --accept push-up --refuse band-press",
        "matside next kestrel-hut --set band-press=mark-2:140cm --on 2026-11-22",
    )
    plan_argument(parser)
    for_option(parser, "trainee (default: login name)")
    what = "an exercise; EXERCISE/VERSION where the plan names a version for each set"
    parser.add_argument(
        "--accept",
        metavar="EXERCISE",
        action="append",
        default=[],
        help=f"accept the advice for {what}; its number in the list will do; EXERCISE:2 accepts "
        "its second choice",
    )
    parser.add_argument(
        "--refuse",
        metavar="EXERCISE",
        action="append",
        default=[],
        help="refuse the advice; it comes back after more sessions",
    )
    parser.add_argument(
        "--set",
        metavar="EXERCISE=VERSION",
        dest="by_hand",
        action="append",
        default=[],
        help="set the working level: a version, or a version at one set-up or load "
        "(press=mark-2:120cm)",
    )
    parser.add_argument("--on", metavar="DATE", help="local date of the decision (default: today)")
    parser.add_argument(
        "--as-planned",
        metavar="EXERCISE",
        action="append",
        default=[],
        help="end the accepted changes of its recovery, sets or substitute",
    )
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data, trainee = data_dir(args.data), trainee_name(args.trainee)
    on = day(args.on, "--on")
    personal = read_for(find_plan(args.plan, data), data, trainee)
    plan = personal.plan
    path = record_path(data, trial=plan.trial)
    asked = args.accept or args.refuse or args.by_hand or args.as_planned
    at_terminal = sys.stdin.isatty() and sys.stdout.isatty()
    record = Record.open(path) if asked or at_terminal else Record.open_readonly(path)
    if warning := exposed(path):
        print(f"matside: {warning}", file=sys.stderr)
    with closing(record):
        if trainee not in record.trainees():
            say_new(record, trainee)
        advisor = _advisor(record, trainee, plan, on)
        if asked:
            _answer(advisor, args)
        _print(advisor, plan, trainee, record)
        _print_overlay(personal, advisor)
        if at_terminal and not asked:
            answering(advisor, _talk())
    return Exit.OK


def _advisor(record: Record, trainee: str, plan: Plan, on: date | None) -> Advisor:
    workouts = compile_plan(plan)
    now = SystemClock().local()
    if on is not None and on > now.date():
        raise MatsideError(f"--on {on} is in the future; today is {now.date()}", code=Exit.USAGE)
    return Advisor(record, trainee, workouts, now, plan=plan, week=workouts, on=on)


def say_new(record: Record, trainee: str) -> None:
    """Say that the record does not know that name, and which names are similar."""
    near = record.similar(trainee)
    hint = f" Similar names: {', '.join(near)} (--for NAME)." if near else ""
    print(f"{trainee} is not in the record yet; this is for a new trainee.{hint}", file=sys.stderr)


def _answer(advisor: Advisor, args: argparse.Namespace) -> None:
    """Do what the options say, up to the first that cannot be done; that one is wrong usage."""
    for line in _lines(advisor, args):
        try:
            tell(answer(advisor, line))
        except Refused as refused:
            raise MatsideError(str(refused), code=Exit.USAGE) from None


def _lines(advisor: Advisor, args: argparse.Namespace) -> Iterator[str]:
    """The options as lines that a person could type."""
    yield from (f"set {text}" for text in args.by_hand)
    yield from (f"planned {text}" for text in args.as_planned)
    yield from (f"accept {_numbers(advisor, text)}" for text in args.accept)
    yield from (f"refuse {_numbers(advisor, text)}" for text in args.refuse)


def _numbers(advisor: Advisor, text: str) -> str:
    """`press:2`, or `6:2`, as the number of the exercise in the list, and of the choice."""
    name, _, choice = text.partition(":")
    if name == "week":
        return name
    ids = [item.id for item in advisor.items]
    numbers = {str(number): id_ for number, id_ in enumerate(ids, 1)}
    name = name if name in ids else numbers.get(name, name)
    if name not in ids:
        raise MatsideError(
            f"unknown exercise {name!r}; the plan has {', '.join(ids)}", code=Exit.USAGE
        )
    return f"{ids.index(name) + 1} {choice}".strip()


def _print(advisor: Advisor, plan: Plan, trainee: str, record: Record) -> None:
    """What is due, then the exercises with their numbers, those that need a look first."""
    tell(f"{plan.title}: {trainee}", sys.stdout)
    tell(_due(advisor, plan, record, trainee), sys.stdout)
    phase = phase_now(plan, record, trainee, SystemClock().local().date())
    if phase is not None:
        tell(f"{phase.text.capitalize()}.", sys.stdout)
    away = advisor.layoff
    if away is not None and away.back is None:
        tell(f"{layoff_text(away)} ({RULES['layoff'].source})", sys.stdout)
    if until := advisor.lighter_until:
        tell(f"A lighter week until {long_day(until)}.", sys.stdout)
    for conflict in record.conflicts(trainee):
        tell(f"conflict: {conflict}", sys.stdout)
    for head, found in _grouped(advisor):
        print(f"\n{head}")
        for number, item in found:
            for line in exercise_lines(number, item):
                tell(line, sys.stdout)
        if head == WAITING and advisor.lighter is not None:
            tell(f"    {advisor.lighter.line}", sys.stdout)
    there = open_ones(advisor.items)
    if there:
        names = ", ".join(f"{number} {item.id}" for number, item in there)
        tell(f"Waiting for your answer: {names}.")
    tell(f"({SOURCES_LINE})")


def _due(advisor: Advisor, plan: Plan, record: Record, trainee: str) -> str:
    """Which session is due, and when."""
    session = due_session(plan, record, trainee)
    done = {row.session_id for row in advisor.past.rows if counts_for_week(row)}
    days = [one.local_date for one in advisor.past.sessions if one.session_id in done]
    if not days:
        return f"Session {session} comes first."
    on, today = due_on(plan, max(days)), SystemClock().local().date()
    when = "today" if on == today else f"{'since ' if on < today else ''}{on:%A} {long_day(on)}"
    return f"Due {when}: session {session}."


WAITING = "Advice that waits for your answer"


def _grouped(advisor: Advisor) -> Iterator[tuple[str, list[tuple[int, ExerciseAdvice]]]]:
    """The exercises under headings, each once; its number is its place in the plan."""
    groups: dict[str, list[tuple[int, ExerciseAdvice]]] = {}
    for number, item in enumerate(advisor.items, 1):
        head = "No change"
        if item.proposes:
            head = WAITING
        elif item.pain:
            head = "Hurting"
        elif is_stalled(item, advisor.past):
            head = "Stalled"
        groups.setdefault(head, []).append((number, item))
    if advisor.lighter is not None:
        groups.setdefault(WAITING, [])
    for head in (WAITING, "Hurting", "Stalled", "No change"):
        if head in groups:
            yield head, groups[head]


def _print_overlay(personal: PersonalPlan, advisor: Advisor) -> None:
    """The overlay's question, and entries that recent pain suggests for it."""
    today, there = SystemClock().local().date(), {item.exercise.id for item in advisor.items}
    if personal.overlay is not None and personal.overlay.over(today):
        tell(personal.overlay.question, sys.stdout)
    for pain in lately(advisor.pains, today):
        if pain.exercise in there:
            tell(pain_advice(pain, advisor.trainee), sys.stdout)


def _talk() -> Talk:
    return Talk((line.rstrip("\n") for line in sys.stdin), sys.stdout, sys.stderr, terminal=True)
