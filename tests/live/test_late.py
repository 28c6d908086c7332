"""When a session is late, and what is offered then: the times, the words, the refusals."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from runner.live.schedule import Schedule, TimeLimit, shorter
from runner.live.session_setup import Live, Opening, prepare
from runner.planning.shorten import end_of
from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.events import Skipped
from runner.testing import ManualClock


class Silent:
    def play(self, name: str, late_s: float = 0.0) -> None:
        """Nobody listens."""


class Late:
    """The full plan's session A, begun, in its first rest; so much time for it."""

    def __init__(
        self,
        data: Path,
        within: float | None = None,
        until: timedelta | None = None,
        *,
        start: datetime | None = None,
    ) -> None:
        self.clock = ManualClock(start)
        self.opening: Opening = prepare(
            "kestrel-hut", data=data, trainee="Ada", clock=self.clock, session="A"
        )
        self.opening.within = within
        self.opening.until = None if until is None else self.clock.local() + until
        self.live: Live = self.opening.begin(Silent())
        self.schedule = Schedule(self.opening, self.live)
        self.driver = self.live.driver
        self.driver.open()

    def go(self, seconds: float, command: cmd.Command) -> None:
        self.clock.advance(seconds)
        self.driver.send(command)

    @property
    def text(self) -> str:
        return self.schedule.text(self.driver.state, self.driver.now())

    def offered(self, command: TimeLimit | None = None) -> cmd.LeaveOut:
        state, now = self.driver.state, self.driver.now()
        by = self.schedule.seconds_for(command or TimeLimit(), state, now)
        return shorter(state, now, by).command

    @property
    def end(self) -> float:
        return end_of(self.driver.state, self.driver.now())


def test_without_a_time_it_is_late_when_it_gets_five_minutes_longer(tmp_path: Path) -> None:
    here = Late(tmp_path)
    assert here.text == ""
    here.clock.advance(7200)  # the sheet has been read for two hours: it has not begun yet
    assert here.text == ""
    here.go(0, cmd.Proceed())
    begun = here.driver.now()
    here.go(240, cmd.Proceed())
    here.go(1, cmd.Pause())
    assert here.text == ""
    here.go(298, cmd.Proceed())
    assert here.text == ""
    here.go(1, cmd.Pause())
    here.go(120, cmd.Proceed())
    assert here.text.endswith("longer than at its begin")
    here.driver.send(here.offered())
    assert here.text == ""
    assert here.end <= begun + 3088 + 1e-6
    names = [event.name for event in here.driver.state.log[-4:]]
    assert "skipped" in names
    assert {e.why for e in here.driver.state.log if isinstance(e, Skipped)} == {"short of time"}
    assert all(row.status == "skipped" for row in here.driver.state.rows)
    here.driver.send(cmd.Undo())  # all of them at once
    assert not here.driver.state.rows
    assert here.text


def test_with_a_time_it_is_late_before_it_begins(tmp_path: Path) -> None:
    here = Late(tmp_path, within=2700)
    assert here.text == "4:58 late"
    here.driver.send(here.offered())
    assert here.text == ""
    assert here.driver.state.phase == "ready"
    here.go(60, cmd.Proceed())
    assert here.end <= 60 + 2700
    assert here.text == ""
    here.driver.send(cmd.Undo())
    assert here.text == "4:58 late"


def test_by_a_time_of_day_every_minute_counts(tmp_path: Path) -> None:
    here = Late(tmp_path, until=timedelta(seconds=2998))
    assert here.text == ""
    here.clock.advance(29)
    assert here.text == ""  # over, but by less than is worth a word
    here.clock.advance(2)
    assert here.text == "0:31 late"
    by = here.clock.local() + timedelta(minutes=40)
    here.driver.send(here.offered(TimeLimit(until=by.hour * 3600 + by.minute * 60)))
    assert here.end <= 40 * 60 + here.driver.now()


@pytest.mark.parametrize("within", [None, 3300.0])
def test_the_time_in_which_it_was_cut_off_makes_it_not_late(
    tmp_path: Path, within: float | None
) -> None:
    here = Late(tmp_path, within=within)
    here.go(0, cmd.Proceed())
    here.go(240, cmd.Proceed())
    before = here.schedule.due(here.driver.state, here.driver.now())
    here.clock.advance(86_000)
    here.driver.come_back()
    assert here.schedule.due(here.driver.state, here.driver.now()) == before + 86_000
    assert "over" not in here.text
    assert "longer" not in here.text


@pytest.mark.parametrize(
    ("start", "by", "minutes"),
    [
        ("2026-11-25T06:30", "7:10", 40),  # an hour ahead of UTC
        ("2026-10-25T01:30", "3:10", 160),  # 2:00 to 3:00 comes twice that night
        ("2026-03-29T01:30", "3:10", 40),  # and does not come in that one
    ],
)
def test_a_time_of_day_is_one_of_the_local_clocks(
    tmp_path: Path, start: str, by: str, minutes: int
) -> None:
    local = datetime.fromisoformat(start).replace(tzinfo=ZoneInfo("Europe/Berlin"))
    here = Late(tmp_path, start=local)
    hour, minute = by.split(":")
    command = TimeLimit(until=int(hour) * 3600 + int(minute) * 60)
    assert here.schedule.seconds_for(command, here.driver.state, 0.0) == minutes * 60


def test_what_is_refused(tmp_path: Path) -> None:
    here = Late(tmp_path)
    with pytest.raises(Refused, match="the session ends in time anyway: in 49:58"):
        here.offered()
    with pytest.raises(
        Refused, match="the session does not fit into 5:00: it ends at the earliest in 20:55"
    ):
        here.offered(TimeLimit(within=300))
    local = here.clock.local() - timedelta(minutes=1)
    with pytest.raises(Refused, match="that time of day has passed"):
        here.offered(TimeLimit(until=local.hour * 3600 + local.minute * 60))
    here.go(0, cmd.Proceed())
    here.go(240, cmd.Proceed())
    here.go(1, cmd.StartNow())
    with pytest.raises(Refused, match="in a rest or a pause"):
        here.offered(TimeLimit(within=1800))
    everything = cmd.LeaveOut(
        tuple((s.exercise, s.number) for s in here.driver.state.course.planned_sets)
    )
    here.driver.send(cmd.Undo())
    here.driver.send(everything)  # in a rest that is the end
    assert here.driver.state.phase == "wrap-up"


def test_a_session_of_no_set_does_not_begin(tmp_path: Path) -> None:
    here = Late(tmp_path)
    sets = tuple((s.exercise, s.number) for s in here.driver.state.course.planned_sets)
    with pytest.raises(Refused, match="at least one set"):
        here.driver.send(cmd.LeaveOut(sets))
    here.driver.send(cmd.LeaveOut(sets[3:]))  # nor does one of which they went one by one
    with pytest.raises(Refused, match="at least one set"):
        here.driver.send(cmd.LeaveOut(sets))


def test_the_rest_runs_on_where_what_comes_next_stays(tmp_path: Path) -> None:
    here = Late(tmp_path, within=2900)
    here.go(0, cmd.Proceed())
    here.go(240, cmd.Proceed())
    here.driver.send(cmd.Ask(15))
    until = here.driver.state.until
    here.driver.send(here.offered())
    assert here.driver.state.until == until
    assert here.driver.state.asked == 15
