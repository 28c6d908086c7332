"""Writes a composed plan: what its shelves say of timing, effort and week, and the file's text.

The text is like a plan written by hand: it takes its exercises from the shelves, and each has a
comment that says why it is there. Nothing in it depends on the day or on the file's name, so the
same wishes give the same text.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from string import ascii_uppercase
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from runner.errors import Exit, MatsideError
from runner.law.muscles import MUSCLES, PATTERN_GROUPS
from runner.law.weekly_sets import AIM, Sets, sets_by_muscle
from runner.law.workout import Exercise, Workout
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan, read_shelf
from runner.plan.models import Plan
from runner.plan.person import to_choose_from
from runner.plan.shelf import toml_value
from runner.plan.values import duration_text
from runner.planning.composing import Week
from runner.planning.pairing import kinship
from runner.resources import plans_dir

SECONDS_A_REP = 3  # test cadence, 20 a minute; the default of a plan is faster
WARM_UP, COOL_DOWN = 240.0, 120.0  # seconds; our choice
WARM_UP_MOVES = ["Brisk walk", "Arm circles", "Ten easy repetitions of the first exercises"]
COOL_DOWN_MOVES = ["Walk a round", "Shake arms and legs loose"]

MOST_OF_BLOCK = 50  # exercises, as in `models.Block`

Band = tuple[float, float]


class Basis(Struct, frozen=True):
    """Several shelves taken as one: their exercises, timing, effort and week."""

    names: tuple[str, ...]  # as a plan's `include` names them
    tables: Mapping[str, dict[str, Any]]  # timing, effort, week
    plan: Plan  # a plan of one session with every exercise that may be chosen
    workout: Workout  # that session, compiled
    days: tuple[str, ...] = ()  # days of the week on which the person trains
    narrowed: bool = False  # whether an overlay may have left exercises out

    @property
    def every(self) -> Band:
        """Sets a week for a muscle that has no aim of its own."""
        low, high = self.plan.week.sets or AIM
        return float(low), float(high)

    def bands(self) -> dict[str, Band]:
        """Sets a week for each muscle trained; from 0 where no exercise has it as main muscle."""
        own = {muscle: (float(a), float(b)) for muscle, (a, b) in self.plan.week.muscles.items()}
        exercises = self.workout.exercises.values()
        main = {muscle for exercise in exercises for muscle in exercise.prime}
        helping = {m for e in exercises for m in e.helping}
        return {
            m: own.get(m, self.every if m in main else (0.0, self.every[1]))
            for m in MUSCLES
            if m in main | helping
        }


def read_basis(
    shelves: Sequence[Path], beside: Path, data: Path, trainee: str | None = None
) -> Basis:
    """Several shelves as one. `beside`: the folder of the new plan; `data`: the data directory.

    The first shelf wins where several have a key. What the trainee's overlay avoids is left out.
    Raises like `read_plan`, and MatsideError with exit code 65 for a file that is a plan.
    """
    tables: dict[str, dict[str, Any]] = {"timing": {}, "effort": {}, "week": {}}
    exercises: list[str] = []
    for path in shelves:
        shelf = read_shelf(path, data)
        if shelf is None:
            without = "compose takes files without title and [[session]]"
            raise MatsideError(f"{path}: this is a plan, not a shelf: {without}", code=Exit.DATA)
        exercises += shelf.exercise
        for name, table in tables.items():
            stated = getattr(shelf, name).model_dump(exclude_unset=True)
            tables[name] = {**stated, **table}
    tables["effort"].setdefault("seconds_a_rep", SECONDS_A_REP)
    names = tuple(_as_included(path, beside, data) for path in shelves)
    text = _head("Composed", names, tables)
    text += ['[[session]]\nid = "all"', f"warm_up = {WARM_UP}\ncool_down = {COOL_DOWN}"]
    do = [{"exercise": name, "sets": 1} for name in dict.fromkeys(exercises)]
    for first in range(0, len(do), MOST_OF_BLOCK):
        some = toml_value(do[first : first + MOST_OF_BLOCK])
        text.append(f"[[session.block]]\ndo = {some}")
    whole, path = "\n".join(text), beside / "composed.toml"
    overlay = None
    days: tuple[str, ...] = ()
    if trainee is None:
        plan = parse_plan(whole, str(path), path, data)
    else:
        plan, overlay = to_choose_from(whole, path, data, trainee)
        days = () if overlay is None else overlay.days
    used = {item.exercise for block in plan.session[0].block for item in block.do}
    workout = compile_session(plan, "all")
    chosen = {name: one for name, one in workout.exercises.items() if name in used}
    return Basis(names, tables, plan, replace(workout, exercises=chosen), days, overlay is not None)


def _as_included(path: Path, beside: Path, data: Path) -> str:
    """How a plan in a folder names a shelf: its name alone where that finds it."""
    if path.parent.resolve() in {(data / "plans").resolve(), plans_dir().resolve()}:
        return path.name
    return Path(os.path.relpath(path.resolve(), beside.resolve())).as_posix()


def _head(title: str, names: Sequence[str], tables: Mapping[str, Mapping[str, Any]]) -> list[str]:
    lines = [f"title = {toml_value(title)}", f"include = {toml_value(list(names))}"]
    for name, table in tables.items():
        lines += ["", f"[{name}]"] if table else []
        durations = name == "timing"
        plain = {key: _plain(value, durations=durations) for key, value in table.items()}
        lines += [f"{k} = {toml_value(v)}" for k, v in plain.items() if not isinstance(v, dict)]
        for key, inner in plain.items():
            if isinstance(inner, dict) and inner:
                lines += [f"[{name}.{key}]", *(f"{k} = {toml_value(v)}" for k, v in inner.items())]
    return lines


def _plain(value: object, *, durations: bool) -> object:
    """A value of the models as a person writes it: "2:00", lists, whole numbers without a point."""
    if isinstance(value, dict):
        return {key: _plain(member, durations=durations) for key, member in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(member, durations=durations) for member in value]
    if durations and isinstance(value, float):
        return duration_text(value)
    return int(value) if isinstance(value, float) and value.is_integer() else value


# The text.


def ids(number: int, keep: Plan | None) -> tuple[str, ...]:
    """Ids for that many sessions: those of the plan to keep, then letters."""
    own = [session.id for session in keep.session] if keep is not None else []
    free = [letter for letter in ascii_uppercase if letter not in own]
    return tuple([*own, *free][:number])


def text_of(
    basis: Basis,
    week: Week,
    *,
    bands: Mapping[str, Band],
    title: str,
    session_ids: Sequence[str],
    seconds: float,
) -> str:
    """The plan of a week; `seconds` is the time for each session."""
    tables = {name: dict(table) for name, table in basis.tables.items()}
    every = basis.every
    number = len(week.sets)
    tables["week"] = {
        "sessions": (number, number),
        **({"days": basis.days} if len(basis.days) == number else {}),
        "sets": every,
        "muscles": {muscle: band for muscle, band in bands.items() if band != every},
    }
    lines = [
        f"# Composed from {', '.join(basis.names)}. A comment at each exercise has its pattern",
        "# and the weekly sets of its main muscles with their aim. Change what you like, then",
        "# run matside check on this file.",
        *_head(title, basis.names, tables),
    ]
    totals = week_sets(basis, week)
    for id_, workout, length in zip(session_ids, week.workouts, week.lengths, strict=True):
        lines += [
            "",
            "[[session]]",
            f"id = {toml_value(id_)}",
            f"name = {toml_value(_name(workout))}",
        ]
        lines.append(
            f'minutes = "{duration_text(seconds)}"  # forecast {duration_text(round(length))}'
        )
        for key, value in (
            ("warm_up", duration_text(WARM_UP)),
            ("warm_up_moves", WARM_UP_MOVES),
            ("cool_down", duration_text(COOL_DOWN)),
            ("cool_down_moves", COOL_DOWN_MOVES),
        ):
            lines.append(f"{key} = {toml_value(value)}")
        lines += _blocks(workout, totals, bands)
    return "\n".join(lines) + "\n"


def _name(workout: Workout) -> str:
    """A name from the first two blocks: `Rucksack squat to the bench · Push-up`."""
    leading = [
        min(block.items, key=lambda item: (-item.ramp, workout.exercises[item.exercise].priority))
        for block in workout.blocks[:2]
    ]
    return " · ".join(workout.exercises[item.exercise].name for item in leading)


def week_sets(basis: Basis, week: Week) -> dict[str, float]:
    """A week's sets by muscle."""
    exercises = basis.workout.exercises
    return sets_by_muscle(
        Sets(e.prime, e.helping, number)
        for sets in week.sets
        for name, number in sets.items()
        for e in (exercises[name],)
    )


def _blocks(
    workout: Workout, totals: Mapping[str, float], bands: Mapping[str, Band]
) -> Iterator[str]:
    for block in workout.blocks:
        exercises = [workout.exercises[item.exercise] for item in block.items]
        yield ""
        yield "[[session.block]]"
        if len(exercises) == 2 and (kin := kinship(*exercises)) is not None:
            yield f"# take turns ({kin}): one rests while the other works"
        elif len(exercises) == 1:
            yield "# straight sets: no exercise here makes a good pair with it"
        yield "do = ["
        for item, exercise in zip(block.items, exercises, strict=True):
            ramp = f", ramp = {item.ramp}" if item.ramp else ""
            said = f"{{ exercise = {toml_value(item.exercise)}, sets = {item.sets}{ramp} }},"
            yield f"  {said}  # {why(exercise, totals, bands)}"
        yield "]"


def why(exercise: Exercise, totals: Mapping[str, float], bands: Mapping[str, Band]) -> str:
    """`squat; quadriceps 10 of 10-20 a week, glutes 14 of 10-20`."""
    said = []
    for muscle in exercise.prime:
        low, high = bands.get(muscle, AIM)
        said.append(f"{muscle} {totals.get(muscle, 0):g} of {low:g}-{high:g}")
    return f"{exercise.pattern}; a week {', '.join(said)}"


def lacking(exercises: Iterable[Exercise]) -> list[str]:
    """Groups of patterns that no exercise belongs to: `hinge`."""
    there = {exercise.pattern for exercise in exercises}
    return [name for name, patterns in PATTERN_GROUPS.items() if not there & set(patterns)]
