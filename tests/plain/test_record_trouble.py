"""Records that cannot be written do not stop a session; those that are not ours do."""

from __future__ import annotations

import csv
import sqlite3
from pathlib import Path

import pytest

from tests.plain.process import ROOT, matside, session

EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"


def rescued(places: list[Path]) -> list[Path]:
    return [file for place in places for file in place.glob("matside-*.csv")]


def test_a_data_directory_that_is_a_file(tmp_path: Path) -> None:
    data, here = tmp_path / "data", tmp_path / "here"
    data.write_text("not a directory")
    here.mkdir()
    with session(EVERY_KEY, data, "--yes", cwd=here) as live:
        live.said("NOTHING CAN BE KEPT")
        live.send()
        live.event("begun", kept="no")
        live.send()
        live.event("resting", kept="no")
        live.send("go")
        live.event("started", kept="no")
        live.send()
        live.send("12")
        live.event("entered", kept="no")
        live.send("end")
        assert live.wait() == 74
        assert all(line.pairs["kept"] == "no" for line in live.lines)
        files = rescued([here])
        assert len(files) == 1
        assert f"this session's CSV is in {files[0]}" in live.err.seen[-1]
        assert any("NOT KEPT in the record" in line for line in live.err.seen[-3:])
    with files[0].open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(r["exercise"], r["reps"], r["status"]) for r in rows] == [("press", "12", "done")]
    assert files[0].stat().st_mode & 0o077 == 0
    assert data.read_text() == "not a directory"


def test_a_record_locked_in_mid_session_is_caught_up_with(tmp_path: Path) -> None:
    """Another program holds the file for a while: lines say so, nothing is lost."""
    with session(EVERY_KEY, tmp_path, "--yes") as live:
        live.event("opened")
        other = sqlite3.connect(tmp_path / "trial.db", isolation_level=None)
        other.execute("BEGIN EXCLUSIVE")
        live.send("note while it is locked")
        assert live.event("noted").pairs["kept"] == "no"
        live.said("NOT KEPT")
        other.execute("ROLLBACK")
        live.send("note afterwards")
        assert "kept" not in live.event("noted").pairs
        live.send("end")
        assert live.wait() == 0
        names = [name for (name,) in other.execute("SELECT name FROM event ORDER BY seq")]
        other.close()
    assert names == ["opened", "noted", "noted", "closed"]


def _foreign(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE pantry (tin TEXT)")
    connection.close()


def _newer(path: Path) -> None:
    matside("run", str(EVERY_KEY), "--plain", "--mute", "--data", str(path.parent))
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA user_version = 9999")
    connection.close()


def _text(path: Path) -> None:
    path.write_text("tins: beans, peas\n" * 100)


def _folder(path: Path) -> None:
    path.mkdir()


@pytest.mark.parametrize("spoil", [_foreign, _newer, _text, _folder])
def test_a_record_that_is_not_ours_stops_it_before_it_starts(tmp_path: Path, spoil: object) -> None:
    assert callable(spoil)
    path = tmp_path / "trial.db"
    spoil(path)
    before = path.read_bytes() if path.is_file() else b""
    done = matside("run", str(EVERY_KEY), "--plain", "--mute", "--data", str(tmp_path))
    assert done.returncode == 65
    assert done.stdout == ""
    assert str(path) in done.stderr
    assert "--data" in done.stderr
    assert "Traceback" not in done.stderr
    assert (path.read_bytes() if path.is_file() else b"") == before
