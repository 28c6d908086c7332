"""Records that cannot be written do not stop a session; those that are not ours do."""

from __future__ import annotations

import csv
import signal
import sqlite3
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path

import pytest

from tests.lines.process import DEADLINE, ROOT, Line, Session, matside, session

EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"


def rescued(places: list[Path]) -> list[Path]:
    return [file for place in places for file in place.glob("matside-*.csv")]


def test_a_data_directory_that_is_a_file(tmp_path: Path) -> None:
    data, here = tmp_path / "data", tmp_path / "here"
    data.write_text("not a directory")
    here.mkdir()
    with session(EVERY_KEY, data, "--yes", cwd=here) as live:
        live.said("THE RECORD CANNOT BE WRITTEN")
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


@contextmanager
def locked(path: Path, how: str = "EXCLUSIVE") -> Iterator[sqlite3.Connection]:
    """Another program has the file to itself, until it rolls back."""
    with closing(sqlite3.connect(path, isolation_level=None, timeout=DEADLINE)) as other:
        other.execute(f"BEGIN {how}")
        yield other


def seconds(line: Line) -> float:
    return datetime.fromisoformat(line.utc).timestamp()


def into_a_set(live: Session) -> Line:
    live.send()
    live.event("begun")
    live.send()
    live.event("resting")
    live.send("go")
    return live.event("started")


def kinds(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return [name for (name,) in connection.execute("SELECT name FROM event ORDER BY seq")]


def test_input_is_dated_as_it_arrives_and_kept_by_time(tmp_path: Path) -> None:
    """A lock delays no key, and what it kept out is on file without another event."""
    with session(EVERY_KEY, tmp_path, "--yes") as live:
        into_a_set(live)
        with locked(tmp_path / "trial.db") as other:
            sent = time.time()
            live.send("note while it is locked\n\n12")
            noted, ended, entered = (
                live.event(n, kept="no") for n in ("noted", "ended", "entered")
            )
            told = time.time()
            other.execute("ROLLBACK")
        assert told - sent > 1.9  # not before it has been tried for so long
        assert all(seconds(line) - sent > -0.1 for line in (noted, ended, entered))
        assert all(told - seconds(line) > 1 for line in (noted, ended, entered))
        live.said("Kept now: ")
        assert kinds(tmp_path / "trial.db")[-3:] == ["ended", "resting", "entered"]
        live.send("end")
        assert "kept" not in live.event("closed").pairs
        assert live.wait() == 0
        assert [line.name for line in live.lines] == kinds(tmp_path / "trial.db")
    assert sum("Kept now: " in line for line in live.err.seen) == 1


def test_an_answer_to_advice_waits_for_a_lock_and_nobody_waits_for_the_answer(
    tmp_path: Path,
) -> None:
    """The thread that writes keeps answers too: what became of one is said once it is known."""
    with session(EVERY_KEY, tmp_path, "--yes") as live:
        into_a_set(live)
        live.send()
        live.send("41")
        live.event("entered")
        live.send("drop")
        live.event("dropped", exercise="row")
        live.send("skip")
        assert live.event("skipped").pairs["phase"] == "wrap-up"
        with locked(tmp_path / "trial.db", "IMMEDIATE") as other:
            live.send("accept 1")
            live.send("zz")
            live.said("not used: 'zz'")
            said = [line for line in live.err.seen if "accepted" in line or "NOT KEPT" in line]
            assert not said  # nobody knows yet
            live.said("NOT KEPT: ")
            other.execute("ROLLBACK")
        live.said("Standing band press: accepted, the first set with mark-2, anchor 120 cm")
        live.send("advice")
        live.said("first set: mark-2, anchor 120 cm")
        live.send("end")
        assert live.wait() == 0
    with closing(sqlite3.connect(tmp_path / "trial.db")) as connection:
        assert connection.execute("SELECT count(*) FROM answer").fetchone() == (1,)


def test_a_lock_of_a_second_is_not_noticed(tmp_path: Path) -> None:
    with session(EVERY_KEY, tmp_path, "--yes") as live:
        into_a_set(live)
        with locked(tmp_path / "trial.db") as other:
            live.send("note while it is locked")
            live.send("zz")
            live.said("not used: 'zz'")  # dealt with, and not told before it is kept
            live.out.silent(0.5)
            other.execute("ROLLBACK")
        assert "kept" not in live.event("noted").pairs
        live.send("end")
        assert live.wait() == 0
    assert not any("KEPT" in line or "Kept" in line for line in live.err.seen)


@pytest.mark.parametrize("freed", [True, False])
def test_the_close_waits_for_the_last_events(tmp_path: Path, freed: bool) -> None:  # noqa: FBT001
    data, here = tmp_path / "data", tmp_path / "here"
    here.mkdir()
    with session(EVERY_KEY, data, "--yes", cwd=here) as live:
        into_a_set(live)
        with locked(data / "trial.db") as other:
            live.send("end")
            live.send("zz")
            if freed:
                live.out.silent(0.5)
                other.execute("ROLLBACK")
            assert live.wait() == (0 if freed else 74)
    assert kinds(data / "trial.db")[-1] == ("closed" if freed else "started")
    assert live.lines[-1].name == "closed"
    assert live.lines[-1].pairs.get("kept") == (None if freed else "no")
    assert bool(rescued([data, here])) is not freed


@pytest.mark.parametrize("freed", [True, False])
def test_a_signal_while_a_commit_waits(tmp_path: Path, freed: bool) -> None:  # noqa: FBT001
    data, here = tmp_path / "data", tmp_path / "here"
    here.mkdir()
    with session(EVERY_KEY, data, "--yes", cwd=here) as live:
        into_a_set(live)
        with locked(data / "trial.db") as other:
            live.send()
            live.send("zz")
            live.said("not used: 'zz'")
            live.process.send_signal(signal.SIGTERM)
            if freed:
                live.out.silent(0.3)
                other.execute("ROLLBACK")
            assert live.wait() == 143
    ended = next(line for line in live.lines if line.name == "ended")
    assert ended.pairs.get("kept") == (None if freed else "no")
    assert ("ended" in kinds(data / "trial.db")) is freed
    assert any("NOT KEPT" in line for line in live.err.seen) is not freed
    assert bool(rescued([data, here])) is not freed
    assert "Traceback" not in "\n".join(live.err.seen)


def done_before(data: Path) -> None:
    """A closed session with a count to beat."""
    with session(EVERY_KEY, data, "--yes") as live:
        into_a_set(live)
        live.send()
        live.send("9")
        live.event("entered")
        live.send("end")
        assert live.wait() == 0


def row(data: Path) -> dict[str, str]:
    """The last row of the record."""
    done = matside("export", "--trial", "--data", str(data))
    return list(csv.DictReader(done.stdout.splitlines()))[-1]


def one_set(live: Session) -> None:
    into_a_set(live)
    live.send()
    live.send("12")
    live.event("entered")
    live.send("end")
    live.event("closed")


def test_a_lock_while_the_session_opens_is_waited_for(tmp_path: Path) -> None:
    """On the ready screen, with the history, once it can be read."""
    done_before(tmp_path)
    with locked(tmp_path / "trial.db") as other, session(EVERY_KEY, tmp_path, "--yes") as live:
        live.said("matside tries again until you start")
        live.said("An empty line starts the session")
        other.execute("ROLLBACK")
        live.said("The record can be read now.")
        live.said("An empty line starts the session")
        assert live.event("opened").pairs.get("kept") is None
        one_set(live)
        assert live.wait() == 0
        assert [line.name for line in live.lines].count("opened") == 1
        assert not any("is new here" in line for line in live.err.seen)
    assert (row(tmp_path)["to_beat"], row(tmp_path)["today_only"]) == ("9", "")
    with closing(sqlite3.connect(tmp_path / "trial.db")) as connection:
        assert connection.execute("SELECT count(*) FROM session").fetchone() == (2,)


def test_begun_before_the_record_can_be_read_it_counts_for_today(tmp_path: Path) -> None:
    done_before(tmp_path)
    with locked(tmp_path / "trial.db") as other, session(EVERY_KEY, tmp_path, "--yes") as live:
        live.said("has no counts to beat and its levels count for today only")
        live.said("An empty line starts the session")
        live.send()
        assert live.event("opened").pairs.get("kept") == "no"
        assert live.event("begun").pairs.get("kept") == "no"
        other.execute("ROLLBACK")
        live.said("Kept now: ")
        live.send()
        live.event("resting")
        live.send("go")
        live.event("started")
        live.send()
        live.send("12")
        live.event("entered")
        live.send("end")
        assert live.wait() == 0
        said = live.err.rest()
    assert "Past: unknown: the record could not be read before the session began" in said
    assert not any(line.startswith(("To beat:", "Week:")) for line in said)
    assert (row(tmp_path)["to_beat"], row(tmp_path)["today_only"]) == ("", "yes")


def test_a_locked_record_is_not_resumed_blindly(tmp_path: Path) -> None:
    done_before(tmp_path)
    with locked(tmp_path / "trial.db"):
        plan, data = str(EVERY_KEY), str(tmp_path)
        done = matside("run", plan, "--plain", "--mute", "--resume", "--for", "Ada", "--data", data)
    assert done.returncode == 74
    assert "locked" in done.stderr
    assert "Traceback" not in done.stderr


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


def test_five_first_starts_at_once_keep_every_session(tmp_path: Path) -> None:
    """Nothing is there yet, and each finds what another has just made."""
    with ThreadPoolExecutor(5) as pool:
        ends = pool.map(
            lambda n: matside(
                "run", "demo", "--plain", "--mute", "--data", str(tmp_path / "d"), "--for", f"G {n}"
            ),
            range(5),
        )
        assert [(done.returncode, "KEPT" in done.stderr) for done in ends] == [(0, False)] * 5
    with closing(sqlite3.connect(tmp_path / "d" / "trial.db")) as connection:
        found = connection.execute("SELECT count(*), count(DISTINCT trainee) FROM session")
        assert found.fetchone() == (5, 5)


def test_a_session_that_is_running_is_not_imported(tmp_path: Path) -> None:
    """Its rows from a file would end it under the hands of the person."""
    data, file = tmp_path / "data", tmp_path / "rows.csv"
    arguments = ("--trial", "--data", str(data))
    with session(EVERY_KEY, data, "--yes") as live:
        into_a_set(live)
        live.send()
        live.send("9")
        live.event("entered")
        assert matside("export", *arguments, "-o", str(file)).returncode == 0
        refused = matside("import", str(file), "--yes", *arguments)
        assert refused.returncode == 66
        assert "is running in another terminal; import the file when it has ended" in refused.stderr
        live.send("8")  # still kept
        live.send("end")
        assert live.wait() == 0
    assert matside("import", str(file), "--yes", *arguments).returncode == 0
