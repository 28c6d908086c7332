"""The words and keys that are none of the session's: read, refused, and done without a screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from runner.live import face_verbs  # noqa: F401 - whose words are read
from runner.live.controller import Ask, Confirm, Controller, Leave, ReadOn, WhereItHurts, Work
from runner.live.schedule import TimeLimit
from runner.live.session_setup import prepare
from runner.session.apply import Refused
from runner.session.verb import VERBS, key_of
from runner.testing import ManualClock
from tests.lines.manual import Silence


@pytest.fixture
def held(tmp_path: Path) -> Iterator[Controller]:
    """A session opened, its cautions not yet known."""
    opening = prepare("kestrel-hut", data=tmp_path, trainee="Ada", clock=ManualClock(), session="A")
    controller = Controller(opening)
    live = opening.begin(Silence())
    controller.take(live)
    live.driver.open()
    yield controller
    opening.record.close()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("shorten", TimeLimit()),
        ("shorten 10m", TimeLimit(within=600.0)),
        ("shorten 7 min", TimeLimit(within=420.0)),
        ("shorten 07:10", TimeLimit(until=7 * 3600 + 600)),
        ("pacer", None),
        ("sound", None),
        ("volume 60", 60),
        ("volume 007", 7),
        ("voice names", "names"),
        ("voice-volume 0", 0),
        ("advice", None),
        ("accept 1 2", "accept 1 2"),
        ("refuse 3", "refuse 3"),
    ],
)
def test_a_word_and_what_it_takes(line: str, said: object) -> None:
    assert Controller.knows(line)
    word, _, rest = line.partition(" ")
    assert VERBS[word].read(rest) == said


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("volume", "0 to 100: volume 60"),
        ("volume 101", "0 to 100: volume 60"),
        ("volume +5", "0 to 100: volume 60"),
        ("voice-volume \u0661", "0 to 100: voice-volume 60"),
        ("voice", "voice on, voice names or voice off"),
        ("voice loud", "voice on, voice names or voice off"),
        ("sound off", "remove"),
        ("shorten soon", "shorten 10m, shorten 07:10"),
        ("shorten 0m", "shorten 10m, shorten 07:10"),
        ("advice", "advice comes after the last set"),
        ("accept 1", "advice comes after the last set"),
    ],
)
def test_a_word_that_cannot_be_used(held: Controller, line: str, said: str) -> None:
    with pytest.raises(Refused, match=said):
        held.obey(line)


def test_words_of_the_session_are_not_the_controllers() -> None:
    assert not any(Controller.knows(line) for line in ("skip", "12", "", "help", "gear", "light"))


def test_cautions_are_read_to_their_end_before_the_session_begins(held: Controller) -> None:
    asked = held.act("main")
    assert isinstance(asked, ReadOn)
    assert held.phase == "ready"
    assert asked.at_end() is None
    assert held.phase == "ready"  # the main key on the last page says that they are known
    assert held.act("main") is None
    assert held.phase == "warm-up"


def test_a_key_that_asks_for_a_line_reads_it_as_its_word_does(held: Controller) -> None:
    asked = held.act("mass")
    assert isinstance(asked, Ask)
    assert asked.take("3") == "body mass in kg is 20 to 500"
    assert asked.take("74.5") is None
    assert held.live is not None
    assert held.live.driver.state.mass == 74.5


def test_unwell_says_where_to_turn_and_can_be_taken_back(held: Controller) -> None:
    asked = held.act("unwell")
    assert isinstance(asked, WhereItHurts)
    assert held.phase == "ready"
    asked.undo()
    assert held.message == "The session is still on."
    assert isinstance(asked.take(""), Leave)
    assert held.phase == "closed"


def test_what_is_left_out_is_shown_before_it_is(held: Controller) -> None:
    asked = held.obey("shorten 40m")
    assert isinstance(asked, Work)
    found = asked.then(asked.work())
    assert isinstance(found, Confirm)
    assert found.lines[0].startswith("Over in ")
    assert held.live is not None
    assert not held.live.driver.state.rows
    assert found.agreed() is None
    assert held.live.driver.state.rows


def test_trying_out_counts_keys_and_begins_nothing(held: Controller) -> None:
    assert held.act("try") is None
    assert held.message.endswith("Try the key.")
    assert held.act("main") is None
    assert held.message == "Key seen: 1. Any other key goes back."
    assert held.phase == "ready"


# -- a count, key by key ---------------------------


@pytest.fixture
def counting(held: Controller) -> Controller:
    """The session after its first set, whose count is missing."""
    held.cautions_known = True
    live = held.live
    assert live is not None
    live.driver.watch(held.take_up)
    live.driver.listen(held.settled)
    while held.phase != "rest":
        held.act("main")
    pass_time(held, 10.0)
    assert held.phase == "set"
    pass_time(held, 30.0)
    held.act("main")
    return held


def pass_time(controller: Controller, seconds: float) -> None:
    assert controller.live is not None
    clock = controller.opening.clock
    assert isinstance(clock, ManualClock)
    clock.advance(seconds)
    controller.live.driver.tick()


def typed(controller: Controller) -> str | None:
    return None if controller.line is None else controller.line.text


def counts(controller: Controller) -> list[float | None]:
    assert controller.live is not None
    return [row.value for row in controller.live.driver.state.rows]


def test_what_each_key_makes_of_a_count(counting: Controller) -> None:
    for doing, text, shown in (
        ("type", "1", "1"), ("type", "3", "13"), ("back", "", "1"), ("clear", "", ""),
        ("open", "", "8"), ("plus", "", "9"), ("minus", "", "8"), ("minus", "", "7"),
        ("later", "", "7"), ("back", "", ""), ("type", "9", "9"),
    ):  # fmt: skip
        counting.edit(doing, text)
        assert typed(counting) == shown, doing
        assert counts(counting) == [None]
    counting.edit("save")
    assert (typed(counting), counts(counting)) == (None, [9.0])
    assert counting.message == "SQUAT 1: 9 saved · u takes it back"


def test_a_digit_after_the_last_count_corrects_it_and_emptied_leaves_it(
    counting: Controller,
) -> None:
    counting.edit("type", "9")
    counting.edit("save")
    counting.edit("type", "8")
    assert typed(counting) == "8"
    counting.edit("back")
    assert (typed(counting), counts(counting)) == (None, [9.0])
    assert counting.message == "SQUAT 1 stays 9."
    counting.edit("type", "8")
    counting.edit("save")
    assert counts(counting) == [8.0]


def test_keys_are_named_as_they_are_pressed(counting: Controller) -> None:
    assert key_of("skip") == "m k"
    assert (key_of("undo"), key_of("undo", remote=True)) == ("u", "page up")
    counting.edit("name")
    assert counting.message == "No count typed. space: start now."
