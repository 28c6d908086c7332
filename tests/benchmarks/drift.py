"""Whether anything comes later the longer a session lasts.

By default an hour on a clock many times as fast, its cues at their instants in real time. With
`--long` also a rest of ten real minutes in a terminal: how long after each whole second its digits
change, in the last minute against the first. One redraw is a frame of Textual's, 1/60 s.
"""

from __future__ import annotations

import sqlite3
import tempfile
import time
from contextlib import closing
from pathlib import Path
from statistics import median

from runner.live.clock import FastClock, SystemClock
from runner.live.rehearsal import RehearsedDriver, prepare_rehearsal
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.progress.adjust import Baseline
from runner.session import verb as cmd
from tests.benchmarks.aids.sessions import PLAN, session
from tests.benchmarks.aids.terminal import glyphs
from tests.benchmarks.frame import Row, at_most
from tests.sound.real_session import utc_seconds

SPEED = 200.0  # of the fast clock
REDRAW_MS = 1000 / 60
LONG_S, PART_S = 600, 60


class Lateness:
    """A player that notes how late each cue was asked for, in seconds of the rehearsal."""

    def __init__(self) -> None:
        self.late: list[float] = []

    def play(self, name: str, late_s: float = 0.0) -> None:
        """Note it."""
        del name
        self.late.append(late_s)


def an_hour(speed: float) -> tuple[float, list[float]]:
    """The length of a session, and how many real seconds late its cues were, on a fast clock."""
    with tempfile.TemporaryDirectory() as folder:
        workout = compile_session(read_plan(find_plan("kestrel-hut", Path(folder))), "B")
        clock = FastClock(SystemClock(), speed)
        record = Path(folder) / "record.db"
        opening = prepare_rehearsal(workout, Baseline(), path=record, trainee="Ada", clock=clock)
        player = Lateness()
        driver = opening.begin(player).driver
        assert isinstance(driver, RehearsedDriver)
        driver.open()
        driver.send(cmd.Proceed())
        while driver.state.phase != "closed":
            wait = driver.seconds_to_wake()
            assert wait is not None
            time.sleep(wait / speed)
            driver.tick()
        return driver.now(), player.late


def rows(*, quick: bool = False) -> list[Row]:
    """An hour on a fast clock."""
    length, late = an_hour(20 * SPEED if quick else SPEED)
    quarter = len(late) // 4
    drift = 1000 * (median(late[-quarter:]) - median(late[:quarter]))
    return [
        Row("a whole session on a fast clock", length / 60, "min"),
        at_most("its last cues later than its first", drift, "ms", REDRAW_MS),
    ]


def long_rows(length_s: int = LONG_S, part_s: int = PART_S) -> list[Row]:
    """Ten minutes in a terminal."""
    with tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder:
        begun, redrawn = _a_long_rest(Path(folder), length_s)
    first, last = lateness([at for at in redrawn if at < begun + length_s - 4], begun, part_s)
    return [
        Row("a real rest: its digits after each second, first minute", first, "ms"),
        Row("the same, last minute", last, "ms", baseline=first),
        at_most("drift of a real rest of ten minutes", last - first, "ms", REDRAW_MS),
    ]


def lateness(redrawn: list[float], begun: float, part_s: int) -> tuple[float, float]:
    """Milliseconds behind whole seconds since `begun`, by median of the first and last so many."""
    late = [1000 * ((at - begun) % 1.0) for at in redrawn]
    return median(late[:part_s]), median(late[-part_s:])


def _a_long_rest(folder: Path, length_s: int) -> tuple[float, list[float]]:
    """When the rest began, and when its screen was redrawn; seconds since 1970."""
    redrawn: list[float] = []
    plan = PLAN.replace('lead_in = "1s"', f'lead_in = "{length_s}s"')
    with session(folder, plan=plan) as terminal:
        terminal.until_text("start")
        terminal.press(" ")
        terminal.wait(2.5)  # what the key itself draws
        until = time.time() + length_s - 2.5
        while (left := until - time.time()) > 0:
            if glyphs(terminal.read(left)):
                now = time.time()
                if not redrawn or now - redrawn[-1] > 0.2:  # one redraw may come in pieces
                    redrawn.append(now)
    with closing(sqlite3.connect(folder / "trial.db")) as record:
        query = "SELECT utc FROM event WHERE name = 'begun'"
        return utc_seconds(record.execute(query).fetchone()[0]), redrawn
