"""One trainee of ten years handed over and received, and its memory beside that of one year."""

from __future__ import annotations

import io
import tracemalloc
from pathlib import Path
from tempfile import TemporaryDirectory

from runner.live.corrections import replayed
from runner.output import record_path
from runner.record.handover import Parcel
from runner.record.record import Record
from tests.benchmarks.aids.many_sets import data_of
from tests.benchmarks.frame import Row, at_most, ratio, wall

A_YEAR = 52 * 7 // 2 * 30  # rows of one who trains every second day


class Nowhere(io.RawIOBase):
    """Takes what is written and keeps none of it."""

    def __init__(self) -> None:
        super().__init__()
        self.size = 0

    def writable(self) -> bool:
        return True

    def write(self, chunk: bytes) -> int:  # type: ignore[override] # bytes are all that comes
        self.size += len(chunk)
        return len(chunk)


def rows(*, quick: bool = False) -> list[Row]:
    """The time of ten years out and for the first time in, and its memory beside one year's."""
    years = (2, 1) if quick else (10, 1)
    sets = 60 if quick else A_YEAR
    peaks, seconds = [], []
    for many in years:
        path: Path = data_of(many * sets, ("Ada",), every=2, events=True) / "record.db"
        with Record.open_readonly(path) as record:
            work = wall(lambda record=record: record.hand_over("Ada", Nowhere(), {}))
            seconds.append(min(work() for _ in range(1 if quick else 3)))
            tracemalloc.start()
            record.hand_over("Ada", Nowhere(), {})
            peaks.append(tracemalloc.get_traced_memory()[1] / 2**20)
            tracemalloc.stop()
        if many == years[0]:
            received = _received(path, fold=1 if quick else 3)
    return [
        at_most(f"handover of {years[0]} years of one trainee", seconds[0], "s", 3),
        at_most("its receipt where nothing is known of them", received, "s", 3),
        ratio("its memory, over one year", peaks[0], peaks[1], "MiB", 1.2),
    ]


def _received(path: Path, *, fold: int) -> float:
    """Seconds to receive a whole record into an empty one, the file's check included."""
    found = []
    with TemporaryDirectory() as folder:
        file = Path(folder) / "ada.zip"
        with Record.open_readonly(path) as record, file.open("wb") as out:
            record.hand_over("Ada", out, {})
        for number in range(fold):
            data = Path(folder) / str(number)
            data.mkdir()
            found.append(wall(lambda data=data: _receive(file, data))())
    return min(found)


def _receive(file: Path, data: Path) -> None:
    with Parcel(file) as parcel, Record.open(record_path(data, trial=False)) as record:
        record.receive(parcel, replayed, data, keep=True)
