"""Pictures: sound SVG with title, axes and legend, every text escaped."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from msgspec.structs import replace

from runner.errors import MatsideError
from runner.record.record import Record
from runner.reports.past import Past, look_back
from runner.reports.pictures import write_pictures

from .winter import PLAN, START
from .year import Person

SVG = "{http://www.w3.org/2000/svg}"


def words(path: Path) -> list[str]:
    root = ET.fromstring(path.read_text(encoding="utf-8"))  # noqa: S314 - our own file
    assert root.tag == f"{SVG}svg"
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def test_a_picture_for_each_exercise_and_each_muscle(past: Past, tmp_path: Path) -> None:
    written = write_pictures(past, past.trends, tmp_path / "new")
    names = {path.name for path in written}
    assert {"trend-push-up.svg", "trend-plank.svg", "weeks-chest.svg", "weeks-calves.svg"} <= names
    assert {path.name for path in (tmp_path / "new").iterdir()} == names
    push = words(tmp_path / "new" / "trend-push-up.svg")
    assert push[0] == "Push-up, Ada, 2026-07-13 to 2026-10-04"
    assert {"repetitions", "set 1", "set 3", "2026-09-07", "2026-10-01", "floor"} <= set(push)
    chest = words(tmp_path / "new" / "weeks-chest.svg")
    assert {"sets a week", "sets done", "aimed at", "2026-W37", "5"} <= set(chest)
    assert (tmp_path / "new" / "weeks-chest.svg").stat().st_mode & 0o077 == 0


def test_as_many_points_as_sets(past: Past, tmp_path: Path) -> None:
    (path,) = write_pictures(past, [t for t in past.trends if t.exercise == "plank"], tmp_path)
    root = ET.fromstring(path.read_text(encoding="utf-8"))  # noqa: S314 - our own file
    circles = list(root.iter(f"{SVG}circle"))
    assert len(circles) == 4 + 1  # four sessions, and the legend
    assert len(list(root.iter(f"{SVG}polyline"))) == 2


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
