"""`matside check`: lists every fault of a plan; of a good plan, what it holds."""

from __future__ import annotations

import argparse
import json
import sys
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from runner.cli.common import (
    data_dir,
    data_option,
    examples,
    for_option,
    show_lines,
    trainee_name,
    width,
)
from runner.errors import Exit, MatsideError
from runner.law.workout import Workout
from runner.plan.compile import compile_plan, compile_session
from runner.plan.file import read_plan, read_shelf
from runner.plan.library import find_plan
from runner.plan.models import Plan
from runner.plan.objections import objections
from runner.plan.review import content_warnings, detail_lines, render_warnings, summary_lines
from runner.plan.schema import json_schema
from runner.planning import forecast
from runner.text import clock, escaped, shown, wrapped

if TYPE_CHECKING:
    from runner.reports.follow import Snapshot

OF_SHELVES = ("exercise.", "station.")  # places whose warnings concern a shelf


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside check plans/mine.toml",
        "matside check kestrel-hut --for Ada",
        "matside check --schema > plan.schema.json",
    )
    parser.add_argument("plans", metavar="PLAN", nargs="*", help="path or name of a plan")
    for_option(parser, "trainee whose overlay to apply; lists what it changes, and what that costs")
    parser.add_argument(
        "--follow",
        action="store_true",
        help="check PLAN at each save; shows lengths, weekly sets, changes, objections",
    )
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of plans")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command; for several plans the code is the gravest one."""
    if args.schema:
        print(json.dumps(json_schema(), indent=2, ensure_ascii=False))
        return Exit.OK
    if not args.plans:
        raise MatsideError("name a plan: matside check demo", code=Exit.USAGE)
    if args.follow and len(args.plans) > 1:
        raise MatsideError("--follow checks one plan; name one", code=Exit.USAGE)
    trainee = None if args.trainee is None else trainee_name(args.trainee)
    if args.follow:
        return _follow(args.plans[0], data_dir(args.data), trainee)
    return max(_check(name, data_dir(args.data), trainee) for name in args.plans)


def _check(name: str, data: Path, trainee: str | None) -> int:
    try:
        path = find_plan(name, data)
        shelf = read_shelf(path, data)
        if shelf is not None:
            lines = _shelf_report(shelf, path)
        elif trainee is None:
            lines = _report(read_plan(path, data), path)
        else:
            lines = _personal_report(path, data, trainee)
    except MatsideError as error:
        print("\n".join(error.lines), file=sys.stderr)
        return error.code
    wide, here = width(), f"{path}: "
    head, *rest = lines  # only the heading names the file
    folded = [row for line in rest for row in wrapped(line.removeprefix(here), wide, _indent(line))]
    show_lines([head, *folded])
    return Exit.OK


# --follow: the plan while a person edits it.

QUIET_MS, LONGEST_MS = 50, 200  # ms after a save's last change, and its first; our choice


def _follow(name: str, data: Path, trainee: str | None) -> int:
    """Check a plan at each save, until the person ends it."""
    from watchfiles import watch

    from runner.output import overlay_path

    path = find_plan(name, data)
    overlay = None if trainee is None else overlay_path(data, trainee)
    # Editors replace the file by a new one, so folders are watched, not files.
    folders = {
        path.resolve().parent,
        data / "plans",
        *([] if overlay is None else [overlay.parent]),
    }
    there = sorted(folder for folder in folders if folder.is_dir())
    seen = _saves(there)
    before = _look(path, data, trainee, None)
    changes = watch(
        *there,
        watch_filter=lambda _, changed: changed.endswith(".toml"),
        debounce=LONGEST_MS,
        step=QUIET_MS,
        rust_timeout=LONGEST_MS,  # a save before the watch began is seen at the first one
        yield_on_timeout=True,
        recursive=False,
        raise_interrupt=True,
    )
    for _ in changes:
        saves = _saves(there)
        if saves != seen:
            seen = saves
            print(flush=True)
            before = _look(path, data, trainee, before)
    return Exit.OK


def _saves(folders: list[Path]) -> dict[Path, tuple[int, int, int]]:
    """The TOML files of the folders, and what changed at each save."""
    found = {}
    for folder in folders:
        for path in folder.glob("*.toml"):
            with suppress(OSError):  # deleted meanwhile
                is_now = path.stat()
                found[path] = (is_now.st_ino, is_now.st_mtime_ns, is_now.st_size)
    return found


def _look(path: Path, data: Path, trainee: str | None, before: Snapshot | None) -> Snapshot | None:
    """Print a summary of the plan, or its faults; returns what the next save is compared with."""
    from runner.plan.person import read_for
    from runner.reports.follow import follow_lines, snapshot

    try:
        shelf = read_shelf(path, data)
        if shelf is not None:
            show_lines(_shelf_report(shelf, path))
            return None
        plan = read_plan(path, data) if trainee is None else read_for(path, data, trainee).plan
    except MatsideError as error:
        print("\n".join(error.lines), flush=True)
        return before
    now = snapshot(plan)
    for line in follow_lines(now, before):
        print("\n".join(wrapped(line, width(), "  ")))
    sys.stdout.flush()
    return now


def _indent(line: str) -> str:
    return " " * (len(line) - len(line.lstrip()) + 2)


def _personal_report(path: Path, data: Path, trainee: str) -> list[str]:
    """The plan for one person, and what their overlay changes."""
    from runner.plan.person import read_for
    from runner.reports.overlay import overlay_report

    personal = read_for(path, data, trainee)
    today = datetime.now().astimezone().date()
    lines = overlay_report(personal, trainee, today)
    return [*_report(personal.plan, path), *(shown(line) for line in lines)]


def _shelf_report(shelf: Plan, path: Path) -> list[str]:
    name, levels = escaped(str(path)), compile_session(shelf, "shelf").exercises.values()
    count = sum(len(exercise.progression) for exercise in levels)
    line = f"{name}: a good shelf: {len(levels)} exercises, {count} levels"
    warnings = [one for one in content_warnings(shelf) if one.place.startswith(OF_SHELVES)]
    return [line, *render_warnings(str(path), warnings)]


def _report(plan: Plan, path: Path) -> list[str]:
    """What a plan holds and how long it takes, what deserves a second look, then the details."""
    workouts = compile_plan(plan)
    found = objections(plan, workouts)
    places = {(one.place, one.wrong) for one in found}
    warnings = [w for w in content_warnings(plan) if (w.place, w.wrong) not in places]
    look = [*render_warnings(str(path), warnings), *(one.line(str(path)) for one in found)]
    return [
        f"{escaped(str(path))}: good",
        *summary_lines(plan, workouts),
        *(_length(plan, workout) for workout in workouts),
        *(["Worth a second look:"] if look else []),
        *look,
        *detail_lines(plan, workouts),
    ]


def _length(plan: Plan, workout: Workout) -> str:
    length = forecast.total(forecast.session_steps(workout))
    line = f"forecast length of {workout.session}: {clock(length)}"
    session = plan.find_session(workout.session)
    if session is None or session.minutes is None:
        return line
    over = length - session.minutes
    late = f"; warning: {clock(over)} more than the plan says" if over > 0 else ""
    return f"{line} of {clock(session.minutes)}{late}"
