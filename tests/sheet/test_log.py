"""A sheet typed in: the same session as one run live, at the levels that stand on the page."""

from __future__ import annotations

import csv
import io
from datetime import datetime, timedelta
from pathlib import Path
from unittest.mock import patch

import pytest

from runner.cli.main import main
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.record.csvfile import write_csv
from runner.record.record import Record
from runner.session import verb as cmd
from tests.reports.winter import PLAN
from tests.reports.year import Person, Run
from tests.sheet.crew import Element, read, sheet

TODAY = datetime.now().astimezone().replace(hour=6, minute=30, second=0, microsecond=0)
TIMES = {
    "session_id", "session_start", "set_start", "started_by", "work_s", "rest_before_s",
    "recovery_s", "set_group",
}  # fmt: skip


def days_ago(number: int) -> datetime:
    return TODAY - timedelta(days=number)


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    file = tmp_path / "dark.toml"
    text = PLAN.replace("[exercise.push-up]\n", '[exercise.push-up]\ninstead = ["calf"]\n')
    file.write_text(text, encoding="utf-8")
    return file


def some_past(data: Path, plan: Path) -> None:
    """Two sessions of each kind, the same in every folder."""
    with Record.open(record_path(data, trial=False)) as record:
        person = Person(record, "Ada", seed=3)
        for number, ago in enumerate((20, 17, 13, 10)):
            person.train(plan.read_text("utf-8"), "AB"[number % 2], days_ago(ago))


def page_of(data: Path, plan: Path, session: str = "A") -> Element:
    (page,) = read(sheet(data, "--session", session, plan=str(plan))).all(".page")
    return page


def log(data: Path, *words: str, lines: str = "") -> int:
    """The command with these lines on its input."""
    typed = io.TextIOWrapper(io.BytesIO(lines.encode()), encoding="utf-8")
    with patch("sys.stdin", typed):
        return main(["log", *words, "--yes", "--data", str(data)])


def rows(data: Path, day: datetime) -> list[dict[str, str]]:
    """The work sets of a day, without what only a session run live knows."""
    out = io.StringIO()
    with patch("sys.stdout", out), Record.open_readonly(record_path(data, trial=False)) as record:
        write_csv(record.rows(), out)
    found = csv.DictReader(io.StringIO(out.getvalue(), newline=""))
    return [
        {name: value for name, value in row.items() if name not in TIMES}
        for row in found
        if row["session_start"].startswith(f"{day:%Y-%m-%d}") and row["kind"] == "work"
    ]


def typed(page: Element, day: datetime, lines: dict[str, str]) -> str:
    """The text that the page copies on a phone."""
    levels = {one.attributes["data-key"]: one.attributes["data-level"]
              for one in page.all(".exercise")}  # fmt: skip
    head = [f"sheet {page.attributes['data-sheet']}", f"plan {page.attributes['data-plan']}",
            f"session {page.attributes['data-session']}", f"on {day:%Y-%m-%d}"]  # fmt: skip
    return "\n".join([*head, *(f"{key}={levels[key]} {text}" for key, text in lines.items()), ""])


@pytest.mark.parametrize("kind", ["plain", "two levels", "pain", "swap", "note"])
def test_typed_in_it_is_the_same_as_run_live_but_for_times(
    tmp_path: Path, plan: Path, kind: str
) -> None:
    live, paper = tmp_path / "live", tmp_path / "paper"
    text = plan.read_text("utf-8")
    for data in (live, paper):
        data.mkdir()
        some_past(data, plan)
    page = page_of(paper, plan)
    counts = {"push-up": [12, 11, 9], "sack-row": [(8, 9), (8, 8), (7, 7)], "plank": [40, 35]}
    lines = {"push-up": "12 11/1 9", "sack-row": "8|9 8|8 7|7", "plank": "40 35"}
    day = days_ago(3)
    with Record.open(record_path(live, trial=False)) as record:
        Session(record, text, day, kind).do(counts)
    if kind == "two levels":
        lines["push-up"] = "12; floor 11/1 9"
    if kind == "pain":
        lines["sack-row"] = "8|9 8|8; pain left elbow"
    if kind == "swap":
        lines["push-up"] = "12 11/1; swap calf 9"
    if kind == "note":
        lines["push-up"] = "12 11/1 9; note cold; wind"
    said = typed(page, day, lines)
    file = tmp_path / "message.txt"
    file.write_text(said, encoding="utf-8")
    assert log(paper, "--sheet", page.attributes["data-sheet"], "--from", str(file)) == 0
    assert rows(paper, day) == rows(live, day)
    assert len(rows(live, day)) >= 9


class Session:
    """Session A of the dark months, run live by a trainee who does what the sheet says."""

    def __init__(self, record: Record, text: str, day: datetime, kind: str) -> None:
        workout = compile_session(parse_plan(text, "plan"), "A")
        self.kind = kind
        self.run = Run(record, workout, text, day.replace(hour=12, minute=0), "Ada")

    def do(self, counts: dict[str, list[int | tuple[int, int]]]) -> None:
        run, left = self.run, {name: list(values) for name, values in counts.items()}
        run.do(cmd.Proceed())
        while not run.over:
            coming, side = run.state.coming
            if coming.kind == "ramp":
                run.set(20.0, None)
                run.do(cmd.NoCount())
                continue
            values = left[coming.swapped_for or coming.exercise]
            self._before(len(values))
            coming, side = run.state.coming
            value = values[0]
            if isinstance(value, tuple):
                value = value[side == "right"]
            if side != "left":
                values.pop(0)
            if coming.exercise == "plank":
                run.set(float(value), None)
            else:
                run.set(20.0, float(value), 1 if value == 11 else None)
            self._after(len(values))
        run.keep()

    def _before(self, left: int) -> None:
        name = self.run.state.coming[0].exercise
        if self.kind == "two levels" and name == "push-up" and left == 2:
            self.run.do(cmd.Step(1))
        if self.kind == "swap" and name == "push-up" and left == 1:
            self.run.do(cmd.Swap())

    def _after(self, left: int) -> None:
        row = self.run.state.rows[-1]
        if self.kind == "pain" and (row.planned_set.exercise, row.side, left) == (
            "sack-row", "right", 1,
        ):  # fmt: skip
            self.run.do(cmd.Hurt("left elbow"))
        if self.kind == "note" and row.planned_set.exercise == "push-up" and not left:
            self.run.do(cmd.Note("cold; wind"))


def test_several_dates_and_nothing_but_numbers(
    tmp_path: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    some_past(tmp_path, plan)
    page = page_of(tmp_path, plan, "B")
    first, second = days_ago(5), days_ago(2)
    lines = [
        f"{first:%Y-%m-%d}", "12 11", "9|9 8|8", "15 14", "rpe 7", f"on {second:%Y-%m-%d}",
        "13 11", "9|9 9|8", "15 15", "",
    ]  # fmt: skip
    id_ = page.attributes["data-sheet"].upper()
    assert log(tmp_path, "--sheet", id_, lines="\n".join(lines) + "\n") == 0
    assert [row["reps"] for row in rows(tmp_path, first)] == ["12", "11", "9", "9", "15", "8", "8",
                                                              "14"]  # fmt: skip
    assert len(rows(tmp_path, second)) == 8
    with Record.open_readonly(record_path(tmp_path, trial=False)) as record:
        assert [one.session for one in record.sessions()][-2:] == ["B", "B"]
    capsys.readouterr()


def test_the_levels_are_those_that_stand_on_the_page(
    tmp_path: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Also where the coach has set others since, and the plan has changed."""
    some_past(tmp_path, plan)
    page = page_of(tmp_path, plan, "B")
    words = ["next", str(plan), "--for", "Ada", "--set", "sack-row=handle:12kg"]
    assert main([*words, "--data", str(tmp_path)]) == 0
    changed = PLAN.replace('"calf", sets = 2', '"calf", sets = 5').replace('"bench"', '"table"')
    plan.write_text(changed, encoding="utf-8")
    text = typed(page, days_ago(1), {"push-up": "12 11", "sack-row": "9|9 8|8"})
    text = text.replace("sack-row=handle:4kg", "sack-row=")  # the page says the level
    (tmp_path / "m.txt").write_text(text, encoding="utf-8")
    id_ = page.attributes["data-sheet"]
    assert log(tmp_path, "--sheet", id_, "--from", str(tmp_path / "m.txt")) == 0
    found = rows(tmp_path, days_ago(1))
    assert {(row["exercise"], row["version"], row["load_kg"]) for row in found} == {
        ("push-up", "bench", ""), ("sack-row", "handle", "4"),
    }  # fmt: skip
    capsys.readouterr()


def test_sets_beyond_the_planned_ones_are_added(tmp_path: Path, plan: Path) -> None:
    page = page_of(tmp_path, plan, "B")
    text = typed(page, days_ago(1), {"push-up": "12 11 10 9", "calf": "15"})
    (tmp_path / "m.txt").write_text(text, encoding="utf-8")
    assert log(tmp_path, "--from", str(tmp_path / "m.txt")) == 0  # the text names its sheet
    found = rows(tmp_path, days_ago(1))
    assert [row["reps"] for row in found if row["exercise"] == "push-up"] == ["12", "11", "10", "9"]


def test_the_same_text_a_second_time_adds_nothing(
    tmp_path: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = page_of(tmp_path, plan, "B")
    text = typed(page, days_ago(1), {"push-up": "12 11/1", "sack-row": "9|9; pain left elbow"})
    for words in ((), (), ("--sheet", page.attributes["data-sheet"])):
        assert log(tmp_path, *words, "--from", "-", lines=text) == 0
    assert "Nothing is saved: the session of 12:00 says the same" in capsys.readouterr().err
    assert len(rows(tmp_path, days_ago(1))) == 4
    on = f"{days_ago(1):%Y-%m-%d}"
    assert log(tmp_path, "--fix", "--on", on, "--for", "Ada", "--yes", lines="1 14\n") == 0
    assert log(tmp_path, "--from", "-", lines=text) == 0  # what was put right stays so
    assert [row["reps"] for row in rows(tmp_path, days_ago(1))][:1] == ["14"]
    assert len(rows(tmp_path, days_ago(1))) == 4
    assert log(tmp_path, "--from", "-", lines=text.replace("12 11/1", "12 12")) == 0
    assert len(rows(tmp_path, days_ago(1))) == 8  # another one: kept beside it


@pytest.mark.parametrize("date_first", [False, True])
def test_date_and_sheet_may_stand_in_either_order(
    tmp_path: Path, plan: Path, *, date_first: bool
) -> None:
    ids = [page_of(tmp_path, plan, session).attributes["data-sheet"] for session in "AB"]
    text = ""
    for id_, ago in zip(ids, (3, 1), strict=True):
        head = [f"sheet {id_}\n", f"on {days_ago(ago):%Y-%m-%d}\n"]
        text += "".join(reversed(head) if date_first else head) + f"push-up {ago}\n"
    assert log(tmp_path, "--from", "-", lines=text) == 0
    with Record.open_readonly(record_path(tmp_path, trial=False)) as record:
        assert [(one.session, one.local_date) for one in record.sessions()] == [
            ("A", days_ago(3).date()), ("B", days_ago(1).date()),
        ]  # fmt: skip


@pytest.mark.parametrize(
    "second",
    ["sheet {id}\npush-up 11\n", "on {day}\npush-up 11\nrow x\n", "on {day}\nsheet 2\nrow 9\n"],
)
def test_of_a_text_with_a_fault_in_its_second_session_nothing_is_saved(
    tmp_path: Path, plan: Path, capsys: pytest.CaptureFixture[str], second: str
) -> None:
    id_ = page_of(tmp_path, plan, "B").attributes["data-sheet"]
    first = f"sheet {id_}\non {days_ago(3):%Y-%m-%d}\npush-up 12\n"
    text = first + second.format(id=id_, day=f"{days_ago(1):%Y-%m-%d}")
    assert log(tmp_path, "--from", "-", lines=text) in (65, 66)
    assert "Saved" not in capsys.readouterr().out
    with Record.open_readonly(record_path(tmp_path, trial=False)) as record:
        assert record.sessions() == []


TWICE = """
[[session]]
id = "D"
block = [
  { do = [{ exercise = "push-up", sets = 2 }, { exercise = "calf", sets = 1 }] },
  { do = [{ exercise = "push-up", sets = 2, versions = ["bench", "floor"] }] },
]
"""


def test_an_exercise_that_stands_on_it_several_times_has_a_line_for_each(
    tmp_path: Path, plan: Path
) -> None:
    plan.write_text(PLAN + TWICE, encoding="utf-8")
    page = page_of(tmp_path, plan, "D")
    keys = [one.attributes["data-key"] for one in page.all(".exercise")]
    assert keys == ["push-up", "calf", "push-up/bench", "push-up/floor"]
    head = typed(page, days_ago(1), {})
    lines = "push-up=bench 12 11\npush-up/floor=floor 7\npush-up/bench=bench 9\n"
    (tmp_path / "m.txt").write_text(head + lines, encoding="utf-8")
    assert log(tmp_path, "--from", str(tmp_path / "m.txt")) == 0
    found = [(r["block"], r["version"], r["reps"]) for r in rows(tmp_path, days_ago(1))]
    assert found == [("1", "bench", "12"), ("1", "bench", "11"), ("2", "bench", "9"),
                     ("2", "floor", "7")]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "text", "code", "said"),
    [
        (("--sheet", "zzzzzz"), "", 66, "this record has no sheet zzzzzz"),
        (("--sheet", "zzzzzz", "--from", "-"), "sheet {id}\non {day}\npush-up=1", 66, "no sheet"),
        (("--sheet", "{id}", "--for", "Ben"), "", 2, "is Ada's; leave --for out"),
        (("--sheet", "{id}", "demo"), "", 2, "leave PLAN and --session out"),
        (("--sheet", "{id}", "--from", "-"), "session A\non {day}\npush-up=12", 65, "session A,"),
        (("--sheet", "{id}", "--from", "-"), "push-up=12", 65, "on 2026-11-23"),
        (("--sheet", "{id}", "--from", "-"), "on {day}\npull=12", 65, "line 2: unknown exercise"),
        (("--sheet", "{id}", "--from", "-"), "on {day}\npush-up=12 x", 65, "line 2: "),
        (("--sheet", "{id}", "--from", "-"), "sheet 222222\non {day}\npush-up=1", 66, "no sheet"),
        (("--sheet", "{id}", "--from", "nowhere.txt"), "", 66, "cannot be read"),
        (("--from", "-"), "on {day}\npush-up=12", 2, "names no sheet"),
        (("--sheet", "{id}"), "", 2, "name the date"),
    ],
)
def test_what_cannot_be_is_one_clear_line(
    tmp_path: Path, plan: Path, capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...], text: str, code: int, said: str,
) -> None:  # fmt: skip
    page = page_of(tmp_path, plan, "B")
    fill = {"id": page.attributes["data-sheet"], "day": f"{days_ago(1):%Y-%m-%d}"}
    capsys.readouterr()
    found = log(tmp_path, *(word.format(**fill) for word in words), lines=text.format(**fill))
    err = capsys.readouterr().err
    assert (found, said in err) == (code, True), err
    assert "Traceback" not in err
    with Record.open_readonly(record_path(tmp_path, trial=False)) as record:
        assert record.sessions() == []


def test_the_sheet_of_a_trial_plan_goes_to_its_own_record(tmp_path: Path) -> None:
    (page,) = read(sheet(tmp_path, plan="demo")).all(".page")
    one = page.all(".exercise")[0]
    text = typed(page, days_ago(1), {one.attributes["data-key"]: "5"})
    (tmp_path / "m.txt").write_text(text, encoding="utf-8")
    id_ = page.attributes["data-sheet"]
    assert log(tmp_path, "--sheet", id_, "--from", str(tmp_path / "m.txt")) == 0
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        assert len(record.sessions()) == 1
