"""`matside check`: every fault of a plan at once, then what a good one holds."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from runner.cli.common import data_dir, data_option, examples
from runner.errors import Exit, MatsideError
from runner.plan.compile import compile_session
from runner.plan.file import read_plan, read_shelf
from runner.plan.library import find_plan
from runner.plan.models import Plan
from runner.plan.objections import objections
from runner.plan.review import content_warnings, render_warnings, summary_lines
from runner.plan.schema import json_schema
from runner.planning import forecast
from runner.text import clock, escaped

OF_SHELVES = ("exercise.", "station.")  # places of the warnings that concern a shelf


def options(parser: argparse.ArgumentParser) -> None:
    """What the command line of it may hold."""
    examples(
        parser,
        "matside check plans/mine.toml",
        "matside check --schema > plan.schema.json",
    )
    parser.add_argument("plans", metavar="PLAN", nargs="*", help="path or name of a plan")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of plans")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command. Of several plans the gravest code holds."""
    if args.schema:
        print(json.dumps(json_schema(), indent=2, ensure_ascii=False))
        return Exit.OK
    if not args.plans:
        raise MatsideError("name a plan: matside check demo", code=Exit.USAGE)
    return max(_check(name, data_dir(args.data)) for name in args.plans)


def _check(name: str, data: Path) -> int:
    try:
        path = find_plan(name, data)
        shelf = read_shelf(path, data)
        plan = read_plan(path, data) if shelf is None else shelf
    except MatsideError as error:
        print("\n".join(error.lines), file=sys.stderr)
        return error.code
    print("\n".join(_report(plan, path) if shelf is None else _shelf_report(shelf, path)))
    return Exit.OK


def _shelf_report(shelf: Plan, path: Path) -> list[str]:
    name, levels = escaped(str(path)), compile_session(shelf, "shelf").exercises.values()
    count = sum(len(exercise.progression) for exercise in levels)
    line = f"{name}: a good shelf: {len(levels)} exercises, {count} levels"
    warnings = [one for one in content_warnings(shelf) if one.place.startswith(OF_SHELVES)]
    return [line, *render_warnings(str(path), warnings)]


def _report(plan: Plan, path: Path) -> list[str]:
    workouts = [compile_session(plan, session.id) for session in plan.session]
    lines = [f"{escaped(str(path))}: good", *summary_lines(plan, workouts)]
    for workout in workouts:
        length = forecast.total(forecast.rehearse(workout))
        line = f"predicted length of {workout.session}: {clock(length)}"
        session = plan.find_session(workout.session)
        if session is not None and session.minutes is not None:
            over = length - session.minutes
            line += f" of {clock(session.minutes)}"
            line += f"; warning: {clock(over)} more than the plan says" if over > 0 else ""
        lines.append(line)
    found = objections(plan, workouts)
    said = {(one.place, one.wrong) for one in found}
    warnings = [w for w in content_warnings(plan) if (w.place, w.wrong) not in said]
    lines += render_warnings(str(path), warnings)
    return lines + [one.line(str(path)) for one in found]
