"""`matside rehearse`: a session's predicted timeline, as a table or as data."""

from __future__ import annotations

import argparse
import json
import sys

from runner.cli.main import data_dir
from runner.errors import Exit
from runner.live.opening import due_session
from runner.live.paths import default_trainee, record_path
from runner.plan.compile import compile_session
from runner.plan.library import find_plan
from runner.plan.read import read_plan
from runner.record.store import Record
from runner.record.text import trainee_name
from runner.rehearsal.data import as_data
from runner.rehearsal.table import table


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    plan = read_plan(find_plan(args.plan, data))
    record = Record.open_readonly(record_path(data, trial=plan.trial))
    trainee = trainee_name(args.trainee or default_trainee())
    if args.trainee and trainee not in record.trainees():
        print(f"{trainee} is not in the record yet: as for somebody new", file=sys.stderr)
    workout = compile_session(plan, args.session or due_session(plan, record, trainee))
    memory = record.memory(trainee, workout)
    if args.json:
        json.dump(as_data(workout, memory), sys.stdout, indent=1, ensure_ascii=False)
        print()
    else:
        print("\n".join(table(workout, memory)))
    return Exit.OK
