"""The winter crew of Kestrel Hut at work: sessions driven through the machine by a manual clock."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from runner.law.workout import Block, Exercise, Item, Level, Timing, Workout
from runner.progress.adjust import Offer
from runner.progress.history import SetRow
from runner.record.record import Record
from runner.record.rows import SessionInfo
from runner.session import flow, verb as cmd
from runner.session.apply import TurnResult, initial
from runner.session.events import Event
from runner.session.state import State

BERLIN = ZoneInfo("Europe/Berlin")
MONDAY = datetime(2026, 11, 23, 6, 30, tzinfo=BERLIN)
TITLE = "Kestrel Hut, morning"

PRESS = Exercise(
    id="press",
    name="Standing band press",
    short="PRESS",
    pattern="horizontal push",
    prime=("chest",),
    assist=("triceps", "front-shoulder"),
    both_sides=(),
    sides="together",
    measure="reps",
    rep_range=(8, 30),
    reserve=2,
    rep_limit=40,
    progression=(
        Level("mark-1", "one stride", (("anchor", "100 cm"),)),
        Level("mark-2", "stepping out", (("anchor", "120 cm"),), tempo="2-0-1"),
        Level("mark-2", "stepping out", (("anchor", "140 cm"),), tempo="2-0-1"),
    ),
    instead=("bench",),
)
BENCH = replace(
    PRESS,
    id="bench",
    name="Push-up, hands on the bench",
    short="BENCH",
    assist=(),
    progression=(Level("60", "hands on the bench", (("height", "60 cm"),)),),
    instead=(),
)
ROW = replace(
    PRESS,
    id="row",
    name="Rucksack row",
    short="ROW",
    prime=("upper-back",),
    assist=("biceps",),
    both_sides=("low-back",),
    sides="left first",
    progression=(
        *(Level("light", "rucksack", load=float(kg)) for kg in (4, 6, 8)),
        Level("slow", "slow"),
    ),
    instead=(),
)
PLANK = replace(
    PRESS,
    id="plank",
    name="Plank by the stove",
    short="PLANK",
    prime=("abdomen",),
    assist=(),
    measure="hold",
    rep_range=(10, 60),
    progression=(Level("floor", "on the floor"),),
    instead=(),
)
EXERCISES = {e.id: e for e in (PRESS, BENCH, ROW, PLANK)}
LAW = Timing(
    recovery=8,
    recovery_least=7,
    recovery_cross=6,
    changeover_from=2,
    changeover_to=3,
    block_rest=4,
    side_gap=1,
    position=1,
    breather=0,
)


def morning(*blocks: tuple[Item, ...], session: str = "A", trial: bool = False) -> Workout:
    """A session of so many blocks; by default press and row twice in turn, then a plank."""
    usual = ((Item("press", 2), Item("row", 2)), (Item("plank", 1),))
    law = dict.fromkeys(EXERCISES, LAW)
    return Workout(
        plan=TITLE,
        session=session,
        name="Morning",
        blocks=tuple(Block(items, law) for items in blocks or usual),
        exercises=EXERCISES,
        trial=trial,
        lead_in=2.0,
    )


class Sitting:
    """One session by one trainee, each act kept as soon as it has happened."""

    def __init__(
        self,
        record: Record,
        workout: Workout | None = None,
        *,
        trainee: str = "Runa",
        at: datetime = MONDAY,
        token: str | None = None,
        text: str = "title = 'hut'\n",
        offers: tuple[Offer, ...] = (),
    ) -> None:
        self.record = record
        self.workout = workout or morning()
        self.info = SessionInfo.opened(at, self.workout, text, trainee, token=token)
        self.now = 0.0
        self.events: list[Event] = []
        baseline = replace(record.baseline(trainee, self.workout), offers=offers)
        self.state: State = initial(self.workout, baseline)
        record.start(self.info)
        self.keep(flow.opened(self.state))

    def keep(self, result: TurnResult) -> None:
        first = len(self.events) + 1
        new = [one.event for one in result.events]
        self.record.append(self.info.id, list(enumerate(new, first)), result.state)
        self.events += new
        self.state = result.state

    def numbered(self) -> list[tuple[int, Event]]:
        return list(enumerate(self.events, 1))

    def do(self, *commands: cmd.Command, after: float = 0.0) -> Sitting:
        self.now += after
        for command in commands:
            self.keep(flow.handle(self.state, command, self.now))
        return self

    def begin(self) -> Sitting:
        """From ready into the first set."""
        return self.do(cmd.Proceed()).wait()

    def wait(self) -> Sitting:
        """Until the rest is over and the set has begun."""
        due = flow.deadline(self.state)
        assert due is not None
        self.now = due
        self.keep(flow.advance(self.state, self.now))
        return self

    def set(self, count: float | None = None, seconds: float = 20.0, *, on: bool = True) -> Sitting:
        """End the bout under way after so many seconds, enter its count, wait for the next."""
        row = self.state.running
        assert row is not None
        self.do(cmd.Proceed(), after=seconds)
        if count is not None:
            measure = self.state.exercise(row).measure
            self.do(cmd.Enter(measure, (cmd.Count(count),)))
        if on and self.state.phase == "rest":
            self.wait()
        return self

    def whole(self, counts: Sequence[float | None] | float = 10) -> Sitting:
        """Begin, do every bout with these counts (holds last theirs), and close."""
        self.begin()
        done = 0
        while (row := self.state.running) is not None:
            count = counts if isinstance(counts, (int, float)) else counts[done]
            hold = self.state.exercise(row).measure == "hold"
            self.set(None if hold else count, count if hold and count is not None else 20.0)
            done += 1
        return self.close()

    def close(self) -> Sitting:
        return self.do(cmd.End(), after=5.0)

    @property
    def rows(self) -> list[SetRow]:
        return self.record.session_rows(self.info.id)


def later(days: float = 7, start: datetime = MONDAY) -> datetime:
    return start + timedelta(days=days)
