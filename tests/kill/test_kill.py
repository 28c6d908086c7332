"""A few kills, slow a tenth of `python -m tests.kill`; and that its checks can fail."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.kill.__main__ import Kill, kill_many
from tests.kill.line import DATABASE, kill_one, kill_one_locked
from tests.kill.terminal import kill_one_screen
from tests.kill.twin import differences, left

TENTH = [(kill_one, 20), (kill_one_locked, 10), (kill_one_screen, 4)]
FEW = [(kill_one, 4), (kill_one_locked, 2), (kill_one_screen, 1)]


@pytest.mark.parametrize(
    ("kill", "number"),
    [*FEW, *(pytest.param(*one, marks=pytest.mark.slow) for one in TENTH)],
)
def test_what_was_acknowledged_outlives_a_kill(
    kill: Kill, number: int, record_property: pytest.RecordProperty
) -> None:
    outcomes = kill_many(kill, number, seed=2, at_once=2)
    assert [fault for outcome in outcomes for fault in outcome.faults] == []
    acknowledged = sum(outcome.acknowledged for outcome in outcomes)
    record_property("acknowledged", acknowledged)
    assert acknowledged > 0


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What a session left that was killed after some events."""
    for seed in range(2, 9):
        folder = tmp_path_factory.mktemp("killed")
        if kill_one(seed, folder).on_file > 12:
            break
    return folder


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        ("DELETE FROM event WHERE seq = 3", "not numbered"),
        ("UPDATE event SET at = at + 1 WHERE seq = (SELECT max(seq) FROM event)", "twin"),
        ("UPDATE set_row SET exercise = 'press', \"set\" = 1, side = 'both'", "twice"),
        ("DELETE FROM set_row WHERE entry = 1", "sets differ"),
    ],
)
def test_what_is_lost_or_doubled_is_found(
    tmp_path: Path, killed: Path, spoil: str, said: str
) -> None:
    folder = tmp_path / "killed"
    shutil.copytree(killed, folder)
    database = folder / "data" / DATABASE
    with closing(sqlite3.connect(database)) as connection, connection:
        connection.execute(spoil)
    assert left(database) is not None
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    found = differences(folder / "data", scratch, folder / "hurry.toml", DATABASE, [])
    assert any(said in fault for fault in found), found
