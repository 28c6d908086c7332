"""A few runs of `python -m tests.faults`, slow a tenth; and that its checks can fail."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.faults.every import FAULTS
from tests.faults.frame import Fault, Outcome, Skipped, find
from tests.faults.hand import hand, judge


def nothing_is_lost(fault: Fault, runs: int) -> None:
    found = find(fault, runs, seed=2)
    if found.skipped:
        pytest.skip(found.skipped)
    assert found.lost == []
    assert len(found.outcomes) == runs


# The others stand in the suite already: in tests/lines, tests/screen and tests/sound.
@pytest.mark.parametrize("fault", [f for f in FAULTS if f.few], ids=lambda fault: fault.name)
def test_nothing_is_lost(fault: Fault) -> None:
    nothing_is_lost(fault, fault.few)


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_nothing_is_lost_in_a_tenth_of_the_runs(fault: Fault) -> None:
    nothing_is_lost(fault, max(fault.few, round(fault.full / 10)))


def test_what_is_lost_is_told(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with hand(1, tmp_path, data) as one:
        one.go_on(8)
        code = one.end()
    record = data / "record.db"
    assert judge(one, code, record).lost == []
    with closing(sqlite3.connect(record)) as connection, connection:
        connection.execute("DELETE FROM event WHERE seq = 3")
    assert any("not on file" in text for text in judge(one, code, record).lost)
    assert any("numbered" in text for text in judge(one, code, record).lost)


def test_a_run_that_breaks_off_counts_as_lost_and_a_skip_says_why() -> None:
    def breaks(seed: int, folder: Path) -> Outcome:
        raise ValueError("broken off")

    def wants_more(seed: int, folder: Path) -> Outcome:
        raise Skipped("root alone may do that")

    broken = find(Fault("one", "nothing", breaks, 3, 1), 3)
    assert len(broken.lost) == 3
    assert "lost: 3" in broken.line()
    assert "SKIPPED: root alone may do that" in find(Fault("two", "", wants_more, 3, 1), 3).line()
