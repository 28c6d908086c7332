"""Whatever is typed in line mode, the record gives the session again."""

from __future__ import annotations

import pytest

from tests.lines.walks import walk_all

MANY = 2_000  # `python -m tests.lines.walks 20000` takes a quarter of an hour


def test_random_walks_replay_to_what_is_on_file() -> None:
    assert walk_all(range(60)) == 60


@pytest.mark.slow
def test_many_random_walks() -> None:
    assert walk_all(range(MANY)) == MANY
