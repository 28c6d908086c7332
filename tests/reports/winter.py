"""A small plan of the winter crew, and a few weeks of it on file."""

from __future__ import annotations

from datetime import datetime

from runner.record.record import Record
from runner.session import verb as cmd

from .year import BERLIN, Person, Run, days

PLAN = """
title = "Kestrel Hut, dark months"
[week]
sessions = [2, 3]
sets = [4, 8]
[week.muscles]
calves = [2, 4]
[effort]
reps = [6, 15]
[exercise.push-up]
name = "Push-up"
pattern = "horizontal push"
prime = ["chest"]
assist = ["triceps"]
[[exercise.push-up.version]]
id = "bench"
name = "hands on the bench"
[[exercise.push-up.version]]
id = "floor"
name = "on the floor"
[exercise.sack-row]
name = "Rucksack row"
pattern = "horizontal pull"
prime = ["upper-back"]
assist = ["biceps"]
both_sides = ["low-back"]
sides = "left first"
[[exercise.sack-row.version]]
id = "handle"
name = "rucksack by its handle"
load = { from = 4, to = 12, by = 2 }
[exercise.plank]
name = "Plank by the stove"
pattern = "trunk"
prime = ["abdomen"]
measure = "hold"
[[exercise.plank.version]]
id = "toes"
name = "on the toes"
[exercise.calf]
name = "Calf raise"
pattern = "calf"
prime = ["calves"]
[[exercise.calf.version]]
id = "floor"
name = "on the floor"
[[session]]
id = "A"
block = [
  { do = [{ exercise = "push-up", sets = 3, ramp = 1 }, { exercise = "sack-row", sets = 3 }] },
  { do = [{ exercise = "plank", sets = 2 }] },
]
[[session]]
id = "B"
block = [
  { do = [{ exercise = "push-up", sets = 2 }] },
  { do = [{ exercise = "sack-row", sets = 2 }, { exercise = "calf", sets = 2 }] },
]
"""
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
