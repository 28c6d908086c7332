"""The oracle of the session by ear notices what is wrong; otherwise it would prove nothing."""

from __future__ import annotations

import pytest

from tests.sound.by_ear import MELODIES, Due, due_cues, interval_errors_ms, match
from tests.sound.real_session import Event

Notes = list[tuple[float, float]]
DUE = [Due(1.0, "count"), Due(2.0, "start"), Due(2.8, "tick"), Due(4.0, "done")]


def played(cues: list[Due], ahead_s: float = 3.0) -> Notes:
    """The notes of the cues on a recording that began so much earlier."""
    return [(cue.at + ahead_s + at, hz) for cue in cues for at, hz in MELODIES[cue.name]]


def without_the_last(notes: Notes) -> Notes:
    return notes[:-1]


def one_more(notes: Notes) -> Notes:
    return [*notes, (9.0, 880.0)]


def one_twice(notes: Notes) -> Notes:
    return [notes[0], (notes[0][0] + 0.2, notes[0][1]), *notes[1:]]


def a_semitone_up(notes: Notes) -> Notes:
    return [
        (at, hz * 2 ** (1 / 12)) if number == 2 else (at, hz)
        for number, (at, hz) in enumerate(notes)
    ]


def out_of_step(notes: Notes) -> Notes:
    return [(at + 0.05, hz) if number == 2 else (at, hz) for number, (at, hz) in enumerate(notes)]


def test_what_is_played_is_found() -> None:
    found, wrong = match(DUE, played(DUE))
    assert not wrong
    assert [one.due for one in found] == DUE
    assert interval_errors_ms(found) == pytest.approx([0.0] * 3, abs=1e-6)


def test_a_cue_that_is_late_shows_in_its_intervals() -> None:
    late = [*DUE[:2], Due(2.84, "tick"), DUE[3]]
    found, wrong = match(DUE, played(late))
    assert not wrong
    assert interval_errors_ms(found) == pytest.approx([0.0, 40.0, -40.0], abs=1e-6)


@pytest.mark.parametrize(
    "spoil", [without_the_last, one_more, one_twice, a_semitone_up, out_of_step]
)
def test_what_is_wrong_is_noticed(spoil: object) -> None:
    assert callable(spoil)
    assert match(DUE, spoil(played(DUE)))[1]


def test_another_cue_in_its_place_is_noticed() -> None:
    assert match(DUE, played([DUE[0], Due(2.0, "logged"), *DUE[2:]]))[1]


def test_what_the_record_asks_for() -> None:
    def event(name: str, at: float, act: int, **data: object) -> Event:
        return Event(name, at, at, act, dict(data))

    row = {"exercise": "row", "block": 1}
    events = [
        event("resting", 0.0, 1, until=2.5, why="lead-in"),
        event("started", 2.5, 2, **row),
        event("ended", 4.4, 3, **row),
        event("resting", 4.4, 3, until=9.4, why="changeover"),
        event("entered", 5.5, 4, by="person"),
        event("entered", 5.5, 4, by="person"),
        event("started", 9.4, 5, exercise="bridge", block=2),
        event("ended", 12.0, 6, exercise="bridge", block=2),
        event("entered", 12.0, 6, by="clock"),
    ]
    assert [(round(cue.at, 6), cue.name) for cue in due_cues(events)] == [
        (0.5, "count"), (1.5, "count"), (2.5, "start"), (3.3, "tick"), (4.1, "tick"),
        (4.4, "block"), (5.5, "logged"), (6.4, "count"), (7.4, "count"), (8.4, "count"),
        (9.4, "start"), (11.4, "mark"), (12.0, "done"),
    ]  # fmt: skip
