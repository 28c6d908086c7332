"""One trainee of ten years handed over, and the memory that it takes beside that of one year."""

from __future__ import annotations

import io
import tracemalloc
from pathlib import Path

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
    """The time of ten years, and its peak of memory beside one year's."""
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
    return [
        at_most(f"handover of {years[0]} years of one trainee", seconds[0], "s", 3),
        ratio("its memory, over one year", peaks[0], peaks[1], "MiB", 1.2),
    ]
