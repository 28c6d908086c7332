"""`matside compose`: composes a balanced week from a shelf, for a time and a person."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Mapping, Sequence
from itertools import accumulate
from pathlib import Path
from typing import Any

from runner.cli.common import data_dir, data_option, examples, for_option, force_option
from runner.cli.selection import known_for
from runner.errors import Exit, MatsideError
from runner.law.muscles import MUSCLES
from runner.output import new_file, record_path, refuse_to_replace
from runner.plan.compile import compile_session
from runner.plan.composition import Basis, ids, lacking, read_basis, text_of, week_sets
from runner.plan.faults import BadValueError, did_you_mean, quoted
from runner.plan.file import parse_plan, read_plan
from runner.plan.library import find_plan
from runner.plan.models import Plan
from runner.plan.objections import objections
from runner.plan.values import DAYS, parse_duration
from runner.planning.composing import Impossible, Week, compose, suited
from runner.planning.week_model import Goal, Model, Solver, Wishes
from runner.progress.adjust import Baseline
from runner.progress.weekdays import following
from runner.record.record import Record
from runner.text import clock, how_many, shown, trainee_name, wrapped

MOST_SESSIONS = 5  # a week: ACSM 2009, 4 to 5 days for the advanced
_AIM = re.compile(r"([a-z-]+)=([0-9]{1,3})(?:\.\.([0-9]{1,3}))?")


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside compose shelf --sessions 3 --minutes 50 -o mine.toml",
        "matside compose shelf --sessions 3 --minutes 30 --aim chest=6..10 -o ada.toml",
        "matside compose shelf --sessions 3 --minutes 45 --keep mine.toml -o new.toml",
    )
    parser.add_argument(
        "shelves", metavar="SHELF", nargs="+", help="a shelf: its path, or a name: shelf"
    )
    parser.add_argument(
        "--sessions", metavar="N", required=True, help=f"sessions a week, 1 to {MOST_SESSIONS}"
    )
    parser.add_argument(
        "--minutes", metavar="M", required=True, help="minutes of each session: 50, or 50:00"
    )
    for_option(parser, "trainee whose record and overlay are used (default: a new trainee)")
    parser.add_argument(
        "--keep", metavar="PLAN", help="plan to change as little as possible; its title stays"
    )
    parser.add_argument(
        "--aim",
        metavar="MUSCLE=6..10",
        action="append",
        default=[],
        help="sets a week that a muscle must have",
    )
    parser.add_argument(
        "-o", "--output", metavar="FILE", type=Path, required=True, help="plan to write"
    )
    force_option(parser)
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command; 65, and no plan is written, where the wishes contradict each other."""
    sessions, seconds = _sessions(args.sessions), _seconds(args.minutes)
    aims = dict(_aim(text) for text in args.aim)
    data = data_dir(args.data)
    solve = solver()
    refuse_to_replace(args.output, force=args.force, data=data)
    shelves = [find_plan(name, data) for name in args.shelves]
    trainee = None if args.trainee is None else trainee_name(args.trainee)
    basis = read_basis(shelves, args.output.parent, data, trainee)
    keep = None if args.keep is None else read_plan(find_plan(args.keep, data), data)
    baseline = _baseline(trainee, basis, data)
    kept = _kept(keep)
    workout = suited(basis.workout, baseline, {name for sets in kept for name in sets})
    bands = basis.bands() | aims
    days = [DAYS.index(day) for day in basis.days]
    wishes = Wishes(
        sessions,
        seconds,
        {muscle: band for muscle, band in bands.items() if muscle not in aims},
        aims,
        following(sessions, days if len(days) == sessions else ()),
        kept,
    )
    week = compose(workout, wishes, solve, baseline)
    if isinstance(week, Impossible):
        raise MatsideError(_reason(week, seconds), code=Exit.DATA)
    who = "" if trainee is None else f"{trainee}, "
    title = f"{who}{sessions} x {_minutes(seconds)}" if keep is None else keep.title
    text = text_of(
        basis,
        week,
        bands=bands,
        title=title,
        session_ids=ids(sessions, keep),
        seconds=seconds,
    )
    plan = parse_plan(text, str(args.output), args.output, data)
    with new_file(args.output, force=args.force, data=data) as file:
        file.write(text)
    print("\n".join(_report(basis, week, bands, plan)))
    print(f"wrote {shown(args.output)}", file=sys.stderr)
    return Exit.OK


def _sessions(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= MOST_SESSIONS:
        raise MatsideError(
            f"--sessions {text}: write 1 to {MOST_SESSIONS}; a week needs days without a session",
            code=Exit.USAGE,
        )
    return int(text)


def _seconds(text: str) -> float:
    try:
        seconds = parse_duration(f"{text}m" if text.isdecimal() else text)
    except BadValueError:
        seconds = 0.0
    if seconds <= 0:
        raise MatsideError(f"--minutes {text}: write it like 50 or 50:00", code=Exit.USAGE)
    return seconds


def _minutes(seconds: float) -> str:
    return how_many(int(seconds / 60), "minute") if seconds % 60 == 0 else clock(seconds)


def _aim(text: str) -> tuple[str, tuple[float, float]]:
    found = _AIM.fullmatch(text)
    if found is None:
        raise MatsideError(f"--aim {text}: write it like chest=6..10", code=Exit.USAGE)
    muscle, low, high = found[1], float(found[2]), float(found[3] or found[2])
    if muscle not in MUSCLES:
        raise MatsideError(
            f"--aim: unknown muscle {quoted(muscle)}; {did_you_mean(muscle, MUSCLES)}",
            code=Exit.USAGE,
        )
    if low > high:
        raise MatsideError(f"--aim {text}: write the smaller number first", code=Exit.USAGE)
    return muscle, (low, high)


def _baseline(trainee: str | None, basis: Basis, data: Path) -> Baseline | None:
    """What the record knows of the trainee; nothing where no name is given."""
    if trainee is None:
        return None
    with Record.open_readonly(record_path(data, trial=False)) as record:
        return known_for(record, trainee, basis.workout)


def _kept(keep: Plan | None) -> tuple[Mapping[str, int], ...]:
    """Sets by exercise in each session of the plan to keep."""
    found: list[dict[str, int]] = []
    for session in keep.session if keep is not None else ():
        sets: dict[str, int] = {}
        for item in (item for block in session.block for item in block.do):
            sets[item.exercise] = sets.get(item.exercise, 0) + item.sets
        found.append(sets)
    return tuple(found)


# The report.


def _reason(found: Impossible, seconds: float) -> str:
    wishes = "; ".join(found.wishes)
    line = f"no week meets all of these at once; give up any one of them: {wishes}"
    if found.needed is not None and found.needed > seconds:
        line += f"; {clock(60 * -(-found.needed // 60))} for each session would be enough"
    return f"{line}; no plan is written"


def _report(
    basis: Basis, week: Week, bands: Mapping[str, tuple[float, float]], plan: Plan
) -> list[str]:
    workouts = [compile_session(plan, session.id) for session in plan.session]
    lines = []
    for workout, sets, length in zip(workouts, week.sets, week.lengths, strict=True):
        lines.append(f"{workout.session}: {clock(length)}, {how_many(sum(sets.values()), 'set')}")
    number = sum(sum(sets.values()) for sets in week.sets)
    lines.append(
        f"a week: {clock(sum(week.lengths))}, {how_many(number, 'set')}; no week with "
        f"these sets takes less than {clock(week.bound)}"
    )
    for workout, names in zip(workouts, week.unwarmed, strict=True):
        if names:
            lines += wrapped(
                f"{workout.session}: no time for a warm-up set of {', '.join(names)}: begin with "
                "ten easy repetitions of each in the warm-up.",
                80,
            )
    totals = week_sets(basis, week)
    missed, by = [], 0.0
    for muscle, (low, high) in bands.items():
        there = totals.get(muscle, 0.0)
        if not low <= there <= high:
            missed.append(f"{muscle} {there:g} of {low:g}-{high:g}")
            by += max(low - there, there - high)
    if missed:
        lines += wrapped(f"Muscles off their aim, by {by:g} sets in all: {', '.join(missed)}.", 80)
        lines += wrapped(_why_missed(week, number), 80)
    allowed = " that is not avoided" if basis.narrowed else ""
    lines += [
        f"The shelf has no exercise for {name}{allowed}."
        for name in lacking(basis.workout.exercises.values())
    ]
    return lines + [one.line(plan.title) for one in objections(plan, workouts)]


def _why_missed(week: Week, number: int) -> str:
    """Why some aims are missed, and what would help."""
    lower = "--aim MUSCLE=LOW..HIGH asks for fewer sets of a muscle"
    if week.needed is not None:
        return (
            f"The time is too short: it holds {how_many(number, 'set')}, all aims need about "
            f"{week.needs}. About {clock(week.needed)} a session would meet them all; another "
            f"session would help too, and {lower}."
        )
    if week.apart:
        return (
            "However long the sessions are, these contradict each other; without any one of them "
            f"the others can hold: {'; '.join(week.apart)}. More time does not help; {lower}."
        )
    return f"No week was found that meets them all; {lower}."


# The solver.

# Limit of one solve; then the best week so far is taken. A count of steps, not a time, so that
# the answer is the same on a slow machine. Our choice.
MOST_NODES = 100


def solver() -> Solver:
    """HiGHS, as a function of the model. Raises MatsideError (69) where it is not installed."""
    try:
        import highspy
    except ImportError:
        raise MatsideError(
            'compose needs the solver HiGHS; install it with: pip install "matside[compose]"',
            code=Exit.UNAVAILABLE,
        ) from None
    unlimited = highspy.kHighsInf
    quiet: Any = highspy.Highs.__base__  # the class itself prints a line of its own on stdout

    def solve(
        model: Model, goal: Goal, gap: float, start: Sequence[float] | None
    ) -> Sequence[float] | None:
        problem = highspy.HighsLp()
        problem.num_col_, problem.num_row_ = len(model.columns), len(model.rows)
        problem.col_cost_ = [goal.get(number, 0.0) for number in range(len(model.columns))]
        problem.col_lower_ = [column.low for column in model.columns]
        problem.col_upper_ = [min(column.high, unlimited) for column in model.columns]
        whole, real = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
        problem.integrality_ = [whole if column.whole else real for column in model.columns]
        problem.row_lower_ = [row.low for row in model.rows]
        problem.row_upper_ = [row.high for row in model.rows]
        matrix = problem.a_matrix_
        matrix.format_ = highspy.MatrixFormat.kRowwise
        matrix.start_ = list(accumulate((len(row.factors) for row in model.rows), initial=0))
        matrix.index_ = [number for row in model.rows for number in row.factors]
        matrix.value_ = [factor for row in model.rows for factor in row.factors.values()]
        highs = quiet()
        for option, value in {
            "output_flag": False,
            "threads": 1,
            "random_seed": 0,
            "mip_rel_gap": 0.0,
            "mip_abs_gap": max(gap, 1e-6),
            "mip_max_nodes": MOST_NODES,
        }.items():
            highs.setOptionValue(option, value)
        highs.passModel(problem)
        if start is not None:
            known = highspy.HighsSolution()
            known.col_value = list(start)
            highs.setSolution(known)
        highs.run()
        undecided = highspy.HighsModelStatus.kSolutionLimit
        feasible = highspy.SolutionStatus.kSolutionStatusFeasible
        while highs.getInfo().primal_solution_status != feasible:
            if highs.getModelStatus() != undecided:
                return None
            highs.setOptionValue("mip_max_nodes", -1)  # whether there is any is not left open
            highs.setOptionValue("mip_max_improving_sols", 1)
            highs.run()
        return list(highs.getSolution().col_value)

    return solve
