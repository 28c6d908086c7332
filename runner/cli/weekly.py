"""`matside rehearse --week`: all sessions of the plan, on days of a week."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Final

from runner.cli.agreed import as_agreed, changes_of
from runner.cli.chosen import Chosen
from runner.errors import Exit, MatsideError
from runner.plan.compile import compile_session
from runner.rehearsal.week import week_of
from runner.rehearsal.week_text import week_data, week_lines

# What is of one session, or of a plan that is not as it stands.
_NOT_HERE: Final = (
    "session", "at", "svg", "watch", "recovery", "changeover", "reps", "pace", "sets",
    "within", "until", "runs", "seed",
)  # fmt: skip


def check(args: argparse.Namespace) -> None:
    """Refuse what a week would leave undone in silence. Raises MatsideError."""
    given = [option for option in _NOT_HERE if getattr(args, option) not in (None, False)]
    if args.week and given:
        raise MatsideError(
            f"--week shows all sessions as they stand; leave --{given[0]} out", code=Exit.USAGE
        )


def show(args: argparse.Namespace, what: Chosen, width: int) -> int:
    """Print the week in lines of at most `width` columns, or as data; the exit code."""
    plan = what.plan
    agreed = changes_of(what, lasting=True)
    workouts = [as_agreed(compile_session(plan, session.id), agreed) for session in plan.session]
    week = week_of(plan, [(w, what.known_for(w)) for w in workouts])
    if args.json:
        json.dump(week_data(week), sys.stdout, indent=1, ensure_ascii=False)
        print()
    else:
        print("\n".join(week_lines(week, width)))
    return Exit.OK
