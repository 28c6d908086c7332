"""Whole sessions on a real record, by a clock that is set by hand."""

from __future__ import annotations

import time
from contextlib import closing
from pathlib import Path

from runner.live.driver import Driver, Keeper
from runner.live.rehearsal import NoStore
from runner.live.session_setup import Live, prepare
from runner.planning.trainee import next_act
from runner.session import verb as cmd
from runner.session.events import Event
from runner.testing import ManualClock

PLAN = "kestrel-hut"


class Silence:
    """Plays nothing."""

    def play(self, name: str, late_s: float = 0.0) -> None:
        """Nothing."""


class Lengths:
    """Real seconds that commands took, by what they were."""

    def __init__(self) -> None:
        self.ended: list[float] = []
        self.entered: list[float] = []


def do_session(data: Path, clock: ManualClock, bouts: int = 10**6) -> Lengths:
    """Do the session that is due, or so many bouts of it: every event a commit."""
    opening = prepare(PLAN, data=data, trainee="Ada", clock=clock)
    with closing(opening.record):
        return _do(opening.begin(Silence()), clock, bouts)


def write_session(data: Path, clock: ManualClock, session: str) -> None:
    """Do a session in no time, and put it on file at once."""
    opening = prepare(PLAN, data=data, trainee="Ada", clock=clock, session=session)
    with closing(opening.record):
        live = opening.begin(Silence())
        live.driver.keeper = Keeper(NoStore(), live.info)
        happened: list[Event] = []
        live.driver.listen(lambda shown: happened.extend(one.event for one in shown))
        _do(live, clock)
        opening.record.write_up(live.info, list(enumerate(happened, 1)), live.driver.state)


def _do(live: Live, clock: ManualClock, bouts: int = 10**6) -> Lengths:
    """As long as expected, and a count for each set."""
    driver, lengths = live.driver, Lengths()
    driver.open()
    driver.send(cmd.Proceed())
    while driver.state.phase != "closed" and len(lengths.ended) < bouts:
        _go_on(driver, clock, lengths)
    return lengths


def _go_on(driver: Driver, clock: ManualClock, lengths: Lengths) -> None:
    """To what time or the person brings next."""
    act, wake = next_act(driver.state), driver.due()
    person = act is not None and (wake is None or act.at <= wake)
    at = act.at if act is not None and person else wake
    assert at is not None
    clock.advance(max(at - driver.now(), 0.0))
    if not person:
        driver.tick()
        return
    running = driver.state.running
    taken = _timed(driver, cmd.Proceed())
    if running is None:
        return
    lengths.ended.append(taken)
    while driver.state.running is None and driver.state.open_rows:
        measure = driver.state.exercise(driver.state.open_rows[0]).measure
        lengths.entered.append(_timed(driver, cmd.Enter(measure, (cmd.Count(12),))))


def _timed(driver: Driver, command: cmd.Command) -> float:
    begun = time.perf_counter()
    driver.send(command)
    return time.perf_counter() - begun
