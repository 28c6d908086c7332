"""Sets that were done without the program, written up afterwards."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from runner.core.session import amend, commands as cmd, events as ev
from runner.core.session.turn import Refused, Turn, set_fields
from runner.core.values import setup_text


def _write_up(turn: Turn, command: cmd.WriteUp) -> None:
    state = turn.state
    if state.phase != "ready":
        raise Refused("a session that has begun is not written up")
    slot = state.course.slots[command.slot]
    if slot.status != "todo":
        raise Refused(f"set {slot.number} of {slot.exercise} is written already")
    exercise = state.workout.exercises[slot.exercise]
    rung = replace(exercise.ladder[command.step], load=command.load, setup=command.setup)
    slot = replace(slot, rung=rung)
    gear: dict[str, Any] = {
        "step": command.step,
        "setup": setup_text(command.setup),
        "load_kg": command.load,
        "note": command.note or None,
    }
    done = dict(command.counts)
    for side in exercise.side_order:
        fields = set_fields(slot, side, len(turn.state.rows) + 1) | gear
        if side not in done:
            turn.emit(ev.Written, **fields, status="skipped")
            continue
        beat = amend.to_beat(state, slot, side)
        turn.emit(
            ev.Written,
            **fields,
            to_beat=beat,
            pain=command.pain or None,
            **_count(done[side], beat, hold=exercise.measure == "hold", pain=bool(command.pain)),
        )


def _count(
    count: cmd.Count | None, beat: float | None, *, hold: bool, pain: bool
) -> dict[str, Any]:
    """The fields of a count; None for "not counted"."""
    if count is None:
        return {"counted": "no"}
    beaten = None if beat is None or pain else "yes" if count.value > beat else "no"
    value = {"hold_s": count.value} if hold else {"reps": int(count.value)}
    return {**value, "reserve": count.reserve, "beaten": beaten}


DECIDE: Mapping[type[cmd.Command], Callable[[Turn, Any], None]] = {cmd.WriteUp: _write_up}
