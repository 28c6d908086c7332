"""`matside rehearse`: a session's predicted timeline, as text, as a picture or as data."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from pathlib import Path

from runner.cli import weekly
from runner.cli.chosen import Chosen, chosen
from runner.cli.main import data_dir
from runner.cli.until import time_of_day, time_there_is
from runner.cli.watching import check, watch
from runner.core import forecast
from runner.core.memory import Memory
from runner.core.rehearsal.lengths import LATEST
from runner.core.rehearsal.what_if import Figures, figures
from runner.core.workout import Workout
from runner.errors import Exit
from runner.live.paths import record_path
from runner.plan.compile import compile_session
from runner.record.new_file import new_file
from runner.record.text import shown
from runner.rehearsal.chart import SIGNS
from runner.rehearsal.data import as_data
from runner.rehearsal.fitting import Fitted, fit_data, fit_lines, fitted
from runner.rehearsal.report import report
from runner.rehearsal.svg import picture
from runner.rehearsal.uncertainty import draws, length_data, length_lines
from runner.rehearsal.what_if import side_by_side, tried, what_if_data

PIPED = 80  # columns where no terminal reads along


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    weekly.check(args)
    check(args)
    at = None if args.at is None else time_of_day(args.at)
    within = time_there_is(args.within, args.until, at)
    trying = tried(args.recovery, args.changeover, args.reps, args.pace, args.sets)
    drawing = draws(args.runs, args.seed)
    what = chosen(args)
    if args.week:
        return weekly.show(args, what, columns())
    planned, known = what.workout, what.memory
    plan = trying.plan(what.plan, planned.session)
    workout = compile_session(plan, planned.session)
    memory = trying.memory(workout, known)
    fits = None if within is None else _fitted(what, workout, memory, within)
    if fits is not None and not args.json:
        workout = fits.workout
    if args.watch:
        what.record.close()
        where = record_path(data_dir(args.data), trial=plan.trial)
        return watch(args, workout, memory, what.trainee, where)
    past = what.record.lengths(what.trainee, planned, LATEST)
    simulation = drawing.simulated(workout, memory, past)
    compared: tuple[Figures, Figures] | None = None
    if trying:
        compared = (
            figures(planned, known, drawing.simulated(planned, known, past)),
            figures(workout, memory, simulation),
        )
    if args.svg is not None:
        _draw(args.svg, workout, memory, at, force=args.force)
    if args.json:
        whole = as_data(workout, memory) | length_data(simulation, drawing.seed)
        whole |= what_if_data(trying, *compared) if compared else {}
        whole |= {} if fits is None else fit_data(fits)
        json.dump(whole, sys.stdout, indent=1, ensure_ascii=False)
        print()
    else:
        lines = [] if fits is None else [*fit_lines(fits), ""]
        lines += report(
            plan,
            workout,
            memory,
            spread=length_lines(simulation, drawing.seed, columns()),
            width=columns(),
            at=at,
            plain=not can_draw(),
        )
        lines += ["", *side_by_side(trying, *compared)] if compared else []
        print("\n".join(lines))
    return Exit.OK


def _fitted(what: Chosen, workout: Workout, memory: Memory, within: float) -> Fitted:
    """The session in so many seconds, beside the plan's others."""
    sessions = [
        (workout, memory)
        if session.id == workout.session
        else (w := compile_session(what.plan, session.id), what.record.memory(what.trainee, w))
        for session in what.plan.session
    ]
    return fitted(what.plan, sessions, workout, within)


def columns() -> int:
    """The terminal's width, or 80 where the output goes elsewhere."""
    return shutil.get_terminal_size((PIPED, 24)).columns if sys.stdout.isatty() else PIPED


def can_draw() -> bool:
    """Whether the output's encoding has the chart's signs."""
    try:
        "".join(SIGNS.values()).encode(sys.stdout.encoding or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _draw(path: Path, workout: Workout, memory: Memory, at: int | None, *, force: bool) -> None:
    drawn = picture(workout, forecast.rehearse(workout, memory), at)
    with new_file(path, force=force) as file:
        file.write(drawn)
    print(f"written: {shown(path)}", file=sys.stderr)
