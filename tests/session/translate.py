"""Sessions of the tick oracle, run through the real machine with a clock set by hand.

A tick is a second. The two are written apart; only here do they meet.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import NamedTuple

from msgspec import structs

from runner.law import workout as core
from runner.law.course import Course, list_planned_sets
from runner.progress.adjust import Baseline
from runner.session import events as ev, flow, verb as cmd
from runner.session.apply import TurnResult as Came
from runner.session.state import State
from tests.oracle import model

STATUS = {"done": "done", "paused": "done", "given up": "broken"}


class Seen(NamedTuple):
    """A bout as either of the two has it."""

    exercise: str
    round: int
    side: str
    start: float
    end: float
    status: str
    rest_before: float | None
    why: str
    recovery: float | None


def fitted(session: model.Session) -> model.Session:
    """The session as the machine can have it.

    Expected lengths learn from what was done; without history both sides expect the same (by
    the band); ramp sets stand in front of a work set; a set given up is given up whole.
    """

    def fit(one: model.Exercise) -> model.Exercise:
        first = one.order[0]
        return dataclasses.replace(
            one,
            ramp=min(one.ramp, one.sets - 1),
            expected=dict.fromkeys(one.order, one.expected[first]),
            expected_ramp=dict.fromkeys(one.order, one.expected_ramp.get(first, 0)),
        )

    return dataclasses.replace(
        session,
        blocks=tuple(tuple(fit(one) for one in block) for block in session.blocks),
        acts=tuple(dataclasses.replace(act, whole=True) for act in session.acts),
        expect=model.Median(counted=("done", "paused")),
    )


def state_of(session: model.Session) -> State:
    """The same session, ready to begin; its stations stand as given."""
    workout = core.Workout(
        plan="Kestrel Hut",
        session="A",
        name="Morning",
        blocks=tuple(_block(block) for block in session.blocks),
        exercises={one.id: _exercise(one) for block in session.blocks for one in block},
        stations={n: core.Station(n, n, change) for n, change in session.stations.items()},
        lead_in=session.lead_in,
    )
    planned = {one.id: one for block in session.blocks for one in block}
    planned_sets = tuple(
        structs.replace(
            planned_set,
            level=core.Level(
                "plain", "plain", _setup(planned[planned_set.exercise], planned_set.round)
            ),
        )
        for planned_set in list_planned_sets(workout, {})
    )
    lengths = {
        (one.id, "plain", "", side): tuple(map(float, past))
        for one in planned.values()
        for side, past in one.history.items()
    }
    stood = {station: (("way", way),) for station, way in session.stood.items()}
    baseline = Baseline(lengths=lengths)
    return State(workout, baseline, Course(workout, planned_sets, lengths, stations=stood))


def _block(block: Iterable[model.Exercise]) -> core.Block:
    block = list(block)
    items = tuple(core.Item(one.id, one.sets - one.ramp, one.ramp) for one in block)
    return core.Block(items, {one.id: _timing(one.settings) for one in block})


def _timing(own: model.Settings) -> core.Timing:
    return core.Timing(
        recovery=own.T,
        recovery_least=own.L,
        recovery_cross=own.A,
        changeover_from=own.c1,
        changeover_to=own.c2,
        block_rest=own.block_rest,
        side_gap=own.gap,
        position=own.position,
        breather=own.breather,
    )


def _exercise(one: model.Exercise) -> core.Exercise:
    ramp, work = one.expected_ramp[one.order[0]], one.expected[one.order[0]]
    return core.Exercise(
        id=one.id,
        name=one.id,
        short=one.id,
        pattern="other",
        prime=one.prime,
        assist=one.assist,
        both_sides=one.both_sides,
        sides=one.sides,
        measure="hold",
        rep_range=(ramp, 2 * work - ramp),
        reserve=2,
        rep_limit=40,
        progression=(core.Level("plain", "plain"),),
        station=one.station,
    )


def _setup(one: model.Exercise, number: int) -> core.Setup:
    way = one.setup(number)
    return () if way is None else (("way", way),)


def expected_of(session: model.Session, outcome: model.Outcome) -> list[Seen]:
    """The bouts that the oracle saw."""
    return [
        Seen(
            bout.planned_set.exercise.id,
            bout.planned_set.round,
            bout.planned_set.side,
            bout.start,
            bout.end,
            STATUS[bout.status],
            None if number == 0 else bout.rest_before,
            bout.why,
            bout.recovery,
        )
        for number, bout in enumerate(outcome.bouts)
    ]


def commands_of(outcome: model.Outcome) -> list[tuple[float, cmd.Command]]:
    """The acts that happened, as commands at their instants."""
    found: list[tuple[float, int, cmd.Command]] = []
    for happened in outcome.happened:
        act, at = happened.act, happened.at
        if act.what == "pause":
            found.append((at, 1, cmd.Pause()))
            found.append((at + act.amount, 0, cmd.Proceed()))
        else:
            command = {
                "skip": cmd.Skip(),
                "drop": cmd.Drop(),
                "ask": cmd.Ask(act.amount),
                "now": cmd.StartNow(),
            }[act.what]
            found.append((at, 1, command))
    found.sort(key=lambda one: one[:2])
    return [(at, command) for at, _, command in found]


class Machine:
    """The real machine on an oracle's session, from instant to instant."""

    def __init__(self, session: model.Session) -> None:
        self.lengths = {
            (one.id, number, side): one.actual.get(
                (number, side), one.guess(one.kind(number), side)
            )
            for block in session.blocks
            for one in block
            for number in range(1, one.sets + 1)
            for side in one.order
        }
        self.state = state_of(session)
        self.whys: list[str] = []
        self.why = ""

    def _take(self, came: Came) -> None:
        events = [one.event for one in came.events]
        returned = any(isinstance(event, ev.Resumed) for event in events)
        for event in events:
            if isinstance(event, ev.Resting) and not returned:
                self.why = event.why  # the law's; on return from a pause only the start moves
            if isinstance(event, ev.Started):
                self.whys.append(self.why)
        self.state = came.state

    def _by_itself(self) -> float | None:
        """When the next thing happens that no command brings about."""
        row = self.state.running
        if row is not None and row.start is not None:
            return (
                row.start + self.lengths[row.planned_set.exercise, row.planned_set.round, row.side]
            )
        return flow.deadline(self.state)

    def run(self, commands: list[tuple[float, cmd.Command]]) -> None:
        """From the start to the wrap-up."""
        self._take(flow.handle(self.state, cmd.Proceed(), 0.0))
        ahead = list(commands)
        while self.state.phase != "wrap-up":
            due = self._by_itself()
            if ahead and (due is None or ahead[0][0] < due):
                at, command = ahead.pop(0)
                self._take(flow.handle(self.state, command, at))
            elif due is not None and self.state.running is not None:
                self._take(flow.handle(self.state, cmd.Proceed(), due))
            elif due is not None:
                self._take(flow.advance(self.state, due))
            else:
                raise AssertionError(f"nothing goes on in {self.state.phase}")

    def seen(self) -> list[Seen]:
        """The bouts that were begun."""
        rows = [row for row in self.state.rows if row.start is not None and row.end is not None]
        return [
            Seen(
                row.planned_set.exercise,
                row.planned_set.round,
                row.side,
                row.start or 0.0,
                row.end or 0.0,
                row.status,
                row.rest_before,
                why,
                row.recovery,
            )
            for row, why in zip(rows, self.whys, strict=True)
        ]


def by_machine(session: model.Session, outcome: model.Outcome) -> list[Seen]:
    """The session's bouts as the machine has them, disturbed as the oracle's run was."""
    machine = Machine(session)
    machine.run(commands_of(outcome))
    return machine.seen()


def same(one: Seen, other: Seen) -> bool:
    """Whether two bouts agree: words exactly, times within 1e-6."""
    return all(
        a == b or (isinstance(a, float | int) and isinstance(b, float | int) and abs(a - b) < 1e-6)
        for a, b in zip(one, other, strict=True)
    )
