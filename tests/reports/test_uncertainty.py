"""The spread of a session's length on the command line: as text, as data, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from runner.cli.main import main
from runner.errors import Exit
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.planning.forecast import session_steps, total
from runner.progress.adjust import Baseline
from runner.record.record import Record
from runner.reports.report import Draws, length_lines
from runner.session import verb as cmd
from tests.plans import plan
from tests.record.hut import Sitting, later


def data(capsys: pytest.CaptureFixture[str], tmp_path: Path, *options: str) -> dict[str, Any]:
    assert main(["rehearse", "demo", "--json", "--data", str(tmp_path), *options]) == Exit.OK
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_data_have_percentiles_runs_and_seed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    plan = read_plan(find_plan("demo", tmp_path))
    workout = compile_session(plan, "demo")
    found = data(capsys, tmp_path, "--runs", "150", "--seed", "9")
    totals = Draws(150, 9).simulated(workout, Baseline(), {}).totals
    p10, p50, p90 = np.percentile(totals, [10, 50, 90])
    assert found["length_s"] == {
        "p10": pytest.approx(p10, abs=1e-4),
        "p50": pytest.approx(p50, abs=1e-4),
        "p90": pytest.approx(p90, abs=1e-4),
        "runs": 150,
        "seed": 9,
    }
    assert found["runs_under_least_recovery"] == 0
    assert found["total_s"] == total(session_steps(workout))  # not touched by any of this


def test_without_options_a_thousand_runs_with_the_same_seed_every_time(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    once, again = (data(capsys, tmp_path)["length_s"] for _ in range(2))
    assert once == again
    assert (once["runs"], once["seed"]) == (1000, 1)
    assert data(capsys, tmp_path, "--seed", "2")["length_s"]["p50"] != once["p50"]


def test_the_totals_tell_it(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["rehearse", "demo", "--data", str(tmp_path), "--runs", "100"]) == Exit.OK
    out = capsys.readouterr().out
    workout = compile_session(read_plan(find_plan("demo", tmp_path)), "demo")
    lines = length_lines(Draws(100, 1).simulated(workout, Baseline(), {}), 1)
    assert "\n".join(lines) in out
    assert "A muscle had less than its least recovery in 0 of 100 runs" in lines
    assert all(len(line) <= 80 for line in lines)


PLAN = plan(
    "Kestrel Hut, morning",
    {
        "press": {
            "name": "Standing band press",
            "version": [{"id": "mark-1", "name": "one stride", "setup": {"anchor": "100 cm"}}],
        },
        "plank": {"version": [{"id": "toes", "name": "on the toes"}]},
    },
    [{"press": 5, "plank": 4}],
)


def test_the_spread_is_the_trainee_s_own_once_five_sets_are_on_record(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Two mornings of five presses each, of 20 to 40 s; nobody else has any."""
    file = tmp_path / "hut.toml"
    file.write_text(PLAN, encoding="utf-8")
    workout = compile_session(read_plan(file), "A")
    with Record.open(tmp_path / "record.db") as record:
        for week, lengths in enumerate(((40, 36, 30, 26, 22), (38, 34, 30, 24, 20))):
            sitting, presses = Sitting(record, workout, at=later(7 * week)).begin(), iter(lengths)
            while (row := sitting.state.running) is not None:
                if row.planned_set.exercise == "press":
                    sitting.set(10, next(presses))
                else:  # no planks on these mornings
                    sitting.do(cmd.Skip()).wait()
            sitting.close()
        past = record.lengths("Runa", workout, 20)
    assert past == {("press", "mark-1", "", "both"): (40, 36, 30, 26, 22, 38, 34, 30, 24, 20)}

    def told(trainee: str) -> list[str]:
        options = ["--data", str(tmp_path), "--for", trainee, "--runs", "300"]
        assert main(["rehearse", str(file), *options]) == Exit.OK
        out = capsys.readouterr().out.splitlines()
        return [line for line in out if "at random" in line or "1 in 10" in line]

    runa, odd = told("Runa"), told("Odd")
    assert runa[1] == (
        "Lengths of sets vary at random, as on record for 5 of 9, else by 20 %; seed 1"
    )
    assert odd[1] == (
        "Lengths of sets vary at random, by 20 % (fewer than 5 sets on record); seed 1"
    )
    assert runa[0] != odd[0]


@pytest.mark.parametrize("runs", ["99", "100001", "0", "-5", "many", "500.5", ""])
def test_too_few_or_too_many_runs_are_refused_in_one_line(
    runs: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["rehearse", "demo", "--data", str(tmp_path), "--runs", runs]) == Exit.USAGE
    assert capsys.readouterr() == (
        "",
        f'matside: --runs: "{runs}" is not a number of runs; write 100 to 100000\n',
    )


@pytest.mark.parametrize("seed", ["1.5", "x", "-1", ""])
def test_a_seed_is_a_whole_number(
    seed: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["rehearse", "demo", "--data", str(tmp_path), "--seed", seed]) == Exit.USAGE
    assert capsys.readouterr() == (
        "",
        f'matside: --seed: "{seed}" is not a whole number; write one like 7\n',
    )
