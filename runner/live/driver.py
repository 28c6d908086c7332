"""Drives one session: time and commands in, events out.

A decision counts at once: for the state, the cues and what comes next. The keeper writes it.
Listeners hear of it once it is on file, or once it is known that it is not (yet).

A record that cannot be written does not stop a session. The keeper remembers what is not on file
and tries again; the screen says so, also once it has worked. At the end the session is written as
CSV if possible. Cues, clock and keys never wait for the disk. A count is called saved, and line
mode prints an event, once it is on file.

Keeper and driver are in one file, so that a reader can follow a key to its event on file.

No clock shows that a process was stopped. So a face tells the driver how long it waits, at most 2 s
while time counts; a wait that ends 4 s too late is a pause from its begin, and the length of a
running set is then unknown.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import date, datetime
from math import inf
from typing import NamedTuple, Protocol

from msgspec import Struct, field

from runner.live.clock import SUSPEND, Clock
from runner.live.sound_controls import Speaker
from runner.progress.answers import Answer
from runner.record.decisions import LevelDecision
from runner.record.errors import BUSY_SECONDS
from runner.record.rows import SessionInfo
from runner.session import events as ev, flow, sounds, verb as cmd
from runner.session.apply import EventInPhase, TurnResult
from runner.session.events import Event
from runner.session.state import Phase, State
from runner.text import how_many

# The keeper takes the session's events and commits them in order.
#
# In a running session its writer is a thread with a store of its own. It tries again after a while,
# and once more at the end. It reports each event in order: on file or, after `WAIT_S`, not. Without
# the thread (a rehearsal, a test on manual time) it writes an event at once.

WAIT_S = BUSY_SECONDS  # seconds; then an event is reported as not kept
RETRY_S = 0.5  # seconds between two tries to write; our choice
CLOSING_S = BUSY_SECONDS + 1.0  # seconds that the end of a session waits for the last events


class Store(Protocol):
    """The part of a record that a running session writes to."""

    def start(self, info: SessionInfo) -> None:
        """Add the session."""

    def append(self, session_id: str, events: Sequence[tuple[int, Event]], state: State) -> None:
        """Add events with their running numbers, in one transaction."""

    def acknowledge(
        self, trainee: str, plan_title: str, texts: Sequence[str], utc: datetime
    ) -> None:
        """Add that the trainee has acknowledged these cautions of the plan."""

    def agree(
        self,
        trainee: str,
        answer: Answer | None,
        levels: Iterable[LevelDecision],
        utc: datetime,
        session_id: str | None = None,
        *,
        on: date | None = None,
    ) -> None:
        """Add an answer to advice, and the decisions that it makes."""

    def close(self) -> None:
        """Close the file."""


class PendingAnswer(Struct):
    """An answer to advice on its way into the record.

    `told` hears the result, perhaps in the writer's thread: None once it is on file, or why it
    could not be written, the first time.
    """

    write: Callable[[Store], None]
    on_result: Callable[[Exception | None], object]
    failed: bool = False


class Batch(Struct, eq=False):
    """The events of one act. `kept` is None while unknown."""

    numbered: tuple[tuple[int, Event], ...]
    events: tuple[EventInPhase, ...]
    state: State  # the state after the last of them
    since: float = field(default_factory=time.monotonic)
    kept: bool | None = None
    reported: bool = False


class _Writer(Struct):
    """A store, and whether it knows the session."""

    store: Store
    started: bool

    def write(self, info: SessionInfo, batches: Sequence[Batch]) -> None:
        """Write them in one transaction. Raises what the store raises."""
        if not self.started:
            self.store.start(info)
            self.started = True
        numbered = [one for batch in batches for one in batch.numbered]
        self.store.append(info.id, numbered, batches[-1].state)


class Keeper:
    """Writes events in order, and remembers those that could not be written.

    `trouble` says why something is not on file, while that is so. With a `trouble` from the start
    the store is a stand-in in memory.
    """

    def __init__(
        self, store: Store, info: SessionInfo, *, trouble: str | None = None, resumed: int = 0
    ) -> None:
        self.trouble = trouble
        self.given: list[Event] = []  # all events so far, kept or not
        self._info = info
        self._known = resumed > 0  # the session is on file
        self._stands_in = trouble is not None
        self._here = _Writer(store, self._known)
        self._number = resumed
        self._pending: list[Batch] = []
        self._untold: deque[Batch] = deque()
        self._cautions: tuple[Sequence[str], datetime] | None = None
        self._answers: deque[PendingAnswer] = deque()
        self._late = 0  # events told as not kept that are on file by now
        self._condition = threading.Condition()
        self._thread: threading.Thread | None = None
        self._ending = False
        self._deferred = False

    @property
    def lost(self) -> bool:
        """Whether something of the session is not on file."""
        return bool(self._pending or self._answers) or (self._stands_in and self._thread is None)

    @property
    def on_file(self) -> bool:
        """Whether the record has something of the session."""
        return self._known

    @property
    def settled(self) -> bool:
        """Whether everything handed over can be read back."""
        return self._stands_in or not (self._pending or self._answers)

    def settle(self, wait_s: float) -> bool:
        """Wait for the writer, at most this long; returns whether everything can be read back."""
        with self._condition:
            if self._thread is not None:
                self._condition.wait_for(lambda: self.settled, wait_s)
            return self.settled

    @property
    def deferred(self) -> bool:
        """Whether it waits for a thread."""
        return self._deferred

    def defer(self) -> None:
        """Write and report nothing until a thread does."""
        self._deferred = True

    def beside(self, opened: Callable[[], Store], woken: Callable[[], object]) -> None:
        """Let a thread write from now on; earlier events stay handed over.

        `opened` gives the thread its own store; if it raises, it is called again later. The thread
        calls `woken` when there is news.
        """
        self._deferred = False
        self._thread = threading.Thread(
            target=self._work, args=(opened, woken), name="writer", daemon=True
        )
        self._thread.start()

    def keep(self, new: Sequence[EventInPhase], state: State) -> None:
        """Hand over the events of one act."""
        events = [one.event for one in new]
        numbered = tuple(enumerate(events, self._number + 1))
        batch = Batch(numbered, tuple(new), state)
        self.given += events
        self._number += len(events)
        with self._condition:
            self._pending.append(batch)
            self._untold.append(batch)
            self._condition.notify()
        if self._thread is None and not self._deferred:
            self._try_here()
        elif self._stands_in:
            with suppress(Exception):
                self._here.write(self._info, [batch])

    def acknowledge(self, cautions: Sequence[str], utc: datetime) -> None:
        """Hand over the cautions that the trainee has acknowledged; they are no event."""
        if self._thread is None:
            with suppress(Exception):  # if it fails, they are shown again the next time
                self._acknowledge(self._here.store, (cautions, utc))
            return
        with self._condition:
            self._cautions = (cautions, utc)
            self._condition.notify()

    def agree(self, answer: PendingAnswer) -> None:
        """Hand over an answer to advice; it is no event."""
        with self._condition:
            self._answers.append(answer)
            self._condition.notify()
        if self._thread is None:
            try:
                self._write_answers(self._here.store)
            except Exception as error:  # noqa: BLE001 - nothing that a store does ends a session
                self._answers_failed(error)
                self._answers.clear()  # nobody tries again

    def tell(self) -> list[Batch]:
        """The acts whose fate is known by now (on file or not), each once, in order."""
        found: list[Batch] = []
        with self._condition:
            while self._untold and not self._deferred:
                batch = self._untold[0]
                if batch.kept is None and time.monotonic() - batch.since >= WAIT_S:
                    batch.kept = False
                    self.trouble = self.trouble or f"writing takes longer than {WAIT_S:g} s"
                if batch.kept is None:
                    break
                batch.reported = True
                found.append(self._untold.popleft())
        return found

    def seconds_to_tell(self) -> float | None:
        """How long until `tell` knows more without being woken; None if it knows all."""
        with self._condition:
            if not self._untold or self._thread is None:
                return None
            return max(self._untold[0].since + WAIT_S - time.monotonic(), 0.0)

    def news(self) -> str | None:
        """Said once: events reported as not kept are on file now."""
        with self._condition:
            if not self._late or any(batch.reported for batch in self._pending):
                return None
            count, self._late = self._late, 0
        return f"Kept now: {how_many(count, 'event')}"

    def close(self, wait_s: float = CLOSING_S) -> None:
        """Let the writer try once more, at most this long. A second call does nothing."""
        if self._thread is not None:
            with self._condition:
                self._ending = True
                self._condition.notify()
            self._thread.join(wait_s)

    # Inside

    def _try_here(self) -> None:
        """Write in this thread."""
        try:
            self._here.write(self._info, self._pending)
        except Exception as error:  # noqa: BLE001 - nothing that a store does ends a session
            self._failed(self._pending, error)
            return
        self._done(len(self._pending), kept=not self._stands_in)

    def _work(self, opened: Callable[[], Store], woken: Callable[[], object]) -> None:
        """The thread: write what comes, in order, until the end."""
        writer: _Writer | None = None
        while True:
            with self._condition:
                self._condition.wait_for(
                    lambda: self._pending or self._cautions or self._answers or self._ending
                )
                batches, cautions, ending = list(self._pending), self._cautions, self._ending
            failed = False
            try:
                if (batches or cautions or self._answers) and writer is None:
                    writer = _Writer(opened(), self._known)
                if writer is not None and batches:
                    writer.write(self._info, batches)
                    self._done(len(batches), kept=True)
                if writer is not None and cautions:
                    self._acknowledge(writer.store, cautions)
                    self._cautions = None
                if writer is not None:
                    self._write_answers(writer.store)
            except Exception as error:  # noqa: BLE001 - nothing that a store does ends a session
                failed = True
                self._failed(batches, error)
                self._answers_failed(error)
            woken()
            if ending:
                break
            if failed:
                with self._condition:
                    tried = len(batches)
                    self._condition.wait_for(
                        lambda: self._ending or len(self._pending) > tried,  # noqa: B023 - now
                        RETRY_S,
                    )
        if writer is not None:
            writer.store.close()

    def _done(self, number: int, *, kept: bool) -> None:
        with self._condition:
            for batch in self._pending[:number]:
                batch.kept = kept
                late = batch.reported or (self._stands_in and not self._known)
                self._late += len(batch.numbered) if late and kept else 0
            self._known |= kept
            del self._pending[:number]
            if kept and not any(batch.kept is False for batch in self._pending):
                self.trouble = None
            self._condition.notify_all()  # another thread may wait until all is written

    def _failed(self, batches: Sequence[Batch], error: Exception) -> None:
        with self._condition:
            for batch in batches:
                if batch in self._pending:
                    batch.kept = False
                    self.trouble = str(error) or type(error).__name__

    def _write_answers(self, store: Store) -> None:
        while self._answers:
            answer = self._answers[0]
            answer.write(store)
            with self._condition:
                self._answers.popleft()
                self._condition.notify_all()
            answer.on_result(None)

    def _answers_failed(self, error: Exception) -> None:
        for answer in list(self._answers):
            if not answer.failed:
                answer.failed = True
                answer.on_result(error)

    def _acknowledge(self, store: Store, cautions: tuple[Sequence[str], datetime]) -> None:
        store.acknowledge(self._info.trainee, self._info.plan, *cautions)


class SettledEvent(NamedTuple):
    """An event that may be shown: it is on file, or `kept` says that it is not."""

    event: ev.Event
    phase: Phase
    kept: bool


FINEST = 0.001  # seconds; `Driver.now` knows no finer
# No clock shows a stopped process or a sleeping virtual machine; a wait just ends far too late. So
# no wait is long while time counts. Seconds; our choices.
HEARTBEAT_S = 2.0
FROZEN_S = 4.0
COUNTS: tuple[Phase, ...] = ("warm-up", "rest", "set")
LOOK_S = 10.0  # seconds; ticks this far ahead count as coming cues: no phrase lasts longer

Listener = Callable[[Sequence[SettledEvent]], None]
Watcher = Callable[[Sequence[ev.Event]], None]


class CuePlayer(Protocol):
    """What plays cues: never blocks, never raises.

    It may have a `lead_s`: that many seconds after it is asked a cue sounds.
    """

    def play(self, name: str, late_s: float = 0.0) -> None:
        """Ask for a cue that was due `late_s` seconds ago."""

    def cut(self, name: str) -> None:
        """Cut every `name` that is still in its quiet lead."""


class Driver:
    """The only owner of a running session's state.

    `origin` is the clock's reading at session second 0. Times are session seconds to the
    millisecond, so that the record keeps what was decided on.
    """

    def __init__(
        self,
        state: State,
        *,
        keeper: Keeper,
        clock: Clock,
        player: CuePlayer,
        origin: float,
        speaker: Speaker | None = None,
    ) -> None:
        self.state = state
        self.keeper = keeper
        self.speaker = speaker
        self._clock, self._player, self._origin = clock, player, origin
        self._lead: float = getattr(player, "lead_s", 0.0)
        self._slept = clock.slept()
        self._latest = state.log[-1].at if state.log else 0.0
        self._paced: bool | None = None  # None: as the plan says
        self._asked_to = -inf  # cues up to here have been asked for
        self._started = -inf  # the start cue that was asked for last
        self._ticks_from = -inf  # a tick near another cue is left out
        self._acted: tuple[float, sounds.Cue] | None = None  # the last cue for a person's act
        self._ahead: list[tuple[float, sounds.Cue]] = []
        self._leads: list[tuple[float, sounds.Cue]] = []  # cues asked for, still in their lead
        self._look_ahead()
        self._decided = self._latest  # nothing happens before what has happened
        # When a face last looked, and how long it waits; None for one that never said.
        self._promise: tuple[float, float] | None = None
        self._listeners: list[Listener] = []
        self._watchers: list[Watcher] = []
        if speaker is not None:
            speaker.prepare(state)

    def listen(self, listener: Listener) -> None:
        """Call `listener` with events once they are kept, or known not to be."""
        self._listeners.append(listener)

    def watch(self, watcher: Watcher) -> None:
        """Call `watcher` with events at once, kept or not."""
        self._watchers.append(watcher)

    def tell(self) -> None:
        """Tell the listeners what has become of what happened."""
        for batch in self.keeper.tell():
            events = [SettledEvent(h.event, h.phase, bool(batch.kept)) for h in batch.events]
            for listener in self._listeners:
                listener(events)

    def now(self) -> float:
        """Session seconds, to the millisecond; never backwards."""
        self._latest = max(round(self._clock.now() - self._origin, 3), self._latest)
        return self._latest

    def open(self) -> None:
        """Let a new session's first event happen."""
        self._take(flow.opened(self.state, self.now()))

    def send(self, command: cmd.Command, *, ago: float = 0.0) -> None:
        """Do a command that came `ago` real seconds ago, after the events due by then.

        Raises `Refused`.
        """
        now = self._advance(
            self._arrived(ago)
        )  # the same instant for both, so that nothing falls due in between
        try:
            self._take(flow.handle(self.state, command, now))
        finally:
            self._ask_due(now)

    @property
    def paced(self) -> bool:
        """Whether the pacer is on, even without a tempo to keep."""
        return sounds.wanted(self.state, self._paced)

    def pace(self, *, on: bool) -> None:
        """Turn the pacer on or off, whatever the plan says, for the rest of this session."""
        self._ticks_from = self.tick()
        self._paced = on
        self._look_ahead()

    def come_back(self) -> None:
        """Continue a session that was cut off.

        No time passed for it: no set began while nobody was there.
        """
        self._take(flow.handle(self.state, cmd.Return(), self.now()))

    def tick(self, *, ago: float = 0.0) -> float:
        """Let due events happen: a suspend, cues, the start of a set.

        `ago`: only what was due that many real seconds ago. Returns the instant in session seconds.
        """
        now = self._advance(self._arrived(ago))
        self._ask_due(now)
        if self.speaker is not None:
            self.speaker.tick(now + self._lead, self._cues_to_come())
        self.tell()
        return now

    def _arrived(self, ago: float) -> float | None:
        return None if ago <= 0.0 else self._clock.ago(ago) - self._origin

    def _advance(self, arrived: float | None = None) -> float:
        """Let happen what time has brought about up to now, but for cues of this very instant.

        What a person does at this instant may have a cue of its own, and that one counts. The
        instant may be the earlier one at which that has `arrived`.
        """
        self._notice_suspend()
        while True:
            now = self.now()
            if arrived is not None:
                now = min(max(round(arrived, 3), self._decided), now)
            due = self.due()
            if due is None or due > now:
                self._ask_due(now - FINEST / 2)
                return now
            # At the instant of an act the act's own cue counts, as where a person acts.
            self._ask_due(due if due == flow.deadline(self.state) else due - FINEST / 2)
            self._take(self.come_due(now))

    def due(self) -> float | None:
        """Session second of the next event by time; None if time brings no event."""
        return flow.deadline(self.state)

    def come_due(self, now: float) -> TurnResult:
        """What has come due by `now`."""
        return flow.advance(self.state, now)

    def next_wake(self) -> float | None:
        """When the next deadline, cue or phrase is due; None while only a person can go on."""
        due = self.due()
        times = [at - self._lead for at, _ in self._ahead[:1]] + ([] if due is None else [due])
        if self.speaker is not None:
            says = self.speaker.next_wake(self.now() + self._lead, self._cues_to_come())
            times += [] if says is None else [says - self._lead]
        return min(times, default=None)

    def _cues_to_come(self) -> list[tuple[float, str]]:
        """The known cues and when they sound, for phrases to keep clear of."""
        known: list[tuple[float, str]] = list(self._ahead)
        tick, last = (
            next((at for at, cue in self._ahead if cue == "tick"), None),
            self.now() + LOOK_S,
        )
        while tick is not None and (tick := sounds.next_tick(self.state, tick)) is not None:
            if tick > last:
                break
            known.append((tick, "tick"))
        return sorted(known)

    def seconds_to_wake(self) -> float | None:
        """How long until `next_wake`, 0 or more; None without one.

        A wait that is not over is at least `FINEST`, so that the session's seconds move on with it,
        even if a deadline lies between two of them.
        """
        wake, tells = self.next_wake(), self.keeper.seconds_to_tell()
        if wake is None:
            return tells
        wait = wake - self.now()
        wait = max(wait, FINEST) if wait > 0 else 0.0
        return wait if tells is None else min(wait, tells)

    def waits(self, seconds: float | None) -> float | None:
        """How long a face may wait before it looks again, at most `seconds`.

        A face that looks far later was frozen; that counts as a suspend.
        """
        now = self.now()
        if self._frozen(now):
            return 0.0  # between the last look and this one
        if self.state.phase in COUNTS:
            seconds = HEARTBEAT_S if seconds is None else min(seconds, HEARTBEAT_S)
        self._promise = (now, inf if seconds is None else seconds)
        return seconds

    def _frozen(self, now: float) -> bool:
        return self._promise is not None and now - sum(self._promise) > FROZEN_S

    def _notice_suspend(self) -> None:
        slept, now = self._clock.slept(), self.now()
        asleep, self._slept = slept - self._slept, slept
        promise, frozen = self._promise, self._frozen(now)
        self._promise = None if promise is None else (now, 0.0)
        if not (asleep > SUSPEND or frozen) or self.state.phase not in COUNTS:
            return
        begun = now - asleep if promise is None or asleep > SUSPEND else promise[0]
        since = max(begun, self.state.log[-1].at if self.state.log else 0.0)
        due = flow.deadline(self.state)
        if due is not None and due <= since:
            self._take(flow.advance(self.state, since))
        # Up to a suspend a set is measured; nobody knows when a process was stopped.
        pause = cmd.Pause(why="suspend", since=round(since, 3), known=asleep > SUSPEND)
        self._take(flow.handle(self.state, pause, self.now()))

    def _ask_due(self, until: float) -> None:
        """Ask for the cues known in advance that are due by `until`."""
        while self._ahead and self._ahead[0][0] - self._lead <= until:
            at, cue = self._ahead.pop(0)
            self._asked_to = at - self._lead
            if cue == "start":
                self._started = at
            if cue == "tick":
                self._look_ahead()
            else:
                self._ticks_from = at + sounds.NEAR
            if self._lead:
                self._leads.append((at, cue))
            self._play(cue, at, late_s=self.now() - self._asked_to)
        self._asked_to = max(self._asked_to, until)

    def listen_from(self, at: float) -> None:
        """Treat everything before session second `at` as asked for."""
        self._asked_to, self._started, self._ticks_from, self._acted = at, -inf, -inf, None
        self._leads = []
        self._look_ahead()

    def _look_ahead(self) -> None:
        """The cues that time will cause, in order; of the ticks only the next one."""
        known = sounds.ahead(self.state)
        self._ahead = [(at, cue) for at, cue in known if at - self._lead > self._asked_to]
        tick = max(self._asked_to + self._lead, self._ticks_from) if self.paced else None
        while tick is not None and (tick := sounds.next_tick(self.state, tick)) is not None:
            if tick - self._lead > self._asked_to:
                self._ahead = sorted([*self._ahead, (tick, "tick")])
                return

    def _take(self, result: TurnResult) -> None:
        """Hand events to the keeper, and let them be heard and seen."""
        if not result.events:
            return
        before = self.state
        events = [h.event for h in result.events]
        self.keeper.keep(result.events, result.state)
        self.state = result.state
        self._decided = max(self._decided, events[-1].at)
        self._cut_untrue(events)
        self._ask_of(events, before)
        if self.speaker is not None:
            self.speaker.take_up(events, before, self.state)
        # A cue already asked for is not asked for again when an entry leaves the rest as it was;
        # one that fell due while the disk was slow is still to come, late.
        self._look_ahead()
        for watcher in self._watchers:
            watcher(events)
        self.tell()

    def _cut_untrue(self, events: Sequence[ev.Event]) -> None:
        """Cut the cues that are still in their quiet lead and will not come true."""
        now = self.now()
        self._leads = [(at, cue) for at, cue in self._leads if at > now]
        if not self._leads or self._starts_with_lead(events):
            return
        true = set(sounds.ahead(self.state))
        untrue = [
            (at, cue)
            for at, cue in self._leads
            if (at, cue) not in true
            and (cue != "tick" or sounds.next_tick(self.state, at - FINEST) != at)
        ]
        for cue in dict.fromkeys(cue for _, cue in untrue):
            self._player.cut(cue)
        if any(cue == "start" for _, cue in untrue):
            self._started = -inf
        self._leads = [one for one in self._leads if one not in untrue]

    def _starts_with_lead(self, events: Sequence[ev.Event]) -> bool:
        """Whether a set has begun whose start is on its way: it is not asked for again."""
        begun = any(isinstance(event, ev.Started) for event in events)
        return begun and any(cue == "start" for _, cue in self._leads)

    def _ask_of(self, events: Sequence[ev.Event], before: State) -> None:
        """Ask for the cue that events bring, unless it was known in advance and asked for."""
        cue, at = sounds.of_events(events, before, self.state), events[-1].at
        if any(isinstance(e, ev.Paused) and e.why == "suspend" for e in events):
            at = self.now()  # nobody heard it before the machine woke
        if cue is None or (cue == "start" and at <= self._started <= at + self._lead):
            return
        last, self._acted = self._acted, (at, cue)
        if last is not None and at - last[0] < sounds.NEAR and not sounds.says_more(cue, last[1]):
            self._acted = last
            return
        self._asked_to = max(self._asked_to, at)
        self._ticks_from = at + self._lead + sounds.NEAR
        self._play(cue, at + self._lead, late_s=self.now() - at)

    def _play(self, cue: sounds.Cue, at: float, late_s: float) -> None:
        self._player.play(cue, late_s=max(late_s, 0.0))
        if self.speaker is not None:
            self.speaker.cue(cue, at)
