"""Records in folders that end with the test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from runner.record.record import Record


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "record.db"


@pytest.fixture
def record() -> Iterator[Record]:
    """In memory: the same code, without waiting for the disk at every event."""
    with Record.in_memory() as opened:
        yield opened


@pytest.fixture
def kept(path: Path) -> Iterator[Record]:
    with Record.open(path) as opened:
        yield opened
