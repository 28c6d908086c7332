"""A tenth of the fuzzing, bounded by examples; and the fuzzing itself, on planted faults."""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from tests.fuzz import __main__ as command, own
from tests.fuzz.child import Watched
from tests.fuzz.targets import TARGETS, FoundError, Target
from tests.lines.process import environment

few = settings(suppress_health_check=list(HealthCheck), max_examples=25)
many = settings(suppress_health_check=list(HealthCheck), max_examples=150)
signs = st.text(alphabet=st.sampled_from("0129/ s-,.=;\n\t\"'ab[]{}\x1b\u202e\x9b"), max_size=60)
anything = st.binary(max_size=200) | signs.map(str.encode) | st.text(max_size=60).map(str.encode)


@pytest.mark.parametrize("name", TARGETS)
def test_the_inputs_to_begin_with_bring_nothing_up(name: str) -> None:
    for data in TARGETS[name].seeds():
        TARGETS[name](data)


@many
@given(anything)
def test_plan_files_of_any_bytes(data: bytes) -> None:
    TARGETS["plan-bytes"](data)


@many
@given(st.binary(min_size=4, max_size=60))
def test_plans_with_values_changed(data: bytes) -> None:
    TARGETS["plan-edits"](data)


@many
@given(anything)
def test_what_people_type(data: bytes) -> None:
    TARGETS["typed"](data)


_WORDS = st.sampled_from(
    b"|go|12|12/2|8 9|45s|+|-|pause|skip|drop|swap|easier|harder|load 9|setup a=1|nocount|fix 1 3"
    b"|late|undo|note x|pain y|rpe 7|mass 70|keep|advice|accept 1|refuse 1|pacer|sound|volume 9"
    b"|voice on|unwell|end".split(b"|")
)


@few
@given(st.lists(_WORDS | _WORDS | anything, max_size=40).map(b"\n".join))
def test_sessions_in_line_mode(data: bytes) -> None:
    TARGETS["line-mode"](data)


@pytest.mark.parametrize("seed", [1, 2])
def test_real_sessions_with_any_bytes_on_their_input(seed: int, tmp_path: Path) -> None:
    dice = random.Random(seed)
    corpus = [*TARGETS["line-mode"].seeds(), dice.randbytes(20_000)]
    data = b"\n\n" + b"\n".join(own.mutated(one, corpus, dice, 40_000) for one in corpus)
    command = ["run", "demo", "--plain", "--mute", "--yes", "--data", str(tmp_path)]
    done = subprocess.run(
        [sys.executable, "-m", "runner", *command],
        input=data,
        capture_output=True,
        check=False,
        timeout=60,
        env=environment(),
    )
    said = done.stderr.decode()
    assert done.returncode == 0, said
    assert "Traceback" not in said
    assert "\tclosed\t" in done.stdout.decode()
    for text in (said, done.stdout.decode()):
        assert all(line.replace("\t", " ").isprintable() for line in text.split("\n"))


@many
@given(anything, st.sampled_from(["csv", "sheet"]))
def test_tables_of_any_bytes(data: bytes, name: str) -> None:
    TARGETS[name](data)
    seed = TARGETS[name].seeds()[0]
    TARGETS[name](seed + data)
    TARGETS[name](seed.replace(b"12", data, 1))


@few
@given(st.binary(max_size=6), st.text(max_size=30))
def test_exports_with_fields_changed(places: bytes, fields: str) -> None:
    TARGETS["csv-edits"](places.replace(b"\n", b"") + b"\n" + fields.encode(errors="replace"))


@pytest.mark.parametrize("name", ["typed", "sheet"])
def test_a_hundred_guided_inputs(name: str, tmp_path: Path) -> None:
    left = iter(range(100))
    watched = Watched(TARGETS[name], tmp_path)
    own.fuzz(watched, TARGETS[name].seeds(), go_on=lambda: next(left, None) is not None)
    assert watched.found == {}
    assert watched.runs > 100


def planted(data: bytes) -> None:
    """Fails for inputs that begin with four certain bytes, found one after another."""
    if data[:1] != b"H":
        return
    if data[1:2] != b"U":
        return
    if data[2:3] != b"T":
        return
    if data[3:4] != b"!":
        return
    raise KeyError("planted")


def test_our_own_loop_is_guided_to_a_planted_fault(tmp_path: Path) -> None:
    """By chance alone it would take some 2**32 inputs."""
    watched = Watched(planted, tmp_path)
    left = iter(range(60_000))
    own.fuzz(
        watched,
        [b"...."],
        go_on=lambda: not watched.found and next(left, None) is not None,
        package="tests/fuzz/test_fuzz.py",
    )
    assert list(watched.found.values()) == ["'planted'"]
    (file,) = tmp_path.glob("*.input")
    assert file.read_bytes().startswith(b"HUT!")
    assert "KeyError" in file.with_suffix(".txt").read_text(encoding="utf-8")


def test_what_takes_too_long_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.fuzz.targets.SOON", 0.0)
    with pytest.raises(FoundError, match="slow"):
        Target(print, list)(b"")


@pytest.mark.parametrize(
    ("child", "told"),
    [("import time; time.sleep(60)", "an input that does not end"), ("raise MemoryError", "1")],
)
def test_a_target_that_hangs_or_dies_is_a_finding(
    child: str, told: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    stand_in = tmp_path / "python"
    stand_in.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{child}"\n')
    stand_in.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(stand_in))
    monkeypatch.setattr(command, "PATIENCE", 0.5)
    figures = command.fuzz("typed", tmp_path / "kept", 0.0, "own")
    assert list(figures["found"]) == [f"ended with {told}"]


def test_the_input_that_killed_it_is_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    stand_in = tmp_path / "python"
    child = """import os, pathlib, sys
from tests.fuzz.child import Watched
watched = Watched(lambda data: data == b'the one' and os._exit(3), pathlib.Path(sys.argv[4]))
for data in (b'a longer one before', b'the one', b'never'):
    watched(data)"""
    stand_in.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{child}" "$@"\n')
    stand_in.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(stand_in))
    figures = command.fuzz("typed", tmp_path / "kept", 0.0, "own")
    assert list(figures["found"]) == ["ended with 3"]
    assert (tmp_path / "kept" / "ended.input").read_bytes() == b"the one"


def test_mutations_stay_within_their_length() -> None:
    dice = random.Random(1)
    data = b"abc"
    for _ in range(500):
        data = own.mutated(data, [b"x" * 50, data], dice, 64)
        assert len(data) <= 64


def test_the_command_prints_its_table(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert tuple(TARGETS) == command.NAMES
    monkeypatch.setattr(sys, "argv", ["fuzz", "typed", "--seconds", "0.5", "--engine", "own"])
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert command.main() == 0
    _, head, row, end, *_ = capsys.readouterr().out.splitlines()
    assert head.split() == ["target", "runs", "seconds", "slowest", "findings"]
    name, runs, *_, found = row.split()
    assert (name, found, end) == ("typed", "0", "nothing found")
    assert int(runs) > 20
    assert list(tmp_path.iterdir()) == [], "where nothing was found nothing is saved"
