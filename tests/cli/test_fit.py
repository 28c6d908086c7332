"""`rehearse --within` and `--until`: what is left out, what the week loses, and refusals."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

import pytest

from runner.cli import common
from runner.cli.main import main

HUT = ["rehearse", "kestrel-hut", "--session", "A", "--runs", "100"]


def told(capsys: pytest.CaptureFixture[str], tmp_path: Path, *options: str) -> str:
    assert main([*HUT, *options, "--data", str(tmp_path)]) == 0
    return capsys.readouterr().out


def test_within_says_what_goes_and_what_the_week_loses(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = json.loads(told(capsys, tmp_path, "--within", "45m", "--json"))
    found = data["fit"]
    assert data["total_s"] == found["before_s"] == 2998.0  # the rest stays as it is
    assert found["within_s"] == 2700
    assert found["total_s"] <= 2700
    left_out = {one["exercise"]: one["sets"] for one in found["left_out"]}
    assert left_out["curl"] + left_out["push-down"] == 2  # priority 3 first
    lost = {one["muscle"]: one["before"] - one["after"] for one in found["week"]}
    # Prime movers count 1, synergists a half (Pelland et al. 2025).
    assert lost["triceps"] == left_out["push-down"]
    assert lost["biceps"] == left_out["curl"]
    assert lost["forearms"] == left_out["curl"] / 2
    calves = next(one for one in found["week"] if one["muscle"] == "calves")
    assert calves["aim"] == [6, 12]
    assert calves["judged"] == ("under" if calves["after"] >= 4 else "little")


def test_the_table_below_is_the_shorter_session(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = told(capsys, tmp_path, "--at", "6:30", "--until", "07:10")
    assert "Within 40:00: forecast 39:55 instead of 49:58." in text
    assert "  Rucksack curl          1 of 2 sets  (priority 3, block 4)" in text
    sets = re.findall(r"Rucksack curl +(\d) +0:42", text)
    assert sets == ["1"]


def test_what_fits_already_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Within 1:00:00: forecast 49:58, nothing is left out." in told(
        capsys, tmp_path, "--within", "1h"
    )


@pytest.mark.parametrize("within", ["50m", "45m", "1h"])
def test_how_many_runs_are_over_in_time_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], within: str
) -> None:
    """A forecast just under the time is no promise: about half of the runs end later."""
    text = told(capsys, tmp_path, "--within", within)
    said = re.search(
        r"Of 100 simulated runs (\d+) end within \S+; 9 in 10 end within (\S+)\.", text
    )
    assert said is not None
    spread = re.search(r"half within (\S+), 9 in 10 within\s+(\S+)", text)
    assert spread is not None
    assert said[2] == spread[2]
    half, most = (_seconds(spread[n]) for n in (1, 2))
    time = {"50m": 3000, "45m": 2700, "1h": 3600}[within]
    assert (int(said[1]) >= 50) == (half <= time)
    assert (int(said[1]) >= 90) == (most <= time)
    fit = json.loads(told(capsys, tmp_path, "--within", within, "--json"))["fit"]
    assert (fit["runs"], fit["runs_within"]) == (100, int(said[1]))


def _seconds(text: str) -> int:
    total = 0
    for part in text.split(":"):
        total = 60 * total + int(part)
    return total


def test_until_goes_over_midnight(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Within 45:00:" in told(capsys, tmp_path, "--at", "23:30", "--until", "0:15")


@pytest.fixture
def berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Central European clocks, without a table of zones."""
    with monkeypatch.context() as here:
        here.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
        time.tzset()
        yield
    time.tzset()


@pytest.mark.usefixtures("berlin")
@pytest.mark.parametrize(
    ("begin", "minutes"),
    [
        ("2026-11-25T01:30", 100),
        ("2026-10-25T01:30", 160),  # two to three comes twice that night
        ("2026-03-29T01:30", 40),  # and does not come in that one
    ],
)
def test_until_is_a_time_of_the_local_clocks(
    monkeypatch: pytest.MonkeyPatch, begin: str, minutes: int
) -> None:
    class Clocks(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Clocks:
            assert tz is None
            return cls.fromisoformat(begin)

    monkeypatch.setattr(common, "datetime", Clocks)
    within, end = common.time_given(None, "3:10")
    assert within is None
    assert end is not None
    assert end - datetime.fromisoformat(begin).astimezone() == timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--within", "5m"), "does not fit into 5:00: with a set for each muscle"),
        (("--within", "0"), "--within '0' is not a length of time"),
        (("--within", "-5m"), "--within '-5m': write it like"),
        (("--within", "soon"), "--within 'soon': write it like"),
        (("--within", "99h"), "--within '99h': write it like"),
        (("--until", "25:00"), "--until '25:00' is not a time of day"),
        (("--at", "7:10", "--until", "7:00"), "starts at 07:10"),
        (("--at", "7:10", "--until", "7:10"), "starts at 07:10"),
        (("--within", "5m", "--until", "7:00"), "exclude each other"),
    ],
)
def test_a_time_that_cannot_be(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], options: tuple[str, ...], said: str
) -> None:
    arguments = [f"{a}={b}" for a, b in zip(options[::2], options[1::2], strict=True)]
    assert main([*HUT, *arguments, "--data", str(tmp_path)]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    (line,) = shown.err.splitlines()
    assert said in line
