"""`matside rehearse`: a session's forecast, as text, picture or data."""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import Any, Final

from msgspec import Struct

from runner.cli.common import (
    Busy,
    can_write,
    data_dir,
    data_option,
    examples,
    for_option,
    force_option,
    plan_argument,
    session_option,
    show_lines,
    time_of_day,
    time_there_is,
    width,
)
from runner.cli.run import no_full_screen
from runner.cli.selection import (
    ChangedLevel,
    Selection,
    adjustment_lines,
    changed_levels,
    changes_of,
    select,
    with_adjustments,
)
from runner.errors import Exit, MatsideError
from runner.law.workout import Workout
from runner.output import new_file, record_path
from runner.plan.compile import compile_plan, compile_session
from runner.plan.models import Plan
from runner.planning import forecast
from runner.planning.simulate import LATEST, Figures, Past, Simulation, figures
from runner.progress.adjust import Adjustment, Baseline
from runner.reports.chart import SIGNS
from runner.reports.compare import (
    TimeFit,
    WhatIf,
    fit_data,
    fit_lines,
    fit_to_time,
    read_what_if,
    side_by_side,
    what_if_data,
)
from runner.reports.report import Draws, draws, length_data, length_lines, report
from runner.reports.svg import picture
from runner.reports.timeline import as_data
from runner.reports.week import (
    through_data,
    through_lines,
    through_phases,
    week_data,
    week_lines,
    week_of,
)
from runner.text import shown, wrapped

# `matside rehearse --week`: all sessions of the plan, on days of a week.

# Options for one session, or for a changed plan.
_NOT_HERE: Final = (
    "session", "at", "svg", "watch", "recovery", "changeover", "reps", "pace", "sets",
    "within", "until", "runs", "seed",
)  # fmt: skip


MOST_WEEKS = 104  # most of --weeks; our choice


def check_week(args: argparse.Namespace) -> None:
    """Refuse options that --week would ignore. Raises MatsideError."""
    given = [option for option in _NOT_HERE if getattr(args, option) not in (None, False)]
    given += ["week"] if args.week and args.weeks is not None else []
    option = "--week" if args.weeks is None else "--weeks"
    if (args.week or args.weeks is not None) and given:
        raise MatsideError(
            f"{option} shows every session as planned; leave --{given[0]} out", code=Exit.USAGE
        )
    if args.weeks is not None and not (
        args.weeks.isdecimal() and 1 <= int(args.weeks) <= MOST_WEEKS
    ):
        raise MatsideError(f"--weeks {args.weeks}: write 1 to {MOST_WEEKS}", code=Exit.USAGE)


def show(args: argparse.Namespace, selection: Selection, wide: int) -> int:
    """Print the week in lines of at most `wide` columns, or as data; returns the exit code."""
    plan = selection.plan
    adjustments = changes_of(selection, lasting=True)
    workouts = [with_adjustments(one, adjustments) for one in compile_plan(plan)]
    known = [(w, selection.known_for(w)) for w in workouts]
    if args.weeks is None:
        week = week_of(plan, known)
        data, lines = week_data(week), week_lines(week, wide)
    else:
        weeks = through_phases(plan, known, int(args.weeks))
        data, lines = through_data(plan, weeks), through_lines(plan, weeks, wide)
    if args.json:
        json.dump(data, sys.stdout, indent=1, ensure_ascii=False)
        print()
    else:
        show_lines(lines)
    return Exit.OK


# `matside rehearse --watch`: the rehearsal on the screen.

DEFAULT_SPEED = 20.0
SLOWEST, FASTEST = 0.1, 100.0  # our choice; above 60 the counted seconds of a rest overlap
_ELSEWHERE = ("json", "svg", "runs", "seed")  # options of the table, chart and figures


def check_watching(args: argparse.Namespace) -> None:
    """Refuse options that cannot go with --watch, before anything is read. Raises MatsideError."""
    if not args.watch:
        for option in ("speed", "mute", "voice"):
            if getattr(args, option):
                raise MatsideError(f"--{option} needs --watch; add --watch", code=Exit.USAGE)
        return
    if _speed(args.speed) != 1 and args.voice not in (None, "off"):
        raise MatsideError(
            f"--voice {args.voice}: the voice speaks at real speed only; add --speed 1",
            code=Exit.USAGE,
        )
    for name in _ELSEWHERE:
        if getattr(args, name) not in (None, False):
            raise MatsideError(
                f"--watch plays the session on the screen; leave --{name} out",
                code=Exit.USAGE,
            )
    why_not = no_full_screen()
    if why_not:
        raise MatsideError(
            f"{why_not}: --watch needs a full screen; without --watch the rehearsal is a table",
            code=Exit.UNAVAILABLE,
        )


def _speed(text: str | None) -> float:
    """--speed N."""
    try:
        speed = DEFAULT_SPEED if text is None else float(text)
    except ValueError:
        speed = math.nan
    if not SLOWEST <= speed <= FASTEST:
        raise MatsideError(
            f"--speed {text}: write a factor from {SLOWEST:g} to {FASTEST:g}",
            code=Exit.USAGE,
        )
    return speed


def watch(
    args: argparse.Namespace, workout: Workout, baseline: Baseline, trainee: str, path: Path
) -> int:
    """Rehearse on the screen; returns the exit code. Only reads the record at `path`."""
    from runner.live.clock import FastClock, SystemClock
    from runner.live.rehearsal import prepare_rehearsal
    from runner.screen.rehearsal_app import run_rehearsal

    opening = prepare_rehearsal(
        workout,
        baseline,
        path=path,
        trainee=trainee,
        clock=FastClock(SystemClock(), _speed(args.speed)),
    )
    return run_rehearsal(opening, mute=args.mute, voice=args.voice)


class RehearsedSession(Struct, frozen=True):
    """A session as it is rehearsed: settings tried, and what is left out to be in time."""

    selection: Selection
    what_if: WhatIf
    plan: Plan  # with the settings tried
    workout: Workout  # the whole session, with its adjustments
    baseline: Baseline
    adjustments: tuple[Adjustment, ...]  # adjustments, without what is tried
    fits: TimeFit | None  # where a time is given

    @property
    def levels(self) -> list[ChangedLevel]:
        """The trainee's levels where they differ from the plan's."""
        return changed_levels(self.workout, self.baseline)

    @property
    def shown(self) -> Workout:
        """The session to show: the shortened one, where it was shortened."""
        return self.workout if self.fits is None else self.fits.workout


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside rehearse kestrel-hut",
        "matside rehearse kestrel-hut --session B --at 18:30",
        "matside rehearse kestrel-hut --svg monday.svg",
        "matside rehearse kestrel-hut --recovery 1:30 --sets +1",
        "matside rehearse kestrel-hut --session B --json",
        "matside rehearse demo --watch --speed 10",
        "matside rehearse kestrel-hut --week",
        "matside rehearse kestrel-hut --within 35m",
    )
    plan_argument(parser)
    session_option(parser)
    for_option(parser, "trainee whose record is used (default: login name)")
    parser.add_argument(
        "--at",
        metavar="TIME",
        help="time of day at the start: 18:30; the table then shows times of day",
    )
    parser.add_argument("--svg", metavar="FILE", type=Path, help="write the chart to an SVG file")
    force_option(parser)
    parser.add_argument(
        "--week", action="store_true", help="show all sessions on the days of a week"
    )
    parser.add_argument(
        "--weeks", metavar="N", help="show sets by muscle and week, through the plan's phases"
    )
    parser.add_argument("--json", action="store_true", help="print the timeline as JSON")
    _what_if_options(parser)
    parser.add_argument(
        "--runs",
        metavar="N",
        help="number of simulated runs, 100 to 100000 (default: 1000)",
    )
    parser.add_argument("--seed", metavar="N", help="seed of the simulated runs (default: 1)")
    parser.add_argument(
        "--within",
        metavar="TIME",
        help="leave out sets until the session fits into TIME: 35m",
    )
    parser.add_argument(
        "--until",
        metavar="TIME",
        help="leave out sets until the session ends by this time of day: 07:10",
    )
    parser.add_argument(
        "--watch", action="store_true", help="play the session on the screen, with cues"
    )
    parser.add_argument("--speed", metavar="N", help="play N times as fast (default: 20)")
    parser.add_argument("--mute", action="store_true", help="no sound with --watch")
    parser.add_argument(
        "--voice",
        choices=("off", "on", "names"),
        help="what the voice says with --watch --speed 1: off, on or names (default: "
        "MATSIDE_VOICE, else off)",
    )
    data_option(parser)


def _what_if_options(parser: argparse.ArgumentParser) -> None:
    """Settings to try; the command itself reads them, so that each fault is one line."""
    trying = parser.add_argument_group("what if, shown beside the plan as it is")
    trying.add_argument(
        "--recovery",
        metavar="TIME",
        help="try this recovery everywhere: 1:30; least and cross recovery follow unless "
        "the plan sets them",
    )
    trying.add_argument(
        "--changeover", metavar="RANGE", help="try this range of changeovers: 20s..40s"
    )
    trying.add_argument("--reps", metavar="N", help="expect N repetitions of every set")
    trying.add_argument(
        "--pace",
        metavar="TIME",
        help="expect this time a repetition where a version has no tempo: 2.5s; recorded "
        "lengths of those sets are ignored",
    )
    trying.add_argument(
        "--sets",
        metavar="N",
        help="plan this number of work sets for every exercise: 4, +1 or -1; at least one stays",
    )


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    check_week(args)
    check_watching(args)
    if args.watch:
        from runner.screen.first_picture import quiet_keys

        quiet_keys()
    _check_use(args)
    at = None if args.at is None else time_of_day(args.at)
    within = time_there_is(args.within, args.until, at)
    what_if = read_what_if(args.recovery, args.changeover, args.reps, args.pace, args.sets)
    drawing = draws(args.runs, args.seed)
    with select(args) as selection:
        if args.week or args.weeks is not None:
            return show(args, selection, width())
        session = _rehearsed(selection, what_if, within)
        if not args.watch:
            return _show(args, session, drawing, at)
    where = record_path(data_dir(args.data), trial=selection.plan.trial)
    return watch(args, session.shown, session.baseline, selection.trainee, where)


def _show(
    args: argparse.Namespace, session: RehearsedSession, drawing: Draws, at: int | None
) -> int:
    """Print the timeline, as text or as data, and write the picture; returns the exit code."""
    if args.svg is not None:
        drawn = picture(session.shown, forecast.session_steps(session.shown, session.baseline), at)
        with new_file(args.svg, force=args.force, data=data_dir(args.data)) as file:
            file.write(drawn)
        print(f"written: {shown(args.svg)}", file=sys.stderr)
    if args.json:
        json.dump(_data(session, drawing), sys.stdout, indent=1, ensure_ascii=False)
        print()
    else:
        show_lines(_lines(session, drawing, at))
    return Exit.OK


def _check_use(args: argparse.Namespace) -> None:
    """Refuse an option that would change nothing. Raises MatsideError."""
    if args.at is None or args.until is not None:  # --until needs the time of the start
        return
    for name in ("json", "watch"):
        if getattr(args, name):
            raise MatsideError(
                f"--{name} shows no times of day; leave --at out, or add --until",
                code=Exit.USAGE,
            )


def _rehearsed(selection: Selection, what_if: WhatIf, within: float | None) -> RehearsedSession:
    plan = what_if.plan(selection.plan, selection.workout.session)
    adjustments = changes_of(selection)
    workout = with_adjustments(compile_session(plan, selection.workout.session), adjustments)
    baseline = what_if.baseline(workout, selection.baseline)
    fits = None if within is None else _time_fit(selection, workout, baseline, within)
    return RehearsedSession(selection, what_if, plan, workout, baseline, adjustments, fits)


def _data(session: RehearsedSession, drawing: Draws) -> dict[str, Any]:
    """The timeline of the whole session as data, and what is left out of it."""
    simulation = _simulated(session, session.workout, drawing)
    data = as_data(session.workout, session.baseline) | length_data(simulation, drawing.seed)
    if session.what_if:
        as_tried = figures(session.workout, session.baseline, simulation)
        data |= what_if_data(session.what_if, _as_planned(session, drawing), as_tried)
    if session.selection.overlaid is not None:
        data["overlay"] = session.selection.overlaid.of_session(session.workout.session)
    if session.adjustments:
        data["agreed"] = [one.as_data() for one in session.adjustments]
    if session.levels:
        data["levels"] = [one.as_data() for one in session.levels]
    if session.fits is None:
        return data
    return data | fit_data(session.fits, _simulated(session, session.shown, drawing))


def _lines(session: RehearsedSession, drawing: Draws, at: int | None) -> list[str]:
    """What was asked for first: sets left out, settings tried; then the timeline."""
    simulation, wide = _simulated(session, session.shown, drawing), width()
    lines = [] if session.fits is None else [*fit_lines(session.fits, simulation), ""]
    if session.what_if:
        as_tried = figures(session.shown, session.baseline, simulation)
        lines += [*side_by_side(session.what_if, _as_planned(session, drawing), as_tried), ""]
    return lines + report(
        session.plan,
        session.shown,
        session.baseline,
        spread=length_lines(simulation, drawing.seed, wide),
        changed=[
            *_overlay_lines(session.selection, wide),
            *adjustment_lines(session.workout, session.adjustments, session.levels, wide),
        ],
        width=wide,
        at=at,
        plain=not can_write("".join(SIGNS.values())),
    )


def _overlay_lines(selection: Selection, wide: int) -> list[str]:
    """What the overlay changes for the trainee."""
    overlaid, session = selection.overlaid, selection.workout.session
    found = [] if overlaid is None else overlaid.of_session(session)
    if not found:
        return []
    text = f"Different for {selection.trainee}, by the overlay: {'; '.join(found)}."
    return [*wrapped(shown(text), wide), ""]


def _simulated(session: RehearsedSession, workout: Workout, drawing: Draws) -> Simulation:
    with Busy("Simulated runs") as busy:
        past = _past(session.selection)
        return drawing.simulated(workout, session.baseline, past, busy.each)


def _as_planned(session: RehearsedSession, drawing: Draws) -> Figures:
    """The figures without the settings tried."""
    selection = session.selection
    workout = with_adjustments(selection.workout, session.adjustments)
    with Busy("Simulated runs as planned") as busy:
        simulation = drawing.simulated(workout, selection.baseline, _past(selection), busy.each)
    return figures(workout, selection.baseline, simulation)


def _past(selection: Selection) -> Past:
    return selection.record.lengths(selection.trainee, selection.workout, LATEST)


def _time_fit(selection: Selection, workout: Workout, baseline: Baseline, within: float) -> TimeFit:
    """The session in that many seconds, beside the plan's others in a usual week."""
    adjustments = changes_of(selection, lasting=True)
    sessions = [
        (workout, baseline)
        if session.id == workout.session
        else (with_adjustments(w, adjustments), selection.known_for(w))
        for session in selection.plan.session
        for w in (compile_session(selection.plan, session.id),)
    ]
    return fit_to_time(selection.plan, sessions, workout, within)
