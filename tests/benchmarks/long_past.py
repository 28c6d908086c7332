"""What a session asks of the past, with a million sets on file and with ten thousand.

The look-up of the last time is what a session is planned on: versions held, lengths, counts to
beat. The weekly sets are those of one trainee over the twelve weeks of a look back.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.tables import weeks_of_record
from tests.benchmarks.aids.by_hand import PLAN
from tests.benchmarks.aids.many_sets import LAST_DAY, data_of
from tests.benchmarks.frame import Row, at_most, in_turn, ratio, wall

MANY, FEW = 1_000_000, 10_000
TIMES = 15


def rows(*, quick: bool = False) -> list[Row]:
    """Each look with many sets and with few in turn."""
    sizes = (400, 200) if quick else (MANY, FEW)
    many, few = (Record.open_readonly(data_of(size) / "record.db") for size in sizes)
    plan = read_plan(find_plan(PLAN, Path()))
    workout = compile_session(plan, "A")
    last: date = LAST_DAY.date()
    period = Period(since=last - timedelta(weeks=12), until=last)

    def memory(record: Record) -> None:
        assert record.baseline("Ada", workout).to_beat

    def weeks(record: Record) -> None:
        assert weeks_of_record(record, "Ada", period)

    def shown(record: Record) -> None:
        assert record.last_time("Ada", workout.plan, "A")

    times = 1 if quick else TIMES
    found = []
    for look in (memory, shown, weeks):
        works = [wall(lambda r=record, do=look: do(r)) for record in (many, few)]
        found.append([1e3 * s for s in in_turn(works, times=times, warm_up=2)])
    with many, few:
        (a_many, a_few), (b_many, b_few), (c_many, c_few) = found
    return [
        at_most(f"last-time look-up, {sizes[0]} sets", a_many, "ms", 20),
        ratio(f"last-time look-up, over {sizes[1]} sets", a_many, a_few, "ms", 3),
        ratio("last session of this kind, likewise", b_many, b_few, "ms", 3),
        ratio("weekly sets of one trainee, likewise", c_many, c_few, "ms", 3),
    ]
