"""Records that a test leaves open are closed after it, as when a program is gone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from runner.live import session_setup
from runner.record.record import Record


@pytest.fixture(autouse=True)
def nothing_left_open(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Close what `prepare` has opened."""
    opened: list[Record] = []

    class Kept(Record):
        """A record that is closed in the end."""

        def __init__(self, *given: object) -> None:
            super().__init__(*given)  # type: ignore[arg-type]
            opened.append(self)

    monkeypatch.setattr(session_setup, "Record", Kept)
    yield
    for record in opened:
        record.close()
