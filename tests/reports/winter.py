"""A small plan of the winter crew, and a few weeks of it on file."""

from __future__ import annotations

from datetime import datetime

from runner.record.record import Record
from runner.session import verb as cmd
from tests.plans import USUAL, loads, plan

from .year import BERLIN, Person, Run, days

PLAN = plan(
    "Kestrel Hut, dark months",
    {
        "push-up": {
            "assist": ["triceps"],
            "version": [
                {"id": "bench", "name": "hands on the bench"},
                {"id": "floor", "name": "on the floor"},
            ],
        },
        "sack-row": {
            **USUAL["row"],
            "assist": ["biceps"],
            "both_sides": ["low-back"],
            "sides": "left first",
            "version": [
                {"id": "handle", "name": "rucksack by its handle", "load": loads(4, 12, 2)}
            ],
        },
        "plank": {
            "name": "Plank by the stove",
            "version": [{"id": "toes", "name": "on the toes"}],
        },
        "calf": {
            "name": "Calf raise",
            "pattern": "calf",
            "prime": ["calves"],
            "version": [{"id": "floor", "name": "on the floor"}],
        },
    },
    [{"push-up": {"sets": 3, "ramp": 1}, "sack-row": 3}, {"plank": 2}],
    [{"push-up": 2}, {"sack-row": 2, "calf": 2}],
    week={"sessions": [2, 3], "sets": [4, 8], "muscles": {"calves": [2, 4]}},
    effort={"reps": [6, 15]},
)
START = datetime(2026, 9, 7, 6, 30, tzinfo=BERLIN)  # a Monday


def some_weeks(record: Record, name: str = "Ada", weeks: int = 4) -> Person:
    """Two sessions a week; from the fifth session on the push-up is done on the floor."""
    person = Person(record, name, seed=7)

    def fifth(run: Run) -> None:
        coming, work = run.state.coming, run.state.course.next_work("push-up")
        here = coming is not None and coming[0].exercise == "push-up"
        if here and work is not None and work.level.version == "bench":
            run.do(cmd.Step(1))

    for number, at in enumerate(days(START, (0, 3), weeks)):
        act = fifth if number >= 4 else None
        person.train(PLAN, "AB"[number % 2], at, act=act)
    return person
