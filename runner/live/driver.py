"""Drives one session: time and commands in, events out, committed before anybody sees them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from runner.core import cues
from runner.core.session import commands as cmd, decide, events as ev
from runner.core.session.state import Phase, State
from runner.core.session.turn import Outcome
from runner.live.clock import SUSPEND, Clock
from runner.live.keeper import Keeper


class Shown(NamedTuple):
    """An event that may be shown: it is on file, or `kept` says that it is not."""

    event: ev.Event
    phase: Phase
    kept: bool


FINEST = 0.001  # seconds; `Driver.now` knows no finer

Listener = Callable[[Sequence[Shown]], None]


class Voice(Protocol):
    """What plays cues: never blocks, never raises."""

    def play(self, name: str, late_s: float = 0.0) -> None:
        """Ask for a cue that was due `late_s` seconds ago."""


class Driver:
    """The one owner of a running session's state.

    `origin` is the clock's reading at session second 0. Times are session seconds to the
    millisecond, so that what is kept is what was decided on.
    """

    def __init__(
        self, state: State, *, keeper: Keeper, clock: Clock, voice: Voice, origin: float
    ) -> None:
        self.state = state
        self.keeper = keeper
        self._clock, self._voice, self._origin = clock, voice, origin
        self._slept = clock.slept()
        self._latest = state.log[-1].at if state.log else 0.0
        self._ahead: list[tuple[float, cues.Cue]] = cues.ahead(state)
        self._listeners: list[Listener] = []

    def listen(self, listener: Listener) -> None:
        """Call `listener` with what has happened, once it is kept."""
        self._listeners.append(listener)

    def now(self) -> float:
        """Session seconds, to the millisecond; never backwards."""
        self._latest = max(round(self._clock.now() - self._origin, 3), self._latest)
        return self._latest

    def open(self) -> None:
        """Let a new session's first event happen."""
        self._take(decide.opened(self.state, self.now()))

    def send(self, command: cmd.Command) -> None:
        """Do what is asked, after what time has brought. Raises `turn.Refused`."""
        now = self.tick()  # the same instant, so that nothing falls due in between
        self._take(decide.handle(self.state, command, now))

    def come_back(self) -> None:
        """Go on with a session that was cut off.

        Time has brought nothing about meanwhile: no set began while nobody was there.
        """
        self._take(decide.handle(self.state, cmd.Return(), self.now()))

    def tick(self) -> float:
        """Let happen what time has brought about: a suspend, cues, the start of a set.

        Returns the instant, in session seconds, up to which it has.
        """
        self._notice_suspend()
        while True:
            now = self.now()
            due = decide.deadline(self.state)
            self._play_due(now if due is None else min(now, due))
            if due is None or due > now:
                return now
            self._take(decide.advance(self.state, now))

    def next_wake(self) -> float | None:
        """Session seconds of the next deadline or cue; None while only a person can go on."""
        due = decide.deadline(self.state)
        times = [at for at, _ in self._ahead] + ([] if due is None else [due])
        return min(times, default=None)

    def seconds_to_wake(self) -> float | None:
        """How long until `next_wake`, 0 or more; None where there is none.

        A wait that is not over yet is at least `FINEST`, so that the session's seconds move on
        with it, also where a deadline lies between two of them.
        """
        wake = self.next_wake()
        if wake is None:
            return None
        left = wake - self.now()
        return max(left, FINEST) if left > 0 else 0.0

    def _notice_suspend(self) -> None:
        slept = self._clock.slept()
        asleep, self._slept = slept - self._slept, slept
        if asleep <= SUSPEND or self.state.phase not in ("warm-up", "rest", "set"):
            return
        since = max(self.now() - asleep, self.state.log[-1].at if self.state.log else 0.0)
        due = decide.deadline(self.state)
        if due is not None and due <= since:
            self._take(decide.advance(self.state, since))
        self._take(
            decide.handle(self.state, cmd.Pause(why="suspend", since=round(since, 3)), self.now())
        )

    def _play_due(self, now: float) -> None:
        due = [(at, cue) for at, cue in self._ahead if at <= now]
        self._ahead = [(at, cue) for at, cue in self._ahead if at > now]
        for at, cue in due:
            self._voice.play(cue, late_s=self.now() - at)

    def _take(self, outcome: Outcome) -> None:
        """Keep what happened, then let it be seen and heard."""
        if not outcome.happened:
            return
        before = self.state
        events = [h.event for h in outcome.happened]
        kept = self.keeper.keep(events, outcome.state)
        self.state = outcome.state
        # A cue already asked for is not asked for again when an entry leaves the rest as it was;
        # one that fell due while the disk was slow is still to come, late.
        happened = events[-1].at
        self._ahead = [(at, cue) for at, cue in cues.ahead(self.state) if at > happened]
        cue = cues.of_events(events, before, self.state)
        if cue is not None:
            self._voice.play(cue, late_s=max(self.now() - happened, 0.0))
        shown = [Shown(h.event, h.phase, kept) for h in outcome.happened]
        for listener in self._listeners:
            listener(shown)
