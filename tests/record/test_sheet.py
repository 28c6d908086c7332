"""A coach's own sheet: read with a mapping, every fault named."""

from __future__ import annotations

from datetime import datetime

import pytest

from runner.errors import MatsideError
from runner.record import importing
from runner.record.record import Record
from runner.record.sheet_import import Sheet, read_sheet

from .hut import BERLIN, EXERCISES, TITLE


def sheet(**changes: object) -> Sheet:
    given: dict[str, object] = {
        "plan": TITLE,
        "exercises": EXERCISES,
        "trainee": "Runa",
        "local": lambda naive: naive.replace(tzinfo=BERLIN),
    }
    return Sheet(**(given | changes))  # type: ignore[arg-type]


SIMPLE = """\
date,exercise,set,reps
2026-11-23,press,1,12
2026-11-23,Rucksack row,1,12 14
2026-11-23,press,2,10/2

2026-11-24,PLANK,1,45
2026-11-24,row,1,9
"""


def test_a_simple_sheet() -> None:
    rows = read_sheet(SIMPLE, sheet())
    said = [(r.session_start[:10], r.exercise, r.set, r.side, r.reps, r.hold_s) for r in rows]
    assert said == [
        ("2026-11-23", "press", 1, "both", 12, None),
        ("2026-11-23", "press", 2, "both", 10, None),
        ("2026-11-23", "row", 1, "left", 12, None),
        ("2026-11-23", "row", 1, "right", 14, None),
        ("2026-11-24", "plank", 1, "both", None, 45.0),
        ("2026-11-24", "row", 1, "left", 9, None),
        ("2026-11-24", "row", 1, "right", 9, None),
    ]
    assert rows[1].reserve == 2
    assert rows[2].prime_movers == "upper-back"
    assert rows[2].synergists == "biceps;low-back"
    assert {r.iso_week for r in rows} == {"2026-W48"}
    assert rows[0].version == ""  # the press has several, and nobody said which
    assert rows[4].version == "floor"  # the plank has one
    assert {r.set_start for r in rows} == {None}


def test_read_again_it_is_the_same_and_adds_nothing() -> None:
    rows = read_sheet(SIMPLE, sheet())
    assert rows == read_sheet(SIMPLE, sheet())
    assert len({r.session_id for r in rows}) == 2
    assert rows[0].session_id != read_sheet(SIMPLE, sheet(trainee="Odd"))[0].session_id
    with Record.in_memory() as empty:
        assert len(importing.preview(empty, rows).new) == 2


@pytest.mark.parametrize("sign", [";", "\t", ","])
def test_other_names_other_order_other_signs(sign: str) -> None:
    lines = [
        ["Wdh", "Tag", "Übung", "Satz", "Wer", "kg"],
        ["12", "23.11.2026", "Drücken", "1", "Odd", "2.5"],
    ]
    text = "\r\n".join(sign.join(line) for line in lines)
    (row,) = read_sheet(
        text,
        sheet(
            columns={
                "reps": "wdh",
                "date": "Tag",
                "exercise": "Übung",
                "set": "Satz",
                "trainee": "Wer",
                "load_kg": "kg",
            },
            names={"Drücken": "press"},
        ),
    )
    assert (row.trainee, row.exercise, row.reps, row.load_kg) == ("Odd", "press", 12, 2.5)
    start = datetime.fromisoformat(row.session_start)
    assert start == datetime(2026, 11, 23, 12, tzinfo=BERLIN)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("11/23/2026,press,1,12", "date: '11/23/2026': write a date as 2026-11-25"),
        ("2026-02-30,press,1,12", "date"),
        ("2026-11-23,swim,1,12", '--exercise "swim=ID"'),
        ("2026-11-23,press,0,12", "set: '0'"),
        ("2026-11-23,press,1,twelve", "reps: 'twelve'"),
        ("2026-11-23,press,1,", "reps: ''"),
        ("2026-11-23,press,1,12 14", "reps: '12 14'"),
        ("2026-11-23,press,1", "reps"),
        (
            "2026-11-23,press,1,10\n2026-11-23,press,1,11",
            "line 3: set 1 of press",
        ),
        ("2026-11-23,\x1b[31m,1,12", "lacks this exercise"),
    ],
)
def test_every_fault_has_its_line(line: str, said: str) -> None:
    with pytest.raises(MatsideError) as fault:
        read_sheet(f"date,exercise,set,reps\n{line}\n", sheet())
    assert any(said in text for text in fault.value.lines), fault.value.lines
    assert all(text.startswith("line ") for text in fault.value.lines)
    assert all(text.isprintable() for text in fault.value.lines)
    assert fault.value.code == 65


def test_all_faults_at_once() -> None:
    text = "date,exercise,set,reps\n" + "never,swim,0,12\n" * 3
    with pytest.raises(MatsideError) as fault:
        read_sheet(text, sheet())
    assert len(fault.value.lines) == 3
    assert all(word in fault.value.lines[0] for word in ("date", "exercise", "set"))


@pytest.mark.parametrize("text", ["", "date,exercise,set\n", "a;b;c;d\n"])
def test_columns_that_are_missing(text: str) -> None:
    with pytest.raises(MatsideError, match="columns are missing"):
        read_sheet(text, sheet())
