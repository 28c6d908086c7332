"""`matside rehearse`: a session's predicted timeline, as a table or as data."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from runner.cli.clock_text import clock
from runner.cli.main import data_dir
from runner.core import forecast
from runner.core.forecast import Step
from runner.core.memory import Memory, load_text
from runner.core.timing import TimedSet
from runner.core.workout import Timing, Workout
from runner.errors import Exit
from runner.live.opening import due_session
from runner.live.paths import default_trainee, record_path
from runner.plan.compile import compile_session
from runner.plan.library import find_plan
from runner.plan.read import read_plan
from runner.record.store import Record
from runner.record.text import trainee_name


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


def as_data(workout: Workout, memory: Memory) -> dict[str, Any]:
    """The timeline as plain data; seconds to the tenth of a millisecond."""
    steps = forecast.rehearse(workout, memory)
    straight = forecast.rehearse(forecast.straight(workout), memory)
    return {
        "plan": workout.plan,
        "session": workout.session,
        "total_s": _seconds(forecast.total(steps)),
        "straight_sets_s": _seconds(forecast.total(straight)),
        "steps": [_step_data(step) for step in steps],
    }


def _seconds(value: float) -> float:
    return round(value, 4)


def _step_data(step: Step) -> dict[str, Any]:
    data: dict[str, Any] = {
        "kind": step.kind,
        "start_s": _seconds(step.start),
        "end_s": _seconds(step.end),
    }
    if step.why is not None:
        data["why"] = step.why
    if step.slot is not None and step.timed is not None:
        data |= {
            "block": step.slot.block,
            "round": step.slot.round,
            "exercise": step.slot.exercise,
            "set": step.slot.number,
            "set_kind": step.slot.kind,
            "version": step.slot.rung.version,
            "side": step.side,
            "loads": _loads(step.timed, step.side),
            "position_s": step.timed.timing.position,
            "change_s": step.timed.change if step.first_side else 0.0,
            "breather_s": step.timed.timing.breather,
            "law": _law(step.timed.timing),
            "recovery_s": None if step.recovered is None else _seconds(step.recovered),
        }
    return data


def _loads(timed: TimedSet, side: object) -> list[dict[str, str]]:
    bout = next(b for b in timed.bouts if b.side == side)
    roles = (("prime", bout.prime), ("synergist", bout.synergist))
    return [
        {"muscle": muscle, "side": where, "role": role}
        for role, places in roles
        for muscle, where in sorted(places)
    ]


def _law(timing: Timing) -> dict[str, Any]:
    return {
        "recovery_s": timing.recovery,
        "recovery_least_s": timing.recovery_least,
        "recovery_cross_s": timing.recovery_cross,
        "changeover_s": [timing.changeover_from, timing.changeover_to],
        "side_gap_s": timing.side_gap,
        "block_rest_s": timing.block_rest,
    }


_HEAD = ("at", "rest", "why", "set", "side", "as", "work", "recovery")


def table(workout: Workout, memory: Memory) -> list[str]:
    """The timeline for people: one line a set, the rest before it and why, then totals."""
    steps = forecast.rehearse(workout, memory)
    rows: list[tuple[str, ...]] = []
    rest: Step | None = None
    for step in steps:
        if step.kind == "rest":
            rest = step
        elif step.slot is None:
            rows.append((clock(step.start), "", "", step.kind, "", "", clock(step.seconds), ""))
        else:
            rows.append(_set_row(workout, step, rest))
            rest = None
    widths = [max(len(r[i]) for r in [*rows, _HEAD]) for i in range(len(_HEAD))]
    lines = [f"{workout.plan}, session {workout.session}: {workout.name}", ""]
    lines += [_aligned(row, widths) for row in (_HEAD, *rows)]
    total = forecast.total(steps)
    straight = forecast.total(forecast.rehearse(forecast.straight(workout), memory))
    return [*lines, "", *_totals(total, straight)]


def _totals(total: float, straight: float) -> list[str]:
    lines = [f"Length {clock(total)}"]
    if straight > total:
        share = 100 * (straight - total) / straight
        lines.append(f"As straight sets {clock(straight)}: alternating saves {share:.0f} %")
    return lines


def _set_row(workout: Workout, step: Step, rest: Step | None) -> tuple[str, ...]:
    slot = step.slot
    if slot is None:
        raise ValueError("a step without a set")
    exercise = workout.exercises[slot.exercise]
    rung = slot.rung
    as_what = " ".join(
        [rung.version, *(v for _, v in rung.setup)]
        + ([f"{load_text(rung.load)} kg"] if rung.load is not None else [])
    )
    return (
        clock(step.start),
        "" if rest is None else clock(rest.seconds),
        "" if rest is None or rest.why is None else rest.why,
        f"{exercise.name} {slot.number}" + (" (ramp)" if slot.kind == "ramp" else ""),
        "" if step.side in (None, "both") else str(step.side),
        as_what,
        clock(step.seconds),
        "" if step.recovered is None else clock(step.recovered),
    )


def _aligned(row: tuple[str, ...], widths: list[int]) -> str:
    right = {0, 1, 6, 7}
    cells = [
        cell.rjust(width) if i in right else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(row, widths, strict=True))
    ]
    return "  ".join(cells).rstrip()
