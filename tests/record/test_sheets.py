"""Ids of sheets: one for each page, the same for the same page, erased with the person."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from runner.progress.adjust import Adjustment
from runner.progress.history import Use
from runner.record.erase import forget
from runner.record.record import Record
from runner.record.sheets import LENGTH, LETTERS, Sheet

MADE = datetime(2026, 11, 27, 6, 30, tzinfo=UTC)
PAGE = Sheet("Ada", "Kestrel Hut", "title = 1", "A", {("row", ""): Use("light", "", 12.0)})


def test_a_page_is_found_again_by_its_id(path: Path) -> None:
    changed = Adjustment("sets", "row", number=1.0)
    page = Sheet(PAGE.trainee, PAGE.plan, PAGE.plan_text, "B", PAGE.levels, (changed,))
    with Record.open(path) as record:
        record.keep_sheets([PAGE, page], MADE)
        record.keep_sheets([PAGE], MADE)  # made again: nothing new
        assert record.sheet(PAGE.id) == PAGE
        assert record.sheet(f" {page.id.upper()} ") == page  # as somebody types it
        assert record.sheet("222222") is None
        assert record.integrity() == "ok"


def test_an_id_is_short_and_stands_for_one_page() -> None:
    others = [
        Sheet("Ben", PAGE.plan, PAGE.plan_text, "A", PAGE.levels),
        Sheet("Ada", PAGE.plan, PAGE.plan_text, "B", PAGE.levels),
        Sheet("Ada", PAGE.plan, "title = 2", "A", PAGE.levels),
        Sheet("Ada", PAGE.plan, PAGE.plan_text, "A", {("row", ""): Use("light", "", 14.0)}),
        Sheet("Ada", PAGE.plan, PAGE.plan_text, "A", PAGE.levels, (Adjustment("share"),)),
    ]
    ids = {one.id for one in (PAGE, *others)}
    assert len(ids) == 6
    assert all(len(one) == LENGTH and set(one) <= set(LETTERS) for one in ids)


@pytest.mark.parametrize("name", ["Ada", "Ben"])
def test_a_page_is_erased_with_its_person_alone(path: Path, name: str) -> None:
    with Record.open(path) as record:
        record.keep_sheets([PAGE, Sheet("Ben", "Hut", "title = 3", "A", {})], MADE)
    forget(path, name)
    assert name.encode() not in path.read_bytes()
    with Record.open(path) as record:
        assert (record.sheet(PAGE.id) is None) == (name == "Ada")
        assert record.integrity() == "ok"
