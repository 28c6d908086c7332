"""The helper process by its lines alone."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from runner.resources import sounds_dir
from runner.sound import backends, helper
from runner.sound.backends import Program, Windows
from runner.sound.wav import PLAIN, Files, Scratch, quiet_file, read_wav, write_wav
from tests.sound.fakes import fake_player, noted

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).resolve().parents[2]
HELPER = (sys.executable, "-m", "runner.sound.helper")
DOUBLE = (sys.executable, "-m", "runner.testing")
FOREVER = 1 << 62


def run_helper(
    *arguments: str,
    requests: Sequence[str] = (),
    sounds: Path | None = None,
    process: Sequence[str] = HELPER,
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*process, "--sounds", str(sounds or sounds_dir()), *arguments],
        input="".join(f"{line}\n" for line in requests),
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=30,
    )


def record(file: Path, *requests: str, trouble: str = "") -> list[str]:
    arguments = ["--file", str(file), "--trouble", trouble]
    done = run_helper(*arguments, requests=requests, process=DOUBLE)
    assert done.stderr == ""
    return done.stdout.splitlines()


def test_it_plays_what_it_is_asked_for_and_ends_with_its_input(tmp_path: Path) -> None:
    file = tmp_path / "cues"
    replies = record(file, f"play\t1\tstart\t{FOREVER}", f"play\t2\tlogged\t{FOREVER}")
    assert replies == ["ready", "ok\t1", "ok\t2"]
    assert noted(file) == ["start", "logged"]


def test_it_skips_what_is_past_its_last_moment(tmp_path: Path) -> None:
    file = tmp_path / "cues"
    past = time.monotonic_ns() - 1
    assert record(file, f"play\t1\tstart\t{past}")[1:] == ["late\t1"]
    assert noted(file) == []


def test_it_stops_what_took_too_long_to_begin(tmp_path: Path) -> None:
    file = tmp_path / "cues"
    arguments = ["--file", str(file), "--trouble", "pause:1"]
    with subprocess.Popen(
        [*DOUBLE, "--sounds", str(sounds_dir()), *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=ROOT,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        # In time for the request, and past while the device is opening (half a second).
        latest = time.monotonic_ns() + 250_000_000
        out, _ = process.communicate(f"play\t1\tstart\t{latest}\n", timeout=30)
    assert out == "late\t1\n"
    assert noted(file) == ["start", "(stopped)"]


def test_it_answers_nonsense_and_goes_on(tmp_path: Path) -> None:
    nonsense = ["", "play", "play\t1\tstart", "play\tx\tstart\t5", "play\t1\tstart\tsoon"]
    nonsense.append("stop\t1\t2\t3")
    good = f"play\t2\tstart\t{FOREVER}"
    replies = record(tmp_path / "cues", *(line for bad in nonsense for line in (bad, good)))
    for bad, refused, done in zip(nonsense, replies[1::2], replies[2::2], strict=True):
        assert refused.startswith("fail\t0\tunknown request"), bad
        assert done == "ok\t2", bad


def test_a_failure_is_one_clean_line(tmp_path: Path) -> None:
    replies = record(tmp_path / "cues", f"play\t1\tno\x1b[31mcue\t{FOREVER}")
    assert replies[1] == r"fail 1 KeyError: 'no\x1b[31mcue'".replace(" ", "\t", 2)
    assert helper.tidy("a\x1b[0m\tb\n\nc\x07") == "a [0m b c"
    assert len(helper.tidy("x" * 1000)) == 160
    replies = record(tmp_path / "cues", f"play\t1\tstart\t{FOREVER}", trouble="fail:1")
    assert replies[1] == "fail\t1\tTrouble: told to fail"


def test_a_way_that_does_not_work_says_why(tmp_path: Path) -> None:
    assert record(tmp_path / "cues", trouble="fail:0") == ["fault\ttold to fail"]
    done = run_helper("--file", "f", sounds=tmp_path, process=DOUBLE)
    assert done.stdout == f"fault\tno sounds in {tmp_path}\n"
    (tmp_path / "bad.wav").write_bytes(b"RIFF no wave at all")
    done = run_helper("--file", "f", sounds=tmp_path, process=DOUBLE)
    assert done.stdout.startswith("fault\t")
    assert (done.returncode, done.stderr) == (3, "")


def test_a_program_is_judged_by_its_exit_status(tmp_path: Path) -> None:
    log = fake_player(tmp_path, "good", "works")
    request = f"play\t1\tcount\t{FOREVER}"
    program = ["--backend", "program", "--"]
    done = run_helper(*program, str(tmp_path / "good"), "-q", requests=[request])
    assert done.stdout == "ready\nok\t1\n"
    tried, played = log.read_text().splitlines()
    assert tried.startswith("-q ")
    assert tried.endswith("quiet.wav")
    assert played == f"-q {sounds_dir() / 'count.wav'}"
    fake_player(tmp_path, "bad", "fails")
    done = run_helper(*program, str(tmp_path / "bad"), requests=[request])
    assert done.stdout == "fault\tended with status 7: no such device\n"
    done = run_helper(*program, str(tmp_path / "none"), requests=[request])
    assert done.stdout.startswith("fault\tFileNotFoundError")
    fake_player(tmp_path, "breaks", "breaks")
    done = run_helper(*program, str(tmp_path / "breaks"), requests=[request])
    assert done.stdout == "ready\nok\t1\nfail\t0\tended with status 1\n"


def test_nothing_is_left_in_the_temporary_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    temporary = tmp_path / "tmp"
    temporary.mkdir()
    monkeypatch.setenv("TMPDIR", str(temporary))
    fake_player(tmp_path, "good", "works")
    fake_player(tmp_path, "bad", "fails")
    for name, lead in (("good", "0"), ("good", "0.2"), ("bad", "0.2")):
        run_helper("--lead", lead, "--backend", "program", "--", str(tmp_path / name))
        assert list(temporary.iterdir()) == []


def test_a_program_that_hangs_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backends, "PROBE_S", 0.2)
    fake_player(tmp_path, "hangs", "hangs")
    with pytest.raises(backends.Trouble, match=r"no answer within 0\.2 s"):
        Program([str(tmp_path / "hangs")], 0.0).warm()


def test_programs_do_not_pile_up_and_are_killed_when_they_overrun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake_player(tmp_path, "stalls", "stalls")
    program = Program([str(tmp_path / "stalls")], 0.0)
    program.load("count", sounds_dir() / "count.wav")
    program.warm()
    now = time.monotonic()
    monkeypatch.setattr(time, "monotonic", lambda: now)  # starting them may take its time
    for _ in range(backends.MOST_RUNNING):  # as many ticks of a fast tempo in two seconds and more
        program.play("count")
    with pytest.raises(backends.Trouble, match="16 sounds are still playing"):
        program.play("count")
    assert program.poll() is None
    assert program.busy()
    program.stop()
    monkeypatch.setattr(time, "monotonic", lambda: now + 60)
    assert program.poll() == "did not end"
    assert not program.busy()
    program.close()


def test_the_lead_is_quiet_before_the_sound(tmp_path: Path) -> None:
    scratch = Scratch(tmp_path / "own")
    files = Files(0.25, scratch)
    files.load("count", sounds_dir() / "count.wav")
    path, length_s = files["count"]
    kind, frames = read_wav(path)
    _, original = read_wav(sounds_dir() / "count.wav")
    assert kind == PLAIN
    assert frames == bytes(2 * 12_000) + original
    assert length_s == pytest.approx(0.25 + 0.15)
    scratch.remove()
    assert not path.exists()


def test_quiet_is_quiet_and_leaves_only_what_is_not_its_own(tmp_path: Path) -> None:
    scratch = Scratch(tmp_path / "own")
    with quiet_file(scratch) as path:
        kind, frames = read_wav(path)
        path.with_suffix(".txt").write_text("what a program said of it")
    assert (kind, frames) == (PLAIN, bytes(2 * 2_400))
    assert not path.parent.exists()
    copy = scratch.folder / "1.wav"
    copy.write_text("a copy")
    with quiet_file(scratch):
        pass
    assert list(scratch.folder.iterdir()) == [copy]
    scratch.remove()
    assert list(tmp_path.iterdir()) == []


def test_windows_plays_from_files_in_the_background(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a double of Windows' module, for there is none elsewhere."""

    class Module:
        SND_FILENAME, SND_NODEFAULT, SND_ASYNC = 0x20000, 2, 1
        calls: list[tuple[str | None, int]] = []  # noqa: RUF012

        def PlaySound(self, sound: str | None, flags: int) -> None:  # noqa: N802
            self.calls.append((sound, flags))

    monkeypatch.setitem(sys.modules, "winsound", Module())
    backend = Windows(0.0)
    path = tmp_path / "one.wav"
    write_wav(path, PLAIN, PLAIN.quiet(0.2))
    backend.load("one", path)
    backend.warm()
    backend.play("one")
    assert backend.busy()
    assert backend.poll() is None
    backend.close()
    assert [flags for _, flags in Module.calls] == [0x20002, 0x20003, 0]
    assert Module.calls[1][0] == str(path)


def test_simpleaudio_is_asked_as_its_interface_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """By a double with the library's documented interface; the end-to-end test has the real one."""

    class Played:
        def __init__(self) -> None:
            self.ended = False

        def is_playing(self) -> bool:
            return not self.ended

        def wait_done(self) -> None:
            self.ended = True

        stop = wait_done

    class Module:
        made: list[tuple[bytes, int, int, int]] = []  # noqa: RUF012

        class WaveObject:
            def __init__(self, data: bytes, channels: int, width: int, rate: int) -> None:
                Module.made.append((data, channels, width, rate))

            def play(self) -> Played:
                return Played()

    monkeypatch.setattr(importlib, "import_module", lambda _: Module)
    backend = backends.SimpleAudio(0.5)
    backend.load("count", sounds_dir() / "count.wav")
    _, frames = read_wav(sounds_dir() / "count.wav")
    assert Module.made[0] == (bytes(48_000) + frames, 1, 2, 48_000)
    backend.warm()
    assert not backend.busy()
    backend.play("count")
    assert backend.busy()
    assert backend.poll() is None
    backend.stop()
    assert not backend.busy()
    backend.close()


def test_nothing_but_replies_comes_out(tmp_path: Path) -> None:
    """A library that writes on both descriptors, as sound libraries do, is not heard of."""
    fake = tmp_path / "simpleaudio.py"
    fake.write_text(
        "import os, sys\nos.write(1, b'noise')\nos.write(2, b'noise')\nprint('noise')\n"
        "raise RuntimeError('two\\nlines')\n"
    )
    done = subprocess.run(
        [*HELPER, "--sounds", str(sounds_dir()), "--backend", "simpleaudio"],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), str(ROOT)])},
        input=b"",
        cwd=tmp_path,
        capture_output=True,
        check=False,
        timeout=30,
    )
    assert (done.stdout, done.stderr) == (b"fault\tRuntimeError: two lines\n", b"")


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of a parent's death")
def test_it_does_not_begin_when_its_parent_is_gone_already(tmp_path: Path) -> None:
    file = tmp_path / "cues"
    done = run_helper("--parent", "1", "--file", str(file), process=DOUBLE)
    assert (done.returncode, done.stdout) == (0, "")
    assert not file.exists()


def onsets(file: Path) -> dict[str, float]:
    """When each sound was begun, in seconds of the system's clock."""
    lines = [line.split("\t") for line in file.read_text().splitlines()]
    return {name: int(at) / 1e9 for name, at in lines}


def test_a_third_sound_waits_until_one_of_two_is_over(tmp_path: Path) -> None:
    """Each has half of full scale: three at once would be clipped."""
    file = tmp_path / "cues"
    requests = [f"play\t{n}\t{cue}\t{FOREVER}" for n, cue in enumerate(("done", "block", "mark"))]
    assert record(file, *requests, trouble="mix:1")[1:] == ["ok\t0", "ok\t1", "ok\t2"]
    at = onsets(file)
    assert at["block"] - at["done"] < 0.5
    _, block = read_wav(sounds_dir() / "block.wav")
    assert at["mark"] - at["block"] >= PLAIN.seconds(block)
    _, done = read_wav(sounds_dir() / "done.wav")
    assert at["mark"] - at["done"] < PLAIN.seconds(done) + 1.0


def test_a_third_sound_that_would_be_too_late_is_left_out(tmp_path: Path) -> None:
    file = tmp_path / "cues"
    soon = time.monotonic_ns() + 400_000_000
    two = [f"play\t{n}\tdone\t{FOREVER}" for n in (1, 2)]
    replies = record(file, *two, f"play\t3\tmark\t{soon}", trouble="mix:1")
    assert replies[1:] == ["ok\t1", "ok\t2", "late\t3"]
    assert noted(file) == ["done", "done"]


def test_what_is_still_in_its_quiet_lead_is_cut_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake_player(tmp_path, "stalls", "stalls")
    program = Program([str(tmp_path / "stalls")], 0.5)
    for name in ("count", "start"):
        program.load(name, sounds_dir() / f"{name}.wav")
    now = time.monotonic()
    monkeypatch.setattr(time, "monotonic", lambda: now)
    program.play("start")  # sounds by the time of the cut
    now += 0.6
    program.play("count")
    program.play("start")
    program.cut("start")
    left = [(one.name, one.by.poll()) for one in program._running]
    assert left == [("start", None), ("count", None)]
    program.close()


def test_whether_a_program_has_read_its_sound_is_known(tmp_path: Path) -> None:
    """paplay reads the head of its file, aplay nothing, while its server stands still."""
    if not Path("/proc/self/fdinfo").is_dir():
        pytest.skip("no /proc")
    sound = sounds_dir() / "done.wav"
    reads = (
        "import sys\nf = open(sys.argv[1], 'rb', 0)\nf.read(44)\nprint(flush=True)\n"
        "input()\nf.read(20000)\nprint(flush=True)\ninput()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", reads, str(sound)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stdin is not None
        process.stdout.readline()
        assert not backends.has_read(process.pid, sound)
        assert not backends.has_read(process.pid, sounds_dir() / "count.wav"), "not even opened"
        process.stdin.write(b"\n")
        process.stdin.flush()
        process.stdout.readline()
        assert backends.has_read(process.pid, sound)
        process.stdin.write(b"\n")
    assert backends.has_read(process.pid, sound)
