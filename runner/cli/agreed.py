"""What a trainee has agreed to differently from the plan, where a session is rehearsed with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from runner.cli.chosen import Chosen
from runner.core.adjust import Adjustment, adjusted
from runner.core.course import plan_slots
from runner.core.memory import Memory
from runner.core.progress.answers import in_force
from runner.core.session.planning import rung_text
from runner.core.workout import Rung, Workout
from runner.record.text import shown
from runner.rehearsal.words import wrapped


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
