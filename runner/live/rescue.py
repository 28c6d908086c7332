"""A session that the record could not take is written as CSV wherever that is possible."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from runner.live.opening import Live
from runner.record.csvfile import write_csv


def rescue(live: Live, data: Path) -> Path | None:
    """Write the session's CSV beside the record, else here, at home, in the temporary folder.

    Never over an existing file. None where nothing could be written.
    """
    name = f"matside-{live.info.id}.csv"
    for folder in (data, Path.cwd(), Path.home(), Path(tempfile.gettempdir())):
        try:
            handle = os.open(folder / name, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with open(handle, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123 - a descriptor
                write_csv(live.rows(), file)
        except OSError:
            continue
        return folder / name
    return None
