"""A rehearsal of a session: the same machine and cues on a fast clock; nothing is kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from itertools import pairwise
from pathlib import Path

from runner.errors import Exit
from runner.law.workout import Workout
from runner.live.clock import FastClock
from runner.live.controller import Confirm, Controller, Leave, Reply
from runner.live.driver import CuePlayer, Driver, Keeper, SettledEvent
from runner.live.session_setup import Live, Opening
from runner.live.sound_controls import Speaker
from runner.planning import trainee as person
from runner.progress.adjust import Baseline
from runner.record.record import Record
from runner.record.rows import SessionInfo
from runner.session import sounds
from runner.session.apply import TurnResult, initial, replay
from runner.session.events import Event, Started
from runner.session.state import State
from runner.session.verb import ALL, BEGUN, OPEN, REHEARSED, verb

# A jump lands this many session seconds before the set, so that its count-down is heard.
LEAD_S = sounds.COUNTED + 0.5

# Times as fast; above this the pacer's ticks would only rattle, and are left out. Our choice.
TICKS_UP_TO = 2.0


class NoStore:
    """A store that keeps nothing."""

    def start(self, info: SessionInfo) -> None:
        """Keep nothing."""

    def acknowledge(
        self, trainee: str, plan_title: str, texts: Sequence[str], utc: datetime
    ) -> None:
        """Keep nothing."""

    def agree(self, *_: object, **__: object) -> None:
        """Keep nothing."""

    def close(self) -> None:
        """There is nothing to close."""

    def append(self, session_id: str, events: Sequence[tuple[int, Event]], state: State) -> None:
        """Keep nothing."""


class RealLateness:
    """Passes cues on, late by real seconds and not by those of the fast clock."""

    def __init__(self, player: CuePlayer, clock: FastClock) -> None:
        self._player, self._clock = player, clock
        self.silent = False
        # How much earlier to ask so that a cue sounds in time; irrelevant on a fast clock.
        self.lead_s: float = getattr(player, "lead_s", 0.0) if clock.speed == 1 else 0.0

    def play(self, name: str, late_s: float = 0.0) -> None:
        """Ask for a cue that was due `late_s` seconds of the rehearsal ago."""
        rattles = name == "tick" and self._clock.speed > TICKS_UP_TO
        if not self.silent and not rattles:
            self._player.play(name, late_s / self._clock.speed)

    def cut(self, name: str) -> None:
        """Cut every `name` that is still in its quiet lead."""
        self._player.cut(name)


class RehearsedDriver(Driver):
    """A driver that plays the trainee, on time; it can jump to any second of the session."""

    def __init__(
        self,
        state: State,
        *,
        keeper: Keeper,
        clock: FastClock,
        player: CuePlayer,
        speaker: Speaker | None = None,
    ) -> None:
        self._quiet = RealLateness(player, clock)
        super().__init__(
            state,
            keeper=keeper,
            clock=clock,
            player=self._quiet,
            origin=clock.now(),
            speaker=speaker,
        )
        self._past: list[Event] = []
        self.listen(self._remember)

    def _remember(self, events: Sequence[SettledEvent]) -> None:
        self._past += [one.event for one in events]

    def due(self) -> float | None:
        """When something happens by itself."""
        return person.due(self.state)

    def come_due(self, now: float) -> TurnResult:
        """What has come due by `now`."""
        return person.come_due(self.state, now)

    def to_next_set(self) -> bool:
        """Go to shortly before the next start of a set; False where none remains."""
        now = self.tick()
        ended = self.state.rest_from or 0.0
        for result in person.play_on(self.state):
            for event in (h.event for h in result.events):
                lands = max(event.at - LEAD_S, ended)
                if isinstance(event, Started) and lands > now:
                    self._go_forward(lands)
                    return True
            ended = result.state.rest_from or ended
        return False

    def to_set_before(self) -> bool:
        """Go back to shortly before the set before this one, or to the begin; False in `ready`."""
        begun = next((e.at for e in self._past if e.name == "begun"), None)
        if begun is None:
            return False
        done = [row for row in self.state.rows if row.start is not None]
        if self.state.running is not None:
            done.pop()
        instants = [begun]
        for before, row in pairwise((None, *done)):
            start = 0.0 if row is None or row.start is None else row.start
            ended = begun if before is None or before.end is None else before.end
            instants.append(max(start - LEAD_S, ended))
        self._go_back(instants[-1])
        return True

    def _go_forward(self, at: float) -> None:
        """Let everything up to that second happen, without sound."""
        self._origin = self._clock.now() - at
        speaker, self.speaker = self.speaker, None
        self._quiet.silent = True
        self.tick()
        self._quiet.silent = False
        self.speaker = speaker
        self._item_here()

    def _go_back(self, at: float) -> None:
        """Return to the state at that second, by replaying the events up to then."""
        self._past = [event for event in self._past if event.at <= at]
        self.state = replay(self.state.workout, self.state.baseline, self._past)
        self._origin = self._clock.now() - at
        self._latest = self._decided = at
        self.listen_from(at)
        self._item_here()

    def _item_here(self) -> None:
        if self.speaker is not None:
            self.speaker.stand_at(self.state)


class Rehearsal(Opening):
    """What is known before a rehearsal; what is done in it is written nowhere."""

    def begin(self, player: CuePlayer, speaker: Speaker | None = None) -> Live:
        """The session on its clock; phrases last too long for any but the real speed."""
        if not isinstance(self.clock, FastClock):
            raise TypeError("a rehearsal runs on a FastClock")
        info = SessionInfo.opened(self.clock.local(), self.workout, self.text, self.trainee)
        driver = RehearsedDriver(
            initial(self.workout, self.baseline),
            keeper=Keeper(NoStore(), info),
            clock=self.clock,
            player=player,
            speaker=speaker,
        )
        return Live(driver, info)

    def acknowledge(self, live: Live) -> None:
        """Cautions seen in a rehearsal are not remembered: the session shows them again."""


def prepare_rehearsal(
    workout: Workout, baseline: Baseline, *, path: Path, trainee: str, clock: FastClock
) -> Rehearsal:
    """A rehearsal of a session; reads the record at `path` into memory and leaves it alone."""
    record = Record.in_memory(copy_of=path)
    return Rehearsal(
        workout=workout,
        text="",
        trainee=trainee,
        record=record,
        clock=clock,
        baseline=baseline,
        unfinished=None,
        trouble=None,
        known=trainee in record.trainees(),
        near=(),
        last_time=record.last_time(trainee, workout.plan, workout.session),
        acknowledged=frozenset(record.acknowledged(trainee, workout.plan)),
    )


# What only a rehearsal that is watched has, beside a session's verbs.

SPEEDS = (1.0, 2.0, 5.0, 10.0, 20.0, 60.0)  # our choice; the keys go from one to the next


def clock_of(session: Controller) -> FastClock:
    """The clock of a rehearsal. Raises TypeError for a session's."""
    clock = session.opening.clock
    if not isinstance(clock, FastClock):
        raise TypeError("a rehearsal runs on a FastClock")
    return clock


def speak_or_not(session: Controller) -> None:
    """Phrases last as long at any speed, and fit between the cues at the real one alone."""
    if session.hearing is not None:
        session.hearing.speaker.silent = clock_of(session).speed != 1
        session.hearing.voice.hush()


@verb(
    "still",
    among=REHEARSED,
    keys=("p", "full_stop", "b"),
    phases=BEGUN,
    label="stop here",
    help="Pause the rehearsal; this key or the main key resumes it.",
)
def _still(session: Controller, _: None) -> Reply:
    clock = clock_of(session)
    clock.stand_still(still=not clock.still)
    return None


@verb(
    "faster",
    among=REHEARSED,
    keys=("greater_than_sign",),
    phases=OPEN,
    label="faster",
    help="Faster, up to 60 times.",
)
def _faster(session: Controller, _: None) -> Reply:
    clock = clock_of(session)
    further = [speed for speed in SPEEDS if speed > clock.speed]
    if not further:
        return "This is the highest speed."
    clock.run_at(further[0])
    speak_or_not(session)
    return None


@verb(
    "slower",
    among=REHEARSED,
    keys=("less_than_sign",),
    phases=OPEN,
    label="slower",
    help="Slower, down to the real speed.",
)
def _slower(session: Controller, _: None) -> Reply:
    clock = clock_of(session)
    further = [speed for speed in SPEEDS if speed < clock.speed]
    if not further:
        return "This is the lowest speed."
    clock.run_at(further[-1])
    speak_or_not(session)
    return None


@verb(
    "next-set",
    among=REHEARSED,
    keys=("n",),
    phases=("warm-up", "rest", "set"),
    label="next set",
    help="Jump to the last seconds before the next set.",
)
def _next_set(session: Controller, _: None) -> Reply:
    return _jumped(session, RehearsedDriver.to_next_set, "No set remains.")


@verb(
    "set-before",
    among=REHEARSED,
    keys=("r",),
    phases=(*BEGUN, "closed"),
    label="set before",
    help="Jump back to the last seconds before the previous set.",
)
def _set_before(session: Controller, _: None) -> Reply:
    return _jumped(session, RehearsedDriver.to_set_before, "This is the first set.")


def _jumped(session: Controller, jump: Callable[[RehearsedDriver], bool], nowhere: str) -> Reply:
    if session.hearing is not None:
        session.hearing.voice.hush()
    driver = None if session.live is None else session.live.driver
    jumped = isinstance(driver, RehearsedDriver) and jump(driver)
    session.moved()
    return None if jumped else nowhere


@verb(
    "leave",
    among=REHEARSED,
    keys=("q",),
    phases=ALL,
    label="leave",
    help="Leave the rehearsal; asks first.",
)
def _leave(_session: Controller, _: None) -> Reply:
    question = "Leave the rehearsal? matside keeps nothing of it."
    return Confirm((), question, lambda: Leave(Exit.OK))
