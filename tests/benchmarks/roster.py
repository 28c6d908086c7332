"""The roster of fifty trainees with ten years each, without overlays and with one for each."""

from __future__ import annotations

import gc
from pathlib import Path

from runner.cli.main import NEW_OBJECTS
from runner.output import overlay_path
from runner.plan.person import ManyPeople
from runner.record.record import Record
from runner.reports.roster import roster
from tests.benchmarks.aids.many_sets import LAST_DAY, data_of
from tests.benchmarks.frame import Row, at_most, wall

YEARS_OF_FIFTY = 50 * 10 * 52 * 3 * 8  # rows: three sessions a week, eight rows each at least


def rows(*, quick: bool = False) -> list[Row]:
    """The whole roster of a record."""
    people, size = (3, 300) if quick else (50, YEARS_OF_FIFTY)
    crew = tuple(f"Guest {number}" for number in range(people))
    path: Path = data_of(size, crew, every=1 if quick else 2) / "record.db"
    usual = gc.get_threshold()
    gc.set_threshold(NEW_OBJECTS)  # as the command line does
    try:
        with Record.open_readonly(path) as record:
            work = wall(lambda: roster(record, LAST_DAY))
            seconds = min(work() for _ in range(1 if quick else 5))
            for number, name in enumerate(crew):
                overlay_path(path.parent, name).parent.mkdir(exist_ok=True)
                overlay_path(path.parent, name).write_text(_overlay(number), encoding="utf-8")
            work = wall(lambda: roster(record, LAST_DAY, (), ManyPeople(path.parent).plan_of))
            overlays = min(work() for _ in range(1 if quick else 5))
    finally:
        gc.set_threshold(*usual)
    return [
        at_most(f"roster of {people}, {size} sets on file", seconds, "s", 2),
        at_most("the same with an overlay for each, no two alike", overlays, "s", 2),
    ]


def _overlay(number: int) -> str:
    """One that no other number has: sets for all, less time for a fifth, an avoid for a third."""
    return "\n".join(
        [
            'of = "kestrel-hut"',
            f"reserve = {number % 4}",
            f'minutes = "{20 + number}:00"' if number % 5 == 0 else "",
            '[avoid]\nstress = ["shoulder overhead"]' if number % 3 == 0 else "",
            f"[sets]\nsquat = {1 + number % 7}\nrucksack-row = {1 + number // 7}\n",
        ]
    )
