"""What a trainee has agreed to differently from the plan, where a session is rehearsed with it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from runner.cli.chosen import Chosen
from runner.core.adjust import Adjustment, adjusted
from runner.core.progress.answers import in_force
from runner.core.workout import Workout
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


def agreed_lines(workout: Workout, agreed: Sequence[Adjustment], width: int) -> list[str]:
    """What was agreed, for people; nothing where nothing was."""
    if not agreed:
        return []
    changes = (
        f"{workout.exercises[one.exercise].name}: {one.text}" if one.exercise else one.text
        for one in agreed
    )
    text = f"As agreed, and not as the plan has it: {shown('; '.join(changes))}."
    return [*wrapped(text, width), ""]
