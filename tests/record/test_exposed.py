"""Who else can read what is kept: nobody, or the person is told."""

from __future__ import annotations

import os
import shlex
import stat
import subprocess
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.live.session_setup import prepare
from runner.record import files as module
from runner.record.files import exposed
from runner.screen import pages
from runner.session.apply import initial
from runner.sound.speech import Cache
from runner.sound.wav import Format
from runner.testing import ManualClock

if os.name != "posix":
    pytest.skip("permissions are POSIX's", allow_module_level=True)

DEMO = ("demo", "--plain", "--mute", "--yes")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def record(tmp_path: Path) -> Path:
    folder = tmp_path / "it's here"
    folder.mkdir(0o700)
    path = folder / "trial.db"
    path.touch(0o600)
    return path


def test_what_is_the_owners_alone_needs_no_word(record: Path) -> None:
    assert exposed(record) is None
    assert exposed(record.with_name("none.db")) is None


@pytest.mark.parametrize(
    ("file", "folder", "remedies"),
    [(0o644, 0o700, ["600"]), (0o660, 0o750, ["700", "600"]), (0o600, 0o711, ["700"])],
)
def test_the_remedy_is_named_and_mends_it(
    record: Path, file: int, folder: int, remedies: list[str]
) -> None:
    record.chmod(file)
    record.parent.chmod(folder)
    said = exposed(record)
    assert said is not None
    assert len(said.splitlines()) == 1
    commands = said.partition("; to keep them out, run: ")[2].split(" && ")
    assert [shlex.split(command)[1] for command in commands] == remedies
    for command in commands:
        subprocess.run(["sh", "-c", command], check=True)
    assert exposed(record) is None


def test_a_folder_with_other_uses_is_not_to_be_closed(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record.parent.chmod(0o1777)
    said = exposed(record)
    assert said is not None
    assert "chmod" not in said
    assert "--data" in said
    record.parent.chmod(0o755)
    monkeypatch.setattr(module.os, "getuid", lambda: record.stat().st_uid + 1)
    assert "chmod" not in (exposed(record) or "")


def test_each_start_says_it_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = tmp_path / "data"

    def said(*words: str) -> list[str]:
        main([*words, "--data", str(data)])
        return [
            x for x in capsys.readouterr().err.splitlines() if "other users of this machine" in x
        ]

    assert said("run", *DEMO) == []
    (data / "trial.db").chmod(0o644)
    remedy = (
        f"matside: other users of this machine can open {data}/trial.db; to keep them out, run: "
    )
    for words in (("run", *DEMO), ("next", "demo"), ("log", "demo", "--on", "2026-11-23")):
        assert said(*words) == [f"{remedy}chmod 600 {data}/trial.db"], words
    (data / "trial.db").chmod(0o600)
    assert said("next", "demo") == []


def test_the_ready_sheet_says_it(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    opening = prepare("demo", data=tmp_path, trainee="Ada", clock=ManualClock())
    state, lasts = initial(opening.workout, opening.baseline), pages.SessionLengths(0.0, 0.0)
    page = pages.ready(opening, state, lasts, sound=(), asks=False, late="")
    lines = ["".join(text for text, _ in line) for part in page for line in part.lines]
    assert [line for line in lines if line.endswith(f"chmod 700 {tmp_path}")]
    opening.record.close()


def test_all_that_the_program_makes_is_for_its_owner_alone(tmp_path: Path) -> None:
    data, made = tmp_path / "data", tmp_path / "made"
    made.mkdir()
    before = os.umask(0)
    try:
        for words in (
            ("run", *DEMO, "--data", str(data)),
            ("export", "--trial", "--data", str(data), "-o", str(made / "rows.csv")),
            ("rehearse", "demo", "--svg", str(made / "chart.svg")),
            ("backup", str(made / "backup.db"), "--trial", "--data", str(data)),
            ("restore", str(made / "backup.db"), "--trial", "--yes", "--data", str(data)),
        ):
            assert main(words) == 0
    finally:
        os.umask(before)
    folders = [data, *(path for path in data.rglob("*") if path.is_dir())]
    files = [p for where in (data, made) for p in where.rglob("*") if p.is_file()]
    assert [(str(p), oct(mode(p))) for p in folders if mode(p) != 0o700] == []
    assert [(str(p), oct(mode(p))) for p in files if mode(p) != 0o600] == []
    assert {p.name for p in files} >= {"trial.db", "rows.csv", "backup.db"}
    assert list((data / "copies").iterdir())


def test_phrases_are_kept_for_their_owner_alone(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        cache = Cache(tmp_path / "voice", "an engine", "1")
        cache.keep("next, rucksack row", Format(1, 2, 22050), b"\0\0" * 100)
    finally:
        os.umask(before)
    (kept,) = cache.folder.iterdir()
    assert (mode(cache.folder), mode(kept)) == (0o700, 0o600)
    assert cache.seconds("next, rucksack row") == pytest.approx(100 / 22050)
