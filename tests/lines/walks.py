"""Random walks of line mode against a real record.

Lines drawn at random at instants drawn at random. After each walk, and at one moment within
it, the events on file are replayed: they give the state of the session, and the rows on file
are the rows of that state. `python -m tests.lines.walks 20000` walks as often as is asked.
"""

from __future__ import annotations

import io
import queue
import random
import sys
import time
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from runner.lines.session import PlainSession
from runner.live.controller import Controller
from runner.live.session_setup import Live, baseline_of, opening_of
from runner.plan.file import parse_plan
from runner.plan.models import Plan
from runner.record.record import Record
from runner.record.write import set_row
from runner.session.apply import replay
from runner.testing import ManualClock
from tests.lines.manual import Silence
from tests.lines.process import ROOT

MORNING = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
A_RECORD = 250  # walks in one record in memory; more people make it slower

_BLOCKS = """
[[session.block]]
do = [
  { exercise = "press", sets = 2, ramp = 1 },
  { exercise = "row", sets = 2, versions = ["slow", "light"] },
]
[[session.block]]
do = [{ exercise = "hang", sets = 1 }, { exercise = "bench-push-up", sets = 2 }]
"""
_HANG = """
[exercise.hang]
name = "Hang from the low bar"
short = "HANG"
pattern = "vertical pull"
prime = ["lats"]
measure = "hold"
hold = ["5s", "20s"]
station = "bar"
instead = ["row"]
[[exercise.hang.version]]
id = "feet"
name = "feet on the floor"
setup = { height = "110 cm" }
[[exercise.hang.version]]
id = "free"
name = "free"
setup = { height = "210 cm" }

"""


def plan_text() -> str:
    """The plan that has every key, with a hold and a second block."""
    text = (ROOT / "tests" / "data" / "every-key.toml").read_text(encoding="utf-8")
    before, _, _ = text.partition("[[session.block]]")
    return before.replace("[[session]]", f"{_HANG}[[session]]", 1) + _BLOCKS


OFFERS = ("lighter", "place", "planned", "shorten 3m", "shorten 2m", "shorten", "shorten 4m")
BEFORE = (*OFFERS, *OFFERS, "load 9", "setup anchor=90 cm", "note cold", "mass 74", "undo", "redo")
CHANGES = (
    "skip", "skip", "drop", "swap", "swap", "easier", "harder", "easier", "harder", "load 9",
    "load 12", "setup anchor=90 cm", "setup height=100 cm", "pain left knee",
    "pain", "pain left elbow", "shorten 3m", "shorten 2m", "shorten 1m",
    "place", "lighter", "+", "-", "late", "pause",
)  # fmt: skip
BACK = ("undo", "undo", "undo", "redo", "redo")
COUNTS = (
    "12",
    "9",
    "30",
    "8/1",
    "45",
    "12 14",
    "7 9",
    "12s",
    "20s",
    "nocount",
    "fix 1 9",
    "fix 2 8s",
)
OTHERS = ("note cold hands", "rpe 6", "mass 74.5", "keep", "today", "planned", "help", "twelve")
ON = ("", "", "", "go")


def draw(rng: random.Random) -> list[tuple[float, str]]:
    """Some lines, each with the seconds before it: offers, then the session, at times its end."""
    lines = [rng.choice(BEFORE) for _ in range(rng.randrange(6))]
    lines += ["", ""] if rng.random() < 0.9 else []
    kinds = (ON, CHANGES, BACK, COUNTS, OTHERS)
    weights = [rng.random() + 0.1 for _ in kinds]
    lines += [rng.choice(rng.choices(kinds, weights)[0]) for _ in range(rng.randrange(5, 35))]
    lines += ["end"] if rng.random() < 0.2 else []
    return [(rng.choice((0.0, 0.5, 1.0, 3.0, 8.0, 20.0)), line) for line in lines]


class Keys:
    """Stands for the lines of stdin: time passes to each line, and past what falls due first."""

    def __init__(self, clock: ManualClock, lines: list[tuple[float, str]], look: int) -> None:
        self._clock, self._left, self._look = clock, iter(lines), look
        self._next: tuple[float, str | None] | None = None
        self.live: Live | None = None
        self.age = 0.0  # lines are taken as they arrive
        self.given: list[str] = []

    def next(self, timeout: float | None) -> str | None:
        """The next line; queue.Empty where something falls due before it."""
        if self._next is None:
            wait, line = next(self._left, (1.0, None))
            self._next = (self._clock.seconds + wait, line)
        at, line = self._next
        wait = max(at - self._clock.seconds, 0.0)
        if timeout is not None and timeout < wait:
            self._clock.advance(timeout)
            raise queue.Empty
        self._clock.advance(wait)
        self._next = None
        if len(self.given) == self._look and self.live is not None:
            compare(self.live)
        self.given.append("the end of input" if line is None else line)
        return line


def compare(live: Live) -> None:
    """What is on file, replayed, is the session as it stands; its rows are the rows on file."""
    driver, keeper = live.driver, live.driver.keeper
    record = keeper._here.store
    assert isinstance(record, Record)
    assert not keeper.lost, keeper.trouble
    events = record.events(live.info.id)
    assert list(events) == keeper.given
    state = replay(driver.state.planned or driver.state.workout, baseline_of(events), events)
    assert state == driver.state
    on_file = record.session_rows(live.info.id)
    assert on_file == [
        set_row(live.info, state, row) for row in state.rows if row.status != "running"
    ]


@dataclass
class Walker:
    """Walks one seed after another."""

    text: str
    plan: Plan
    record: Record
    walked: int = 0

    @classmethod
    def new(cls) -> Walker:
        """With an empty record in memory."""
        text = plan_text()
        return cls(text, parse_plan(text, "walks"), Record.in_memory())

    def walk(self, seed: int) -> str:
        """One walk, checked; what was said on stderr."""
        if self.walked and self.walked % A_RECORD == 0:
            self.record.close()
            self.record = Record.in_memory()
        self.walked += 1
        rng = random.Random(seed)
        clock = ManualClock(MORNING + timedelta(seconds=seed))  # sessions are named by it
        opening = opening_of(
            self.plan, self.text, self.record, clock=clock, trainee=f"Ada {seed}", session=None
        )
        if rng.random() < 0.3:
            opening.within = rng.choice((60.0, 150.0, 240.0))
        lines = draw(rng)
        keys = Keys(clock, lines, look=rng.randrange(len(lines) + 1))
        live = keys.live = opening.begin(Silence())
        out, err = io.StringIO(), io.StringIO()
        try:
            controller = Controller(opening, yes=True)
            controller.take(live)
            PlainSession(out, err, controller).run(live, keys, new=True)  # type: ignore[arg-type]
            compare(live)
        except BaseException:
            print(f"seed {seed}, lines {keys.given}", file=sys.stderr)
            raise
        return err.getvalue()


def walk_all(seeds: Iterable[int]) -> int:
    """Walk every seed; how many walks there were."""
    walker = Walker.new()
    for seed in seeds:
        walker.walk(seed)
    walker.record.close()
    return walker.walked


if __name__ == "__main__":
    began = time.monotonic()
    count, first = int(sys.argv[1]), int((*sys.argv, "0")[2])
    done = walk_all(range(first, first + count))
    print(f"{done} walks in {time.monotonic() - began:.0f} s, all as on file")
