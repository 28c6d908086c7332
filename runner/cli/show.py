"""`matside show EXERCISE`: the card of an exercise, in a coach's words."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Sequence

from runner.cli.common import WIDEST, data_dir, data_option, examples, show_lines
from runner.errors import Exit, MatsideError
from runner.plan.faults import did_you_mean, quoted
from runner.plan.file import read_plan, read_shelf
from runner.plan.library import find_plan
from runner.plan.models import Exercise, LoadRange, Plan, SetupRange, Version
from runner.text import hanging, wrapped

SHELF = "shelf"  # the shipped shelf, or the person's own of that name
_SIDES = {
    "together": "both sides together",
    "left first": "one after the other, left first",
    "right first": "one after the other, right first",
}
_MEASURES = {"reps": "counted in repetitions", "hold": "held for a time"}
_CARE = (
    "General information only. With pain, a known illness, a pregnancy, or after an injury or "
    "operation, a doctor or physiotherapist decides."
)


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(parser, "matside show push-up", "matside show bridge --plan demo")
    parser.add_argument("exercise", metavar="EXERCISE", help="id of an exercise: push-up")
    parser.add_argument(
        "--plan", metavar="PLAN", help="plan or shelf that has it (default: the shipped shelf)"
    )
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    path = find_plan(args.plan or SHELF, data)
    shelf = read_shelf(path, data)
    plan = read_plan(path, data) if shelf is None else shelf
    if args.exercise not in plan.exercise:
        known = did_you_mean(args.exercise, list(plan.exercise))
        line = f"{path.stem} has no exercise {quoted(args.exercise)}; {known}"
        raise MatsideError(line, code=Exit.NO_INPUT)
    show_lines(card(plan, args.exercise))
    return Exit.OK


def card(plan: Plan, name: str) -> list[str]:
    """The card of an exercise of the plan, in lines of at most 80 columns."""
    exercise = plan.exercise[name]
    lines = [*wrapped(f"{exercise.name} ({name})", WIDEST, ""), ""]
    lines += _rows([row for row in _card_rows(plan, exercise) if row[1]])
    lines += ["", "Progression, from easier to harder:"]
    sources = list(dict.fromkeys(v.source for v in exercise.version if v.source))
    lines += _rows([(v.id, _version(plan, exercise, v, sources)) for v in exercise.version], "  ")
    if sources:
        lines += ["", "Sources of the shares of body mass:"]
        lines += _rows([(f"[{n}]", source) for n, source in enumerate(sources, 1)], "  ")
    return [*lines, "", *wrapped(_CARE, WIDEST, "")]


def _card_rows(plan: Plan, exercise: Exercise) -> Iterator[tuple[str, str]]:
    """The card's rows by heading; "" where the plan says nothing."""
    helps = f"; helps {', '.join(exercise.assist)}" if exercise.assist else ""
    yield "trains", f"{', '.join(exercise.prime)}{helps} ({exercise.pattern})"
    yield "sides", "" if exercise.sides == "together" else _SIDES[exercise.sides]
    named = [exercise.station, *(version.station for version in exercise.version)]
    for station in dict.fromkeys(one for one in named if one is not None):
        check = plan.station[station].check
        yield "set-up", plan.station[station].name + (f": {check}" if check else "")
    yield "start", exercise.start or ""
    yield "how", exercise.how or ""
    yield "counts when", exercise.counts_when or ""
    yield "tips", "; ".join(exercise.cues)
    yield "caution", exercise.caution or ""
    yield "way out", exercise.way_out or ""
    yield "stop if", exercise.stop_if or ""
    yield "stresses", _stress(exercise.stress)
    yield "instead", ", ".join(f"{plan.exercise[one].name} ({one})" for one in exercise.instead)


def _stress(stress: Sequence[str] | None) -> str:
    return "not stated" if stress is None else ", ".join(stress) or "nothing in particular"


def _version(plan: Plan, exercise: Exercise, version: Version, sources: Sequence[str]) -> str:
    parts = [version.name, *_own(exercise, version)]
    if version.station is not None and version.station != exercise.station:
        parts.append(f"at the station {plan.station[version.station].name}")
    for name, value in version.setup.items():
        if isinstance(value, SetupRange):
            value = f"{value.start} to {value.to} by {value.by}"  # noqa: PLW2901 - as text
        parts.append(f"{name} {value}")
    if isinstance(version.load, LoadRange):
        load = version.load
        parts.append(f"{load.start:g} to {load.to:g} kg by {abs(load.by):g}")
    elif version.load is not None:
        parts.append(f"{version.load:g} kg")
    if version.tempo is not None:
        parts.append(f"tempo {version.tempo}")
    if version.stress is not None:
        parts.append(f"stresses {_stress(version.stress)}")
    if version.body_share is None:
        parts.append("no measured share")
    else:
        mark = f" [{sources.index(version.source) + 1}]" if version.source else ", an estimate"
        parts.append(f"{100 * version.body_share:.4g} % of body mass{mark}")
    return "; ".join(parts)


def _own(exercise: Exercise, version: Version) -> Iterator[str]:
    """How a version differs from the exercise."""
    if version.sides is not None and version.sides != exercise.sides:
        yield _SIDES[version.sides]
    if version.measure is not None and version.measure != exercise.measure:
        yield _MEASURES[version.measure]


def _rows(rows: Iterable[tuple[str, str]], indent: str = "") -> list[str]:
    """Rows of a term and its text; later lines of a text stand under its first."""
    rows = list(rows)
    wide = max((len(term) for term, _ in rows), default=0)
    return [
        line for term, text in rows for line in hanging(f"{indent}{term:<{wide}}  {text}", WIDEST)
    ]
