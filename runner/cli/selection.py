"""The plan, session and trainee that a command line names, read and ready."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from runner.cli.common import data_dir, default_trainee
from runner.law.course import list_planned_sets
from runner.law.workout import Level, Workout
from runner.live.session_setup import due_session, phase_now
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import read_text
from runner.plan.library import find_plan
from runner.plan.models import Plan
from runner.plan.person import OverlaidContent, read_for
from runner.progress.adjust import Adjustment, Baseline, adjusted
from runner.progress.answers import in_force
from runner.progress.phases import phase_changes
from runner.record.record import Record
from runner.session.changes import level_text
from runner.text import shown, trainee_name, wrapped


class Selection(Struct, frozen=True):
    """What a command line names, read; the record is open inside the block that it is for."""

    data: Path  # the data directory
    path: Path
    text: str  # text of the plan file, without its shelves; with an overlay the whole plan
    plan: Plan
    workout: Workout
    baseline: Baseline
    record: Record
    trainee: str
    overlaid: OverlaidContent | None  # what the trainee's overlay changes

    def known_for(self, workout: Workout) -> Baseline:
        """What is known for any session of the plan; see `known_for`."""
        return known_for(self.record, self.trainee, workout)


@contextmanager
def select(args: argparse.Namespace) -> Iterator[Selection]:
    """What PLAN, --session, --for and --data name; raises like `read_plan` and the record."""
    data = data_dir(args.data)
    path = find_plan(args.plan, data)
    trainee = trainee_name(args.trainee or default_trainee())
    personal = read_for(path, data, trainee)
    plan, text = personal.plan, read_text(path) if personal.overlaid is None else personal.text
    with Record.open_readonly(record_path(data, trial=plan.trial)) as record:
        if args.trainee and trainee not in record.trainees():
            print(f"{trainee} is not in the record yet; this is for a new trainee", file=sys.stderr)
        workout = compile_session(plan, args.session or due_session(plan, record, trainee))
        baseline = known_for(record, trainee, workout)
        yield Selection(
            data, path, text, plan, workout, baseline, record, trainee, personal.overlaid
        )


def known_for(record: Record, trainee: str, workout: Workout) -> Baseline:
    """What is known of the trainee, without adjustments; `with_adjustments` applies those.

    Sets are counted on the session and timed with the baseline; both must have the same changes.
    """
    return replace(record.baseline(trainee, workout), changes=())


# Adjustments that the trainee agreed to, for the session that is rehearsed.


def changes_of(selection: Selection, *, lasting: bool = False) -> tuple[Adjustment, ...]:
    """The adjustments in force in the session; with `lasting` without a lighter week.

    Those with which a session today would begin, for the exercises that it has.
    """
    record, trainee, workout = selection.record, selection.trainee, selection.workout
    today = None if lasting else datetime.now().astimezone().date()
    here = {"", *(item.exercise for block in workout.blocks for item in block.items)}
    changes = in_force(record.answers(trainee), today, workout)
    now = None if today is None else phase_now(selection.plan, record, trainee, today)
    if now is not None:
        changes = (*changes, *phase_changes(now.phase, workout))
    return changes if lasting else tuple(one for one in changes if one.exercise in here)


def with_adjustments(workout: Workout, adjustments: Sequence[Adjustment]) -> Workout:
    """The session with its adjustments."""
    return adjusted(workout, {}, adjustments)[0]


class ChangedLevel(Struct, frozen=True):
    """The work sets of an exercise that are done at another level than the plan's first."""

    exercise: str  # id
    name: str
    level: Level
    first: Level  # the plan's level
    sets: tuple[int, ...] = ()  # numbers of the sets, where others have another level

    @property
    def text(self) -> str:
        """`Squat: slow, 6 kg, not slow, 4 kg (set 1)`."""
        numbers = ", ".join(map(str, self.sets))
        where = f" (set{'s' if len(self.sets) > 1 else ''} {numbers})" if self.sets else ""
        return f"{self.name}: {level_text(self.level)}, not {level_text(self.first)}{where}"

    def as_data(self) -> dict[str, Any]:
        """As plain data: id, version, set-up by name, added load in kg or None."""
        level = self.level
        setup = dict(level.setup)
        return {
            "exercise": self.exercise,
            "version": level.version,
            "setup": setup,
            "load_kg": level.load,
        }


def changed_levels(workout: Workout, baseline: Baseline) -> list[ChangedLevel]:
    """Each level once, in the order of the session; accepted advice included."""
    found: dict[tuple[str, Level], ChangedLevel] = {}
    numbers: dict[tuple[str, Level], list[int]] = {}
    every: Counter[str] = Counter()
    planned = list_planned_sets(workout, {})
    known = list_planned_sets(baseline.with_off_range(workout), baseline.working_levels)
    for planned_set, first in zip(known, planned, strict=True):
        every[planned_set.exercise] += planned_set.kind == "work"
        if planned_set.kind == "work" and planned_set.level != first.level:
            numbers.setdefault((planned_set.exercise, planned_set.level), []).append(
                planned_set.number
            )
            name = workout.exercises[planned_set.exercise].name
            level = ChangedLevel(planned_set.exercise, name, planned_set.level, first.level)
            found.setdefault((planned_set.exercise, planned_set.level), level)
    return [
        level
        if len(numbers[key]) == every[level.exercise]
        else replace(level, sets=tuple(numbers[key]))
        for key, level in found.items()
    ]


def adjustment_lines(
    workout: Workout, adjustments: Sequence[Adjustment], levels: Sequence[ChangedLevel], width: int
) -> list[str]:
    """The adjustments and the levels, in lines; none where the session runs as planned."""
    changes = [
        f"{workout.exercises[one.exercise].name}: {one.text}" if one.exercise else one.text
        for one in adjustments
    ]
    changes += [one.text for one in levels]
    if not changes:
        return []
    text = f"Different from the plan, as accepted or last trained: {shown('; '.join(changes))}."
    return [*wrapped(text, width), ""]
