"""Cues played for real, into a sound server without hardware, and heard from its monitor."""

from __future__ import annotations

import importlib.util
import os
import signal
import time
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from runner.sound.player import open_player
from runner.sound.sounds import CUES
from runner.sound.ways import SETTING, read_settings
from tests.sound.listen import from_s16
from tests.sound.mat_sink import TRIES, in_time, mat_sink, missing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from runner.sound.player import Counts
    from tests.sound.mat_sink import Recorder, Sink

SEQUENCE = (
    *("begin", "block", "count", "count", "count", "start"),
    *("tick", "tick", "mark", "ended", "logged", "switch", "start", "tick"),
    *("pause", "resume", "skip", "undo", "redo", "drop", "logged", "done"),
)
WAYS = ["simpleaudio", pytest.param("paplay", marks=pytest.mark.slow)]
FEW = ("begin", "count", "start")
MANY_TRIES = 10  # of a few cues; a loaded machine tears some
BUSY_MS = 1000.0  # the error of a try in which the machine was too busy
STEP_S = 0.25  # from the end of one cue to the beginning of the next


@pytest.fixture
def sink() -> Iterator[Sink]:
    reason = missing()
    if reason:
        pytest.skip(reason)
    with mat_sink() as running:
        yield running


def _needs(way: str) -> None:
    reason = missing() if way == "simpleaudio" else missing(way)
    if way == "simpleaudio" and importlib.util.find_spec(way) is None:
        reason = "simpleaudio is not installed"
    if reason:
        pytest.skip(reason)


def _play_all(way: str, recorder: Recorder, sequence: tuple[str, ...] = SEQUENCE) -> list[float]:
    """Play the sequence, the recording being the clock; the instants of asking.

    Empty where the machine was so busy that a cue was left out for coming too late.
    """
    asked = []
    with open_player(settings=read_settings({SETTING: way})) as player:
        assert player.settled(10), player.report()
        assert player.way == way, player.report()
        at_s = recorder.length_s + 0.2
        for name in sequence:
            recorder.wait_for(at_s, 10)
            asked.append(time.monotonic())
            player.play(name)
            at_s += CUES[name].length_s + STEP_S
        recorder.wait_for(at_s + 0.5, 10)
        played = player.counts
    assert (played.asked, played.played + played.late) == (len(sequence), len(sequence)), played
    return [] if played.late else asked


@pytest.mark.parametrize("way", ["simpleaudio", "aplay"])
def test_a_few_cues_are_heard_in_order(
    way: str, sink: Sink, monkeypatch: pytest.MonkeyPatch
) -> None:
    _needs(way)
    for key, text in sink.environ.items():
        monkeypatch.setenv(key, text)
    heard: list[str] = []
    for _ in range(MANY_TRIES):
        with sink.recording() as recorder:
            _play_all(way, recorder, FEW)
        heard = [one.name for one in recorder.cues()]
        if heard == list(FEW):
            break
    assert heard == list(FEW)


@pytest.mark.slow
@pytest.mark.parametrize("way", ["simpleaudio", "aplay"])
def test_every_cue_is_heard_once_in_order_at_its_pitch_and_in_time(
    way: str,
    sink: Sink,
    monkeypatch: pytest.MonkeyPatch,
    record_property: Callable[[str, object], None],
) -> None:
    _needs(way)
    for key, text in sink.environ.items():
        monkeypatch.setenv(key, text)
    print()  # noqa: T201 - beside the test's name
    in_time(lambda _: [abs(error) for error in errors_of_all(way, sink)], record_property)


def errors_of_all(way: str, sink: Sink) -> list[float]:
    """Play and find every cue; the errors of the intervals in ms."""
    with sink.recording() as recorder:
        asked = _play_all(way, recorder)
    if not asked:
        return [BUSY_MS]
    heard = recorder.cues()
    assert [one.name for one in heard] == list(SEQUENCE)
    for one in heard:
        for note, meant in zip(one.notes, CUES[one.name].notes, strict=True):
            assert note.pitch_hz == pytest.approx(meant.pitch_hz, rel=0.005)
    return [
        1000 * ((there.at_s - here.at_s) - (then - now))
        for (here, there), (now, then) in zip(pairwise(heard), pairwise(asked), strict=True)
    ]


@pytest.mark.parametrize("way", WAYS)
def test_three_cues_at_once_are_not_clipped(
    way: str, sink: Sink, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two overlap; the third comes when one of them is over, or not at all."""
    _needs(way)
    for key, text in sink.environ.items():
        monkeypatch.setenv(key, text)
    for _ in range(TRIES):
        loudest, counts = three_at_once(way, sink)
        assert (counts.asked, counts.played + counts.late) == (7, 7)
        assert loudest < 0.995, "no sample is at full scale"
        if counts.played >= 4:  # else the machine was too busy
            break
    assert counts.played >= 4
    assert loudest > 0.5, "two were heard together"


def three_at_once(way: str, sink: Sink) -> tuple[float, Counts]:
    """Three cues and then four, asked for at once: the loudest sample, and the counts."""
    settings = read_settings({SETTING: way})
    with sink.recording() as recorder, open_player(settings=settings) as player:
        assert player.settled(10), player.report()
        at_s = recorder.length_s + 0.2
        for names in (("done", "block", "begin"), ("mark", "mark", "mark", "done")):
            recorder.wait_for(at_s, 10)
            for name in names:
                player.play(name)
            at_s += 2.5
        recorder.wait_for(at_s, 10)
        counts = player.counts
    return float(abs(from_s16(recorder.raw)).max()), counts


@pytest.mark.parametrize("way", WAYS)
def test_a_server_that_goes_on_plays_nothing_of_what_was_left_out(
    way: str, sink: Sink, monkeypatch: pytest.MonkeyPatch
) -> None:
    _needs(way)
    for key, text in sink.environ.items():
        monkeypatch.setenv(key, text)
    for _ in range(TRIES):
        heard, counts, rings = with_a_stopped_server(way, sink)
        if counts.late + counts.lost + counts.belled == 3:  # else the machine was too busy
            break
    assert heard == ["count", "logged"]
    assert (counts.asked, counts.played) == (5, 2)
    assert counts.late + counts.lost + counts.belled == 3
    assert rings == counts.belled


def with_a_stopped_server(way: str, sink: Sink) -> tuple[list[str], Counts, int]:
    """A cue, three while the server stands still, one after: what was heard, counts and rings."""
    rings: list[str] = []
    with sink.recording() as recorder:
        settings = read_settings({SETTING: f"{way},bell"})
        with open_player(settings=settings, bell=lambda: rings.append("ring")) as player:
            assert player.settled(10), player.report()
            player.play("count")
            recorder.wait_for(recorder.length_s + 1.0, 10)
            os.kill(sink.pid, signal.SIGSTOP)
            for name in ("start", "mark", "done"):  # in three seconds
                player.play(name)
                player.wait_for(lambda: False, 1.0)
            os.kill(sink.pid, signal.SIGCONT)
            recorder.wait_for(recorder.length_s + 4.0, 20)
            assert player.wait_for(lambda: player.way == way and player._link is not None, 30)
            player.play("logged")
            recorder.wait_for(recorder.length_s + 1.5, 10)
            counts = player.counts
    return [one.name for one in recorder.cues()], counts, len(rings)
