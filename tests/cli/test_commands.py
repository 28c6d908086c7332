"""The command line: help, exit codes, what each command imports, and its data."""

from __future__ import annotations

import argparse
import io
import json
import subprocess
import sys
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import jsonschema
import pytest

from runner.cli.main import COMMANDS, main
from tests.lines.process import ROOT, environment, matside

LOADS = ROOT / "tests" / "data" / "loads-only.toml"
EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("export --what foo", "argument --what: invalid choice: 'foo'"),
        ("rehearse", "the following arguments are required: PLAN"),
        ("rehearse demo --nonsense", "unrecognized arguments: --nonsense"),
        ("reherse demo", "invalid choice: 'reherse'"),
    ],
)
def test_what_the_command_line_cannot_mean_is_one_line(
    line: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(line.split())
    assert left.value.code == 2
    (told,) = capsys.readouterr().err.splitlines()
    assert told.startswith("matside: ")
    assert said in told
    assert told.endswith("--help")


def imported(*arguments: str, data: Path) -> set[str]:
    """The modules that a command has imported once it is done."""
    code = (
        "import sys\nfrom runner.cli.main import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        "print('\\n'.join(['MODULES', *sys.modules]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True,
        text=True,
        check=True,
        env=environment(MATSIDE_DATA=str(data)),
    )
    return set(done.stdout.split("MODULES\n")[1].splitlines())


@pytest.mark.parametrize(
    ("arguments", "absent"),
    [
        (("--help",), {"textual", "pydantic", "sqlite3", "wakepy", "shtab"}),
        (("export", "--help"), {"textual", "pydantic"}),
        (("export",), {"textual", "wakepy", "simpleaudio", "shtab", "pydantic"}),
        (("export", "--what", "weeks"), {"textual", "pydantic"}),
        (("export", "--what", "held"), {"textual", "pydantic"}),
        (("check", "demo"), {"textual", "wakepy", "sqlite3", "runner.session.events"}),
        (("help", "keys"), {"textual", "wakepy"}),
        (("rehearse", "demo", "--json"), {"textual", "wakepy", "simpleaudio"}),
        (("run", "demo", "--plain", "--mute", "--yes"), {"textual", "simpleaudio"}),
        (("log", "demo", "--on", "2026-11-23"), {"textual", "wakepy", "simpleaudio"}),
        (("next", "demo"), {"textual", "wakepy", "simpleaudio"}),
    ],
)
def test_heavy_imports_stay_in_their_command(
    tmp_path: Path, arguments: tuple[str, ...], absent: set[str]
) -> None:
    modules = imported(*arguments, data=tmp_path)
    assert "runner.cli.main" in modules
    assert not modules & absent


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ((), 0),
        (("--version",), 0),
        (("--help",), 0),
        (("hop",), 2),
        (("run",), 66),
        (("check",), 2),
        (("check", "demo", "kestrel-hut"), 0),
        (("check", "demo", "nowhere"), 66),
        (("check", "."), 65),
        (("rehearse", "nowhere"), 66),
        (("rehearse", "demo", "--session", "nowhere"), 66),
        (("export", "--for", "Nobody"), 66),
        (("export", "--plan", "nowhere"), 66),
        (("export", "--since", "yesterday"), 2),
        (("export", "--until", "2026-02-30"), 2),
        (("export", "--what", "hops"), 2),
        (("export", "--since", "2026-1-1x"), 2),
        (("export", "--since", "2026-11-25", "--until", "2026-11-24"), 2),
        (("cues", "gong"), 2),
        (("cues", "--volume", "101"), 2),
        (("cues", "--say", "$()"), 2),
        (("run", "demo", "--voice", "loud"), 2),
        (("run", "demo", "--voice-volume", "-1"), 2),
        (("log", "demo"), 2),
        (("next", "demo"), 0),
        (("next",), 2),
        (("next", "nowhere"), 66),
        (("next", "demo", "--accept", "nothing"), 2),
        (("next", "demo", "--set", "nothing"), 2),
        (("log", "--on", "2026-11-23"), 2),
        (("log", "demo", "--on", "2999-01-01"), 2),
        (("log", "demo", "--on", "2026-02-30"), 2),
        (("log", "demo", "--on", "2026-11-23", "--at", "25:00"), 2),
        (("log", "nowhere", "--on", "2026-11-23"), 66),
        (("log", "demo", "--on", "2026-11-23", "--session", "nowhere"), 66),
        (("log", "--fix", "--on", "2026-11-23"), 66),
    ],
)
def test_exit_codes(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    code: int,
) -> None:
    monkeypatch.setenv("MATSIDE_DATA", str(tmp_path))
    try:
        found = main(arguments)
    except SystemExit as end:
        found = int(end.code or 0)
    assert found == code
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    if code:
        assert shown.err or not arguments


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("review <&-", 66),
        ("show push-up >&-", 0),
        ("roster 2>&-", 0),
        ("restore nowhere.db <&- >&- 2>&-", 66),
    ],
)
def test_a_stream_closed_before_the_start_is_no_fault(tmp_path: Path, line: str, code: int) -> None:
    done = subprocess.run(
        ["sh", "-c", f'exec "$0" -m runner {line}', sys.executable],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=environment(MATSIDE_DATA=str(tmp_path)),
    )
    assert (done.returncode, "Traceback" in done.stderr) == (code, False)


def test_a_fault_of_the_program_is_its_own_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def break_down(args: argparse.Namespace) -> int:
        raise RuntimeError("something unthought of")

    monkeypatch.setattr("runner.cli.check.main", break_down)
    assert main(["check", "demo"]) == 70
    shown = capsys.readouterr().err
    assert "something unthought of" in shown
    assert shown.endswith("matside: this is a fault in matside, not in your input\n")


def test_of_several_plans_the_gravest_code_holds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    faulty = tmp_path / "faulty.toml"
    faulty.write_text("title = 3\n")
    assert main(["check", str(faulty), "demo"]) == 65
    assert main(["check", str(faulty), "nowhere", "demo"]) == 66
    shown = capsys.readouterr()
    assert "demo.toml: good" in shown.out
    assert "faulty.toml" in shown.err


def test_export_writes_over_nothing_unasked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target, data = tmp_path / "out.csv", str(tmp_path / "data")
    target.write_text("mine")
    assert main(["export", "--data", data, "-o", str(target)]) == 73
    assert target.read_text() == "mine"
    assert "--force" in capsys.readouterr().err
    assert main(["export", "--data", data, "-o", str(target), "--force"]) == 0
    assert target.read_bytes().startswith(b"session_id,")
    assert target.read_bytes().count(b"\r\n") == 1  # the header also when there is no row
    assert main(["export", "--data", data, "-o", str(tmp_path)]) == 73
    assert main(["export", "--data", data, "-o", str(tmp_path / "no" / "out.csv")]) == 73
    assert not (tmp_path / "data").exists()  # a look makes nothing


def test_the_schema_is_one_and_takes_the_example() -> None:
    import tomllib  # noqa: PLC0415 - beside its one use

    done = matside("check", "--schema")
    assert done.returncode == 0
    schema = json.loads(done.stdout)
    validator = jsonschema.validators.validator_for(schema)
    validator.check_schema(schema)
    plan = tomllib.loads(EVERY_KEY.read_text(encoding="utf-8"))
    assert not list(validator(schema).iter_errors(plan))
    assert list(validator(schema).iter_errors({**plan, "titel": "x"}))


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_completion_scripts_know_every_command(
    shell: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--print-completion", shell]) == 0
    script = capsys.readouterr().out
    for name in COMMANDS:
        assert name in script
    assert "--resume" in script


@pytest.mark.parametrize(
    ("plan", "session_id"),
    [(str(EVERY_KEY), "A"), ("demo", "demo"), *(("kestrel-hut", x) for x in "ABC")],
)
def test_rehearsal_as_data(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], plan: str, session_id: str
) -> None:
    arguments = ["rehearse", plan, "--session", session_id, "--json", "--data", str(tmp_path)]
    assert main(arguments) == 0
    data = json.loads(capsys.readouterr().out)
    steps = data["steps"]
    assert {"plan", "session", "total_s", "straight_sets_s", "steps"} <= data.keys()
    assert data["session"] == session_id
    assert steps[0]["start_s"] == 0
    assert data["total_s"] == steps[-1]["end_s"]
    assert data["straight_sets_s"] >= data["total_s"]
    for before, after in pairwise(steps):
        assert before["end_s"] == after["start_s"]
    for step in steps:
        assert step["end_s"] > step["start_s"]
        assert step["kind"] in ("warm-up", "rest", "set", "cool-down")
        assert ("why" in step) == (step["kind"] == "rest")
        if step["kind"] == "set":
            check_set(step)


def check_set(step: dict[str, object]) -> None:
    assert {
        "block", "round", "exercise", "set", "set_kind", "version", "side", "loads", "position_s",
        "change_s", "breather_s", "law",
    } <= step.keys()  # fmt: skip
    law, loads = step["law"], step["loads"]
    assert isinstance(law, dict)
    assert isinstance(loads, list)
    assert {
        "recovery_s", "recovery_least_s", "recovery_cross_s", "changeover_s", "side_gap_s",
        "block_rest_s",
    } <= law.keys()  # fmt: skip
    assert len(law["changeover_s"]) == 2
    assert any(load["role"] == "prime" for load in loads)
    for load in loads:
        assert load.keys() == {"muscle", "side", "role"}
        assert load["side"] in ("left", "right")
        assert load["role"] in ("prime", "synergist")


def test_from_paper_to_advice_to_an_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MATSIDE_DATA", str(tmp_path))
    for ago in (4, 1):
        on = datetime.now().astimezone().date() - timedelta(days=ago)
        lines = "45 44\n12 12\n12 12\n\ny\n"
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(lines.encode())))
        assert main(["log", str(EVERY_KEY), "--on", str(on), "--for", "Ada"]) == 0
    said = capsys.readouterr()
    assert "Advice: Standing band press (press): harder (common practice): 45 in a set" in said.err
    assert f"To answer: matside next {EVERY_KEY} --for Ada\n" in said.err
    for number in ("0", "9", "press:9"):
        assert main(["next", str(EVERY_KEY), "--for", "Ada", "--accept", number]) == 2
    capsys.readouterr()
    assert main(["next", str(EVERY_KEY), "--for", "Ada", "--accept", "1:2"]) == 0  # as listed
    said = capsys.readouterr()
    assert "Standing band press: accepted, mark-2, anchor 120 cm" in said.err
    assert "1  Standing band press: mark-2, anchor 120 cm   since" in said.out
    assert main(["next", str(EVERY_KEY), "--for", "Ada", "--accept", "press"]) == 2
    assert main(["export", "--trial", "--what", "held"]) == 0
    assert "mark-2,anchor=120 cm,,harder" in capsys.readouterr().out.replace('"', "")


def test_after_nine_weeks_away_no_step_up_is_advised_nor_accepted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MATSIDE_DATA", str(tmp_path))

    def typed(ago: int, row: str) -> None:
        on = datetime.now().astimezone().date() - timedelta(days=ago)
        lines = f"16 15 14\n{row}\n9 9 8/5\n10 9 8\n\ny\n"
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(lines.encode())))
        assert main(["log", str(LOADS), "--on", str(on), "--for", "Ada"]) == 0

    for ago in (67, 65, 63):
        typed(ago, "12 12, 12 12, 11 12")
    capsys.readouterr()
    accept = ["next", str(LOADS), "--for", "Ada", "--accept", "squat"]
    assert main(accept) == 2
    said = capsys.readouterr()
    reason = "63 days away: no harder level until 2 sessions reach 6"
    assert f"Rucksack squat: no change is advised: {reason}" in said.err
    assert main(accept[:4]) == 0
    line = "63 days away: an exercise gets no harder level until 2 sessions of it reach the bottom"
    said = " ".join(capsys.readouterr().out.split())
    assert said.count(line) == 1  # once, and not at each exercise
    typed(4, "9 12, 9 12, 8 12")
    assert "Advice: Rucksack squat" not in capsys.readouterr().err
    typed(2, "9 12, 9 12, 8 12")
    said = capsys.readouterr()
    assert "Advice: Rucksack squat (squat): load (our choice)" in said.err
    assert "Advice: Rucksack row (row): sides (common practice): left 8.7, right 12" in said.err
    assert main(accept) == 0
