"""A session that the record could not take is written as CSV wherever that is possible."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from runner.core.session.events import Event, to_data
from runner.errors import MatsideError
from runner.live.opening import Live
from runner.record.csvfile import write_csv
from runner.record.store import Record, Unwritable
from runner.record.text import clean_data

LOOK_BYTES = 32 * 1024 * 1024  # of a record looked at after a session: some seconds at most


def damage(live: Live, path: Path) -> str | None:
    """What is wrong with the record after a session that was kept; None where all is well.

    The file is opened anew: the connection that kept the session may still hold pages that
    somebody has spoilt in the file.
    """
    try:
        with Record.open_readonly(path, look=LOOK_BYTES) as record:
            found = record.info(live.info.id)
            events, rows = record.events(live.info.id), record.session_rows(live.info.id)
    except Unwritable:
        return None  # another program has it just now; it took every event
    except MatsideError as error:
        return error.lines[0]
    known = live.driver.keeper.given
    last = list(events[max(len(events) - len(known), 0) :])
    if (found, rows, _as_kept(last)) == (live.info, live.rows(), _as_kept(known)):
        return None
    return f"{path}: the session is not there as it was kept"


def _as_kept(events: Sequence[Event]) -> list[Any]:
    """Events as plain data: the record leaves out the control characters of what was typed."""
    return [clean_data(to_data(event)) for event in events]


def rescue(live: Live, data: Path) -> Path | None:
    """Write the session's CSV beside the record, else here, at home, in the temporary folder.

    Never over an existing file. None where nothing could be written.
    """
    name = f"matside-{live.info.id}.csv"
    for folder in (data, Path.cwd(), Path.home(), Path(tempfile.gettempdir())):
        try:
            handle = os.open(folder / name, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except OSError:
            continue
        try:
            with open(handle, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123 - a descriptor
                write_csv(live.rows(), file)
        except OSError:
            with suppress(OSError):
                (folder / name).unlink()  # half a session would be taken for a whole one
            continue
        return folder / name
    return None
