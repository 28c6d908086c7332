"""The tables beside the sets: sessions, weeks and versions held, as CSV."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from runner.cli.help import parts_of
from runner.law.workout import Item
from runner.record.decisions import LevelDecision
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.tables import (
    DecisionLine,
    SessionLine,
    WeekLine,
    decision_lines,
    session_lines,
    week_lines,
    weeks_of_record,
    write_table,
)
from runner.session import verb as cmd

from .hut import MONDAY, PRESS, ROW, TITLE, Sitting, later, morning

ROOT = Path(__file__).parents[2]
LINES = {SessionLine: session_lines, WeekLine: week_lines, DecisionLine: decision_lines}


def table(record: Record, kind: type[Any], **period: Any) -> list[dict[str, str]]:
    stream = io.StringIO(newline="")
    lines = LINES[kind](record, record.trainees(), Period(**period))
    count = write_table(lines, kind, stream)
    text = stream.getvalue()
    assert text.endswith("\r\n")
    found = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert len(found) == count
    return found


def test_a_session_is_one_line(record: Record) -> None:
    sitting = Sitting(record).begin().set(12).set(10).do(cmd.Skip()).wait()
    while sitting.state.running is not None:
        sitting.set(9)
    sitting.do(cmd.Rate(7), cmd.Note("=hi"))
    sitting.close()
    (line,) = table(record, SessionLine)
    assert line["session_start"] == "2026-11-23T06:30:00+01:00"
    assert (line["status"], line["plan"], line["trainee"]) == ("closed", TITLE, "Runa")
    assert line["sets_done"] == "5"  # 2 press, 2 rows of which one side was left out, 1 plank
    assert line["sets_left_out"] == "0"
    assert float(line["length_s"]) == round(sitting.now, 1)
    # Foster et al. 2001: RPE times minutes.
    assert float(line["session_load"]) == pytest.approx(7 * sitting.now / 60, abs=0.05)
    assert line["note"] == "'=hi"


def test_seven_times_forty_five_minutes_is_315(record: Record) -> None:
    Sitting(record).whole()
    sitting = Sitting(record, morning((Item("press", 1),)), at=later(1)).begin().set(9, on=False)
    sitting.do(cmd.Rate(7)).do(cmd.End(), after=45 * 60 - sitting.now)
    _, line = table(record, SessionLine)
    assert (line["length_s"], line["session_load"]) == ("2700.0", "315.0")


def test_a_week_has_a_line_for_each_muscle_with_what_is_aimed_at(record: Record) -> None:
    for day in (0, 2, 7):
        Sitting(record, at=later(day)).whole()
    lines = table(record, WeekLine)
    first = {r["muscle"]: r for r in lines if r["iso_week"] == "2026-W48"}
    assert {m: r["sets"] for m, r in first.items()} == {
        "chest": "4.0",
        "front-shoulder": "2.0",
        "upper-back": "4.0",
        "biceps": "2.0",
        "triceps": "2.0",
        "abdomen": "2.0",
        "low-back": "2.0",
    }
    assert first["chest"]["monday"] == "2026-11-23"
    assert first["chest"]["sessions"] == "2"
    # The plan on file names no target: the published band.
    assert [first["chest"][n] for n in ("aim_from", "aim_to", "aim_by")] == [
        "10",
        "20",
        "published",
    ]
    assert (first["chest"]["judged"], first["triceps"]["judged"]) == ("under", "little")
    one = table(record, WeekLine, since=MONDAY.date(), until=MONDAY.date())
    assert {r["sets"] for r in one if r["muscle"] == "chest"} == {"2.0"}
    assert table(record, WeekLine, plan="another") == []


def test_a_week_goes_by_the_plan_of_its_last_session(record: Record) -> None:
    text = (ROOT / "plans" / "kestrel-hut.toml").read_text(encoding="utf-8")
    Sitting(record).whole()
    Sitting(record, at=later(1), text=text.replace("sets = [10, 20]", "sets = [1, 3]")).whole()
    ((week, plan),) = weeks_of_record(record, "Runa", Period())
    assert plan.target("chest") == (1, 3)
    assert plan.sessions == (3, 3)
    assert week.sessions == 2
    (chest,) = (r for r in table(record, WeekLine) if r["muscle"] == "chest")
    assert [chest[n] for n in ("aim_from", "aim_to", "aim_by")] == ["1", "3", "plan"]
    assert chest["judged"] == "over"


def test_every_version_held_is_a_line(record: Record) -> None:
    done = Sitting(record).whole()
    said = [
        LevelDecision("press", "", PRESS.progression[1], "harder"),
        LevelDecision("row", "slow", ROW.progression[0], "=1"),
    ]
    record.agree("Runa", None, said, later(), done.info.id)
    lines = table(record, DecisionLine)
    assert [(r["exercise"], r["group"], r["version"], r["load_kg"]) for r in lines] == [
        ("press", "", "mark-2", ""),
        ("row", "slow", "light", "4"),
    ]
    assert [r["reason"] for r in lines] == ["harder", "'=1"]
    assert lines[0]["setup"] == "anchor=120 cm"
    assert (lines[0]["since"], lines[0]["on"]) == ("2026-11-30T05:30:00.000Z", "2026-11-30")
    assert table(record, DecisionLine, since=date(2026, 12, 1)) == []
    assert len(table(record, DecisionLine, plan=TITLE)) == 2


@pytest.mark.parametrize("kind", LINES)
def test_an_empty_record_is_a_header(record: Record, kind: type[Any]) -> None:
    assert table(record, kind) == []


@pytest.mark.parametrize(
    ("name", "kind"), [("sessions", SessionLine), ("weeks", WeekLine), ("held", DecisionLine)]
)
def test_the_readme_names_the_table_and_help_its_columns(name: str, kind: type[Any]) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert re.search(rf"`(--what )?{name}`", text)
    assert "`matside help columns` explains every column" in text
    (told,) = (p for p in parts_of("columns") if p.heading.startswith(f"--what {name}"))
    assert [term for term, _ in told.rows] == list(kind._fields)
