"""The plan, its session and the trainee that a command line names, read and ready."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from runner.cli.common import data_dir
from runner.core.memory import Memory
from runner.core.workout import Workout
from runner.live.opening import due_session
from runner.live.paths import default_trainee, record_path
from runner.plan.compile import compile_session
from runner.plan.library import find_plan
from runner.plan.models import Plan
from runner.plan.read import parse_plan, read_text
from runner.record.store import Record
from runner.record.text import trainee_name


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
