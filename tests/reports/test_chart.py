"""The chart's columns, and the picture's bars, against what `--json` says."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.planning.forecast import session_steps
from runner.progress.adjust import Baseline
from runner.reports.chart import PLAIN_SIGNS, chart, grid
from runner.reports.svg import picture
from tests.lines.process import ROOT, environment
from tests.plan.plans import SMALL as NO_RAMP
from tests.reports import oracle
from tests.reports.plans import SMALL, data, said, write

SIGNS = {"█": "work", "▄": "help", "░": "recovery", "·": "ready"}
SVG = "{http://www.w3.org/2000/svg}"
SESSIONS = [("small", "A"), ("demo", "demo"), *(("kestrel-hut", s) for s in "ABC")]

# The two sides of one set ask nothing of each other, also where one-sided work loads a prime
# mover's other side as a helper; and bouts shorter than a column.
CROSSED = (
    ('prime = ["upper-back"]', 'prime = ["upper-back", "triceps"]'),
    ('both_sides = ["low-back"]', 'both_sides = ["upper-back", "chest"]'),
    ('hold = ["20s", "20s"]', 'hold = ["4s", "4s"]'),
)


def plan_of(name: str, folder: Path) -> str:
    return {"small": lambda: write(folder), "crossed": lambda: write(folder, SMALL, *CROSSED)}.get(
        name, lambda: name
    )()


def charted(out: str) -> tuple[int, dict[str, str]]:
    """Seconds a column and each muscle's signs, its strips joined."""
    rows: dict[str, str] = {}
    chart = out[out.index("\nblock ") :]
    for line in chart.splitlines():
        found = re.fullmatch(r"([a-z-]+)\s+([█▄░·]+)", line)
        if found:
            rows[found[1]] = rows.get(found[1], "") + found[2]
    return int(re.findall(r"one column is (\d+) s", out)[-1]), rows


@pytest.mark.parametrize(("name", "session"), [*SESSIONS, ("crossed", "A")])
def test_every_column_is_what_the_data_say(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, session: str
) -> None:
    arguments = (plan_of(name, tmp_path), "--session", session)
    known = data(capsys, tmp_path, *arguments)
    seconds, rows = charted(said(capsys, tmp_path, *arguments)[0])
    assert sorted(rows) == oracle.muscles(known)
    for muscle, signs in rows.items():
        assert [SIGNS[s] for s in signs] == oracle.cells(known, muscle, seconds), muscle


@pytest.mark.parametrize(("name", "session"), [*SESSIONS, ("crossed", "A")])
def test_every_bar_of_the_picture_stands_where_the_data_say(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, session: str
) -> None:
    arguments = (plan_of(name, tmp_path), "--session", session)
    known = data(capsys, tmp_path, *arguments)
    file = tmp_path / "chart.svg"
    said(capsys, tmp_path, *arguments, "--svg", str(file))
    root = ET.fromstring(file.read_text(encoding="utf-8"))  # noqa: S314 - our own file
    zero, a_second = time_axis(root)
    groups = {g.get("data-muscle"): g for g in root.iter(f"{SVG}g") if g.get("data-muscle")}
    assert sorted(map(str, groups)) == oracle.muscles(known)
    for muscle, group in groups.items():
        bars = [
            (
                str(rect.get("class")),
                (number(rect, "x") - zero) / a_second,
                (number(rect, "x") + number(rect, "width") - zero) / a_second,
            )
            for rect in group.iter(f"{SVG}rect")
        ]
        expected = oracle.stretches(known, str(muscle))
        assert [bar[0] for bar in bars] == [stretch[0] for stretch in expected]
        for bar, stretch in zip(bars, expected, strict=True):
            assert bar[1:] == pytest.approx(stretch[1:], abs=0.1)


def number(element: ET.Element, name: str) -> float:
    return float(element.get(name) or "nan")


def time_axis(root: ET.Element) -> tuple[float, float]:
    """Where 0 lies and how wide a second is, as the axis itself says."""
    axis = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "axis")
    marks = []
    for text in axis.iter(f"{SVG}text"):
        found = re.fullmatch(r"(?:(\d+):)?(\d+)", text.text or "")
        if found:
            seconds = int(found[1]) * 60 + int(found[2]) if found[1] else int(found[2]) * 60
            marks.append((float(seconds), number(text, "x")))
    (first, x), *_, (last, end) = marks
    assert last > first
    a_second = (end - x) / (last - first)
    return x - first * a_second, a_second


def test_the_picture_needs_no_colour_and_names_what_it_shows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "chart.svg"
    hostile = ("Hut, small", "<b>&amp; ]]> \ufffe \u200e")
    said(capsys, tmp_path, write(tmp_path, SMALL, hostile), "--session", "A", "--svg", str(file))
    text = file.read_text(encoding="utf-8")
    root = ET.fromstring(text)  # noqa: S314 - our own file
    words = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    assert "<b>&amp; ]]> \ufffd \ufffd, session A: Morning" in words
    assert {"works", "helps", "recovers", "ready", "muscle", "minutes from the beginning"} <= {
        *words
    }
    assert "block 1" in words
    assert "block 2" in words
    heights = {r.get("class"): r.get("height") for r in root.iter(f"{SVG}rect") if r.get("class")}
    assert set(heights) == set(oracle.ORDER)
    assert len(set(heights.values())) == 4
    assert re.findall(r"https?://[^\"]+", text) == ["http://www.w3.org/2000/svg"]
    told = [t.text for t in root.iter(f"{SVG}title")]
    assert "Rucksack row 2 left, 3:05 to 3:25" in told


def test_the_picture_s_axis_may_be_the_time_of_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "chart.svg"
    path = write(tmp_path)
    said(capsys, tmp_path, path, "--session", "A", "--at", "18:29:30", "--svg", str(file))
    words = [t.text for t in ET.fromstring(file.read_text()).iter(f"{SVG}text")]  # noqa: S314
    assert {"18:30", "18:32", "18:38", "time of day"} <= set(words)
    assert "18:29" not in words


@pytest.mark.parametrize(
    ("length", "columns", "laid"),
    [
        (65, 64, (2, 33, 1)),
        (64, 64, (1, 64, 1)),
        (640, 64, (10, 64, 1)),
        (641, 64, (10, 64, 2)),
        (3088, 64, (30, 64, 2)),
        (3088, 104, (15, 104, 2)),
        (3 * 3600, 64, (30, 64, 6)),
        (24 * 3600, 64, (300, 64, 5)),
        (1, 5, (1, 1, 1)),
    ],
)
def test_a_long_session_goes_on_in_strips_before_its_columns_get_coarse(
    length: float, columns: int, laid: tuple[int, int, int]
) -> None:
    found = grid(length, columns)
    assert (found.seconds, found.columns, found.strips) == laid
    assert found.seconds * found.columns * found.strips >= length


def test_no_length_is_too_long_for_the_grid() -> None:
    found = grid(50 * 24 * 3600, 20)
    assert found.seconds * found.columns * found.strips >= 50 * 24 * 3600


def test_an_encoding_without_the_signs_gets_others(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "runner", "rehearse", "demo", "--data", str(tmp_path)],
        cwd=ROOT,
        env=environment(PYTHONIOENCODING="latin-1"),
        capture_output=True,
        check=True,
    )
    out = done.stdout.decode("latin-1")
    assert "\\u" not in out
    assert "# works   + helps   - recovers   . ready" in out
    assert len(set(PLAIN_SIGNS.values())) == 4


def test_data_stay_as_they_were(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # A time of day belongs to the table alone; with a time to be over by it has a meaning.
    timed = ("--json", "--at", "18:30", "--until", "19:30")
    known: Any = json.loads(said(capsys, tmp_path, "demo", *timed)[0])
    del known["fit"]
    assert known == data(capsys, tmp_path, "demo")


def test_a_session_whose_holds_have_all_been_ended_at_once_has_no_chart() -> None:
    plan = compile_session(parse_plan(NO_RAMP, "small"), "A")
    lengths = {
        (one.id, level.version, level.tempo or "", side): (0.0,)
        for one in plan.exercises.values()
        for level in one.progression
        for side in ("both", "left", "right")
    }
    steps = session_steps(plan, Baseline(lengths=lengths))
    assert steps
    assert chart(steps) == []
    assert picture(plan, steps, None).startswith("<")
