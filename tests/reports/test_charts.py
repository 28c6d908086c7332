"""A year of drawn history: every bar and every point of every chart is the exported CSV's figure.

The other side is `figures`, which counts the CSV again and reads the charts as a person would.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.record.record import Record
from runner.reports import charts

from . import figures
from .test_outside import RENAMED, WITHOUT_PLANK, unusual
from .winter import PLAN
from .year import BERLIN, Person, days

START = datetime(2026, 1, 5, 6, 30, tzinfo=BERLIN)
AWAY = {*range(13, 22), 30}  # weeks in which nobody trains


@pytest.fixture(scope="module", params=[(5, (1, 4)), (11, (0, 2, 4))], ids=str)
def data(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A directory with a year on file, its export and its pictures."""
    seed, pattern = request.param
    folder = tmp_path_factory.mktemp("year")
    with Record.open(folder / "record.db") as record:
        person = Person(record, "Ada", seed=seed)
        for number, at in enumerate(days(START, pattern, 51)):
            if (at - START).days // 7 not in AWAY:
                plan = PLAN if at.month < 6 else RENAMED if at.month < 10 else WITHOUT_PLANK
                person.train(plan, "AB"[number % 2], at, act=unusual, close=number % 40 != 39)
    given = ("--data", str(folder), "--for", "Ada")
    assert main(["export", *given, "-o", str(folder / "sets.csv")]) == 0
    return folder


@pytest.fixture
def text(data: Path, capsys: pytest.CaptureFixture[str]) -> str:
    given = ("--data", str(data), "--for", "Ada", "--since", "2025-12-20", "--all")
    assert main(["review", *given]) == 0
    return capsys.readouterr().out


def test_every_bar_of_every_muscle_is_the_csvs_figure_beside_its_own_week(
    data: Path, text: str
) -> None:
    wanted = figures.weekly(figures.rows_of(data / "sets.csv"))
    drawn = figures.weeks_drawn(text)
    assert set(drawn) == {muscle for _, muscle in wanted}
    first, last = date(2025, 12, 15), max(day for day, _ in wanted)
    every = [first + timedelta(weeks=n) for n in range((last - first).days // 7 + 1)]
    assert len(every) > 50
    for muscle, bars in drawn.items():
        assert [day for day, *_ in bars] == every, muscle
        for day, label, length in bars:
            assert label == length == wanted.get((day, muscle), 0.0), (muscle, day)


def test_every_point_of_every_trend_is_the_csvs_figure(data: Path, text: str) -> None:
    rows = figures.rows_of(data / "sets.csv")
    names = {row["exercise_name"]: row["exercise"] for row in rows}
    wanted = figures.trends(rows)
    seen = set()
    for name, dots in figures.trends_drawn(text):
        exercise = names[name]
        assert dots == {(day, value) for day, _, value in wanted[exercise]}, name
        seen.add(exercise)
    assert seen == set(wanted)


def test_every_bar_and_point_of_the_pictures_is_the_csvs_figure(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = figures.rows_of(data / "sets.csv")
    weekly, trends = figures.weekly(rows), figures.trends(rows)
    given = ("--data", str(data), "--for", "Ada", "--since", "2025-12-20")
    assert main(["review", *given, "--svg", str(tmp_path / "pictures")]) == 0
    *of_trends, of_weeks = capsys.readouterr().out.splitlines()
    assert Path(of_weeks).name == "weeks.svg"
    panels = figures.Picture.panels(Path(of_weeks))
    assert set(panels) == {muscle for _, muscle in weekly}
    for muscle, picture in panels.items():
        found: dict[date, float] = {}
        for called, height in picture.bars():
            run, _, value = called.partition(": ")
            assert height == pytest.approx(float(value), abs=picture.precise), called
            one = f"x   sets in each week\n{run} {value} within │\n  █ is 1 set"
            found |= {day: number for day, number, _ in figures.weeks_drawn(one)["x"]}
        done = {day: sets for (day, one), sets in weekly.items() if one == muscle}
        assert {day: sets for day, sets in found.items() if sets} == done
        assert len(found) > 50
    for line in of_trends:
        picture = figures.Picture.read(Path(line))
        wanted = sorted(trends[Path(line).stem.partition("-")[2]])
        points = []
        for called, day, value in picture.points():
            told = re.fullmatch(r"([-\d]{10}): ([\d.]+), set (\d+)", called)
            assert told is not None, called
            on = date.fromisoformat(told[1])
            # Equal counts of one day stand beside each other, none nearer to another day.
            assert abs(on - day) == min(abs(one - day) for one, *_ in wanted), called
            assert float(told[2]) == pytest.approx(value, abs=picture.precise)
            points.append((on, int(told[3]), float(told[2])))
        assert sorted(points) == wanted


def dots_of(drawn: list[str]) -> set[tuple[date, float]]:
    text = "\n".join(["Push-up", "  another level", *drawn])
    ((_, found),) = figures.trends_drawn(text)
    return found


@pytest.mark.parametrize("width", [40, 78, 200])
def test_every_count_has_a_dot_of_its_own_however_long_the_time(width: int) -> None:
    days = [date(2026, 9, 7) + timedelta(days=3 * n) for n in range(120)]
    dots = [charts.Dot(day, (7 + n % 9, 7.0)) for n, day in enumerate(days)]
    drawn = charts.trend(dots, width)
    assert max(map(len, drawn)) <= width
    assert dots_of(drawn) == {(dot.on, float(value)) for dot in dots for value in dot.values}


def test_means_of_two_sides_have_dots_of_halves() -> None:
    drawn = charts.trend([charts.Dot(date(2026, 9, 7), (9.5, 8.0))], 60)
    assert dots_of(drawn) == {(date(2026, 9, 7), 9.5), (date(2026, 9, 7), 8.0)}


def test_a_change_of_level_is_marked_at_its_session_and_both_levels_are_named() -> None:
    dots = [
        charts.Dot(date(2026, 9, 7), (9, 9), level="knees"),
        charts.Dot(date(2026, 9, 9), (9,), level="knees"),
        charts.Dot(date(2026, 9, 27), (8, 7), new=True, level="floor"),
    ]
    *_, levels, _ = charts.trend(dots, 60)
    left = len(levels) - len(levels.lstrip())
    assert levels.split() == ["knees", "┊floor"]
    assert levels.index("┊") - left == 20 // 2  # twenty days after the first, two a column


def test_a_count_far_off_squeezes_no_other_and_too_many_counts_share_dots() -> None:
    far = charts.trend([charts.Dot(date(2026, 9, 7), (12, 500, 11))], 60)
    assert [row.split(" │")[0].strip() for row in far if "│" in row] == ["499-502", "⋮", "11-14"]
    many = [charts.Dot(date(2026, 9, 7) + timedelta(days=n), (20 + n,)) for n in range(140)]
    labels = [row.split(" │")[0].strip() for row in charts.trend(many, 78) if "│" in row]
    assert len(labels) <= charts.MOST_ROWS
    assert "20-39" in labels  # a dot is five of them
    assert charts.trend([charts.Dot(date(2026, 9, 7), ())], 60) == []


def test_a_bar_is_as_long_as_its_sets_and_the_band_has_its_ends() -> None:
    given = [charts.Bar("chest", sets, (10, 20)) for sets in (0, 0.5, 10, 20, 25)]
    *rows, scale = charts.bars(given, 78)
    size = float(scale.split()[2])
    drawn = [row.partition("│")[2] for row in rows]
    assert [size * row.count("█") for row in drawn] == [0, 0.5, 10, 20, 25]
    assert all(row.replace("]", "").index("[") == 10 / size for row in drawn)
    assert all(row.replace("[", "").index("]") == 20 / size for row in drawn)
    narrow = charts.bars([charts.Bar("chest", 12.5, (10, 20))], 40)
    assert narrow[0].count("█") + narrow[0].count("▌") / 2 == 12.5
