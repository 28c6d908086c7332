"""Rendering: the first engine that works, text as data, and a cache by content."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from runner.law.number_words import spoken
from runner.resources import sounds_dir
from runner.sound.sounds import CUES, PEAK
from runner.sound.speech import Cache, levelled, phrase_folder
from runner.sound.synths import LIBRARY, ORDER, Engine, engines, find, how_to_get
from runner.sound.voice import Renderer, RenderLimits
from runner.sound.wav import Format, read_wav, write_wav
from tests.sound.fakes import SOON_S, Ending
from tests.sound.speakers import RATE, arguments, fake_engine, speech_like, texts

ROW = "next, rucksack row, left, twelve kilos"
HOSTILE = "$(touch x) `touch x`; touch x\n-w /etc/x \"'\x1b]0;x\x07 --stdout | [[x]] <break/>"


def rendered(folder: Path, wanted: list[str], *found: Engine, **patience: float) -> Renderer:
    """A renderer that is done with the texts, one way or another; to be closed."""
    renderer = Renderer(found, folder, RenderLimits(**patience))  # type: ignore[arg-type]
    renderer.want(wanted, soon=True)
    renderer.start()
    assert renderer.wait_for(lambda: not any(map(renderer.coming, wanted)), SOON_S)
    return renderer


def samples_of(path: Path) -> np.ndarray:
    kind, frames = read_wav(path)
    assert (kind.channels, kind.width) == (1, 2)
    return np.frombuffer(frames, dtype="<i2") / 32_768


def rms(samples: np.ndarray) -> float:
    """Over the sounding parts, above -40 dB of the peak."""
    loud = samples[np.abs(samples) > 0.01 * np.abs(samples).max()]
    return float(np.sqrt(np.mean(loud**2)))


# The real engines, where they are.


@pytest.mark.parametrize("name", [LIBRARY, "espeak-ng"])
def test_a_real_engine_says_a_sentence_and_keeps_it(tmp_path: Path, name: str) -> None:
    engine = find(name)
    if engine.why_not:
        pytest.skip(f"{name}: {engine.why_not}; {how_to_get(name)}")
    for _ in range(2):
        renderer = rendered(tmp_path, [ROW, "ten seconds"], engine)
        assert renderer.why == {}
        long, short = renderer.done[ROW], renderer.done["ten seconds"]
        made = (tmp_path / long.file).stat().st_ino
        renderer.close()
    assert made == (tmp_path / long.file).stat().st_ino, "the second day finds the first day's"
    # Eleven syllables and three pauses; people speak three to six syllables a second (from
    # memory, common in phonetics).
    assert 11 / 6 < long.seconds < 11 / 3
    assert 0.5 < short.seconds < 1.3
    for file in (long.file, short.file):
        samples = samples_of(tmp_path / file)
        assert np.abs(samples).max() <= 10 ** (-6 / 20)
        assert rms(samples) > 0.1
    assert long.seconds == pytest.approx(len(samples_of(tmp_path / long.file)) / RATE, abs=0.001)


@pytest.mark.parametrize("name", [LIBRARY, "espeak-ng"])
def test_a_real_engine_takes_a_hostile_text_as_a_text(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = find(name)
    if engine.why_not:
        pytest.skip(f"{name}: {engine.why_not}; {how_to_get(name)}")
    monkeypatch.chdir(tmp_path)
    said = spoken(HOSTILE)
    renderer = rendered(tmp_path / "cache", [said, "-w /etc/x", "--help"], engine)
    renderer.close()
    assert renderer.done[said].seconds > 1
    assert renderer.done["-w /etc/x"].seconds > 0.3
    assert [path.name for path in tmp_path.iterdir()] == ["cache"]
    assert all(path.suffix == ".wav" for path in (tmp_path / "cache").iterdir())


def test_the_library_is_loaded_in_its_own_process_alone(tmp_path: Path) -> None:
    """eSpeak NG is under the GPL: this program may talk to it, and does not load it."""
    engine = find(LIBRARY)
    if engine.why_not:
        pytest.skip(f"{LIBRARY}: {engine.why_not}; {how_to_get(LIBRARY)}")
    renderer = rendered(tmp_path, [ROW], engine)
    renderer.close()
    assert "espeakng_loader" not in sys.modules
    if Path("/proc/self/maps").exists():
        assert "espeak" not in Path("/proc/self/maps").read_text()


# Programs, by stand-ins.


@pytest.mark.parametrize(
    ("name", "program"),
    [("espeak-ng", "espeak-ng"), ("say", "say"), ("windows-speech", "powershell")],
)
def test_a_program_gets_its_text_on_standard_input_and_nowhere_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, program: str
) -> None:
    path = fake_engine(tmp_path, program)
    monkeypatch.setenv("PATH", str(tmp_path) + os.pathsep + os.environ["PATH"])
    if name != "espeak-ng":
        assert find(name).program == str(path)
    said = spoken(HOSTILE)
    renderer = rendered(tmp_path / "cache", [said, "-w /etc/x"], Engine(name, str(path)))
    renderer.close()
    assert texts(path) == [said, "-w /etc/x"]
    given = arguments(path)
    assert not any("touch" in word or "/etc/x" in word for word in given)
    assert not (tmp_path / "x").exists()
    assert renderer.done[said].seconds == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize(
    ("doing", "why"),
    [
        ("fails", "ended with status 4: no voice"),
        ("silent", "silence"),
        ("lies", "wrote no sound"),
    ],
)
def test_an_engine_that_does_not_work_is_left_for_the_next(
    tmp_path: Path, doing: str, why: str
) -> None:
    bad, good = tmp_path / "bad", tmp_path / "good"
    bad.mkdir()
    good.mkdir()
    broken = Engine("espeak-ng", str(fake_engine(bad, "espeak-ng", doing)))
    missing = Engine(LIBRARY, why_not="not installed")
    works = Engine("say", str(fake_engine(good, "say")))
    renderer = rendered(tmp_path / "cache", [ROW], missing, broken, works)
    assert renderer.why[0] == "not installed"
    assert why in renderer.why[1]
    assert renderer.at == 2
    assert ROW in renderer.done
    renderer.close()


def test_an_engine_that_hangs_is_given_up(tmp_path: Path) -> None:
    hangs = Engine("say", str(fake_engine(tmp_path, "say", "hangs")))
    renderer = rendered(tmp_path / "cache", [ROW], hangs, ready_s=0.3)
    assert renderer.why[0] == "no answer within 0.3 s"
    assert renderer.at == 1
    assert not renderer.done
    renderer.close()


def test_an_engine_that_tires_is_given_up_and_the_next_goes_on(tmp_path: Path) -> None:
    bad, good = tmp_path / "bad", tmp_path / "good"
    bad.mkdir()
    good.mkdir()
    tires = Engine("espeak-ng", str(fake_engine(bad, "espeak-ng", "tires")))
    works = Engine("say", str(fake_engine(good, "say")))
    wanted = [f"phrase {letter}" for letter in "abcde"]
    renderer = rendered(tmp_path / "cache", wanted, tires, works)
    assert renderer.why[0] == "ended with status 5"
    assert list(renderer.done) == wanted[3:], "three failures in a row are enough"
    renderer.close()


def test_without_any_engine_nothing_is_coming(tmp_path: Path) -> None:
    renderer = rendered(tmp_path / "cache", [ROW], Engine(LIBRARY, why_not="not installed"))
    assert renderer.at == 1
    assert not renderer.done
    assert not (tmp_path / "cache").exists(), "no voice leaves nothing behind"
    renderer.close()


def test_what_is_needed_soon_comes_first(tmp_path: Path) -> None:
    path = fake_engine(tmp_path, "say")
    renderer = Renderer([Engine("say", str(path))], tmp_path / "cache")
    wanted = [f"later {letter}" for letter in "abcdef"]
    renderer.want(wanted, soon=False)
    renderer.want(["now", "later e"], soon=True)
    renderer.want(["now", *wanted], soon=False)
    renderer.start()
    assert renderer.wait_for(lambda: len(renderer.done) == 7, SOON_S)
    renderer.close()
    assert texts(path) == ["now", "later e", *(w for w in wanted if w != "later e")]


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="watches processes as Linux can")
@pytest.mark.parametrize("doing", ["speaks", "hangs"])
def test_no_process_is_left(tmp_path: Path, doing: str) -> None:
    path = fake_engine(tmp_path, "say", doing)
    renderer = Renderer([Engine("say", str(path))], tmp_path / "cache")
    renderer.want([ROW], soon=False)
    renderer.start()
    assert renderer.wait_for(lambda: renderer._process is not None, SOON_S)
    assert renderer._process is not None
    pid = renderer._process.pid
    ending = Ending(pid)
    renderer.close()
    assert ending.came(SOON_S)
    with pytest.raises(ProcessLookupError):  # nor as a zombie
        os.kill(pid, 0)
    ending.close()
    assert not renderer._thread.is_alive()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of a parent's death")
def test_the_process_ends_with_its_input_and_with_its_parent(tmp_path: Path) -> None:
    path = fake_engine(tmp_path, "say")
    command = [
        sys.executable, "-m", "runner.sound.speech", "--engine", "say", "--program",
        str(path), "--folder", str(tmp_path / "cache"),
    ]  # fmt: skip
    done = subprocess.run(
        command, input=b"render\t1\tone\nnonsense\n", capture_output=True, check=False, timeout=30
    )
    lines = done.stdout.decode().split("\n")
    assert lines[0].startswith("ready\t")
    assert lines[1].split("\t")[:2] == ["ok", "1"]
    assert (done.returncode, done.stderr) == (0, b"")
    assert not list((tmp_path / "cache").glob("part-*"))
    orphan = subprocess.run(
        [*command, "--parent", "1"], input=b"", capture_output=True, check=False, timeout=30
    )
    assert (orphan.returncode, orphan.stdout) == (0, b"")


# Loudness.


def test_a_phrase_is_near_the_cues_and_never_over_their_peak() -> None:
    cue = rms(samples_of(sounds_dir() / "start.wav"))
    for level in (0.05, 0.3, 0.99):
        kind, frames = levelled(Format(1, 2, RATE), speech_like(level=level))
        samples = np.frombuffer(frames, dtype="<i2") / 32_768
        assert kind == Format(1, 2, RATE)
        assert np.abs(samples).max() <= PEAK
        below = 20 * np.log10(rms(samples) / cue)
        assert -6 < below < -2, "somewhat under the cues, which have to be heard first"
    cues = {name: samples_of(sounds_dir() / f"{name}.wav") for name in CUES}
    loudest = max(np.abs(c).max() for c in cues.values())
    assert loudest + PEAK < 1, "a cue and the rest of a phrase that it cuts do not clip"


def test_silence_at_the_ends_is_cut_and_the_edges_are_soft() -> None:
    kind, frames = levelled(Format(1, 2, RATE), speech_like(1.0))
    samples = np.frombuffer(frames, dtype="<i2") / 32_768
    assert 0.8 < len(samples) / kind.rate < 1.05
    assert np.abs(samples[:20]).max() < 0.02
    assert np.abs(samples[-20:]).max() < 0.02


def test_of_several_channels_one_is_taken() -> None:
    one = np.frombuffer(speech_like(0.5), dtype="<i2")
    both = np.repeat(one, 2).astype("<i2").tobytes()
    assert levelled(Format(2, 2, RATE), both) == levelled(Format(1, 2, RATE), one.tobytes())


@pytest.mark.parametrize(
    ("kind", "frames"), [(Format(1, 2, RATE), bytes(5_000)), (Format(1, 1, RATE), b"\x80" * 5_000)]
)
def test_what_is_no_speech_is_refused(kind: Format, frames: bytes) -> None:
    with pytest.raises(ValueError, match=r"silence|8 bits"):
        levelled(kind, frames)


# The cache.


def sample() -> tuple[Format, bytes]:
    return Format(1, 2, RATE), speech_like(0.3)


def test_the_name_depends_on_all_that_the_sound_depends_on(tmp_path: Path) -> None:
    names = {
        Cache(tmp_path, engine, version).name(text)
        for engine in ("say", "espeak-ng")
        for version in ("1.51", "1.52")
        for text in ("ten seconds", "ten second", "")
    }
    assert len(names) == 12
    assert all(len(name) == 36 and name.endswith(".wav") for name in names)


def test_the_folder_is_its_owners_alone(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "voice"
    Cache(folder, "say", "1").keep("one", *sample())
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    folder.chmod(0o755)
    Cache(folder, "say", "1")
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_damaged_phrase_is_made_again(tmp_path: Path) -> None:
    cache = Cache(tmp_path, "say", "1")
    assert cache.seconds("one") is None
    cache.keep("one", *sample())
    assert cache.seconds("one") == pytest.approx(0.3 + 8_000 / RATE, abs=0.001)
    path = tmp_path / cache.name("one")
    for damage in (b"", b"RIFF", b"no sound at all", path.read_bytes()[:30]):
        path.write_bytes(damage)
        assert cache.seconds("one") is None


def test_the_longest_unused_goes_when_the_folder_is_full(tmp_path: Path) -> None:
    cache = Cache(tmp_path, "say", "1")
    words = [f"word {n}" for n in range(8)]
    for age, word in enumerate(words):
        cache.keep(word, *sample())
        os.utime(tmp_path / cache.name(word), (1e9 + age, 1e9 + age))
    one = (tmp_path / cache.name("word 0")).stat().st_size
    cache.seconds("word 0")  # used today
    cache.tidy(most=8 * one)
    assert len(list(tmp_path.glob("*.wav"))) == 8
    cache.tidy(most=6 * one)
    left = [word for word in words if (tmp_path / cache.name(word)).exists()]
    assert left == ["word 0", "word 5", "word 6", "word 7"]


def test_a_part_of_a_dead_process_is_cleared_away(tmp_path: Path) -> None:
    cache = Cache(tmp_path, "say", "1")
    old, fresh = tmp_path / "part-1.wav", tmp_path / "part-2.wav"
    for path in (old, fresh):
        write_wav(path, *sample())
    os.utime(old, (1e9, 1e9))
    cache.tidy()
    assert (old.exists(), fresh.exists()) == (False, True)


def test_where_the_cache_lies(tmp_path: Path) -> None:
    assert phrase_folder({"MATSIDE_CACHE": str(tmp_path)}) == tmp_path / "voice"
    assert phrase_folder({}).parts[-2:] == ("matside", "voice")


# Which engines there are.


@pytest.mark.parametrize(
    ("system", "order"),
    [
        ("linux", [LIBRARY, "espeak-ng"]),
        ("darwin", [LIBRARY, "espeak-ng", "say"]),
        ("win32", [LIBRARY, "espeak-ng", "windows-speech"]),
    ],
)
def test_the_order_on_each_system(system: str, order: list[str]) -> None:
    assert [engine.name for engine in engines({}, system)[0]] == order
    assert all(ORDER.index(a) < ORDER.index(b) for a, b in pairwise(order))


def test_the_setting_names_others_and_says_what_is_wrong() -> None:
    found, faults = engines({"MATSIDE_VOICE_BY": "say, tuba,espeak-ng"})
    assert [engine.name for engine in found] == ["say", "espeak-ng"]
    assert faults == (
        "MATSIDE_VOICE_BY: unknown engine 'tuba'; write one of "
        "espeakng-loader, espeak-ng, say, windows-speech",
    )


def test_how_to_get_one() -> None:
    assert how_to_get("espeak-ng", "linux").endswith(" espeak-ng")
    assert "brew install espeak-ng" in how_to_get("espeak-ng", "darwin")
    assert how_to_get(LIBRARY).endswith("-m pip install espeakng-loader")
    assert how_to_get("say") == ""
