"""Every fault has its line: the one on which a person finds the key, or the table without it."""

from __future__ import annotations

import random

import pytest

from runner.plan.faults import PlanFaults
from runner.plan.file import parse_plan
from tests.plan.hostile import REFUSED
from tests.plan.plans import EVERY_KEY

ODD = """\
title = "Hut"   # a comment with [brackets] = "and quotes
summary = '''
two [[lines]]
'''
cautions = [
  "one",  # "
  2,
]
"exercise".row = { name = 3, pattern = "trunk", prime = ["abdomen"], version = [
  { id = "a", name = "A" },
  { id = "b", name = "B", setup = { height = "x;y" } },
] }
[[session]]
id = "A"
[[session.block]]
do = [{ exercise = "row", sets = 3 }]
[[session.block]]
do = [
  { exercise = "row", sets = 3 },
  { exercise = "raw", sets = 3 },
]
[[session]]
id = "B"
[[session.block]]
do = [{ exercise = "row", sets = 0 }]
[[session.block]]
recovry = "2:00"
"""


def lines(text: str) -> list[str]:
    with pytest.raises(PlanFaults) as refused:
        parse_plan(text, "hut.toml")
    return list(refused.value.lines)


def test_of_tables_lists_and_texts_over_several_lines() -> None:
    found = [":".join(line.split(":")[1:3]) for line in lines(ODD)]
    assert found == [
        "2: summary",
        "7: cautions 2",
        "9: exercise.row.name",
        "11: exercise.row.version.b.setup.height",
        "20: session.A.block 2.do 2.exercise",
        "25: session.B.block 1.do 1.sets",
        "27: session.B.block 2.recovry",
        "26: session.B.block 2.do",
    ]


@pytest.mark.parametrize("seed", range(5))
def test_a_key_that_is_written_wrongly_anywhere_is_found_on_its_line(seed: int) -> None:
    dice = random.Random(seed)  # noqa: S311 - to be the same every time
    rows = EVERY_KEY.splitlines()
    keys = [n for n, row in enumerate(rows) if " = " in row and row[0].isalpha()]
    for at in dice.sample(keys, 12):
        wrong = [*rows]
        wrong[at] = f"zz{wrong[at]}"
        for _ in range(dice.randrange(4)):
            wrong.insert(dice.randrange(at), "# a line more")
        text = "\n".join(wrong)
        line = next(n for n, row in enumerate(wrong, 1) if row.startswith("zz"))
        assert any(row.startswith(f"hut.toml:{line}: ") for row in lines(text)), rows[at]


@pytest.mark.parametrize("name", REFUSED)
def test_a_hostile_plan_has_lines_too(name: str) -> None:
    *found, last = lines(REFUSED[name][0])
    assert all(row.startswith("hut.toml:") and row[9].isdigit() for row in found)
    assert last[9].isdigit() or last.endswith("correct these first")
