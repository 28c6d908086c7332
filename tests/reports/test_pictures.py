"""Pictures: sound SVG with title, axes and legend, every text escaped."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from msgspec.structs import replace

from runner.errors import MatsideError
from runner.record.record import Record
from runner.reports import svg
from runner.reports.past import Past, look_back
from runner.reports.pictures import trend_picture, write_pictures
from tests.lines.process import ROOT
from tests.sheet.browser import Browser, chromium

from .winter import PLAN, START
from .year import Person

SVG = "{http://www.w3.org/2000/svg}"


def words(path: Path) -> list[str]:
    root = ET.fromstring(path.read_text(encoding="utf-8"))  # noqa: S314 - our own file
    assert root.tag == f"{SVG}svg"
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def test_a_picture_for_each_exercise_and_one_of_the_weeks(past: Past, tmp_path: Path) -> None:
    written = write_pictures(past, past.trends, tmp_path / "new")
    names = {path.name for path in written}
    assert names == {f"trend-{trend.exercise}.svg" for trend in past.trends} | {"weeks.svg"}
    assert {path.name for path in (tmp_path / "new").iterdir()} == names
    push = words(tmp_path / "new" / "trend-push-up.svg")
    assert push[0] == "Push-up, Ada, 2026-07-13 to 2026-10-04"
    assert {"repetitions", "set 1", "set 3", "2026-09-07", "2026-10-01"} <= set(push)
    assert {"bench", "floor"} <= set(push)  # both levels are named
    weeks = words(tmp_path / "new" / "weeks.svg")
    assert {"chest", "calves", "5 of 4 to 8: within", "2026-09-28"} <= set(weeks)
    assert (tmp_path / "new" / "weeks.svg").stat().st_mode & 0o077 == 0


def test_as_many_points_as_sets_and_each_line_is_named_at_its_end(
    past: Past, tmp_path: Path
) -> None:
    (path,) = write_pictures(past, [t for t in past.trends if t.exercise == "plank"], tmp_path)
    root = ET.fromstring(path.read_text(encoding="utf-8"))  # noqa: S314 - our own file
    circles = list(root.iter(f"{SVG}circle"))
    assert len(circles) == 4 + 1  # four sessions, and the name
    assert len(list(root.iter(f"{SVG}polyline"))) == 2
    *_, last, name = circles
    assert last.get("cy") == name.get("cy")


def test_no_point_covers_another_of_the_same_count(past: Past) -> None:
    trend = next(one for one in past.trends if one.exercise == "push-up")
    assert any(len(set(p.values)) < len(p.values) for p in trend.points)
    root = ET.fromstring(trend_picture(past, trend))  # noqa: S314 - our own picture
    drawn = [one for one in root if one.find(f"{SVG}title") is not None]
    places = []
    for one in drawn:
        numbers = one.get("points") or f"{one.get('cx')},{one.get('cy')}"
        pairs = [tuple(map(float, pair.split(","))) for pair in numbers.split()]
        places.append(tuple(round(sum(axis) / len(pairs)) for axis in zip(*pairs, strict=True)))
    assert len(places) == sum(len(p.values) for p in trend.points)
    assert len(set(places)) == len(places)


def test_a_line_ends_where_the_level_changes_and_each_session_has_its_tick(
    past: Past, tmp_path: Path
) -> None:
    trend = next(t for t in past.trends if t.exercise == "push-up")
    (path,) = write_pictures(past, [trend], tmp_path)
    root = ET.fromstring(path.read_text(encoding="utf-8"))  # noqa: S314 - our own file
    change = [
        float((p.get("d") or "")[1:].split()[0])
        for p in root.iter(f"{SVG}path")
        if p.get("stroke-dasharray") == "3 3"
    ]
    assert len(change) == sum(point.new for point in trend.points) > 0
    for line in root.iter(f"{SVG}polyline"):
        across = [float(corner.split(",")[0]) for corner in (line.get("points") or "").split()]
        assert not any(min(across) < x < max(across) for x in change)
    foot = max(float(p.get("d", "").split()[-1]) for p in root.iter(f"{SVG}path"))
    ends = [p.get("d", "") for p in root.iter(f"{SVG}path")]
    ticks = {d[1:].split()[0] for d in ends if d.endswith((f" {foot - 4:g}", f" {foot:g}"))}
    assert len(ticks) >= len(trend.points)


def test_nothing_is_written_over_unasked(past: Past, tmp_path: Path) -> None:
    write_pictures(past, past.trends[:1], tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(MatsideError) as fault:
        write_pictures(past, past.trends, tmp_path)
    assert fault.value.code == 73
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert write_pictures(past, past.trends[:1], tmp_path, force=True)


def test_a_folder_that_cannot_be_made_is_one_line(past: Past, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(MatsideError) as fault:
        write_pictures(past, past.trends, tmp_path / "file" / "in it")
    assert fault.value.code == 73


def test_names_are_text_and_no_paths(tmp_path: Path) -> None:
    plan = PLAN.replace('name = "Push-up"', "name = '<script>alert(1)</script> & \"up\"'")
    with Record.in_memory() as record:
        Person(record, "../Ada", seed=1).train(plan, "A", START)
        found = look_back(record, "../Ada")
    assert found is not None
    for path in write_pictures(found, found.trends, tmp_path / "here"):
        assert path.parent == tmp_path / "here"
        assert "<script" not in path.read_text(encoding="utf-8")
    assert words(tmp_path / "here" / "trend-push-up.svg")[0].startswith("<script>alert(1)")


def test_an_endless_name_is_cut(past: Past, tmp_path: Path) -> None:
    """What is imported may be called anything."""
    (path,) = write_pictures(past, [replace(past.trends[0], exercise="x" * 3000)], tmp_path)
    assert len(path.name) < 120


@pytest.mark.skipif(chromium() is None, reason="Chromium is not installed: apt install chromium")
def test_a_real_browser_shows_every_picture_light_and_dark(past: Past, tmp_path: Path) -> None:
    """Text as text, nothing from elsewhere, and ink and paper change places with the scheme."""
    paths = write_pictures(past, past.trends, tmp_path / "pictures")
    paths.append(ROOT / "tests" / "pictures" / "rehearsal.svg")
    profile = tmp_path / "profile"
    profile.mkdir()
    with Browser(profile) as browser:
        for path in paths:
            seen = {}
            for scheme in ("light", "dark"):
                feature = {"name": "prefers-color-scheme", "value": scheme}
                browser.send("Emulation.setEmulatedMedia", features=[feature])
                browser.open(path.as_uri(), width=1200, height=800)
                assert browser.trouble == []
                assert browser.picture().startswith(b"\x89PNG")
                seen[scheme] = browser.ask(
                    "['text', 'svg > rect'].map(one => "
                    "getComputedStyle(document.querySelector(one)).fill)"
                )
            assert seen["light"] == ["rgb(34, 34, 34)", "rgb(255, 255, 255)"]
            assert seen["dark"] == ["rgb(232, 232, 232)", "rgb(21, 24, 28)"]
            known = browser.ask(
                "[...document.querySelectorAll('text')].map(t => [t.textContent, "
                "t.getComputedTextLength()])"
            )
            assert [text for text, _ in known] == words(path)
            assert all(length > 0 for _, length in known)
            outside = browser.ask(
                "[...document.querySelectorAll('text')].filter(t => {"
                "const b = t.getBBox(), v = document.documentElement.viewBox.baseVal;"
                "return b.x < -1 || b.y < -1 || b.x + b.width > v.width + 1 "
                "|| b.y + b.height > v.height + 1}).map(t => t.textContent)"
            )
            assert outside == []


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2."""
    parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_what_is_drawn_stands_out_from_light_and_dark_paper() -> None:
    """WCAG 2.2: texts 7:1 (1.4.6), what has to be seen in a chart 3:1 (1.4.11)."""
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)  # the usual check value
    for paper, ink in ((svg.PAPER, svg.INK), (svg.DARK[svg.PAPER], svg.DARK[svg.INK])):
        assert contrast(paper, ink) >= 7
    for colour in ("#000000", svg.BLUE, svg.GREY, "#D55E00", "#009E73", "#8A4F7D", "#5C5C5C"):
        assert contrast(colour, svg.PAPER) >= 3, colour
        assert contrast(svg.DARK[colour], svg.DARK[svg.PAPER]) >= 4.5, colour
