"""What can be exported: the tables of the record by their names."""

from __future__ import annotations

from pathlib import Path
from typing import TextIO

from runner.record.csvfile import write_csv
from runner.record.period import Period
from runner.record.reader import Reader

TABLES = ("sets", "sessions", "weeks", "held")


def open_for(what: str, path: Path) -> Reader:
    """A record to read that table from: of the sets without loading what the others need."""
    if what == "sets":
        return Reader.open_readonly(path)
    from runner.record.store import Record  # noqa: PLC0415 - it loads the session machine

    return Record.open_readonly(path)


def write_what(
    what: str, record: Reader, trainee: str | None, period: Period, stream: TextIO
) -> None:
    """Write one of the tables; everybody's where no trainee is named.

    What is not the sets wants a record that `open_for` gave for it, or a `Record`.
    """
    if what == "sets":
        write_csv(record.rows(trainee=trainee, **period), stream)
        return
    from runner.record.tables import write_named  # noqa: PLC0415 - likewise

    write_named(what, record, [trainee] if trainee else record.trainees(), period, stream)
