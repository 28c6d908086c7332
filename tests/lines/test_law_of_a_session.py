"""Sessions ended at lengths drawn at random: every rest and recovery of the CSV is the law's."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import random
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from runner.cli.main import main
from tests.lines.law import Actual, Key, bouts_of, expectations
from tests.lines.manual import Desk, Ran, run
from tests.lines.process import ROOT, Line, session

EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"
PLANS = ROOT / "plans"
WITHIN_S = 0.2


def rehearse(plan: Path, data: Path, session_id: str) -> dict[str, Any]:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        who = ("--for", "Ada", "--data", str(data))
        code = main(["rehearse", str(plan), "--session", session_id, "--json", *who])
    assert code == 0
    return dict(json.loads(out.getvalue()))


def exported(data: Path, *more: str) -> list[dict[str, str]]:
    target = data / "out.csv"
    assert main(["export", "--data", str(data), "-o", str(target), "--force", *more]) == 0
    with target.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def key(pairs: dict[str, str]) -> Key:
    return pairs["exercise"], int(pairs["set"]), pairs["side"]


def bouts(lines: list[Line]) -> dict[Key, Actual]:
    """When each bout was begun and ended, by the lines on stdout."""

    def at(name: str) -> dict[Key, float]:
        return {
            key(x.pairs): datetime.fromisoformat(x.utc).timestamp() for x in lines if x.name == name
        }

    started, ended = at("started"), at("ended")
    assert started.keys() == ended.keys()
    return {k: Actual(start, ended[k]) for k, start in started.items()}


def agree(
    rehearsal: dict[str, Any], lines: list[Line], rows: list[dict[str, str]]
) -> tuple[float, float]:
    """The CSV has what the law gives; (largest difference of a rest, of a recovery)."""
    found = {key(row): row for row in rows}
    wanted = expectations(rehearsal, bouts(lines))
    assert len(rows) == len(found) == len(wanted) == len(bouts_of(rehearsal))
    rests, recoveries = [0.0], [0.0]
    for bout, expected in wanted:
        row = found[bout]
        pairs = ((expected.rest, row["rest_before_s"]), (expected.recovery, row["recovery_s"]))
        for (want, text), into in zip(pairs, (rests, recoveries), strict=True):
            assert (want is None) == (text == ""), (bout, expected, row)
            if want is not None:
                into.append(abs(float(text) - want))
        assert row["status"] == "done"
        assert row["started_by"] == "clock"
    assert max(rests) <= WITHIN_S, [(b, e, found[b]["rest_before_s"]) for b, e in wanted]
    assert max(recoveries) <= WITHIN_S, [(b, e, found[b]["recovery_s"]) for b, e in wanted]
    return max(rests), max(recoveries)


def short(folder: Path) -> Path:
    """That plan with three sets, and half the time between them."""
    text = EVERY_KEY.read_text(encoding="utf-8")
    for old, new in (
        ('exercise = "row", sets = 2, ramp = 0, versions = ["slow", "light"]',
         'exercise = "row", sets = 1'),
        ('recovery = "8s"', 'recovery = "4s"'),
        ('recovery_least = "7s"', 'recovery_least = "3s"'),
        ('recovery_cross = "6s"', 'recovery_cross = "2s"'),
        ('position = "5s"', 'position = "1s"'),
    ):  # fmt: skip
        assert old in text
        text = text.replace(old, new)
    plan = folder / "short.toml"
    plan.write_text(text, encoding="utf-8")
    return plan


@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_a_real_session_of_every_key(tmp_path: Path, *, whole: bool) -> None:
    """On the real clock, once: warm-up, both sides, changeovers, entries in between."""
    plan = EVERY_KEY if whole else short(tmp_path)
    rehearsal = rehearse(plan, tmp_path, "A")
    dice = random.Random(20261125)  # noqa: S311 - lengths of sets
    with session(plan, tmp_path, "--yes") as live:
        live.send()
        live.event("begun")
        live.said("The warm-up is over")
        live.send()
        for bout in bouts_of(rehearsal):
            started = live.event("started", exercise=bout["exercise"], side=bout["side"])
            live.end_after(started, dice.uniform(0.3, 2.0))
            live.event("ended", exercise=bout["exercise"], side=bout["side"])
            live.send("12/2")
            live.event("entered", reps="12", reserve="2")
        live.said("The cool-down is over")
        live.send()
        closed = live.event("closed", complete="yes", phase="closed")
        assert closed.pairs["by"] == "person"
        assert live.end() == 0
        rests, recoveries = agree(rehearsal, live.lines, exported(tmp_path, "--trial"))
    assert rests <= WITHIN_S
    assert recoveries <= WITHIN_S


class Random:
    """Ends each set after a length drawn when it began; goes on at once elsewhere."""

    def __init__(self, seed: int, shortest: float, longest: float) -> None:
        self._dice = random.Random(seed)  # noqa: S311 - lengths of sets
        self._span = (shortest, longest)
        self._set = -1
        self._end = 0.0

    def __call__(self, desk: Desk) -> tuple[float, str | None]:
        assert desk.live is not None
        state = desk.live.driver.state
        if state.phase == "set" and state.running is not None:
            if state.running.entry != self._set:
                self._set = state.running.entry
                self._end = desk.seconds + self._dice.uniform(*self._span)
            return self._end, ""
        if state.phase == "rest":
            return desk.seconds + 1e9, ""
        return desk.seconds + 1.0, ""


CASES = [
    (EVERY_KEY, "A", 0.3, 40.0),
    (PLANS / "demo.toml", "demo", 1.0, 30.0),
    (PLANS / "kestrel-hut.toml", "A", 5.0, 90.0),
    (PLANS / "kestrel-hut.toml", "B", 5.0, 90.0),
    (PLANS / "kestrel-hut.toml", "C", 5.0, 90.0),
]


@pytest.mark.parametrize(("plan", "session_id", "shortest", "longest"), CASES)
@pytest.mark.parametrize("seed", range(3))
def test_sessions_on_manual_time(
    tmp_path: Path, plan: Path, session_id: str, shortest: float, longest: float, seed: int
) -> None:
    rehearsal = rehearse(plan, tmp_path, session_id)
    ran: Ran = run(plan, tmp_path, Random(seed, shortest, longest), session=session_id)
    trial = ("--trial",) if ran.live.info.trial else ()
    assert ran.events("closed")[0].pairs["complete"] == "yes"
    rests, recoveries = agree(rehearsal, ran.lines, exported(tmp_path, *trial))
    # Nothing but the CSV's one decimal and the clock's milliseconds lies between them.
    assert max(rests, recoveries) <= 0.06


def test_the_recomputation_notices_a_second(tmp_path: Path) -> None:
    """The check itself can fail: a rest a second longer than the law's is found."""
    rehearsal = rehearse(EVERY_KEY, tmp_path, "A")
    ran = run(EVERY_KEY, tmp_path, Random(1, 0.3, 2.0))
    rows = exported(tmp_path, "--trial")
    agree(rehearsal, ran.lines, rows)
    for column in ("rest_before_s", "recovery_s"):
        wrong = [dict(row) for row in rows]
        wrong[-1][column] = f"{float(wrong[-1][column]) + 1:.1f}"
        with pytest.raises(AssertionError):
            agree(rehearsal, ran.lines, wrong)
