"""A session that was cut off and is gone on with later."""

from __future__ import annotations

from pathlib import Path

from runner.live.session_setup import Opening, prepare
from runner.session import verb as cmd
from runner.sound.player import open_player
from runner.testing import ManualClock


def opening(data: Path, clock: ManualClock) -> Opening:
    return prepare("demo", data=data, trainee="Ada", clock=clock)


def test_no_set_begins_while_nobody_is_there(tmp_path: Path) -> None:
    clock = ManualClock()
    with open_player(mute=True) as player:
        driver = opening(tmp_path, clock).begin(player).driver
        driver.open()
        for _ in range(2):
            driver.send(cmd.Proceed())
        until = driver.state.until
        assert driver.state.phase == "rest"
        assert until is not None
        clock.advance(until + 400)  # the program is gone before the rest is over
        back = opening(tmp_path, clock).resume(player).driver
        back.come_back()
        assert back.state.phase == "rest"
        assert back.state.rows == ()
        assert back.state.until == back.now() + back.state.workout.lead_in


def test_a_set_cut_off_has_no_length_and_asks_for_its_count(tmp_path: Path) -> None:
    clock = ManualClock()
    with open_player(mute=True) as player:
        driver = opening(tmp_path, clock).begin(player).driver
        driver.open()
        for _ in range(2):
            driver.send(cmd.Proceed())
        clock.advance((driver.state.until or 0.0) + 1)
        driver.tick()
        assert driver.state.phase == "set"
        clock.advance(300)
        back = opening(tmp_path, clock).resume(player).driver
        back.come_back()
        (row,) = back.state.rows
        assert (row.status, row.cut_off, row.work, row.open) == ("done", True, None, True)
        assert row.end is not None
        assert row.start is not None
        assert row.end - row.start == 12.0  # as long as was expected
        assert back.state.phase == "rest"


def test_a_set_cut_off_was_not_over_before_what_was_written_while_it_ran(tmp_path: Path) -> None:
    clock = ManualClock()
    with open_player(mute=True) as player:
        driver = opening(tmp_path, clock).begin(player).driver
        driver.open()
        for _ in range(2):
            driver.send(cmd.Proceed())
        clock.advance((driver.state.until or 0.0) + 1)
        driver.tick()
        clock.advance(20)  # longer than the 12 s that were expected
        driver.send(cmd.Note("the band has slipped"))
        noted = driver.now()
        clock.advance(300)
        back = opening(tmp_path, clock).resume(player).driver
        back.come_back()
        (row,) = back.state.rows
        assert (row.cut_off, row.work, row.end) == (True, None, noted)
        assert [event.at for event in back.state.log] == sorted(e.at for e in back.state.log)
