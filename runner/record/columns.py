"""The columns of a row of the record: one side of a set.

The fields of `SetRow`, in their order, are the columns of the CSV: this is the one list of
them, and the readers and writers of tables and files go by its names and types.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from runner.core.values import Measure, RowStatus, SetKind, Side, Who, YesNo


class SetRow(NamedTuple):
    """One side of a set. A `str` is free text, "" for none; elsewhere None stands for empty.

    Seconds have one decimal; times are RFC 3339 in local time with its offset.
    """

    session_id: str
    session_start: str
    iso_week: str  # 2026-W48, by the local date
    plan: str
    session: str
    trainee: str
    block: int
    round: int
    exercise: str
    exercise_name: str
    prime_movers: str  # muscle ids, `;` between
    synergists: str  # those that one-sided work loads on both sides among them
    version: str
    setup: str  # `name=value unit`, `;` between
    load_kg: float | None
    set: int
    kind: SetKind
    side: Side
    status: RowStatus  # `running` in the table alone, never in an export
    measure: Measure
    reps: int | None
    hold_s: float | None
    reserve: int | None
    reserve_aimed: int
    set_start: str | None  # with milliseconds
    started_by: Who | None
    work_s: float | None
    rest_before_s: float | None
    recovery_s: float | None
    to_beat: float | None  # repetitions or seconds
    beaten: YesNo | None
    tempo: str
    pain: Literal["yes"] | None
    note: str
    corrected: YesNo
    # Columns that an older file does not have.
    set_group: str = ""  # the version that the plan names, `first:` or `later:` before it
    deload: Literal["yes"] | None = None
    level_finding: Literal["yes"] | None = None
    today_only: Literal["yes"] | None = None
    swapped_for: str = ""  # the exercise that the plan has here
    pain_where: str = ""
    corrected_at: str | None = None  # the newest correction


COLUMNS = SetRow._fields
NEEDED_COLUMNS = COLUMNS[: COLUMNS.index("set_group")]  # of a file that is read
SESSION_COLUMNS = COLUMNS[: COLUMNS.index("block")]  # the same for all rows of a session
OWN_COLUMNS = COLUMNS[len(SESSION_COLUMNS) :]
