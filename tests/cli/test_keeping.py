"""backup, restore, import, forget: what they say and what they leave alone."""

from __future__ import annotations

import csv
import io
import shutil
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from contextlib import closing
from datetime import date
from pathlib import Path

import pexpect
import pytest

from runner.cli.main import main
from runner.progress.answers import Answer
from runner.record.csvfile import write_csv
from runner.record.record import Record
from runner.session import verb as cmd
from tests.lines.process import ROOT, environment
from tests.record.hut import Sitting, later, morning


def sat(path: Path, *names: str) -> None:
    with Record.open(path) as record:
        for day, name in enumerate(names):
            Sitting(record, trainee=name, at=later(day)).whole(12)


@pytest.fixture(scope="module")
def three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("three") / "record.db"
    sat(path, "Runa", "Odd", "Runa")
    return path


@pytest.fixture
def data(three: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    folder.mkdir()
    shutil.copy(three, folder)
    return folder


@pytest.fixture(autouse=True)
def nobody_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())


def matside(data: Path, *arguments: object) -> int:
    return main([*map(str, arguments), "--data", str(data)])


@pytest.fixture
def exported(data: Path, tmp_path: Path) -> Path:
    path = tmp_path / "all.csv"
    assert matside(data, "export", "-o", path) == 0
    return path


def test_backup_and_restore(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], exported: Path
) -> None:
    copy = tmp_path / "copy.db"
    assert matside(data, "backup", copy) == 0
    assert "3 sessions of Odd, Runa, 2026-11-23 to 2026-11-25" in capsys.readouterr().err
    assert matside(data, "backup", copy) == 73
    assert matside(data, "backup", copy, "--force") == 0
    sat(data / "record.db", "Late")
    capsys.readouterr()
    # Nobody can be asked: nothing happens.
    assert matside(data, "restore", copy) == 2
    err = capsys.readouterr().err
    assert "1 session is not in the backup and would be lost" in err
    assert "Late" in err
    with Record.open_readonly(data / "record.db") as record:
        assert "Late" in record.trainees()
    assert matside(data, "restore", copy, "--yes") == 0
    assert "previous record" in capsys.readouterr().err
    again = tmp_path / "again.csv"
    assert matside(data, "export", "-o", again) == 0
    assert again.read_bytes() == exported.read_bytes()


def test_trials_and_the_rest_are_not_put_in_each_others_place(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Record.open(data / "trial.db") as record:
        Sitting(record, morning(trial=True), trainee="Runa").whole(12)
    before = [(data / name).read_bytes() for name in ("record.db", "trial.db")]
    assert matside(data, "backup", tmp_path / "trial.db", "--trial") == 0
    assert matside(data, "backup", tmp_path / "record.db") == 0
    assert matside(data, "restore", tmp_path / "trial.db", "--yes") == 2
    assert "add --trial" in capsys.readouterr().err
    assert matside(data, "restore", tmp_path / "record.db", "--trial", "--yes") == 2
    assert "leave out --trial" in capsys.readouterr().err
    assert [(data / name).read_bytes() for name in ("record.db", "trial.db")] == before
    assert matside(data, "restore", tmp_path / "trial.db", "--trial", "--yes") == 0


def test_import_looks_first(
    tmp_path: Path, exported: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new = tmp_path / "new"
    assert matside(new, "import", exported) == 2
    assert "new: 3 sessions, 21 rows" in capsys.readouterr().err
    assert not new.exists()
    assert matside(new, "import", exported, "--yes") == 0
    assert matside(new, "import", exported, "--yes") == 0
    assert "already in the record, unchanged: 3 sessions" in capsys.readouterr().err
    again = tmp_path / "again.csv"
    assert matside(new, "export", "-o", again) == 0
    assert again.read_bytes() == exported.read_bytes()
    for what in ("sessions", "weeks", "held"):
        assert matside(new, "export", "--what", what) == 0


def test_a_sheet_of_a_coach(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("Day;Ex;set;Count\n2026-11-23;Press-ups;1;12\n2026-11-23;squat;1;15\n")
    given = ["import", sheet, "--plan", "kestrel-hut", "--for", "Ada"]
    named = ["--columns", "date=Day,exercise=Ex,reps=Count", "--exercise", "Press-ups=push-up"]
    assert matside(tmp_path / "d", *given, "--yes") == 65
    assert "columns are missing" in capsys.readouterr().err
    assert matside(tmp_path / "d", *given, *named, "--yes") == 0
    capsys.readouterr()
    assert matside(tmp_path / "d", "export", "--for", "Ada") == 0
    assert capsys.readouterr().out.count("\n") == 3
    # It has no entries that could be corrected, and nobody is told that it has.
    assert matside(tmp_path / "d", "log", "--fix", "--on", "2026-11-23", "--for", "Ada") == 66
    assert "was imported" in capsys.readouterr().err
    with sheet.open("a") as file:
        file.write("2026-11-23;squat;2;15\n")
    assert matside(tmp_path / "d", *given, *named, "--yes") == 0
    assert "the session grows: 3 rows" in capsys.readouterr().err


def test_a_sheet_adds_nothing_under_another_time_zone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("date,exercise,set,reps\n2026-11-23,squat,1,15\n2026-07-01,squat,1,12\n")
    given = ["import", sheet, "--plan", "kestrel-hut", "--for", "Ada", "--yes"]
    try:
        for zone in ("Europe/Berlin", "America/Los_Angeles", "Pacific/Kiritimati"):
            monkeypatch.setenv("TZ", zone)
            time.tzset()
            assert matside(tmp_path / "d", *given) == 0
            assert ("new: 2 sessions" in capsys.readouterr().err) == (zone == "Europe/Berlin")
    finally:
        monkeypatch.undo()
        time.tzset()
    with Record.open_readonly(tmp_path / "d" / "record.db") as record:
        assert len(record.sessions()) == 2


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["backup", "{folder}"], 73, "is a directory"),
        (["backup", "{folder}/no/copy.db"], 73, "its folder does not exist"),
        (["backup", "{folder}/data/record.db", "--force"], 73, "for itself"),
        (["restore", "{folder}/missing.db"], 66, "this record does not exist"),
        (["restore", "{folder}/text"], 65, "not a database"),
        (["restore", "{folder}/data/record.db"], 2, "the record itself"),
        (["import", "{folder}/missing.csv"], 66, "cannot be read"),
        (["import", "{folder}"], 66, "cannot be read"),
        (["import", "{folder}/text"], 65, "--plan"),
        (["import", "{folder}/latin.csv"], 65, "not UTF-8"),
        (["import", "{folder}/data/record.db"], 65, "is not a text; save a sheet as CSV"),
        (["receive", "{folder}/data/record.db"], 65, "it is no handover, or only a part of one"),
        (["receive", "{folder}/text"], 65, "it is no handover, or only a part of one"),
        (["import", "{folder}/text", "--plan", "demo", "--columns", "reps"], 2, "OURS=THEIRS"),
        (["import", "{folder}/text", "--plan", "demo", "--exercise", "a=b"], 2, "THEIRS=ID"),
        (["forget", "Rune", "-o", "{folder}/out"], 66, "did you mean Runa"),
        (["forget", "Runa", "-o", "{folder}/out"], 2, "nobody can answer"),
        (["forget", "Runa", "-o", "{folder}/text", "--yes", "--again", "Runa"], 73, "cannot be"),
    ],
)
def test_one_clear_line(
    data: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    code: int,
    said: str,
) -> None:
    (tmp_path / "text").write_text("day,what\n1,2\n" * 50)
    (tmp_path / "latin.csv").write_bytes("date,exercise\nÜbung".encode("latin-1"))
    before = (data / "record.db").read_bytes()
    assert matside(data, *(a.format(folder=tmp_path) for a in arguments)) == code
    err = capsys.readouterr().err
    assert said in err
    assert "Traceback" not in err
    assert (data / "record.db").read_bytes() == before


def test_forgotten_for_good(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sat(data / "trial.db", "Runa")
    out = tmp_path / "runa"
    again = ["--yes", "--again"]
    assert matside(data, "forget", "Runa", "-o", out, *again, "Rune") == 0
    assert "nothing changed" in capsys.readouterr().err
    assert matside(data, "forget", "Runa", "-o", out, *again, "Runa") == 0
    assert "matside cannot reach" in capsys.readouterr().err
    assert (out / "record-sets.csv").read_text().count("Runa") == 14
    assert (out / "trial-sets.csv").exists()
    assert {path.stat().st_mode & 0o777 for path in out.iterdir()} == {0o600}
    assert all(b"Runa" not in file.read_bytes() for file in data.rglob("*") if file.is_file())
    assert matside(data, "forget", "Runa", "-o", out, *again, "Runa") == 66


def test_all_that_is_kept_is_exported_before(data: Path, tmp_path: Path) -> None:
    """Each event, each answer to advice, each caution; and what the copies alone still have."""
    path = data / "record.db"
    copy = tmp_path / "before.db"
    assert matside(data, "backup", copy) == 0
    with Record.open(path) as record:
        sitting = Sitting(record, trainee="Runa", at=later(5)).do(cmd.Note("=stiff")).begin()
        sitting.set(9).do(cmd.Hurt("left wrist")).close()
        said = Answer("press", "", "rule", "reason", {}, accepted=True, on=date(2026, 11, 28))
        record.agree("Runa", said, (), later(5))
        record.acknowledge("Runa", "Hut", ["Mind the stove."], later(5))
        ids = {row.session_id: len(record.events(row.session_id)) for row in record.rows()
               if row.trainee == "Runa"}  # fmt: skip
    assert matside(data, "restore", copy, "--yes") == 0  # the last of them is in a copy alone
    out = tmp_path / "runa"
    assert matside(data, "forget", "Runa", "-o", out, "--yes", "--again", "Runa") == 0

    def table(name: str) -> list[dict[str, str]]:
        with (out / f"record-{name}.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    kept = "0001-before-restore"
    events = table(f"{kept}-events")
    assert Counter(event["session_id"] for event in events) == ids
    assert "left wrist" in next(e["data"] for e in events if e["name"] == "pain")
    assert [line["accepted"] for line in table(f"{kept}-answers")] == ["1"]
    assert [line["caution"] for line in table(f"{kept}-cautions")] == ["Mind the stove."]
    assert {line["session_id"] for line in table(f"{kept}-sets")} == set(ids)
    assert len(table("sessions")) == len(ids) - 1
    assert all(b"Runa" not in file.read_bytes() for file in data.rglob("*") if file.is_file())


def test_what_lies_beside_the_record_goes_along(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A session that could not be kept, and a copy cut off while it was made."""
    with Record.in_memory() as record:
        Sitting(record, trainee="Runa", at=later(5)).whole(9)
        Sitting(record, trainee="Odd", at=later(6)).whole(9)
        for name in ("Runa", "Odd"):
            with (data / f"matside-{name}.csv").open("w", encoding="utf-8", newline="") as file:
                write_csv(record.rows(trainee=name), file)
    (data / "matside-other.csv").write_text("what somebody else keeps here\n")
    (data / "copies").mkdir()
    half = data / "copies" / ".record-0001-form-2.db.part"
    shutil.copy(data / "record.db", half)
    out = tmp_path / "runa"
    assert matside(data, "forget", "Runa", "-o", out, "--yes", "--again", "Runa") == 0
    assert "moved to the folder" in capsys.readouterr().err
    assert (out / "matside-Runa.csv").read_text().count("Runa") == 7
    assert sorted(path.name for path in data.glob("*.csv")) == ["matside-Odd.csv",
                                                               "matside-other.csv"]  # fmt: skip
    assert not half.exists()
    assert all(b"Runa" not in file.read_bytes() for file in data.rglob("*") if file.is_file())
    # Who is nowhere but in such a file is known all the same.
    (data / "matside-again.csv").write_bytes((out / "matside-Runa.csv").read_bytes())
    assert matside(data, "forget", "Runa", "-o", out, "--yes", "--again", "Runa") == 0
    assert not (data / "matside-again.csv").exists()


def test_asked_twice_at_a_terminal(data: Path, tmp_path: Path) -> None:
    command = ["-m", "runner.cli.main", "forget", "Odd", "-o", str(tmp_path / "odd")]
    for answers, gone in ((("no",), False), (("yes", "Runa"), False), (("yes", "Odd"), True)):
        child = pexpect.spawn(
            sys.executable,
            [*command, "--data", str(data)],
            cwd=str(ROOT),
            env=environment(),
            encoding="utf-8",
            timeout=20,
        )
        for answer, question in zip(answers, ("Erase Odd", "the name again"), strict=False):
            child.expect(question)
            child.sendline(answer)
        child.expect(pexpect.EOF)
        child.close()
        assert child.exitstatus == 0
        with Record.open_readonly(data / "record.db") as record:
            assert ("Odd" not in record.trainees()) == gone


def typed(data: Path, lines: str, *arguments: object) -> str:
    """A command that reads lines, as a process; what it says."""
    given = [sys.executable, "-m", "runner", *map(str, arguments), "--data", str(data)]
    ran = subprocess.run(given, input=lines, capture_output=True, text=True, cwd=ROOT, check=False)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout + ran.stderr


def test_a_count_put_right_here_comes_right_there(tmp_path: Path) -> None:
    """Two machines with the same session and its events: `log --fix`, export, import."""
    here, there = tmp_path / "here", tmp_path / "there"
    log = ("log", "kestrel-hut", "--on", "2026-11-20", "--for", "Ada", "--session", "A", "--yes")
    typed(here, "12 11 10 9\n" * 3 + "\n" * 12, *log)
    shutil.copytree(here, there)
    typed(here, "1 20/1\n\n", "log", "--fix", "--on", "2026-11-20", "--for", "Ada", "--yes")
    typed(here, "", "export", "-o", tmp_path / "here.csv")
    said = typed(there, "", "import", tmp_path / "here.csv", "--yes")
    assert "the file has a later correction: Ada, 2026-11-20, " in said
    assert "12 → 20/1" in said
    typed(there, "", "export", "-o", tmp_path / "there.csv")
    assert (tmp_path / "there.csv").read_bytes() == (tmp_path / "here.csv").read_bytes()
    said = typed(there, "", "import", tmp_path / "here.csv", "--yes")
    assert "already in the record, unchanged: 1 session" in said
    # The events there agree with the rows: a second correction goes on from the first.
    typed(there, "1 21\n\n", "log", "--fix", "--on", "2026-11-20", "--for", "Ada", "--yes")


def test_a_correction_comes_in_whatever_has_become_of_the_rules_for_plans(tmp_path: Path) -> None:
    """The plan on file is one of an older version: it need not be read for a count."""
    here, there = tmp_path / "here", tmp_path / "there"
    log = ("log", "kestrel-hut", "--on", "2026-11-20", "--for", "Ada", "--session", "A", "--yes")
    typed(here, "12 11 10 9\n" * 3 + "\n" * 12, *log)
    shutil.copytree(here, there)
    with closing(sqlite3.connect(there / "record.db")) as record:
        record.execute("UPDATE plan SET content = 'of another time = true'")
        record.commit()
    fixed = ("log", "--fix", "--on", "2026-11-20", "--for", "Ada")
    typed(here, "1 20/1\n2 nocount\n\ny\n", *fixed)
    typed(here, "", "export", "-o", tmp_path / "here.csv")
    said = typed(there, "", "import", tmp_path / "here.csv", "--yes")
    assert said.count("the file has a later correction: Ada, 2026-11-20, ") == 2
    typed(there, "", "export", "-o", tmp_path / "there.csv")
    assert (tmp_path / "there.csv").read_bytes() == (tmp_path / "here.csv").read_bytes()
    assert "unchanged: 1 session" in typed(there, "", "import", tmp_path / "here.csv", "--yes")
    names = "SELECT name, data->>'entry', data->>'counted', data->>'reps' FROM event ORDER BY seq"
    last = []
    for data in (here, there):  # what was put right is an event, and no less of them than before
        with closing(sqlite3.connect(data / "record.db")) as record:
            last.append(record.execute(names).fetchall())
    assert last[0] == last[1]
    refused = subprocess.run(
        [sys.executable, "-m", "runner", *fixed, "--data", str(there)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
        stdin=subprocess.DEVNULL,
    )
    assert refused.returncode == 66
    assert "correct its CSV and import it" in refused.stderr
