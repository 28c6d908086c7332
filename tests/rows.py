"""Rows of the record for tests: a usual one, and what is other in it."""

from __future__ import annotations

from typing import Any

from runner.progress.history import SetRow

START = "2026-11-25T06:30:00+01:00"


def row(**changes: Any) -> SetRow:
    """A set of push-ups as the record has it."""
    usual = SetRow(
        session_id="20261125-053000-aaaa",
        session_start=START,
        iso_week="2026-W48",
        plan="Kestrel Hut",
        session="A",
        trainee="Ada",
        block=1,
        round=1,
        exercise="push-up",
        exercise_name="Push-up",
        prime_movers="chest",
        synergists="triceps",
        version="v1",
        setup="",
        load_kg=None,
        set=1,
        kind="work",
        side="both",
        status="done",
        measure="reps",
        reps=12,
        hold_s=None,
        reserve=None,
        reserve_aimed=2,
        set_start="2026-11-25T06:35:00.000+01:00",
        started_by="clock",
        work_s=30.0,
        rest_before_s=None,
        recovery_s=None,
        to_beat=None,
        beaten=None,
        tempo="",
        pain=None,
        note="",
        corrected="no",
    )
    return usual._replace(**changes)
