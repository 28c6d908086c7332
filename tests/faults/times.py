"""Faults of time: the wall clock set, clocks changed, a suspend; and how commits are made."""

from __future__ import annotations

import random
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from runner.live.driver import SettledEvent
from runner.live.session_setup import Live, prepare
from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.flow import read_line
from runner.testing import ManualClock
from tests.faults.frame import Fault, Outcome, Skipped
from tests.faults.hand import events_of, integrity, quiet_lines
from tests.kill.plan import PLAN
from tests.lines.manual import Silence
from tests.lines.process import ROOT, environment

DATABASE = "record.db"
BERLIN = ZoneInfo("Europe/Berlin")
# At 01:00 UTC on the last Sundays of March and October (EU directive 2000/84/EC).
CHANGES = (datetime(2026, 3, 29, 1, tzinfo=UTC), datetime(2026, 10, 25, 1, tzinfo=UTC))


class WallClock(ManualClock):
    """A manual clock whose wall clock can be set, in a zone that changes its clocks."""

    def __init__(self, start: datetime) -> None:
        super().__init__(start)
        self.begun, self.wrong = start, timedelta()

    def local(self) -> datetime:
        """What the wall clock shows."""
        real = self.begun.astimezone(UTC) + timedelta(seconds=self.seconds)
        return (real + self.wrong).astimezone(BERLIN)


@dataclass
class Sitting:
    """A session on such a clock, and what it has told."""

    rng: random.Random
    clock: WallClock
    data: Path
    plan: Path
    live: Live
    shown: list[SettledEvent]

    def go_on(self, lines: int) -> None:
        """Type so many lines, tenths of seconds apart."""
        typed, driver = quiet_lines(self.rng), self.live.driver
        for _ in range(lines):
            self.clock.advance(self.rng.uniform(0.05, 1.5))
            driver.tick()
            try:
                driver.send(read_line(next(typed)))
            except Refused:
                continue

    def again(self) -> Live:
        """The same session, cut off here and gone on with."""
        self.live.driver.keeper._here.store.close()
        opening = prepare(str(self.plan), data=self.data, trainee="Ada", clock=self.clock)
        self.live = opening.resume(Silence())
        self.live.driver.listen(self.shown.extend)
        self.live.driver.come_back()
        return self.live

    def judge(self) -> Outcome:
        """Close, and hold all that was told against the record."""
        if self.live.driver.state.phase != "closed":
            self.live.driver.send(cmd.End())
        outcome, path = Outcome(len(self.shown)), self.data / DATABASE
        there = events_of(path, self.live.info.id)
        told = [one.event for one in self.shown]
        if [e.name for e in told] != [e.name for e in there]:
            outcome.lost.append(f"told {len(told)} events, on file {len(there)}")
        seconds = [event.at for event in told]
        if seconds != sorted(seconds):
            outcome.lost.append(f"events go back in time: {seconds}")
        if [e.utc for e in there] != [self.live.info.utc_text(at) for at in seconds]:
            outcome.lost.append("an event on file has not the time that it was told with")
        if integrity(path) != "ok":
            outcome.lost.append(integrity(path))
        self.live.driver.keeper._here.store.close()
        return outcome


def sit_down(seed: int, folder: Path, start: datetime) -> Sitting:
    """Open a session of the hasty plan, and begin it."""
    plan = folder / "hurry.toml"
    plan.write_text(PLAN, encoding="utf-8")
    clock, data = WallClock(start), folder / "data"
    opening = prepare(str(plan), data=data, trainee="Ada", clock=clock)
    # These sessions need no power cut to be survived, and a disk's sync takes real time.
    opening.record._connection.execute("PRAGMA synchronous = OFF")
    live = opening.begin(Silence())
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    sitting = Sitting(rng, clock, data, plan, live, [])
    live.driver.listen(sitting.shown.extend)
    live.driver.open()
    sitting.go_on(8)
    return sitting


def _unmoved(sitting: Sitting, act: Callable[[], None]) -> list[str]:
    """Do something to the clock's hands that must not move the session's seconds."""
    driver = sitting.live.driver
    driver.tick()
    before = driver.now(), driver.due()
    act()
    driver.tick()
    after = driver.now(), driver.due()
    return [] if after == before else [f"now and the next deadline were {before}, are {after}"]


def wall_clock_set(seed: int, folder: Path) -> Outcome:
    """Set back or forward by an hour in mid-session, then cut off and gone on with."""
    sitting = sit_down(seed, folder, datetime(2026, 11, 25, 6, 30, tzinfo=UTC))
    by = timedelta(hours=1 if seed % 2 else -1)

    def set_it() -> None:
        sitting.clock.wrong = by

    lost = _unmoved(sitting, set_it)
    sitting.go_on(sitting.rng.randint(5, 30))
    if seed % 4 < 2 and sitting.live.driver.state.phase not in ("ready", "closed"):
        last = sitting.shown[-1].event.at
        back = sitting.again()
        if back.driver.now() < last:
            lost.append(f"gone on with at {back.driver.now()}, and it had come to {last}")
        sitting.go_on(10)
    outcome = sitting.judge()
    outcome.lost += lost
    return outcome


def clocks_changed(seed: int, folder: Path) -> Outcome:
    """A session over the change to or from summer time; cut off before, gone on with after."""
    change = CHANGES[seed % 2]
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    sitting = sit_down(seed, folder, change - timedelta(seconds=rng.uniform(5, 40)))
    sitting.go_on(sitting.rng.randint(5, 20))
    lost = []
    if seed % 4 < 2 and sitting.live.driver.state.phase not in ("ready", "closed"):
        sitting.clock.advance(60)
        since = sitting.clock.seconds
        back = sitting.again()
        # The body has rested as long as the clock on the wall cannot show.
        if abs(back.driver.now() - since) > 0.002:
            lost.append(f"gone on with at {back.driver.now()}, {since} s after the start")
    sitting.go_on(20)
    rows = sitting.live.rows()
    begun = [datetime.fromisoformat(row.set_start) for row in rows if row.set_start]
    if begun != sorted(begun):
        lost.append("sets are not in the order of their instants")
    offsets = {one.utcoffset() for one in begun}
    if not offsets <= {timedelta(hours=1), timedelta(hours=2)}:
        lost.append(f"offsets {offsets}")
    wrong = [one for one in begun if one.utcoffset() != one.astimezone(BERLIN).utcoffset()]
    lost += [f"{one} has not the offset in force then" for one in wrong]
    outcome = sitting.judge()
    outcome.lost += lost
    outcome.notes.append("with sets on both sides of it" if len(offsets) == 2 else "on one side")
    return outcome


def suspended(seed: int, folder: Path) -> Outcome:
    """The laptop's lid, in mid-session: the session pauses, and the body has rested."""
    sitting = sit_down(seed, folder, datetime(2026, 11, 25, 6, 30, tzinfo=UTC))
    driver, lost = sitting.live.driver, []
    for _ in range(3):
        running, before = driver.state.phase in ("warm-up", "rest", "set"), driver.now()
        asleep = sitting.rng.uniform(2, 7200)
        sitting.clock.suspend(asleep)
        driver.tick()
        if abs(driver.now() - before - asleep) > 0.002:
            lost.append(f"asleep for {asleep} s, and {driver.now() - before} s went by")
        if running and driver.state.phase != "paused":
            lost.append(f"{driver.state.phase}, not paused")
        sitting.go_on(sitting.rng.randint(3, 10))
    outcome = sitting.judge()
    outcome.lost += lost
    return outcome


def suspended_by_the_kernel(seed: int, folder: Path) -> Outcome:
    """Boot time really moved under a running session, by a time namespace; a process of its own."""
    if not Path("/proc/self/ns/time").exists():
        raise Skipped("there are no time namespaces here")
    by = 2 + seed % 600
    plan = folder / "hurry.toml"
    plan.write_text(PLAN, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.asleep", str(folder / "data"), str(plan), str(by)],
        capture_output=True,
        text=True,
        check=False,
        env=environment(),
        cwd=ROOT,
        timeout=60,
    )
    if done.returncode == 77:
        raise Skipped(done.stderr.strip().splitlines()[-1])
    outcome = Outcome(int(done.stdout or 0))
    if done.returncode:
        outcome.lost.append(done.stderr[-800:])
    return outcome


def made_durable(seed: int, folder: Path) -> Outcome:
    """The live connection's own pragmas, and its journal, while a session is kept."""
    plan = folder / "hurry.toml"
    plan.write_text(PLAN, encoding="utf-8")
    opening = prepare(str(plan), data=folder / "data", trainee="Ada", clock=ManualClock())
    live = opening.begin(Silence())
    live.driver.open()
    connection = opening.record._connection
    found = [
        connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("synchronous", "journal_mode", "foreign_keys")
    ]
    outcome = Outcome(len(live.driver.state.log))
    if found != [3, "delete", 1]:  # 3 is EXTRA, https://www.sqlite.org/pragma.html
        outcome.lost.append(f"synchronous, journal, foreign keys: {found}")
    files = sorted(path.name for path in (folder / "data").iterdir())
    if files != [DATABASE]:
        outcome.lost.append(f"a commit leaves {files} behind")
    opening.record.close()
    return outcome


FAULTS = (
    Fault("wall clock set", "by an hour, back and forward, in mid-session; half cut off after",
          wall_clock_set, 200, 8),
    Fault("clocks changed", "to and from summer time in mid-session; half cut off across it",
          clocks_changed, 200, 8),
    Fault("suspend", "three times a session for 2 s to 2 h, on the manual clock",
          suspended, 200, 8),
    Fault("suspend by the kernel", "boot time moved by 2 s to 10 min under a running session",
          suspended_by_the_kernel, 20, 1),
    Fault("synchronous setting", "the pragmas of the live connection: EXTRA, journal DELETE",
          made_durable, 10, 1),
)  # fmt: skip
