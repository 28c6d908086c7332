"""The rehearsal as it is read: golden texts of the whole, and its parts against `--json`."""

from __future__ import annotations

from pathlib import Path

import pytest
from rich.cells import cell_len

from tests.reports.plans import SMALL, said, write
from tests.screen.golden_text import same

GOLDEN = Path(__file__).parent / "golden"


@pytest.mark.parametrize(
    ("name", "arguments"), [("small", ()), ("small-at-1830", ("--at", "18:30"))]
)
def test_the_whole_of_a_small_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, arguments: tuple[str, ...]
) -> None:
    out, err = said(capsys, tmp_path, write(tmp_path), "--session", "A", *arguments)
    assert err == ""
    same(name, out.splitlines(), GOLDEN)


@pytest.mark.parametrize(
    "arguments",
    [("demo",), *(("kestrel-hut", "--session", session, "--at", "23:59:30") for session in "ABC")],
)
def test_nothing_is_wider_than_eighty_columns_in_a_pipe(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]
) -> None:
    out, _ = said(capsys, tmp_path, *arguments)
    assert max(cell_len(line) for line in out.splitlines()) <= 80
    if len(arguments) > 1:
        assert "\n00:0" in out  # past midnight the clock begins again


def test_a_plan_s_names_drive_no_terminal_and_keep_the_columns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hostile = "[red]\u2029 \u200f<b>&雪雪雪雪雪雪雪雪雪雪雪雪雪雪雪雪雪"
    cleaned = hostile.replace("\u2029", "")  # the plan's reader refuses it
    path = write(tmp_path, SMALL, ('name = "Press"', f'name = "{cleaned}"'))
    out, _ = said(capsys, tmp_path, path, "--session", "A")
    assert "\u200f" not in out
    lines = out.splitlines()
    assert max(cell_len(line) for line in lines) <= 80
    # A name of wide characters is cut to its room, and what stands behind it stays in its column.
    first = next(line for line in lines if "[red]" in line and "get ready" in line)
    other = next(line for line in lines if "Rucksack row" in line and " 1 left " in line)
    assert cell_len(first.rpartition("  0:20")[0]) == cell_len(other.rpartition("  0:20")[0])
