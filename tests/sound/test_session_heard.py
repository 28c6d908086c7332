"""A real session in a real terminal, recorded from the sound server and held against its record."""

from __future__ import annotations

import importlib.util
import os
import signal
import sys
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is POSIX", allow_module_level=True)

from tests.sound.by_ear import Match, due_cues, interval_errors_ms, match, told
from tests.sound.listen import find_notes, from_s16
from tests.sound.mat_sink import RATE, TRIES, in_time, mat_sink, missing
from tests.sound.real_session import RealSession

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

# A fork beside other threads: the child only becomes the program.
pytestmark = pytest.mark.filterwarnings("ignore:.*multi-threaded.*fork:DeprecationWarning")

LIBRARY_WORDS = (b"ALSA", b"pulse", b"Pulse", b"Connection refused", b"Traceback")
BUSY_MS = 1000.0  # the error of a try in which the machine was too busy
PROMPT_S = 1.0  # within which a key is dated and an event on file: nothing held the session up


def _needs(way: str) -> None:
    reason = missing() if way == "simpleaudio" else missing(way)
    if way == "simpleaudio" and importlib.util.find_spec(way) is None:
        reason = "simpleaudio is not installed"
    if reason:
        pytest.skip(reason)


@pytest.mark.slow
@pytest.mark.parametrize("way", ["simpleaudio", "paplay"])
def test_the_session_is_heard_as_it_is_on_file(
    way: str, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    _needs(way)

    def measure(number: int) -> list[float]:
        folder = tmp_path / str(number)
        folder.mkdir()
        found = heard_session(way, folder)
        return [abs(error) for error in interval_errors_ms(found)] or [BUSY_MS]

    in_time(measure, record_property)


def heard_session(way: str, folder: Path) -> list[Match]:
    """Do a whole session, and find in what was heard every cue of its record and nothing else.

    Nothing where the program itself says that cues were left out: the machine was too busy.
    """
    with mat_sink() as sink, sink.recording() as recorder:
        session = RealSession(folder, {**sink.environ, "MATSIDE_SOUND": way})
        session.wait_text(f"Sound: {way}")
        session.begin()
        session.work()
        assert session.leave() == 0
        recorder.wait_for(recorder.length_s + 0.3, 10)
    if b"left out" in session.sent:
        return []
    notes = find_notes(from_s16(recorder.raw), RATE)
    due = due_cues(session.events())
    assert {cue.name for cue in due} == {
        "begin", "count", "start", "switch", "tick", "block", "logged", "mark", "done",
    }  # fmt: skip
    found, wrong = match(due, [(note.onset_s, note.pitch_hz) for note in notes])
    assert not wrong, f"{wrong}\n{told(found)}"
    assert not [word for word in LIBRARY_WORDS if word in session.sent]
    print(f"\n{way}: {len(found)} cues\n{told(found)}")  # noqa: T201
    return found


def held_up(session: RealSession) -> list[str]:
    """Where the session was not prompt: keys against the events they brought, events on file."""
    events = session.events()
    faults = [
        f"{event.name} was on file {session.seen[number] - event.utc:.2f} s late"
        for number, event in enumerate(events)
        if event.name != "opened"  # nobody looked yet
        and session.seen[number] - event.utc > PROMPT_S
    ]
    ended = [event for event in events if event.name == "ended"]
    keys = [at for key, at in session.pressed if key == " "][1 : 1 + len(ended)]
    faults += [
        f"the key for {event.name} was dated {event.utc - at:.2f} s late"
        for event, at in zip(ended, keys, strict=True)
        if not -0.01 <= event.utc - at <= PROMPT_S
    ]
    rests = [event for event in events if event.name == "resting"]
    started = [event for event in events if event.name == "started"]
    return faults + [
        f"{begun.name} at {begun.at}, not at {rest.data['until']}"
        for rest, begun in zip(rests, started, strict=True)
        if abs(rest.data["until"] - begun.at) > 0.001
    ]


def in_trouble(way: str, trouble: str, folder: Path) -> RealSession:
    """A whole session; the server is stopped or killed once the first set runs."""
    with mat_sink() as sink:
        session = RealSession(folder, {**sink.environ, "MATSIDE_SOUND": f"{way},bell"})
        session.wait_text(f"Sound: {way}")

        def between(number: int) -> None:
            if number == 1:
                os.kill(sink.pid, signal.SIGKILL if trouble == "killed" else signal.SIGSTOP)
            elif number == 2 and trouble == "stopped":
                os.kill(sink.pid, signal.SIGCONT)

        session.begin()
        session.work(between)
        assert session.leave() == 0
    return session


def in_troubles(way: str, folder: Path) -> dict[str, RealSession]:
    """A session for each trouble, both at the same time, each with a server of its own."""
    folders = {trouble: folder / trouble for trouble in ("stopped", "killed")}
    for each in folders.values():
        each.mkdir(parents=True)
    with ThreadPoolExecutor() as pool:
        runs = {t: pool.submit(in_trouble, way, t, each) for t, each in folders.items()}
    return {trouble: run.result() for trouble, run in runs.items()}


@pytest.mark.slow
@pytest.mark.parametrize("way", ["simpleaudio", "paplay"])
def test_a_sound_server_in_trouble_never_holds_the_session_up(way: str, tmp_path: Path) -> None:
    _needs(way)
    for number in range(TRIES):
        sessions = in_troubles(way, tmp_path / str(number))
        for session in sessions.values():
            assert not [word for word in LIBRARY_WORDS if word in session.sent]
        begun = [e.utc for e in sessions["stopped"].events() if e.name == "started"]
        assert begun[1] - begun[0] > 3  # so long the server stood still
        faults = [fault for session in sessions.values() for fault in held_up(session)]
        if not faults:
            break
    assert faults == []
