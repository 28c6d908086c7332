"""Where the next session starts, by commands: from paper, live, ended early, and imported."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.live.session_setup import prepare
from runner.testing import ManualClock
from tests.lines.manual import Desk, Ran, Typist, run
from tests.plans import loads, plan

PLAN = plan(
    "Kestrel Hut, two exercises",
    {
        "push-up": {
            "version": [
                {"id": "knees", "name": "on the knees"},
                {"id": "floor", "name": "on the floor"},
            ]
        },
        "row": {"version": [{"id": "sack", "name": "rucksack", "load": loads(4, 16, 4)}]},
    },
    [{"push-up": 3}, {"row": 3}],
    timing={"recovery": "20s", "lead_in": "10s"},
    effort={"reps": [6, 15]},
)
TODAY = date.today()  # noqa: DTZ011 - the commands go by the clock
ROW_12 = ("load 12", "8 8 7")


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


@pytest.fixture
def hut(tmp_path: Path) -> Path:
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans" / "hut.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path


class Commands:
    """What a person types at the prompt."""

    def __init__(
        self, data: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        self.data, self._monkeypatch, self._capsys = data, monkeypatch, capsys

    def __call__(self, *words: str, lines: tuple[str, ...] = (), code: int = 0) -> tuple[str, str]:
        text = "".join(f"{line}\n" for line in lines)
        stdin = io.TextIOWrapper(io.BytesIO(text.encode()))
        self._monkeypatch.setattr("sys.stdin", stdin)
        whom = [] if words[0] in ("import", "export") else ["--for", "Ada"]
        assert main([*words, *whom, "--data", str(self.data)]) == code
        said = self._capsys.readouterr()
        return said.out, said.err

    def paper(self, on: date, push_up: tuple[str, ...], row: tuple[str, ...]) -> None:
        self("log", "hut", "--on", f"{on}", lines=(*push_up, *row, "", "y"))

    def levels(self) -> tuple[str, str]:
        """The lines of `next` about push-up and row."""
        out, _ = self("next", "hut")
        push_up, row = (line for line in out.splitlines() if line[:4].strip() in ("1", "2"))
        return push_up, row


@pytest.fixture
def do(hut: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Commands:
    return Commands(hut, monkeypatch, capsys)


def live(data: Path, on: date, words: dict[int, str], last: str = "end", sets: int = 6) -> Ran:
    """A session on the manual clock: 8 of each set, a word in the rest before a set, and the end.

    After `sets` of its six sets it is ended.
    """
    return run("hut", data, _typist(dict(words), last, sets), on=on)


def _typist(words: dict[int, str], last: str, sets: int) -> Typist:
    closing = [last, "end"]

    def typist(desk: Desk) -> tuple[float, str | None]:
        assert desk.live is not None
        state, at = desk.live.driver.state, desk.seconds + 0.5
        done = len(state.rows)
        if state.open_rows:
            return at, "8"
        if state.phase == "wrap-up" or (done == sets and state.phase == "rest"):
            return at, closing.pop(0)
        if state.phase == "rest":
            return (at, words.pop(done)) if done in words else (desk.seconds + 60, "")
        return at + 2.0, ""

    return typist


def test_three_sessions_on_paper_at_another_level(do: Commands) -> None:
    for days in (7, 4, 2):
        first = ("version floor", "10 9 8") if days == 7 else ("10 9 8",)
        do.paper(ago(days), first, ROW_12 if days == 7 else ("8 8 7",))
    assert do.levels() == (
        f" 1  Push-up: floor   since {ago(7)}, as trained",
        f" 2  Rucksack row: sack, 12 kg   since {ago(7)}, as trained",
    )
    out, _ = do("next", "hut")
    assert "nothing was done at" not in out


def test_log_names_the_levels_that_a_paper_session_changed(do: Commands) -> None:
    _, err = do("log", "hut", "--on", f"{ago(4)}", lines=("10 9 8", *ROW_12, "", "y"))
    assert "12 kg, was 4: kept for next time" in err
    _, err = do("log", "hut", "--on", f"{ago(9)}", lines=("10 9 8", "load 16", "9 9 9", "", "y"))
    on = f"{ago(4).day} {ago(4):%B}"
    assert f"16 kg, was 4: sack, 12 kg of {on} stays in force" in err
    assert "kept for next time" not in err


def test_a_load_used_live_is_where_the_next_session_starts(hut: Path, do: Commands) -> None:
    ran = live(hut, ago(5), {4: "load 12"})
    assert "ROW 12 kg, was 4: kept for next time" in ran.err
    ran = live(hut, ago(3), {4: "load 12"})
    assert [e.pairs.get("load_kg") for e in ran.events("used")] == ["12"]
    assert "kept for next time" not in ran.err  # it is as planned now
    assert do.levels()[1].startswith(f" 2  Rucksack row: sack, 12 kg   since {ago(5)}")
    now = ManualClock(datetime.combine(ago(1), datetime.min.time(), UTC))
    opening = prepare("hut", data=hut, trainee="Ada", clock=now)
    with opening.record:
        levels = opening.begin(run_silence()).driver.state.course.planned_sets
    assert [planned_set.level.load for planned_set in levels if planned_set.exercise == "row"] == [
        12.0
    ] * 3


def run_silence() -> object:
    from tests.lines.manual import Silence  # noqa: PLC0415 - beside its one use

    return Silence()


def test_a_session_ended_early_keeps_its_levels(hut: Path, do: Commands) -> None:
    ran = live(hut, ago(5), {4: "load 12"}, sets=5)
    assert [e.pairs["complete"] for e in ran.events("closed")] == ["no"]
    assert "ROW 12 kg, was 4: kept for next time" in ran.err
    assert "sack, 12 kg" in do.levels()[1]


def test_a_session_ended_early_may_say_before_its_end_that_a_level_is_of_today_only(
    hut: Path, do: Commands
) -> None:
    ran = live(hut, ago(6), {4: "load 12"}, sets=5, last="today")
    assert [e.pairs["complete"] for e in ran.events("closed")] == ["no"]
    assert [e.pairs["for"] for e in ran.events("held")] == ["today"]
    assert "ROW 12 kg, was 4: only today" in ran.err
    assert "before end" not in ran.err
    assert "sack, 4 kg" in do.levels()[1]
    ran = live(hut, ago(5), {4: "load 12"}, sets=5)
    assert "ROW 12 kg, was 4: kept for next time" in ran.err
    assert "To use a level for one day only, write today before end." in ran.err


def test_a_level_that_is_of_today_only_leaves_the_next_session_as_it_was(
    hut: Path, do: Commands
) -> None:
    ran = live(hut, ago(5), {4: "load 12"}, last="today")
    (held,) = ran.events("held")
    assert (held.pairs["for"], held.pairs["load_kg"]) == ("today", "12")
    assert "ROW 12 kg, was 4: only today" in ran.err
    assert "sack, 4 kg   no working level yet" in do.levels()[1]
    live(hut, ago(3), {4: "load 12"}, last="keep")  # as without a word: refused, and kept
    assert "sack, 12 kg" in do.levels()[1]


def test_a_load_off_the_range_goes_on_from_there(hut: Path, do: Commands) -> None:
    live(hut, ago(5), {4: "load 10"})
    ran = live(hut, ago(3), {4: "harder"})
    (version,) = ran.events("version")
    assert (version.pairs["was"], version.pairs["load_kg"]) == ("sack, 10 kg", "12")


@pytest.mark.parametrize("words", [("rehearse",), ("rehearse", "--week"), ("pairs",), ("next",)])
def test_a_load_past_the_end_of_the_range_goes_through_every_command(
    hut: Path, do: Commands, words: tuple[str, ...]
) -> None:
    live(hut, ago(5), {4: "load 20"})
    assert "sack, 20 kg" in do.levels()[1]
    do(words[0], "hut", *words[1:])
    ran = live(hut, ago(3), {3: "harder", 4: "easier"})
    assert "Rucksack row is at its hardest level" in ran.err
    assert [e.pairs["load_kg"] for e in ran.events("version")] == ["16"]


def test_paper_typed_in_late_counts_from_its_date(do: Commands) -> None:
    do("next", "hut", "--set", "row=sack:16", "--on", f"{ago(10)}")
    assert do.levels()[1].endswith(f"sack, 16 kg   since {ago(10)}, set by hand")
    do.paper(ago(14), ("10 9 8",), ROW_12)
    assert "sack, 16 kg" in do.levels()[1]
    do.paper(ago(6), ("10 9 8",), ROW_12)
    assert do.levels()[1].endswith(f"sack, 12 kg   since {ago(6)}, as trained")
    do.paper(ago(8), ("10 9 8",), ("load 8", "8 8 7"))  # between the two, typed last
    assert do.levels()[1].endswith(f"sack, 12 kg   since {ago(6)}, as trained")


def test_a_decision_before_a_later_session_says_that_it_is_not_in_force(do: Commands) -> None:
    do.paper(ago(6), ("10 9 8",), ROW_12)
    _, err = do("next", "hut", "--set", "row=sack:16", "--on", f"{ago(10)}")
    on = f"{ago(6).day} {ago(6):%B}"
    assert f"sack, 16 kg on {ago(10)}, but a session on {on} came later" in err
    assert "its sack, 12 kg stays in force" in err
    assert "sack, 12 kg" in do.levels()[1]
    _, err = do("next", "hut", "--set", "row=sack:16")
    assert "sack, 16 kg from now on" in err


def test_after_a_layoff_next_says_what_is_missing(do: Commands) -> None:
    for days in (60, 58, 3):
        do.paper(ago(days), ("10 9 8",), ROW_12)
    out, _ = do("next", "hut")
    assert "next step: 1 of 2 sessions at 6 or more, then first set 8 of 15" in out


def test_a_decision_is_not_of_a_day_to_come(do: Commands) -> None:
    _, err = do("next", "hut", "--set", "row=sack:16", "--on", f"{ago(-1)}", code=2)
    assert f"--on {ago(-1)} is in the future" in err
    assert do("export", "--what", "held")[0].count("\n") == 1


def test_next_says_where_it_hurt_and_when(do: Commands) -> None:
    do.paper(ago(9), ("pain left shoulder", "10 9 8"), ROW_12)
    out, _ = do("next", "hut")
    day = ago(9)
    assert f"left shoulder, {day.day} {day:%b}" in out


def test_both_tables_brought_into_an_empty_directory(
    hut: Path, do: Commands, tmp_path_factory: pytest.TempPathFactory
) -> None:
    live(hut, ago(9), {4: "load 12"})
    do("next", "hut", "--set", "push-up=floor", "--set", "row=sack:16")
    live(hut, ago(5), {0: "easier"})
    do("next", "hut", "--set", "push-up=floor")
    files = {}
    for what in ("sets", "held"):
        files[what] = tmp_path_factory.mktemp("out") / f"{what}.csv"
        do("export", "--what", what, "-o", str(files[what]))
    here = do.levels()
    assert ("floor" in here[0], "16 kg" in here[1]) == (True, True)
    for tables in (("sets", "held"), ("held", "sets"), ("sets",)):
        do.data = tmp_path_factory.mktemp("empty")
        (do.data / "plans").mkdir()
        (do.data / "plans" / "hut.toml").write_text(PLAN, encoding="utf-8")
        for what in tables:
            do("import", str(files[what]), "--yes")
        if "held" in tables:
            assert do.levels() == here
            _, err = do("import", str(files["held"]), "--yes")
            assert "new: 0 decisions" in err
        else:  # what was really used
            assert do.levels() == (
                f" 1  Push-up: knees   since {ago(9)}, as trained",
                f" 2  Rucksack row: sack, 16 kg   since {ago(5)}, as trained",
            )


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("on", "soon", "line 2: on: 'soon': write a date: 2026-11-25"),
        ("since", "today", "line 2: since: 'today': write a UTC time"),
        ("trainee", "", "line 2: write trainee, exercise and version; one is empty"),
        ("trainee", " Ada ", "line 2: write the trainee as 'Ada'"),
        ("version", "floor", "the record has other values; remove it from the file"),
    ],
)
def test_a_faulty_table_of_decisions_changes_nothing(
    do: Commands, tmp_path: Path, column: str, value: str, said: str
) -> None:
    import csv  # noqa: PLC0415 - beside its one use

    do("next", "hut", "--set", "push-up=knees")
    file = tmp_path / "held.csv"
    do("export", "--what", "held", "-o", str(file))
    with file.open(newline="", encoding="utf-8") as stream:
        (row,) = csv.DictReader(stream)
    with file.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, row)
        writer.writeheader()
        writer.writerow({**row, column: value})
    _, err = do("import", str(file), "--yes", code=65)
    assert said in err


@pytest.mark.parametrize(
    ("line", "kept"),
    [
        ("row=7 15 14", "sack, 8 kg:  7 | sack, 4 kg:  15 14"),
        ("row=7 15 14 13", "sack, 8 kg:  7 | sack, 4 kg:  15 14 13"),
        ("row=sack:8kg 7; sack:4kg 15 14/2", "sack, 8 kg:  7 | sack, 4 kg:  15 14/2"),
        ("row=sack:8kg 7 6 5", "sack, 8 kg:  7 6 5"),
        ("row=7\nrow=15 14", "sack, 8 kg:  7 | sack, 4 kg:  15 14"),
        ("row=7 15 14\nlighter", "sack, 8 kg:  7 | sack, 4 kg:  15 14"),
    ],
)
def test_a_line_may_have_the_first_set_and_the_later_ones_of_a_step_in_two(
    hut: Path, do: Commands, line: str, kept: str
) -> None:
    for day in (6, 3):
        do.paper(ago(day), ("8 8 8",), ("15 15 15",))
    do("next", "hut", "--accept", "row", "--on", f"{ago(2)}")
    _, said = do("log", "hut", "--on", f"{ago(0)}", "--from", "-", "--yes", lines=(line,))
    rows = [one.strip() for one in said.splitlines() if "sack," in one and ":" in one]
    counts = [one.split("  ", 1)[1].split("   ")[0].strip() for one in rows if "kg:" in one]
    assert " | ".join(counts) == kept
