"""What a plan takes from shelves, what wins, what is a fault and where it stands."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.errors import Exit
from runner.live.session_setup import baseline_of
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.faults import PlanFaults
from runner.plan.file import parse_plan, read_plan, read_whole
from runner.record.past import planned
from runner.record.record import Record
from runner.session.apply import replay
from tests.lines.manual import run, script

ROW = """\
[exercise.row]
name = "Row of the shelf"
pattern = "horizontal pull"
prime = ["upper-back"]
station = "bar"
instead = ["pull"]
start = "Stand at the bar."
stress = ["low-back loaded"]
[[exercise.row.version]]
id = "one"
name = "a version \\"in quotes\\", with umläuts and \\\\"
load = { from = 4, to = 6.5, by = 0.5 }
[[exercise.row.version]]
id = "slow"
name = "slow"
setup = { height = { from = "60 cm", to = "20 cm", by = "20 cm" }, "foot rest" = 3 }
tempo = "3-0-1"
"""
PULL = """\
[exercise.pull]
name = "Pull"
pattern = "vertical pull"
prime = ["lats"]
[[exercise.pull.version]]
id = "one"
name = "band"
"""
OTHER = PULL.replace("pull]", "curl]").replace("pull.", "curl.").replace('"Pull"', '"Curl"')
BAR = '[station.bar]\nname = "Bar of the shelf"\ncheck = "Hang from it."\n'
PLAN = """\
title = "Hut"
include = ["shelf.toml"]
[week.muscles]
calves = [6, 12]
[[session]]
id = "A"
[[session.block]]
do = [{ exercise = "row", sets = 3 }]
"""


@pytest.fixture
def hut(tmp_path: Path) -> Path:
    """A folder with a plan and its shelf; a data directory beside them."""
    (tmp_path / "data/plans").mkdir(parents=True)
    (tmp_path / "shelf.toml").write_text(BAR + ROW + PULL + OTHER, encoding="utf-8")
    (tmp_path / "hut.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path


def refused(folder: Path, plan: str = PLAN) -> list[str]:
    (folder / "hut.toml").write_text(plan, encoding="utf-8")
    with pytest.raises(PlanFaults) as faults:
        read_plan(folder / "hut.toml", folder / "data")
    assert faults.value.code == Exit.DATA
    return [line.replace(f"{folder.resolve()}/", "") for line in faults.value.lines]


def test_a_plan_takes_what_it_does_with_substitutes_and_stations(hut: Path) -> None:
    plan = read_plan(hut / "hut.toml", hut / "data")
    assert list(plan.exercise) == ["row", "pull"]  # nothing leads to the curl
    assert plan.exercise["row"].start == "Stand at the bar."
    assert plan.exercise["row"].stress == ("low-back loaded",)
    assert plan.station["bar"].name == "Bar of the shelf"


def test_what_the_plan_defines_wins_by_id(hut: Path) -> None:
    own = PLAN + ROW.replace("Row of the shelf", "My row") + BAR.replace("of the shelf", "at home")
    (hut / "hut.toml").write_text(own, encoding="utf-8")
    plan = read_plan(hut / "hut.toml")
    assert plan.exercise["row"].name == "My row"
    assert plan.station["bar"].name == "Bar at home"
    assert plan.exercise["pull"].name == "Pull"


def test_beside_the_plan_then_the_data_directory_then_the_shipped(hut: Path) -> None:
    named = (hut / "shelf.toml").read_text(encoding="utf-8")
    (hut / "data/plans/shelf.toml").write_text(named.replace("Row of", "Data row of"))
    assert read_plan(hut / "hut.toml", hut / "data").exercise["row"].name == "Row of the shelf"
    (hut / "shelf.toml").unlink()
    found = read_plan(hut / "hut.toml", hut / "data")
    assert found.exercise["row"].name == "Data row of the shelf"
    (hut / "data/plans/shelf.toml").unlink()
    text = PLAN.replace('exercise = "row"', 'exercise = "push-up"')
    (hut / "hut.toml").write_text(text)
    assert read_plan(hut / "hut.toml", hut / "data").exercise["push-up"].pattern == (
        "horizontal push"
    )


def test_a_shelf_may_include_a_shelf_and_wins_over_it(hut: Path) -> None:
    (hut / "deep").mkdir()
    (hut / "deep/more.toml").write_text(PULL + ROW.replace("Row of", "Deep row of"))
    (hut / "shelf.toml").write_text('include = ["deep/more.toml"]\n' + BAR + ROW)
    plan = read_plan(hut / "hut.toml")
    assert plan.exercise["row"].name == "Row of the shelf"
    assert plan.exercise["pull"].name == "Pull"


def test_one_shelf_by_two_ways_is_one(hut: Path) -> None:
    (hut / "more.toml").write_text('include = ["shelf.toml"]\n')
    text = PLAN.replace('["shelf.toml"]', '["more.toml", "shelf.toml"]')
    (hut / "hut.toml").write_text(text)
    assert list(read_plan(hut / "hut.toml").exercise) == ["row", "pull"]


def test_timing_effort_and_week_of_a_shelf_are_not_the_plan_s(hut: Path) -> None:
    before = compile_session(read_plan(hut / "hut.toml"), "A")
    shelf = (hut / "shelf.toml").read_text(encoding="utf-8")
    extra = '[timing]\nrecovery = "9s"\n[effort]\nreps = [1, 2]\n[week]\nsets = [1, 2]\n'
    (hut / "shelf.toml").write_text(extra + shelf, encoding="utf-8")
    plan = read_plan(hut / "hut.toml")
    assert compile_session(plan, "A") == before
    assert plan.week.sets is None


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("shelv.toml", 'hut.toml:2: include 1: unknown shelf "shelv.toml"; did you mean'),
        ("hut.toml", 'hut.toml:2: include 1: "hut.toml" includes itself'),
        ("a\\u0000b", "hut.toml:2: include 1: "),
        ("x" * 400, "hut.toml:2: include 1: unknown shelf"),
    ],
)
def test_a_shelf_that_cannot_be_taken_is_a_fault_of_the_plan(
    hut: Path, name: str, row: str
) -> None:
    assert any(row in line for line in refused(hut, PLAN.replace("shelf.toml", name)))


def test_a_cycle_is_a_fault_of_the_shelf_that_closes_it(hut: Path) -> None:
    (hut / "shelf.toml").write_text('include = ["more.toml"]\n' + BAR + ROW)
    text = 'include = ["shelf.toml"]\n' + PULL
    (hut / "more.toml").write_text(text)
    assert refused(hut) == [
        'more.toml:1: include 1: "shelf.toml" includes itself, directly or through others; '
        "leave it out"
    ]


def test_an_id_in_two_shelves_is_a_fault_that_the_plan_can_settle(hut: Path) -> None:
    (hut / "more.toml").write_text(ROW.replace("Row of", "Another row of") + BAR)
    text = PLAN.replace('["shelf.toml"]', '["shelf.toml", "more.toml"]')
    found = refused(hut, text)
    assert [line.partition(": include 2: ")[0] for line in found] == ["hut.toml:2"] * 2
    assert any('both have the exercise "row"; rename' in line for line in found)
    assert any('both have the station "bar"; rename' in line for line in found)
    (hut / "hut.toml").write_text(text + ROW + BAR)
    assert read_plan(hut / "hut.toml").exercise["row"].name == "Row of the shelf"


def test_a_plan_is_no_shelf(hut: Path) -> None:
    (hut / "shelf.toml").write_text(PLAN.replace('include = ["shelf.toml"]\n', "") + PULL)
    assert 'hut.toml:2: include 1: "shelf.toml" is a plan, not a shelf' in refused(hut)[0]


def test_faults_of_a_shelf_name_its_file_and_line_beside_those_of_the_plan(hut: Path) -> None:
    shelf = BAR + ROW + PULL
    shelf = shelf.replace('prime = ["lats"]', 'prime = ["latts"]').replace("check =", "chek =")
    shelf = shelf.replace('instead = ["pull"]', 'instead = ["pul"]') + "nonsense = 3\n"
    (hut / "shelf.toml").write_text(shelf)
    found = refused(hut, PLAN.replace("sets = 3", "sets = 0"))
    lines = shelf.splitlines()

    def line(text: str) -> int:
        return next(n for n, one in enumerate(lines, 1) if text in one)

    starts = [one.partition(": ")[0] for one in found]
    assert starts[0] == "hut.toml:8"
    assert sorted(starts[1:]) == sorted(
        f"shelf.toml:{line(text)}" for text in ("chek", '"pul"', "latts", "nonsense")
    )


def test_a_shelf_that_is_no_toml_or_too_large_says_so(hut: Path) -> None:
    (hut / "shelf.toml").write_text("[exercise.row\n")
    assert refused(hut)[0].startswith("shelf.toml:1: ")
    (hut / "shelf.toml").write_text("#" * 300_000)
    assert refused(hut) == ["shelf.toml: the file is larger than 256 KiB; name a smaller plan file"]


def test_what_is_stored_is_whole_and_the_same_plan(hut: Path) -> None:
    plan, text = read_whole(hut / "hut.toml", hut / "data")
    (hut / "shelf.toml").unlink()
    again = parse_plan(text, "stored")
    assert again == plan
    assert compile_session(again, "A") == compile_session(plan, "A")
    assert "include" not in tomllib.loads(text)
    assert "Curl" not in text


def test_a_plan_without_shelves_is_stored_as_it_is(hut: Path) -> None:
    own = PLAN.replace('include = ["shelf.toml"]', "# a remark") + ROW + PULL + BAR
    (hut / "hut.toml").write_text(own, encoding="utf-8")
    assert read_whole(hut / "hut.toml")[1] == own


def test_a_shelf_cannot_be_run_and_can_be_checked(
    hut: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shelf, data = str(hut / "shelf.toml"), str(hut / "data")
    assert main(["run", shelf, "--data", data]) == Exit.DATA
    assert "this is a shelf: it has no [[session]]; name it in a plan" in capsys.readouterr().err
    assert main(["check", shelf, "--data", data]) == Exit.OK
    assert "a good shelf: 3 exercises, 11 levels" in capsys.readouterr().out


def test_the_time_there_is_stands_beside_the_forecast(
    hut: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = PLAN.replace('id = "A"', 'id = "A"\nminutes = "5:00"')
    (hut / "hut.toml").write_text(text)
    assert main(["check", str(hut / "hut.toml")]) == Exit.OK
    out = capsys.readouterr().out
    assert "of 5:00; warning: " in out
    (hut / "hut.toml").write_text(text.replace("5:00", "50:00"))
    assert main(["check", str(hut / "hut.toml")]) == Exit.OK
    assert "of 50:00\n" in capsys.readouterr().out


def test_a_session_replays_and_counts_when_the_shelf_is_gone(hut: Path) -> None:
    """What it was run from is stored whole: events give the state again, weeks their muscles."""
    done = run(hut / "hut.toml", hut / "data", script("", "go", "", "12", "go", "", "11", "end"))
    for file in ("shelf.toml", "hut.toml"):
        (hut / file).unlink()
    with Record.open_readonly(record_path(hut / "data", trial=False)) as record:
        (kept,) = record.sessions(trainee="Ada")
        text = record.plan_text(kept.plan_hash)
        workout = compile_session(parse_plan(text, "stored"), "A")
        events = list(record.events(done.live.info.id))
        weeks = planned(text)
    assert workout == done.live.driver.state.workout
    again = replay(workout, baseline_of(events), events)
    assert again.rows == done.live.driver.state.rows
    assert 12 in [row.value for row in again.rows]
    assert weeks.patterns["row"] == "horizontal pull"
