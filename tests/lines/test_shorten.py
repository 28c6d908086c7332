"""`shorten` in line mode: what is left out is said, printed and taken back as one act."""

from __future__ import annotations

from pathlib import Path

from runner.output import record_path
from runner.record.record import Record
from tests.lines.manual import Ran, run, script


def play(data: Path, *lines: str, session: str = "A") -> Ran:
    return run("kestrel-hut", data, script(*lines), session=session)


def test_shorten_leaves_out_and_says_what(tmp_path: Path) -> None:
    ran = play(tmp_path, "", "", "shorten 35m")
    skipped = ran.events("skipped")
    assert skipped
    assert {line.pairs["why"] for line in skipped} == {"short of time"}
    assert {line.pairs["given_up"] for line in skipped} == {"no"}
    assert "without:" in ran.err
    assert "  Rucksack curl: 1 of 2 sets to come" in ran.err
    assert "CURL 1, TRICEPS 1" in ran.err
    assert "undo takes it back" in ran.err
    one_sided = [line.pairs["side"] for line in skipped if line.pairs["exercise"] == "calf-raise"]
    assert sorted(set(one_sided)) == ["left", "right"]


def test_undo_takes_all_of_it_back(tmp_path: Path) -> None:
    ran = play(tmp_path, "", "", "shorten 35m", "undo")
    (undone,) = ran.events("undone")
    assert undone.pairs["what"] == "skipped"
    assert not ran.live.driver.state.rows


def test_what_cannot_be_used(tmp_path: Path) -> None:
    ran = play(tmp_path, "shorten soon", "shorten 0m", "shorten 25:00", "shorten 2m", "shorten")
    assert not ran.events("skipped")
    told = [line for line in ran.err.splitlines() if line.startswith("not used")]
    assert ["write minutes" in line for line in told] == [True, True, True, False, False]
    assert "the session does not fit into 2:00: it ends at the earliest in " in told[3]
    assert "the session ends in time anyway" in told[4]


def test_a_session_that_runs_late_is_told_once(tmp_path: Path) -> None:
    ran = play(tmp_path, "", "", "pause", *["note waiting"] * 600, "", "note on", "shorten")
    late = [line for line in ran.err.splitlines() if "longer than at its begin" in line]
    assert len(late) == 1
    assert "shorten leaves out sets" in late[0]
    assert ran.events("skipped")


def test_an_offer_brings_the_sets_left_out_back(tmp_path: Path) -> None:
    ran = play(tmp_path, "shorten 35m", "place", "shorten 35m", "", "skip")
    undone, adjusted = ran.events("undone"), ran.events("adjusted")
    assert [line.pairs["what"] for line in undone] == ["skipped"]
    assert [line.pairs["taken"] for line in adjusted] == ["place"]
    assert ran.events("skipped")[-1].pairs["why"] == "asked"
    assert ran.code == 0


def test_rows_on_file_follow_an_offer(tmp_path: Path) -> None:
    """Level finding aims at another reserve, and its rows say so."""
    ran = play(tmp_path, "shorten 35m", "place", "shorten 35m")
    rows = ran.live.rows()
    with Record.open(record_path(tmp_path, trial=False)) as record:
        assert record.session_rows(ran.live.info.id) == rows
    assert {row.reserve_aimed for row in rows} == {3}  # the plan says 2
