"""The plan, its session and the trainee that a command line names, read and ready."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from runner.cli.common import data_dir
from runner.errors import Exit, MatsideError
from runner.law.course import plan_slots
from runner.law.workout import Rung, Workout
from runner.live.session_setup import default_trainee, due_session, record_path
from runner.plan.compile import compile_session
from runner.plan.file import find_plan, parse_plan, read_text
from runner.plan.models import Plan
from runner.plan.values import BadValueError, parse_duration
from runner.progress.adjust import Adjustment, Memory, adjusted
from runner.progress.answers import in_force
from runner.record.record import Record
from runner.reports.timeline import wrapped
from runner.session.changes import rung_text
from runner.text import shown, trainee_name


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a rehearsal stands on; its record is open inside the block that it is for."""

    path: Path
    text: str  # the plan file's
    plan: Plan
    workout: Workout
    memory: Memory
    record: Record
    trainee: str

    def known_for(self, workout: Workout) -> Memory:
        """What is known for any session of the plan; see `known_for`."""
        return known_for(self.record, self.trainee, workout)


@contextmanager
def chosen(args: argparse.Namespace) -> Iterator[Chosen]:
    """What PLAN, --session, --for and --data name; raises like `read_plan` and the record."""
    data = data_dir(args.data)
    path = find_plan(args.plan, data)
    text = read_text(path)
    plan = parse_plan(text, str(path))
    with Record.open_readonly(record_path(data, trial=plan.trial)) as record:
        trainee = trainee_name(args.trainee or default_trainee())
        if args.trainee and trainee not in record.trainees():
            print(f"{trainee} is not in the record yet: as for somebody new", file=sys.stderr)
        workout = compile_session(plan, args.session or due_session(plan, record, trainee))
        memory = known_for(record, trainee, workout)
        yield Chosen(path, text, plan, workout, memory, record, trainee)


def known_for(record: Record, trainee: str, workout: Workout) -> Memory:
    """What is known of the trainee, without what was agreed to change: `agreed` puts that in.

    Sets are counted on the session and timed with the memory, so it must stand in one place.
    """
    return replace(record.memory(trainee, workout), changes=())


# --within and --until: the time there is for a session, in seconds.

DAY = 24 * 3600
LONGEST = DAY // 2  # an earlier time of day than that is one that is over; our choice
_TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9]))?")


def time_of_day(text: str, option: str = "--at") -> int:
    """Seconds since midnight. Raises MatsideError, which names the option."""
    found = _TIME.fullmatch(text)
    if found is None:
        raise MatsideError(
            f"{option} {text!r} is no time of day; write it as 18:30", code=Exit.USAGE
        )
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    return hours * 3600 + minutes * 60 + seconds


def time_there_is(within: str | None, until: str | None, start: int | None) -> float | None:
    """Seconds for the session by --within or --until; None where neither is said.

    `start` is the second of the day at which it begins, None for now.
    """
    if within is not None and until is not None:
        raise MatsideError("--within or --until, not both; leave one out", code=Exit.USAGE)
    if within is not None:
        return _within(within)
    if until is None:
        return None
    end = time_of_day(until, "--until")
    if start is None:
        now = datetime.now().astimezone()
        start = now.hour * 3600 + now.minute * 60 + now.second
    seconds = (end - start) % DAY
    if not 0 < seconds <= LONGEST:
        begin = f"{start // 3600:02}:{start % 3600 // 60:02}"
        raise MatsideError(
            f"--until {until}: that is not after {begin}, when the session begins", code=Exit.USAGE
        )
    return float(seconds)


def time_given(within: str | None, until: str | None) -> tuple[float | None, datetime | None]:
    """Seconds for the session from its begin, or the local time by which it should be over."""
    seconds = time_there_is(within, until, None)
    if seconds is None or until is None:
        return seconds, None
    # Added to the local clocks' time, for they may be changed in between.
    now = datetime.now().astimezone().replace(microsecond=0, tzinfo=None)
    return None, (now + timedelta(seconds=seconds)).astimezone()


def _within(text: str) -> float:
    try:
        seconds = parse_duration(text)
    except BadValueError as bad:
        raise MatsideError(
            f'--within {text!r}: write it like "35m" or 35:00', code=Exit.USAGE
        ) from bad
    if seconds <= 0:
        raise MatsideError(f'--within {text!r} is no time; write it like "35m"', code=Exit.USAGE)
    return seconds


# What a trainee has agreed to differently from the plan, where a session is rehearsed with it.


def changes_of(what: Chosen, *, lasting: bool = False) -> tuple[Adjustment, ...]:
    """What is in force in the session chosen; with `lasting` without a lighter week.

    The same as a session of today would begin with, of the exercises that it has.
    """
    today = None if lasting else datetime.now().astimezone().date()
    here = {"", *(item.exercise for block in what.workout.blocks for item in block.items)}
    changes = in_force(what.record.answers(what.trainee), today)
    return changes if lasting else tuple(one for one in changes if one.exercise in here)


def as_agreed(workout: Workout, agreed: Sequence[Adjustment]) -> Workout:
    """The session with what was agreed."""
    return adjusted(workout, {}, agreed)[0]


@dataclass(frozen=True, slots=True)
class Level:
    """The work sets of an exercise that are done at another level than the plan begins with."""

    exercise: str  # id
    name: str
    rung: Rung
    first: Rung  # what the plan begins with

    def as_data(self) -> dict[str, Any]:
        """As plain data: id, version, set-up by name, added load in kg or None."""
        rung = self.rung
        setup = dict(rung.setup)
        return {
            "exercise": self.exercise,
            "version": rung.version,
            "setup": setup,
            "load_kg": rung.load,
        }


def levels_of(workout: Workout, memory: Memory) -> list[Level]:
    """Each level once, in the order of the session; accepted advice is among what is known."""
    found: dict[tuple[str, Rung], Level] = {}
    planned = plan_slots(workout, {})
    for slot, first in zip(plan_slots(memory.fitted(workout), memory.held), planned, strict=True):
        if slot.kind == "work" and slot.rung != first.rung:
            name = workout.exercises[slot.exercise].name
            level = Level(slot.exercise, name, slot.rung, first.rung)
            found.setdefault((slot.exercise, slot.rung), level)
    return list(found.values())


def agreed_lines(
    workout: Workout, agreed: Sequence[Adjustment], levels: Sequence[Level], width: int
) -> list[str]:
    """What was agreed, and the levels, for people; nothing where all is as planned."""
    changes = [
        f"{workout.exercises[one.exercise].name}: {one.text}" if one.exercise else one.text
        for one in agreed
    ]
    changes += [f"{one.name}: {rung_text(one.rung)}, not {rung_text(one.first)}" for one in levels]
    if not changes:
        return []
    text = f"As agreed or last trained, and not as the plan begins: {shown('; '.join(changes))}."
    return [*wrapped(text, width), ""]
