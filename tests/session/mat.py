"""A session and a clock set by hand, for tests that are conversations.

Every step is checked: the replay of the events is the state, also by way of JSON; a command
refused changes nothing.
"""

from __future__ import annotations

import json

from msgspec.structs import replace

from runner.law.workout import Workout
from runner.progress.adjust import Baseline
from runner.session import events as ev, flow, verb as cmd
from runner.session.apply import Refused, TurnResult, initial, replay
from runner.session.state import Phase, Row, State
from tests.law.builders import pair

GO = cmd.Proceed()


def reps(*counts: float) -> cmd.Enter:
    """Repetitions, one number or left and right."""
    return cmd.Enter("reps", tuple(cmd.Count(count) for count in counts))


def seconds(*counts: float) -> cmd.Enter:
    """Seconds of a hold, one number or left and right."""
    return cmd.Enter("hold", tuple(cmd.Count(count) for count in counts))


def through_json(events: list[ev.Event]) -> list[ev.Event]:
    """The events as a record would give them back."""
    rows = [(e.name, e.at, e.act, json.dumps(ev.to_data(e))) for e in events]
    return [ev.from_data(name, at, act, json.loads(data)) for name, at, act, data in rows]


class Mat:
    """A session, opened at 0."""

    def __init__(self, workout: Workout | None = None, baseline: Baseline | None = None) -> None:
        self.workout = workout or pair()
        self.baseline = baseline or Baseline()
        self.state: State = initial(self.workout, self.baseline)
        self.now = 0.0
        self.events: list[ev.Event] = []
        self.latest: list[ev.Event] = []  # of the last step
        self._take(flow.opened(self.state, 0.0))

    def _take(self, result: TurnResult) -> None:
        self.latest = [one.event for one in result.events]
        self.events += self.latest
        self.state = result.state
        if result.events:
            assert result.events[-1].phase == self.state.phase

    def check(self) -> None:
        """The events, and what a record gives back of them, lead to the state again."""
        assert through_json(self.events) == self.events
        assert replay(self.workout, self.baseline, self.events) == self.state

    def wait(self, seconds: float) -> Mat:
        """Let time pass, and what it brings."""
        return self.until(self.now + seconds)

    def until(self, at: float) -> Mat:
        """Let time pass to an instant, and what it brings."""
        assert at >= self.now
        while (due := flow.deadline(self.state)) is not None and due <= at:
            self.now = max(due, self.now)
            self._take(flow.advance(self.state, self.now))
        self.now = at
        return self

    def do(self, command: cmd.Command, after: float = 0.0) -> Mat:
        """Ask for something, some seconds later."""
        return self.wait(after).at_once(command)

    def at_once(self, command: cmd.Command) -> Mat:
        """Ask for something before time brings anything: after a suspend, after a crash."""
        self._take(flow.handle(self.state, command, self.now))
        self.check()
        return self

    def refused(self, command: cmd.Command, after: float = 0.0) -> str:
        """Ask for what cannot be; the sentence that comes back."""
        self.wait(after)
        before = self.state
        try:
            flow.handle(self.state, command, self.now)
        except Refused as refused:
            assert self.state is before
            return str(refused)
        raise AssertionError(f"{command} was not refused in {before.phase}")

    # -- ways to a phase -------------------------------------------------------------------------

    def begin(self) -> Mat:
        """From ready to the lead-in, past a warm-up."""
        self.do(GO)
        return self.do(GO) if self.state.phase == "warm-up" else self

    def start(self) -> Mat:
        """Let the rest pass, to the set that it leads to."""
        due = flow.deadline(self.state)
        assert due is not None, self.state.phase
        return self.until(due)

    def set(self, lasting: float = 40.0) -> Mat:
        """Let the rest pass and do a bout."""
        return self.start().do(GO, after=lasting)

    def to_the_end(self, lasting: float = 40.0) -> Mat:
        """Do all that is left."""
        while self.state.phase != "wrap-up":
            self.set(lasting)
        return self

    # -- what a test looks at --------------------------------------------------------------------

    @property
    def phase(self) -> Phase:
        return self.state.phase

    @property
    def rows(self) -> tuple[Row, ...]:
        return self.state.rows

    @property
    def row(self) -> Row:
        """The last row."""
        return self.state.rows[-1]

    @property
    def names(self) -> list[str]:
        """The events of the last step."""
        return [event.name for event in self.latest]

    @property
    def left(self) -> float:
        """Seconds of the rest that are left."""
        assert self.state.until is not None
        return self.state.until - self.now

    @property
    def coming(self) -> tuple[str, int, str] | None:
        """Exercise, number and side of what is under way or to come."""
        if self.state.coming is None:
            return None
        planned_set, side = self.state.coming
        return planned_set.exercise, planned_set.number, side


def advisor(state: State) -> State:
    """A state without its history: what undo has to give back."""
    return replace(state, log=(), acts=0, undone_from=None)
