"""How a session in line mode ends or is cut off, and how it continues: in a process of its own."""

from __future__ import annotations

import shlex
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from tests.lines.process import ROOT, Session, environment, matside, session

EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"


def begin(live: Session) -> None:
    """Start the first set."""
    live.send()
    live.event("begun")
    live.send()
    live.event("resting")
    live.send("go")
    live.event("started", entry="1")


def numbers(data: Path) -> dict[str, list[int]]:
    """The numbers of the events on file, by session."""
    found: dict[str, list[int]] = {}
    with closing(sqlite3.connect(data / "trial.db")) as connection:
        rows = connection.execute(
            "SELECT session.id, seq FROM event JOIN session ON event.session = session.key "
            "ORDER BY session.key, seq"
        )
        for name, seq in rows:
            found.setdefault(name, []).append(seq)
    connection.close()
    return found


@pytest.mark.parametrize(
    ("number", "code"),
    [(signal.SIGTERM, 143), (signal.SIGINT, 130), (signal.SIGHUP, 129)],
)
def test_a_signal_leaves_the_session_open_and_the_next_start_says_so(
    tmp_path: Path, number: signal.Signals, code: int
) -> None:
    with session(EVERY_KEY, tmp_path, "--yes") as cut:
        begin(cut)
        assert cut.kill(number) == code
        assert not [line for line in cut.lines if line.name == "closed"]
        assert "Traceback" not in "\n".join(cut.err.seen)
        said = next(line for line in cut.err.seen if " stays open. Continue it with: " in line)
    assert "matside: the session started " in said
    command = shlex.split(said.partition("Continue it with: ")[2])
    assert command == ["matside", "run", str(EVERY_KEY), "--for", "Ada", "--data", str(tmp_path),
                       "--resume"]  # fmt: skip
    with session(EVERY_KEY, tmp_path, "--yes") as afresh:
        afresh.said("was cut off and stays open; this is a new one (--resume continues")
        afresh.event("opened")
        assert afresh.end() == 0
    assert len(numbers(tmp_path)) == 2


def test_nohup_is_honoured(tmp_path: Path) -> None:
    """A signal that is ignored at the start stays so."""
    with session(EVERY_KEY, tmp_path, "--yes", by=("nohup",)) as live:
        begin(live)
        live.process.send_signal(signal.SIGHUP)
        live.send("note still here")
        live.event("noted")
        live.send("end")
        assert live.wait() == 0


def test_a_signal_before_anything_is_on_file_promises_nothing(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.write_text("not a directory")
    with session(EVERY_KEY, data, "--yes", cwd=tmp_path) as live:
        live.event("opened")
        assert live.kill(signal.SIGTERM) == 143
        assert not any("stays open" in line for line in live.err.seen)
        assert any("NOT KEPT" in line for line in live.err.seen)


def test_a_terminal_that_is_gone_leaves_the_code_alone(tmp_path: Path) -> None:
    """Python itself ends with 120 where it cannot flush at the end."""
    code = (
        "import os, sys\n"
        "from runner.cli import main as m, run\n"
        "def gone(args):\n"
        "    sys.stdout.write('x'); os.dup2(os.open('/dev/full', os.O_WRONLY), 1)\n"
        "    return 129\n"
        "run.main = gone\n"
        "sys.exit(m.main(['run', 'demo']))\n"
    )
    environ = environment(PYTHONUNBUFFERED="")
    done = subprocess.run([sys.executable, "-c", code], env=environ, check=False, cwd=ROOT)
    assert done.returncode == 129


def test_a_session_that_is_running_is_no_session_cut_off(tmp_path: Path) -> None:
    """Only a session that was cut off is offered; nobody can take over a running one."""
    with session(EVERY_KEY, tmp_path, "--yes") as cut:
        first = cut.event("opened").pairs["session"]
        cut.kill(signal.SIGKILL)
    with session(EVERY_KEY, tmp_path, "--resume", "--yes") as live:
        live.event("resumed")
        with session(EVERY_KEY, tmp_path, "--resume") as taking:
            assert taking.wait() == 66
            assert taking.out.seen == []
            assert "is running in another terminal" in taking.err.seen[-1]
        with session(EVERY_KEY, tmp_path, "--yes") as beside:
            beside.said("is running in another terminal")
            assert not any("cut off" in line for line in beside.err.seen)
            assert beside.event("opened").pairs["session"] != first
            live.send("note both are kept")
            live.event("noted")
            assert beside.end() == 0
        live.kill(signal.SIGKILL)
    with session(EVERY_KEY, tmp_path, "--resume", "--yes") as again:
        again.event("resumed")
        assert again.end() == 0
    assert numbers(tmp_path)[first] == list(range(1, len(numbers(tmp_path)[first]) + 1))


def test_resume_goes_on_without_a_gap(tmp_path: Path) -> None:
    with session(EVERY_KEY, tmp_path, "--yes") as cut:
        opened = cut.event("opened")
        begin(cut)
        cut.kill(signal.SIGKILL)
    with session(EVERY_KEY, tmp_path, "--resume") as live:
        ended = live.event("ended", entry="1", by="clock")
        assert "work_s" not in ended.pairs  # nobody knows how long the set was
        live.event("resumed", why="return")
        live.send("12")
        entered = live.event("entered", reps="12")
        assert entered.pairs["entry"] == "1"
        live.send("end")
        live.event("closed", complete="no")
        assert live.end() == 0
        printed = len(live.lines)
    found = numbers(tmp_path)
    assert list(found) == [opened.pairs["session"]]
    seqs = found[opened.pairs["session"]]
    assert seqs == list(range(1, len(seqs) + 1))
    assert len(seqs) == printed + 5  # opened, begun, resting, asked, started came before


def test_a_closed_session_is_not_offered_nor_resumed(tmp_path: Path) -> None:
    with session(EVERY_KEY, tmp_path, "--yes") as done:
        done.event("opened")
        assert done.end() == 0
        closed = done.lines[-1]
        assert closed.pairs == {"phase": "closed", "complete": "no", "by": "end of input"}
    with session(EVERY_KEY, tmp_path, "--resume") as none:
        assert none.wait() == 66
        assert none.out.seen == []
        assert none.err.seen == [
            "matside: Ada has no cut-off session of 'Kestrel Hut, morning'; leave --resume out to "
            "start a new one"
        ]


def test_fresh_leaves_the_open_one_and_asks_nobody(tmp_path: Path) -> None:
    with session(EVERY_KEY, tmp_path, "--yes") as cut:
        cut.event("opened")
        cut.kill(signal.SIGTERM)
    with session(EVERY_KEY, tmp_path, "--fresh", "--yes") as afresh:
        afresh.event("opened")
        assert afresh.end() == 0
        assert not [line for line in afresh.err.seen if "cut off" in line]
    with session(EVERY_KEY, tmp_path, "--resume", "--yes") as back:
        assert back.event("resumed").pairs["why"] == "return"
        assert back.end() == 0


def test_end_of_input_closes_and_names_the_rehearsal(tmp_path: Path) -> None:
    with session("demo", tmp_path, "--yes") as live:
        assert live.end() == 0
        assert [line.name for line in live.lines] == ["opened", "closed"]
        assert live.err.seen[-1].endswith("matside rehearse demo shows the whole timeline")


def test_a_line_without_its_end_counts(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "runner", "run", "demo", "--plain", "--mute", "--yes"],
        input="note the last words",
        capture_output=True,
        text=True,
        check=False,
        env=environment(MATSIDE_DATA=str(tmp_path)),
    )
    assert done.returncode == 0
    assert "note=the last words" in done.stdout


def test_a_line_of_any_length_is_one_line(tmp_path: Path) -> None:
    """The rest of an overlong line is not read as further lines."""
    with session(EVERY_KEY, tmp_path, "--yes") as live:
        begin(live)
        for length in (4089, 4090, 4091, 4096, 8187, 100_000):
            live.send("note " + "x" * length)
        live.send("note short")
        live.event("noted", note="short")
        assert live.end() == 0
        ended = [line for line in live.lines if line.name == "ended"]
        assert not ended
        refused = [line for line in live.err.seen if line.startswith("not used: ")]
        noted = [line for line in live.lines if line.name == "noted"]
        assert len(noted) + len(refused) == 7
        assert len(refused) == 4


def test_a_closed_pipe_is_no_fault(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "runner", "run", "demo", "--plain", "--mute", "--yes"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(MATSIDE_DATA=str(tmp_path)),
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stderr is not None
        assert "opened" in process.stdout.readline()
        process.stdout.close()
        process.stdin.write("\n")
        process.stdin.flush()
        assert process.wait(20) == 0
        assert "Traceback" not in process.stderr.read()
        process.stdin.close()


def test_signs_that_the_encoding_lacks_end_nothing(tmp_path: Path) -> None:
    with session(
        EVERY_KEY, tmp_path, "--yes", PYTHONUTF8="0", PYTHONIOENCODING="ascii", LC_ALL="C"
    ) as live:
        live.send("note H\u00fctte")
        assert live.event("noted").pairs["note"] == "H\\xfctte"
        assert live.end() == 0


@pytest.mark.slow
def test_a_process_that_was_stopped_pauses(tmp_path: Path) -> None:
    """SIGSTOP in the rest, for longer than it lasts: nobody could have heard the set begin."""
    with session(EVERY_KEY, tmp_path, "--yes") as live:
        live.send()
        live.event("begun")
        live.send()
        resting = live.event("resting")
        live.process.send_signal(signal.SIGSTOP)
        live.out.silent(12.0)
        live.process.send_signal(signal.SIGCONT)
        paused = live.event("paused", why="suspend")
        assert paused.utc < resting.pairs["until"]
        live.send()
        live.event("resumed")
        live.event("started", by="clock")
        assert [line.name for line in live.lines].count("started") == 1


def test_no_input_at_all(tmp_path: Path) -> None:
    """A stdin closed before the start is the end of input."""
    done = subprocess.run(
        ["sh", "-c", 'exec "$0" -m runner run demo --plain --mute --yes <&-', sys.executable],
        capture_output=True,
        text=True,
        check=False,
        env=environment(MATSIDE_DATA=str(tmp_path)),
    )
    assert done.returncode == 0
    assert [x.split("\t")[1] for x in done.stdout.splitlines()] == ["opened", "closed"]


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("demo", "--session", "Z"), 66, "Z"),
        (("demmo",), 66, "demo"),
        (("./nowhere.toml",), 66, "nowhere.toml"),
        (("demo", "--for", " "), 2, "--for"),
        (("demo", "--resume", "--fresh"), 2, "not allowed with"),
        ((".",), 65, "directory"),
    ],
)
def test_what_cannot_begin(
    tmp_path: Path, arguments: tuple[str, ...], code: int, says: str
) -> None:
    done = matside("run", *arguments, "--plain", "--mute", "--data", str(tmp_path / "d"))
    assert done.returncode == code
    assert done.stdout == ""
    assert says in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("term", "says"),
    [
        ("dumb", "matside: TERM is dumb: no full screen, so matside uses line mode"),
        ("xterm", "matside: no terminal: no full screen, so matside uses line mode"),
    ],
)
def test_without_a_terminal_it_goes_on_in_line_mode(tmp_path: Path, term: str, says: str) -> None:
    done = matside("run", "demo", "--mute", "--data", str(tmp_path), TERM=term)
    assert done.returncode == 0
    assert done.stderr.splitlines().count(says) == 1
    assert [x.split("\t")[1] for x in done.stdout.splitlines()] == ["opened", "closed"]
    assert "textual" not in done.stderr
