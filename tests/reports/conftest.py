"""A record with some weeks of a made-up past in it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from runner.record.record import Record
from runner.reports.past import Past, look_back

from .winter import some_weeks


@pytest.fixture(scope="session")
def record() -> Iterator[Record]:
    with Record.in_memory() as opened:
        some_weeks(opened)
        yield opened


@pytest.fixture(scope="session")
def past(record: Record) -> Past:
    found = look_back(record, "Ada")
    assert found is not None
    return found
