"""The overlay in every command that takes a plan and a person, and in what a session keeps."""

from __future__ import annotations

import io
import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.live.clock import SystemClock
from runner.live.session_setup import baseline_of, prepare
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.record.record import Record
from runner.session.apply import replay
from runner.testing import ManualClock
from tests.lines.manual import Ran, Silence, run, script
from tests.plan.plans import SMALL

PLAN = (
    SMALL.replace('{ exercise = "row", sets = 3 }', "ITEMS")
    .replace(
        "[[session]]",
        """\
instead = ["pull", "curl"]
stress = ["low-back loaded"]
[exercise.pull]
name = "Pull"
pattern = "horizontal pull"
prime = ["lats"]
stress = ["shoulder overhead"]
[[exercise.pull.version]]
id = "one"
name = "bar"
[exercise.curl]
name = "Curl"
pattern = "elbow"
prime = ["biceps"]
stress = ["elbow bent"]
[[exercise.curl.version]]
id = "easy"
name = "easy"
[[exercise.curl.version]]
id = "hard"
name = "hard"
[[session]]""",
    )
    .replace("ITEMS", '{ exercise = "row", sets = 2 }, { exercise = "curl", sets = 1 }')
)
PLAN = PLAN.replace(
    '[[exercise.row.version]]\nid = "one"\nname = "rucksack"\ninstead', "instead"
).replace(
    "[exercise.pull]\n",
    '[[exercise.row.version]]\nid = "one"\nname = "rucksack"\n[exercise.pull]\n',
    1,
)
OVERLAY = """\
of = "hut"
reserve = 4
[avoid]
stress = ["overhead"]
[sets]
row = "+1"
[start]
curl = "hard"
"""


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data directory with a plan, and an overlay of Ada's for it."""
    for folder, file, text in (("plans", "hut", PLAN), ("people", "Ada", OVERLAY)):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / f"{file}.toml").write_text(text, encoding="utf-8")
    return tmp_path


def done(data: Path, *lines: str, on: date = date(2026, 11, 25)) -> Ran:
    return run("hut", data, script(*lines), on=on)


@pytest.fixture
def trained(data: Path) -> Ran:
    """One session, closed after a set."""
    return done(data, "", "go", "", "12", "end")


def said(capsys: pytest.CaptureFixture[str], data: Path, *words: str) -> str:
    capsys.readouterr()
    assert main([*words, "--data", str(data)]) == 0
    return capsys.readouterr().out


def test_a_session_has_what_the_overlay_says_and_says_so(trained: Ran) -> None:
    workout = trained.live.driver.state.workout
    assert [i.sets for block in workout.blocks for i in block.items] == [3, 1]
    assert workout.exercises["row"].reserve == 4
    assert workout.exercises["row"].instead == ("curl",)
    assert "pull" not in workout.exercises
    assert trained.opening.warnings[0] == (
        "Different for you, by Ada.toml: sets.row +1 (3 sets, not 2)."
    )
    curl = next(s for s in trained.live.driver.state.course.planned_sets if s.exercise == "curl")
    assert curl.level.version == "hard"


def test_a_swap_brings_nothing_that_is_avoided(data: Path) -> None:
    ran = done(data, "", "go", "swap pull", "swap", "swap", "end")
    assert "pull" not in ran.out


def test_what_was_run_is_stored_whole_when_the_overlay_changes(data: Path, trained: Ran) -> None:
    (data / "people" / "Ada.toml").write_text("reserve = 0\n", encoding="utf-8")
    (data / "plans" / "hut.toml").unlink()
    with Record.open_readonly(record_path(data, trial=False)) as record:
        (kept,) = record.sessions(trainee="Ada")
        text = record.plan_text(kept.plan_hash)
        events = list(record.events(kept.session_id))
    workout = compile_session(parse_plan(text, "stored"), "A")
    assert workout == trained.live.driver.state.workout
    state = replay(workout, baseline_of(events), events)
    assert state.rows == trained.live.driver.state.rows


def test_a_session_goes_on_with_the_overlay_that_it_began_with(data: Path) -> None:
    cut = prepare("hut", data=data, trainee="Ada", clock=ManualClock(SystemClock().local()))
    live = cut.begin(Silence())
    live.driver.open()
    cut.record.close()
    (data / "people" / "Ada.toml").write_text(
        'of = "hut"\n[avoid]\nexercise = ["row"]\n', encoding="utf-8"
    )
    again = prepare("hut", data=data, trainee="Ada", clock=ManualClock(SystemClock().local()))
    resumed = again.resume(Silence())
    assert resumed.driver.state.workout == live.driver.state.workout
    again.record.close()


def test_minutes_are_the_time_given(data: Path) -> None:
    (data / "people" / "Ada.toml").write_text('of = "hut"\nminutes = "2:30"\n', encoding="utf-8")
    opening = prepare("hut", data=data, trainee="Ada", clock=ManualClock(SystemClock().local()))
    opening.record.close()
    assert opening.within == 150
    assert "minutes 2:30: session A takes" in opening.warnings[0]


DAYS = 'of = "hut"\ndays = ["mon", "thu", "sat"]\n'
TABLE = "date,exercise,version,set,reps\n2026-11-20,row,one,1,9\n"
# What is typed, its input, and what it says for Ada with her overlay; nothing of it for Ben.
# `compose` has its own shelves, in test_compose.py; `roster` its own test below.
COMMANDS = [
    ("rehearse hut --json", "", '"sets.row +1 (3 sets, not 2)"'),
    ("rehearse hut --weeks 2", "", "upper-back      9      9"),
    ("pairs hut", "", "Row 3 · Curl 1"),
    ("check hut", "", "sets.row +1 (A 3 sets, not 2)"),
    ("next hut", "", "Curl: hard   to begin with, by the plan"),
    ("sheet hut -o OUT", "", "3 sets"),
    ("run hut --plain", "", "Different for you, by Ada.toml: sets.row +1 (3 sets, not 2)"),
    ("log hut --on 2026-11-20 --yes", "12 11 10\n9\n\n", "reserve_aimed 4"),
    ("import TABLE --plan hut --yes", "", "reserve_aimed 4"),
]


@pytest.mark.parametrize(("command", "lines", "wanted"), COMMANDS, ids=[one[0] for one in COMMANDS])
def test_every_command_that_takes_a_plan_and_a_person_uses_it(
    data: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    command: str,
    lines: str,
    wanted: str,
) -> None:
    (data / "people" / "Ada.toml").write_text(OVERLAY.replace('of = "hut"\n', DAYS), "utf-8")
    (data / "table.csv").write_text(TABLE, encoding="utf-8")
    for name in ("Ada", "Ben"):
        out = data / f"{name}.out"
        words = [
            {"OUT": str(out), "TABLE": str(data / "table.csv")}.get(one, one)
            for one in command.split()
        ]
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(lines.encode())))
        capsys.readouterr()
        assert main([*words, "--for", name, "--data", str(data)]) == 0
        shown = "\n".join(capsys.readouterr())
        if out.exists():
            shown += out.read_text(encoding="utf-8")
        with Record.open_readonly(record_path(data, trial=False)) as record:
            rows = list(record.rows(trainee=name))
        shown += " ".join(f"reserve_aimed {row.reserve_aimed}" for row in rows)
        assert (wanted in shown) == (name == "Ada"), shown


def test_pairs_cannot_be_written_into_a_plan_that_is_one_persons(data: Path, trained: Ran) -> None:
    words = ("pairs", "hut", "--for", "Ada", "--write", "x.toml", "--data", str(data))
    assert main([*words]) == 2


def test_paper_is_asked_for_the_sets_of_the_overlay(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"12 11 10\n9\n\n")))
    day = date.today() - timedelta(days=1)  # noqa: DTZ011 - a person's date
    said(capsys, data, "log", "hut", "--on", f"{day}", "--for", "Ada", "--yes")
    with Record.open_readonly(record_path(data, trial=False)) as record:
        rows = [(row.exercise, row.version, row.reps) for row in record.rows()]
    assert rows == [("row", "one", 12), ("curl", "hard", 9), ("row", "one", 11), ("row", "one", 10)]


def test_the_roster_knows_the_days(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    today = date.today()  # noqa: DTZ011 - a person's date
    done(data, "", "go", "", "12", "end", on=today)
    days = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    then = today + timedelta(days=5)
    overlay = f'of = "hut"\ndays = ["{days[then.weekday()]}"]\n'
    (data / "people" / "Ada.toml").write_text(overlay, encoding="utf-8")
    (ada,) = json.loads(said(capsys, data, "roster", "--json"))
    assert (ada["due"], ada["planned"]) == (f"{then}", 1)
    (data / "people" / "Ada.toml").write_text("of = 3\n", encoding="utf-8")  # `run` says so
    (ada,) = json.loads(said(capsys, data, "roster", "--json"))
    assert ada["trainee"] == "Ada"


def test_pain_proposes_an_entry_and_writes_none(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    today = date.today()  # noqa: DTZ011 - a person's date
    done(data, "", "go", "", "12", "pain left elbow", "end", on=today)
    before = (data / "people" / "Ada.toml").read_bytes()
    for words in (("next", "hut", "--for", "Ada"),):
        shown = " ".join(said(capsys, data, *words).split())
        assert "Row hurt (left elbow" in shown
        assert 'matside for Ada --edit, and under [avoid] exercise = ["row"]' in shown
    assert main(["for", "Ada", "--data", str(data)]) == 0
    assert 'exercise = ["row"]' in capsys.readouterr().err
    assert (data / "people" / "Ada.toml").read_bytes() == before


def test_next_asks_whether_it_is_over(
    data: Path, trained: Ran, capsys: pytest.CaptureFixture[str]
) -> None:
    overlay = OVERLAY.replace("[sets]", "until = 2026-01-15\n[sets]")
    (data / "people" / "Ada.toml").write_text(overlay, encoding="utf-8")
    shown = said(capsys, data, "next", "hut", "--for", "Ada")
    assert "overhead was to be avoided until 15 Jan 2026 and still is." in shown


def test_whoever_is_forgotten_has_no_overlay_left(data: Path, trained: Ran, tmp_path: Path) -> None:
    kept = data / "people" / "Ada.toml.0123456789ab"
    kept.write_text(OVERLAY, encoding="utf-8")
    out = tmp_path / "out"
    words = ["forget", "Ada", "-o", str(out), "--yes", "--again", "Ada", "--data", str(data)]
    assert main(words) == 0
    assert list((data / "people").iterdir()) == []
    assert (out / "Ada.toml").is_file()


def _too_hard(data: Path) -> None:
    """Two sessions with a first set under the bottom of the range."""
    today = date.today()  # noqa: DTZ011 - a person's date
    for ago in (5, 3):
        run("hut", data, script("", "go", "", "3", "end"), on=today - timedelta(days=ago))


def test_a_substitute_that_was_agreed_and_is_avoided_now_is_gone(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    overlay = data / "people" / "Ada.toml"
    overlay.unlink()
    _too_hard(data)
    ada = ("hut", "--for", "Ada")
    assert "Pull instead" in said(capsys, data, "next", *ada)
    assert "pull instead" in said(capsys, data, "next", *ada, "--accept", "row")
    assert "Pull" in said(capsys, data, "rehearse", *ada)
    overlay.write_text('[avoid]\nstress = ["overhead"]\n', encoding="utf-8")
    for words in (("next", *ada), ("rehearse", *ada), ("pairs", *ada)):
        assert "pull" not in said(capsys, data, *words).lower().replace("horizontal pull", "")
    shown = done(data, "", "go", "swap", "end").out
    assert "pull" not in shown


def test_in_the_place_of_what_hurt_only_another_stress_is_advised(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (data / "people" / "Ada.toml").unlink()
    plan = data / "plans" / "hut.toml"
    plan.write_text(PLAN.replace(', { exercise = "curl", sets = 1 }', ""), encoding="utf-8")
    done(data, "", "go", "", "12", "pain back", "end", on=date.today())  # noqa: DTZ011
    shown = said(capsys, data, "next", "hut", "--for", "Ada")
    assert "Pull instead" in shown
    assert "Curl instead" in shown
    for own in ('stress = ["low-back loaded"]', ""):  # the same as the row's, or not stated
        text = PLAN.replace('stress = ["elbow bent"]', own)
        plan.write_text(text.replace(', { exercise = "curl", sets = 1 }', ""), encoding="utf-8")
        shown = said(capsys, data, "next", "hut", "--for", "Ada")
        assert "Pull instead" in shown
        assert "Curl" not in shown
