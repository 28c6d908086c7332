"""`matside for NAME`: shows or edits one person's overlay over a shared plan."""

from __future__ import annotations

import argparse
import os
import shlex
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

from runner.cli.common import data_dir, data_option, examples, trainee_name
from runner.errors import Exit, MatsideError
from runner.output import new_file, overlay_path, record_path
from runner.plan.library import find_plan, plan_titled
from runner.plan.overlay import Overlay, plan_meant, read_overlay
from runner.plan.person import read_for
from runner.progress.pain import LATELY, lately, pain_advice, pains_of
from runner.record.files import make_folder
from runner.record.record import Record
from runner.text import shown

SHIPPED = "kestrel-hut"
TEMPLATE = """\
# How a shared plan differs for {name}. Take the # off a line to use it.
# matside check {plan} --for {name} lists what that changes.
of = "{plan}"
# minutes = "30:00"             # time of a session; sets are left out by priority
# days = ["mon", "wed", "sat"]
# reserve = 3                   # repetitions in reserve; an exercise or phase may ask for more

[avoid]                         # never planned, never offered, never advised
# stress = ["shoulder overhead"]
# exercise = ["pike-press"]
# until = 2027-01-15            # from then on matside asks whether this is over

[swap]                          # an exercise to do instead
# push-up = "band-press"

[sets]                          # more or fewer sets in each session: "+1", "-1", or a number
# bar-row = "+1"

[limit]                         # the hardest version for now
# split-squat = "free"

[start]                         # first level, until there is a decision or a session
# squat = "rucksack:8kg"
"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(parser, "matside for Ada", "matside for Ada --edit")
    parser.add_argument("name", metavar="NAME", help="trainee, as in the record")
    parser.add_argument(
        "--edit",
        action="store_true",
        help="open the overlay in $VISUAL or $EDITOR; make a missing one",
    )
    parser.add_argument(
        "--plan", metavar="PLAN", help="plan of a new overlay (default: the one run last)"
    )
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data, trainee = data_dir(args.data), trainee_name(args.name)
    path = overlay_path(data, trainee)
    with Record.open_readonly(record_path(data, trial=False)) as record:
        near = [] if trainee in record.trainees() else record.similar(trainee)
    if near and not path.exists():
        print(f"{trainee} is new; similar names: {shown(', '.join(near))}", file=sys.stderr)
    if args.edit:
        return _edit(path, data, trainee, args.plan)
    if not path.exists():
        raise MatsideError(
            f"{trainee} has no overlay: {path} does not exist; make it: "
            f"matside for {shlex.quote(trainee)} --edit",
            code=Exit.NO_INPUT,
        )
    overlay = read_overlay(data, trainee)
    print(shown(path), file=sys.stderr)
    for line in overlay.text.splitlines() if overlay else ():
        print(shown(line))
    if overlay is not None:
        _see(data, trainee, overlay)
        if overlay.over(datetime.now().astimezone().date()):
            print(shown(overlay.question), file=sys.stderr)
    for line in pain_advice_lines(data, trainee):
        print(shown(line), file=sys.stderr)
    return Exit.OK


def _edit(path: Path, data: Path, trainee: str, plan: str | None) -> int:
    for line in pain_advice_lines(data, trainee):
        print(shown(line), file=sys.stderr)
    if not path.exists():
        of = plan or _last_plan(data, trainee)
        find_plan(of, data)
        make_folder(path.parent)
        with new_file(path, force=None, data=data) as file:
            file.write(TEMPLATE.format(name=trainee, plan=of))
        print(f"made: {shown(path)}", file=sys.stderr)
    editor = shlex.split(os.environ.get("VISUAL") or os.environ.get("EDITOR") or "")
    if not editor:
        print(f"no $VISUAL or $EDITOR is set; edit {shown(path)}", file=sys.stderr)
    else:
        try:
            code = subprocess.run([*editor, str(path)], check=False).returncode  # noqa: S603 - the person's own
        except OSError as error:
            raise MatsideError(
                f"{editor[0]} cannot be started: {error.strerror}; edit {path}",
                code=Exit.UNAVAILABLE,
            ) from None
        if code:
            raise MatsideError(f"{editor[0]} ended with {code}", code=Exit.UNAVAILABLE)
    overlay = read_overlay(data, trainee)
    if overlay is not None:
        _see(data, trainee, overlay)
        of = overlay.of or "PLAN"
        check = shlex.join(("matside", "check", of, "--for", trainee))
        print(f"see what it changes: {shown(check)}", file=sys.stderr)
    return Exit.OK


def _see(data: Path, trainee: str, overlay: Overlay) -> None:
    """Check that it fits its plan. Raises PlanFaults."""
    if overlay.of:
        read_for(plan_meant(overlay, data), data, trainee)


def _last_plan(data: Path, trainee: str) -> str:
    """The file stem of the plan that the person ran last; else a shipped plan's."""
    with Record.open_readonly(record_path(data, trial=False)) as record:
        known = trainee in record.trainees()
        sessions = record.sessions(trainee=trainee) if known else []
    return (plan_titled(sessions[-1].plan, data) if sessions else "") or SHIPPED


def pain_advice_lines(data: Path, trainee: str) -> list[str]:
    """Entries that recent pain suggests; the program writes none by itself."""
    today = datetime.now().astimezone().date()
    with Record.open_readonly(record_path(data, trial=False)) as record:
        if trainee not in record.trainees():
            return []
        rows = list(record.period(trainee, since=today - timedelta(days=LATELY), until=today))
    overlay = read_overlay(data, trainee)
    avoided = () if overlay is None else overlay.avoid_exercise
    return [
        pain_advice(pain, trainee)
        for pain in lately(pains_of(rows), today)
        if pain.exercise not in avoided
    ]
