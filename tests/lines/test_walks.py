"""Whatever is typed in line mode, the record gives the session again."""

from __future__ import annotations

import pytest

from tests.lines.walks import walk_all

PART = 300  # `python -m tests.lines.walks 20000` takes a quarter of an hour


def test_random_walks_replay_to_what_is_on_file() -> None:
    assert walk_all(range(60)) == 60


@pytest.mark.slow
@pytest.mark.parametrize("first", [100, 400, 700, 1000])
def test_many_random_walks(first: int) -> None:
    assert walk_all(range(first, first + PART)) == PART
