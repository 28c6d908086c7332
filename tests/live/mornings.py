"""Whole sessions on manual time, one morning after another: every set takes half a minute."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from runner.live.session_setup import Live, Opening, prepare
from runner.live.session_summary import SessionComparison
from runner.session import verb as cmd
from runner.testing import ManualClock

BEGIN = datetime(2026, 11, 2, 6, 30, tzinfo=ZoneInfo("Europe/Berlin"))
Counts = Mapping[str, tuple[int | tuple[int, int], ...]]  # a count, or with its reserve


class Silent:
    def play(self, name: str, late_s: float = 0.0) -> None:
        """Nobody listens."""


class Hut:
    """One trainee's sessions of a plan. `day` is the morning's, from `BEGIN` on."""

    def __init__(self, data: Path, plan: str) -> None:
        self._data, self._plan = data, data / "mornings.toml"
        self._plan.write_text(plan, encoding="utf-8")
        self.day = 0

    @contextmanager
    def opened(self) -> Iterator[tuple[Opening, ManualClock]]:
        """What is known before the session of that morning."""
        clock = ManualClock(BEGIN + timedelta(days=self.day))
        opening = prepare(str(self._plan), data=self._data, trainee="Ada", clock=clock)
        with opening.record:
            opening.record._connection.execute("PRAGMA synchronous = OFF")
            yield opening, clock

    @contextmanager
    def session(
        self,
        counts: Counts,
        *,
        take: str = "",
        pain: str = "",
        read_s: float = 0.0,
        rest_s: float | None = None,
    ) -> Iterator[SessionComparison]:
        """A session done to its end and closed, and what it has brought; then two days go by.

        `take`: an offer; `pain`: an exercise that hurts; `read_s`: how long the sheet is read;
        `rest_s`: after so long every rest is cut.
        """
        with self.opened() as (opening, clock):
            live = opening.begin(Silent())
            live.driver.open()
            if take:
                live.driver.send(cmd.Take(take))
            clock.advance(read_s)
            live.driver.send(cmd.Proceed())
            _sets(live, clock, counts, pain, rest_s)
            live.driver.send(cmd.Proceed())
            yield SessionComparison(opening, live)
        self.day += 2

    def done(self, counts: Counts, *, take: str = "", pain: str = "") -> None:
        """The same, with nothing to look at."""
        with self.session(counts, take=take, pain=pain):
            pass


def _sets(live: Live, clock: ManualClock, counts: Counts, pain: str, rest_s: float | None) -> None:
    left = {name: list(numbers) for name, numbers in counts.items()}
    while live.driver.state.phase != "wrap-up":
        row = live.driver.state.running
        if row is None and rest_s is not None:
            clock.advance(rest_s)
            live.driver.send(cmd.StartNow())
            continue
        if row is None:
            clock.advance(max(live.driver.seconds_to_wake() or 0.0, 0.001))
            live.driver.tick()
            continue
        clock.advance(30)
        live.driver.send(cmd.Proceed())
        count = left[row.planned_set.exercise].pop(0)
        one = cmd.Count(*count) if isinstance(count, tuple) else cmd.Count(count)
        live.driver.send(cmd.Enter("reps", (one,)))
        if row.planned_set.exercise == pain:
            live.driver.send(cmd.Hurt("left elbow"))
