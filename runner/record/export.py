"""What can be exported: the tables of the record by their names."""

from __future__ import annotations

from typing import TextIO

from runner.record.csvfile import write_csv
from runner.record.store import Record
from runner.record.tables import (
    HeldLine,
    Period,
    SessionLine,
    WeekLine,
    held_lines,
    session_lines,
    week_lines,
    write_table,
)

TABLES = ("sets", "sessions", "weeks", "held")


def write_what(
    what: str, record: Record, trainee: str | None, period: Period, stream: TextIO
) -> None:
    """Write one of the tables; everybody's where no trainee is named."""
    names = record.trainees() if trainee is None else [trainee]
    if what == "sessions":
        write_table(session_lines(record, names, period), SessionLine, stream)
    elif what == "weeks":
        write_table(week_lines(record, names, period), WeekLine, stream)
    elif what == "held":
        write_table(held_lines(record, names, period), HeldLine, stream)
    else:
        write_csv(record.rows(trainee=trainee, **period), stream)
