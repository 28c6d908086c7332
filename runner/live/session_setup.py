"""Everything between the command line and a running session: plan, trainee, record, clock.

Also what comes after one whose record could not be written: it goes into a CSV where possible.
"""

from __future__ import annotations

import os
import re
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from runner.errors import Exit, MatsideError
from runner.law.course import station_setups
from runner.law.workout import Setup, Station, Workout
from runner.live.clock import Clock
from runner.live.driver import CuePlayer, Driver, Keeper
from runner.live.history import Past, past_of
from runner.live.offers import before_session
from runner.live.sound_controls import Speaker
from runner.output import record_path
from runner.plan.compile import compile_session, phases_of
from runner.plan.file import parse_plan
from runner.plan.library import find_plan
from runner.plan.models import Plan
from runner.plan.person import PersonalPlan, read_for
from runner.plan.values import DAYS as NAMES
from runner.progress.adjust import Baseline
from runner.progress.answers import in_force, left_out, left_out_line
from runner.progress.history import SetRow
from runner.progress.phases import InForce, phase_changes, phase_of_week, week_of_plan
from runner.progress.weekdays import DAYS, sessions_a_week
from runner.record import session_lock
from runner.record.csvfile import write_csv
from runner.record.files import exposed
from runner.record.record import Record, Unfinished, Unwritable
from runner.record.rows import SessionInfo
from runner.record.write import set_row
from runner.session.apply import initial, replay
from runner.session.events import Event, Opened, to_data
from runner.text import clean_data

# The usual cautions, in our words: general information, no medical advice.
#
# Grounds: ACSM's screening (Riebe et al. 2015, Med Sci Sports Exerc 47:2473-2479), CDC/NIOSH on
# rhabdomyolysis; the advice on anchors and furniture is common sense, without a source.

GENERAL: tuple[str, ...] = (
    "Stop at once and get medical help for pain in chest, neck, jaw or arm, severe breathlessness, "
    "dizziness, fainting, a racing or stumbling heart.",
    "Stop the exercise for joint or sharp pain. Mild soreness later is normal.",
    "Breathe steadily; do not hold your breath.",
    "Dark urine, odd weakness, muscle pain far worse than expected in the days after: get medical "
    "care at once. At first stay well short of your limit.",
    "Heart, metabolic or kidney disease, symptoms, pregnancy, injury, surgery: ask a doctor or "
    "physiotherapist first. Local rules count too.",
    "Test anchors, doors, bars, furniture with the full load. Doors close towards the pull, "
    "chairs stand against a wall, the floor is clear.",
)

PAIN_ADVICE: tuple[str, ...] = (
    "Chest, neck, jaw or arm pain, breathlessness, dizziness: stop everything, get medical help "
    "now.",
    "Joint or sharp pain: leave out what brings it on. If it stays or comes back, see a doctor or "
    "physiotherapist before you train it again.",
)


def cautions_of(workout: Workout) -> tuple[str, ...]:
    """The cautions to read before this session: general, the plan's, the exercises' own.

    A sentence of an exercise that is already among them is not repeated.
    """
    found = list(dict.fromkeys((*GENERAL, *workout.cautions)))
    known = {sentence for text in found for sentence in _sentences(text)}
    for item in (item for block in workout.blocks for item in block.items):
        exercise = workout.exercises[item.exercise]
        own = [one for one in _sentences(exercise.caution or "") if one not in known]
        known.update(own)
        if own:
            found.append(f"{exercise.name}: {' '.join(own)}")
    return tuple(found)


def _sentences(text: str) -> list[str]:
    return re.findall(r"\S.*?(?:[.!?](?=\s)|$)", text)


LOOK_S = 0.25  # between two looks whether a record can be read; our choice
UNREAD = (
    "The record cannot be read now. matside tries again until you start. If you start before it "
    "can be read, the session has no counts to beat and its levels count for today only."
)


class StationToSet(Struct, frozen=True):
    """A station, how it must stand before the session, and how to check it."""

    station: Station
    setup: Setup


class Opening(Struct):
    """What is known before a session begins; `begin` or `resume` makes the driver."""

    workout: Workout
    text: str  # the plan's content as it is
    trainee: str
    record: Record
    clock: Clock
    baseline: Baseline
    unfinished: Unfinished | None  # one that was cut off
    known: bool  # the trainee is in the record
    near: tuple[str, ...]  # names like a new trainee's
    path: Path | None = None  # of the record's file; None where nothing is written anywhere
    running: SessionInfo | None = None  # a session of this plan in another terminal
    past: Past | None = None  # what was done before, as the rules want it
    last_time: Sequence[SetRow] = ()  # of this session of the plan, if it was closed before
    acknowledged: frozenset[str] = frozenset()  # cautions, of this plan
    trouble: str | None = None  # why nothing can be kept, if so
    warnings: tuple[str, ...] = ()  # reminders before the start
    exposed: str | None = None  # that others can read the record, if so
    again: Callable[[], Opening] | None = None  # reads plan and record anew
    readable: threading.Event = field(
        default_factory=threading.Event
    )  # a record that could not be read can be
    within: float | None = None  # seconds given for the session, from its begin
    until: datetime | None = None  # local time by which it should be over

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions to read before the session."""
        return cautions_of(self.workout)

    @property
    def cautions_known(self) -> bool:
        """Whether this trainee has acknowledged them all for this plan before."""
        return set(self.cautions) <= self.acknowledged

    @property
    def new_cautions(self) -> tuple[str, ...]:
        """Those that this trainee has yet to read."""
        return tuple(one for one in self.cautions if one not in self.acknowledged)

    def acknowledge(self, live: Live) -> None:
        """Keep that the trainee has read the cautions; without a record they are shown again."""
        live.driver.keeper.acknowledge(self.cautions, self.clock.local())

    def writer(self) -> Record:
        """A record on the same file, for the thread that writes. Raises as `Record.open` does."""
        if self.path is None:
            raise MatsideError("this session is not written anywhere", code=Exit.SOFTWARE)
        if self.record.path is None:
            return Record.open(self.path)
        return Record.open(self.path, create=False, look=0)  # it was looked at

    def write(self, live: Live, woken: Callable[[], object]) -> None:
        """Let a thread write the session, which calls `woken` where there is something to tell.

        Where the record could not be read, the session waits on its ready screen for that: then
        nothing is written before the person begins, and `woken` is called once it can be read.
        """
        keeper = live.driver.keeper
        if not self.baseline.unread:
            keeper.beside(self.writer, woken)
            return
        keeper.defer()

        def begun(_: Sequence[Event]) -> None:
            if live.driver.state.log[1:] and keeper.deferred:
                keeper.beside(self.writer, woken)

        live.driver.watch(begun)
        if not self.readable.is_set():
            threading.Thread(target=self._look, args=(woken,), daemon=True).start()

    def _look(self, woken: Callable[[], object]) -> None:
        """The thread: try to read the file until it can be read."""
        while self.path is not None:
            try:
                Record.open_readonly(self.path, look=0).close()
            except MatsideError:
                time.sleep(LOOK_S)
                continue
            break
        self.readable.set()
        woken()

    def read_anew(self, live: Live) -> bool:
        """Whether the record could be read after all; then a session not begun is opened anew."""
        if not (self.baseline.unread and self.readable.is_set()) or live.driver.state.log[1:]:
            return False
        try:
            new = None if self.again is None else self.again()
        except MatsideError:  # the plan has been changed meanwhile, say: this one is still good
            return False
        if new is None or new.baseline.unread:
            return False
        if self.path is not None:
            session_lock.release(self.path, live.info.id)
        self.record.close()
        for name in self.__struct_fields__:
            if name not in ("within", "until", "readable"):
                setattr(self, name, getattr(new, name))
        return True

    @property
    def stations(self) -> list[StationToSet]:
        """The stations that the session uses, each as it has to stand."""
        planned_sets = initial(self.workout, self.baseline).course.planned_sets
        return [
            StationToSet(self.workout.stations[name], setup)
            for name, setup in station_setups(planned_sets, self.workout).items()
        ]

    def begin(self, player: CuePlayer, speaker: Speaker | None = None) -> Live:
        """A new session; `driver.open()` lets its first event happen."""
        info = SessionInfo.opened(self.clock.local(), self.workout, self.text, self.trainee)
        state = initial(self.workout, self.baseline)
        driver = Driver(
            state,
            keeper=Keeper(self.record, info, trouble=self.trouble),
            clock=self.clock,
            player=player,
            speaker=speaker,
            origin=self.clock.now(),
        )
        return Live(driver, info)

    def to_resume(self) -> Unfinished:
        """The session that was cut off. Raises MatsideError if no session was."""
        if self.unfinished is not None:
            return self.unfinished
        if self.baseline.unread:
            raise MatsideError(str(self.trouble), code=Exit.IO)
        what = f"{self.trainee} has no cut-off session of {self.workout.plan!r}"
        if self.running is not None:
            what += f": the one started {_clock(self.running)} is running in another terminal"
        raise MatsideError(f"{what}; leave --resume out to start a new one", code=Exit.NO_INPUT)

    def claim(self, live: Live) -> None:
        """Let other terminals know that this session is running, until this process ends.

        Raises MatsideError where it runs in another one already.
        """
        if self.path is not None and not session_lock.claim(self.path, live.info.id):
            raise MatsideError(
                f"the session started {_clock(live.info)} is running in another terminal; "
                "continue it there",
                code=Exit.NO_INPUT,
            )

    def resume(self, player: CuePlayer, speaker: Speaker | None = None) -> Live:
        """Continue the session that was cut off: with its own plan, as it was then."""
        unfinished = self.to_resume()
        info, events = unfinished.info, unfinished.events
        workout = compile_session(parse_plan(info.plan_text, info.plan), info.session)
        state = replay(workout, baseline_of(events), events)
        # Seconds go on from the session's start by the wall clock, never back behind what was.
        since = (self.clock.local() - info.started).total_seconds()
        passed = max(since, state.log[-1].at if state.log else 0.0)
        driver = Driver(
            state,
            keeper=Keeper(self.record, info, trouble=self.trouble, resumed=len(events)),
            clock=self.clock,
            player=player,
            speaker=speaker,
            origin=self.clock.now() - passed,
        )
        return Live(driver, info)


class Live(Struct, frozen=True):
    """A running session and its name in the record."""

    driver: Driver
    info: SessionInfo

    def rows(self) -> list[SetRow]:
        """The session's rows as the record has them, or would have them."""
        state = self.driver.state
        return [set_row(self.info, state, row) for row in state.rows if row.status != "running"]


def _clock(info: SessionInfo) -> str:
    return f"{info.local(0):%H:%M}"


def baseline_of(events: Sequence[Event]) -> Baseline:
    """The baseline that a session was planned on, out of its first event."""
    opened = next((e for e in events if isinstance(e, Opened)), None)
    return Baseline.from_data(opened.history) if opened is not None else Baseline()


def prepare(
    plan_name: str,
    *,
    data: Path,
    trainee: str,
    clock: Clock,
    session: str | None = None,
) -> Opening:
    """Find and read the plan, open the record, look up what is known of the trainee.

    Raises MatsideError for a plan that cannot be used, an unknown session, a record that is
    not ours or newer. A record that cannot be written is no error: `trouble` says so.
    """
    personal = read_for(find_plan(plan_name, data), data, trainee)
    plan, text = personal.plan, personal.text
    trouble = None
    path = record_path(data, trial=plan.trial)
    try:
        record = Record.open(path)
    except Unwritable as error:
        record, trouble = Record.in_memory(copy_of=path), str(error)
    with ExitStack() as open_so_far:
        open_so_far.push(record)
        opening = opening_of(plan, text, record, clock=clock, trainee=trainee, session=session)
        _look_for_open(opening, path)
        open_so_far.pop_all()  # the session's to close now
    opening.path, opening.trouble, opening.exposed = path, trouble, exposed(path)
    if personal.overlaid is not None and personal.overlay is not None:
        opening.within = personal.minutes
        said = overlay_lines(personal, opening.workout.session, clock.local().date())
        opening.warnings = (*said, *opening.warnings)
    opening.again = partial(
        prepare, plan_name, data=data, trainee=trainee, clock=clock, session=session
    )
    if record.unread:
        opening.baseline, opening.known = Baseline(unread=True), True  # nobody is greeted as new
        opening.warnings = (UNREAD, *opening.warnings)
    return opening


def overlay_lines(personal: PersonalPlan, session: str, today: date) -> list[str]:
    """What a person should know of their overlay before a session."""
    overlay, overlaid = personal.overlay, personal.overlaid
    if overlay is None or overlaid is None:
        return []
    found = overlaid.of_session(session)
    lines = [f"Different for you, by {overlay.path.name}: {'; '.join(found)}."] if found else []
    return [*lines, *([overlay.question] if overlay.over(today) else [])]


def _look_for_open(opening: Opening, path: Path) -> None:
    """What of the trainee's sessions of this plan was cut off, and what is running now."""
    cut_off, runs = opening.record.open_sessions(opening.trainee, opening.workout.plan, path)
    opening.unfinished, opening.running = cut_off, runs
    if runs is not None:
        text = f"A session of this plan, started {_clock(runs)}, is running in another terminal."
        opening.warnings = (text, *opening.warnings)


def opening_of(
    plan: Plan, text: str, record: Record, *, clock: Clock, trainee: str, session: str | None
) -> Opening:
    """The same for a plan that has been read, and a record that is open."""
    workout = compile_session(plan, session or due_session(plan, record, trainee))
    names = record.trainees()
    known = trainee in names
    now = clock.local()
    answers = record.answers(trainee)
    changes = in_force(answers, now.date(), workout)
    twice = [f"{left_out_line(one, workout)}." for one in left_out(answers, workout)]
    phase = phase_now(plan, record, trainee, now.date())
    if phase is not None:
        changes = (*changes, *phase_changes(phase.phase, workout))
    baseline = replace(record.baseline(trainee, workout), changes=changes)
    workout = baseline.with_off_range(workout)  # what is offered counts levels as the session does
    past = past_of(record, trainee, now.date())
    before = before_session(record, trainee, workout, baseline, now, past=past)
    return Opening(
        workout=workout,
        text=text,
        trainee=trainee,
        record=record,
        clock=clock,
        baseline=replace(baseline, offers=before.offers),
        unfinished=record.unfinished(trainee, workout.plan),
        known=known,
        near=() if known else tuple(record.similar(trainee)),
        past=past,
        last_time=record.last_time(trainee, workout.plan, workout.session),
        acknowledged=frozenset(record.acknowledged(trainee, workout.plan)),
        warnings=(
            *([] if phase is None else [f"{phase.text.capitalize()}."]),
            *twice,
            *before.warnings,
        ),
    )


def phase_now(
    plan: Plan, record: Record, trainee: str, today: date, start: date | None = None
) -> InForce | None:
    """The phase of the plan that a day is in; None where the plan has none.

    `start`: when the plan begins for whom has no session with it yet, by default that day.
    """
    if not plan.phase:
        return None
    first = record.first_day(trainee, plan.title) or start
    return phase_of_week(phases_of(plan), week_of_plan(first, today))


def due_session(plan: Plan, record: Record, trainee: str) -> str:
    """The session after the last one done, else the plan's first."""
    return record.next_session(trainee, plan.title, [s.id for s in plan.session])


def planned_a_week(plan: Plan) -> int:
    """How many sessions a week of the plan holds."""
    asked = plan.week.sessions
    return sessions_a_week(len(plan.session), None if asked is None else (asked[0], asked[1]))


def due_on(plan: Plan, last: date) -> date:
    """The next of the plan's days, else so long after the last session as days are shared out."""
    if not plan.week.days:
        return last + timedelta(days=max(1, DAYS // planned_a_week(plan)))
    days = [NAMES.index(day) for day in plan.week.days]
    after = (last + timedelta(days=ahead) for ahead in range(1, DAYS + 1))
    return next(day for day in after if day.weekday() in days)


# A session that the record could not take.

LOOK_BYTES = 32 * 1024 * 1024  # of a record looked at after a session: some seconds at most


def damage(live: Live, path: Path) -> str | None:
    """What is wrong with the record after a session that was kept; None where all is well.

    The file is opened anew: the connection that kept the session may still hold pages that
    somebody has spoilt in the file.
    """
    try:
        with Record.open_readonly(path, look=LOOK_BYTES) as record:
            found = record.info(live.info.id)
            events, rows = record.events(live.info.id), record.session_rows(live.info.id)
    except Unwritable:
        return None  # another program has it just now; it took every event
    except MatsideError as error:
        return error.lines[0]
    known = live.driver.keeper.given
    last = list(events[max(len(events) - len(known), 0) :])
    if (found, rows, _as_kept(last)) == (live.info, live.rows(), _as_kept(known)):
        return None
    return f"{path}: the record does not hold the session as matside wrote it"


def _as_kept(events: Sequence[Event]) -> list[Any]:
    """Events as plain data: the record leaves out the control characters of what was typed."""
    return [clean_data(to_data(event)) for event in events]


def rescue(live: Live, data: Path) -> Path | None:
    """Write the session's CSV beside the record, else here, at home, or in the temporary folder.

    Never over an existing file. None where nothing could be written.
    """
    name = f"matside-{live.info.id}.csv"
    for folder in (data, Path.cwd(), Path.home(), Path(tempfile.gettempdir())):
        try:
            handle = os.open(folder / name, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except OSError:
            continue
        try:
            with open(handle, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123 - a descriptor
                write_csv(live.rows(), file)
        except OSError:
            with suppress(OSError):
                (folder / name).unlink()  # a part of a session would look like a whole one
            continue
        return folder / name
    return None
