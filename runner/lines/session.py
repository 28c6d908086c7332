"""Line mode: reads lines and prints events.

stdout is data; stderr is for people. The program asks only where both ends are a terminal.
"""

from __future__ import annotations

import queue
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from io import BufferedReader, RawIOBase
from types import FrameType
from typing import TextIO

from runner.errors import Exit, MatsideError
from runner.law.workout import setup_words
from runner.lines.event_lines import line_of
from runner.lines.paper import EndOfInput, Talk
from runner.live import face_verbs  # noqa: F401 - whose words are obeyed
from runner.live.advice import Advisor
from runner.live.advice_lines import HOW, answer
from runner.live.controller import Confirm, Controller, Reply, Work
from runner.live.driver import Driver, SettledEvent
from runner.live.offers import offer_lines
from runner.live.session_setup import PAIN_ADVICE, Live, Opening
from runner.live.sound_controls import Hearing
from runner.progress.layoff import BEFORE_THE_START
from runner.session import aims, entries, events as ev, verb as cmd
from runner.session.apply import Refused, new_levels
from runner.session.changes import NOT_TODAY
from runner.session.feedback import gives_place, report
from runner.session.flow import read_line
from runner.session.state import State
from runner.session.verb import help_lines
from runner.text import shown


def answering(advisor: Advisor, talk: Talk) -> None:
    """Take answers until an empty line or the end of input."""
    talk.say(HOW)
    try:
        while line := talk.ask("next"):
            try:
                talk.say(answer(advisor, line))
            except Refused as refused:
                talk.say(f"not used: {refused}")
    except EndOfInput:
        return


LONGEST = 4096  # bytes of a line; our choice
UNDO, REDO = "undo takes it back", "redo does it again"
NEWS_S = 0.25  # seconds between looks for news, while the program looks for a player or a voice
LATE_EVERY = 15.0  # seconds between looks at lateness, while nothing happens; our choice

_SIGNALS = {
    name: getattr(signal, name) for name in ("SIGTERM", "SIGHUP", "SIGINT") if hasattr(signal, name)
}


class StoppedBySignal(Exception):
    """A signal ended the program; the session stays open."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.code = 128 + number


class RecordReadable(Exception):
    """The record could be read before the session began: it is opened again, with its history."""


class Lines:
    """Lines of a stream as they come, read beside the clock; None is the end of input.

    `stream` must be unbuffered: the thread that waits in a buffered one holds its lock, and Python
    aborts where it has to end meanwhile. None stands for a stream that was closed.
    """

    def __init__(self, stream: RawIOBase | None) -> None:
        self.age = 0.0  # seconds between the last line's arrival and `next` returning it
        self._queue: queue.SimpleQueue[tuple[float, str | None] | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, args=(stream,), daemon=True).start()

    def _read(self, stream: RawIOBase | None) -> None:
        rest = b""
        try:
            while stream is not None and (chunk := stream.read(LONGEST)):
                *lines, rest = (rest + chunk).split(b"\n")
                for line in lines:
                    self._put(line.decode("utf-8", errors="replace"))
                rest = rest[:LONGEST]  # enough to see that the line is too long
        except (OSError, ValueError):
            pass  # the terminal is gone; this is the end of input
        if rest:
            self._put(rest.decode("utf-8", errors="replace"))
        self._put(None)

    def _put(self, line: str | None) -> None:
        self._queue.put((time.monotonic(), line))

    def wake(self) -> None:
        """Make a `next` that waits in another thread look for something else."""
        self._queue.put(None)

    def next(self, timeout: float | None) -> str | None:
        """The next line; None at the end. Raises queue.Empty after `timeout` seconds, or woken."""
        found = self._queue.get(timeout=timeout)
        if found is None:
            raise queue.Empty
        arrived, line = found
        self.age = time.monotonic() - arrived
        return line


class PlainSession:
    """One session in line mode."""

    def __init__(
        self, out: TextIO, say: TextIO, controller: Controller, *, terminal: bool = False
    ) -> None:
        self._out, self._say, self._controller = out, say, controller
        self._terminal = terminal  # a person can be asked
        self._doubted = ""  # the last line, if the program asked about it
        self._late_said = False
        self._late_seen: tuple[State | None, float] = None, 0.0
        self._levels_said: tuple[str, ...] = ()
        self._calls: deque[Callable[[], None]] = (
            deque()
        )  # calls of other threads, made between lines
        controller.later = self._calls.append

    def say(self, *lines: str) -> None:
        """Tell a person something."""
        for line in lines:
            print(shown(line, "?"), file=self._say)
        self._say.flush()

    def run(self, live: Live, lines: Lines, *, new: bool) -> int:
        """Run the session to its end; returns the exit code."""
        controller, driver = self._controller, live.driver
        driver.listen(lambda shown: self._print(shown, live))
        driver.watch(lambda events: self._comment(events, driver))
        if new:
            driver.open()
            self._introduce(controller.opening, yes=controller.yes)
        else:
            driver.come_back()
        self._loop(live, lines)
        driver.keeper.close()
        self._tell_kept(driver)
        if any(row.status == "done" for row in driver.state.rows):
            levels = new_levels(driver.state)
            self.say(*_new_levels(driver.state))
            if driver.state.course.next is not None and not all(one.today_only for one in levels):
                self.say("To use a level for one day only, write today before end.")
            self.say(*_brought(controller, driver.state))
        return Exit.OK

    def leave(self, live: Live) -> None:
        """End in good order after a signal: save what was decided, if possible."""
        live.driver.keeper.close()
        with suppress(OSError, ValueError):  # perhaps nobody reads any more
            self._tell_kept(live.driver)

    def _loop(self, live: Live, lines: Lines) -> None:
        controller, driver, time_said = self._controller, live.driver, False
        opening = controller.opening
        while driver.state.phase != "closed":
            time_said = self._tell_time_is_over(driver, said=time_said)
            self._tell_lateness(driver)
            self._tell_levels(driver.state)
            self._tell_news()
            self._tell_kept(driver)
            try:
                line = lines.next(self._patience(driver))
            except queue.Empty:
                if opening.read_anew(live):
                    raise RecordReadable from None
                driver.tick()
                continue
            if line is None:
                driver.send(cmd.End(by="end of input"), ago=lines.age)
                return
            begins = driver.state.phase == "ready"
            controller.ago = lines.age
            obeyed = self._obey(driver, line)
            begun = begins and obeyed and driver.state.phase not in ("ready", "closed")
            if begun and not controller.yes:
                opening.acknowledge(live)

    def _tell_kept(self, driver: Driver) -> None:
        """Print the events that are on file now; report those that were saved late."""
        driver.tell()
        while self._calls:
            self._calls.popleft()()
            self.say(self._controller.message)
        news = driver.keeper.news()
        if news:
            self.say(news)

    def _tell_news(self) -> None:
        """Say which player is in use, what is wrong with a setting, that there is no voice."""
        hearing = self._controller.hearing
        while hearing is not None and (news := hearing.news()):
            self.say(news)

    def _patience(self, driver: Driver) -> float | None:
        """How long to wait for a line: until something is due, or there may be news."""
        due = driver.seconds_to_wake()
        hearing = self._controller.hearing
        if hearing is not None and hearing.looking:
            due = NEWS_S if due is None else min(due, NEWS_S)
        return driver.waits(due)

    def _obey(self, driver: Driver, line: str) -> bool:
        """Do what a line says; False, with the reason on stderr, where it cannot be used."""
        if len(line.encode()) >= LONGEST:
            self.say(f"not used: a line is shorter than {LONGEST} bytes")
            return False
        if line.strip() == "help":
            self.say(*(f"{form:<12} {what}" for form, what in help_lines()))
            return False
        try:
            if self._controller.knows(line):
                self._meet(self._controller.obey(line))
                return False
            command = read_line(line)
            doubted = entries.doubts(driver.state, command)
            if self._asks_again(line, driver.state, doubted):
                return False
            driver.send(command, ago=self._controller.ago)
        except (Refused, MatsideError) as why:  # or the record cannot be read or written
            self.say(f"not used: {why}")
            return False
        return True

    def _meet(self, reply: Reply) -> None:
        """Say what a word did; what the screen asks about is done at once."""
        match reply:
            case str():
                self.say(*reply.splitlines())
            case Work():
                self._meet(reply.then(reply.work()))
            case Confirm():
                self.say(*reply.lines)
                self._meet(reply.agreed())

    def _asks_again(self, line: str, state: State, doubted: Sequence[entries.Doubt]) -> bool:
        """Ask about a doubtful count, or only report it where nobody answers; True: wait."""
        before, self._doubted = self._doubted, ""
        what = (f"{entries.set_name(state, d.row)}: {d.value:g} ({d.why})" for d in doubted)
        said = ", ".join(what)
        if not said or (self._terminal and before == line):
            return False
        if self._terminal:
            self._doubted = line
            self.say(f"{said}? Write the same line again to save it, or another number.")
            return True
        row = doubted[0].row
        self.say(f"{said} is saved. If it is wrong: fix {row.entry} NUMBER.")
        return False

    def _tell_lateness(self, driver: Driver) -> None:
        """Say once that the session runs late, and again after it was back in time."""
        now = driver.now()
        seen, at = self._late_seen
        schedule = self._controller.schedule
        if schedule is None or (driver.state is seen and now - at < LATE_EVERY):
            return  # the forecast is slow, and little has changed
        self._late_seen = driver.state, now
        late = schedule.text(driver.state, now)
        if late and not self._late_said:
            self.say(f"{late} · shorten leaves out sets, undo brings them back")
        self._late_said = bool(late)

    def _tell_levels(self, state: State) -> None:
        """Say after the last set at which levels the next session starts, if not as planned."""
        levels = tuple(_new_levels(state)) if state.phase == "wrap-up" else ()
        if levels and levels != self._levels_said:
            self.say(*levels)
            if not any(one.today_only for one in new_levels(state)):
                self.say("Write today to use it today only.")
        self._levels_said = levels

    def _print(self, events: Sequence[SettledEvent], live: Live) -> None:
        for one in events:
            self._out.write(line_of(one, live.info) + "\n")
        self._out.flush()
        if not all(one.kept for one in events):
            self.say(f"NOT KEPT: {live.driver.keeper.trouble}")

    def _comment(self, events: Sequence[ev.Event], driver: Driver) -> None:
        """What a person should know at once, beside the lines."""
        said = report(events, driver.state, undo=UNDO, redo=REDO)
        self.say(*filter(None, [said]))
        for event in events:
            self._comment_on(event, driver.state)

    def _comment_on(self, event: ev.Event, state: State) -> None:
        if isinstance(event, ev.Pain) and not gives_place(state, event):
            self.say(*PAIN_ADVICE)
        elif isinstance(event, ev.Noted) and event.note == NOT_TODAY:
            self.say(*BEFORE_THE_START.answer)
        elif isinstance(event, ev.Entered):
            row, exercise = state.rows[event.entry - 1], state.exercise(state.rows[event.entry - 1])
            work = row.planned_set.kind == "work"
            if work and row.value is not None and aims.too_light(exercise, row.value):
                name, top = entries.set_name(state, row), exercise.rep_range[1]
                self.say(
                    f"{name}: over {top:g}, the top of the rep range, so this level is too light; "
                    "harder takes the next one"
                )

    def _tell_time_is_over(self, driver: Driver, *, said: bool) -> bool:
        """Say once that warm-up or cool-down time is over, or that a set waits."""
        state = driver.state
        waits = state.phase in ("warm-up", "wrap-up") or (
            state.phase == "rest" and state.waits_for_key
        )
        if not waits or state.until is None or driver.now() < state.until:
            return False
        if not said and state.phase == "wrap-up" and not state.workout.cool_down:
            self.say("All sets done: an empty line closes the session.")
        elif not said:
            what = {"warm-up": "The warm-up", "wrap-up": "The cool-down"}.get(
                state.phase, "The rest"
            )
            self.say(f"{what} is over; an empty line goes on.")
        return True

    def _introduce(self, opening: Opening, *, yes: bool) -> None:
        """What a person has to know before the session."""
        workout = opening.workout
        if not opening.known:
            self.say(f"{opening.trainee} is new here. Welcome.")
            if opening.near:
                self.say(f"Similar names: {', '.join(opening.near)} (--for NAME).")
        self.say(workout.heading)
        for station in opening.stations:
            placed = ", ".join([station.station.name, *setup_words(station.setup)])
            check = station.station.check
            self.say(f"Set up: {placed}. {check}" if check else f"Set up: {placed}")
        self.say(*opening.warnings)
        for offer in opening.baseline.offers:
            self.say(*offer_lines(offer))
            self.say(f"Write {offer.kind} to take it.", *filter(None, [offer.caution]))
        if not yes:
            signs = "; ".join(BEFORE_THE_START.signs)
            self.say(f"{BEFORE_THE_START.text} ({signs}) If so, write unwell.")
        if not yes and not opening.cautions_known:
            self.say(*(f"Caution: {text}" for text in opening.cautions))
            self.say("An empty line starts the session and means that you have read these.")
        else:
            self.say("An empty line starts the session; help lists the words.")


def _brought(controller: Controller, state: State) -> Iterator[str]:
    """What the session brought, for people; nothing where the record cannot be read."""
    if controller.summary is None:
        return
    for section in controller.summary.sections(state):
        yield from (f"{section.title}: {line}" for line in section.lines)
    with suppress(MatsideError):
        if any(item.proposes for item in controller.summary.advisor().items):
            yield "To answer the advice: matside next PLAN --accept EXERCISE, or --refuse EXERCISE."


def _new_levels(state: State) -> Iterator[str]:
    for one in new_levels(state):
        yield f"{one.text}: {'only today' if one.today_only else 'kept for next time'}"


@contextmanager
def signals_stop() -> Iterator[None]:
    """Turn SIGTERM, SIGHUP and SIGINT into `StoppedBySignal` inside the block."""

    def stop(number: int, _frame: FrameType | None) -> None:
        raise StoppedBySignal(number)

    heard = (
        n for n in _SIGNALS.values() if signal.getsignal(n) != signal.SIG_IGN
    )  # started with nohup
    before = {number: signal.signal(number, stop) for number in heard}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _standard_input() -> RawIOBase | None:
    """Standard input without a buffer; None where it has none."""
    buffer = sys.stdin.buffer
    return buffer.raw if isinstance(buffer, BufferedReader) else None


def run_plain(
    opening: Opening, hearing: Hearing, *, resume: bool | None, yes: bool, terminal: bool
) -> tuple[int, Live | None]:
    """Run a session in line mode on the standard streams; returns exit code and session.

    `resume` is None without --resume and --fresh.
    """
    controller = Controller(opening, hearing, yes=yes)
    session = PlainSession(sys.stdout, sys.stderr, controller, terminal=terminal)
    lines = Lines(_standard_input())
    live: Live | None = None
    try:
        with signals_stop():
            while True:
                go_on = _whether_to_resume(
                    session, opening, lines, resume=resume, terminal=terminal
                )
                live = controller.open(go_on=go_on, woken=lines.wake)
                with suppress(RecordReadable):
                    return session.run(live, lines, new=not go_on), live
                session.say("The record can be read now.")
    except StoppedBySignal as stopped:
        if live is not None:
            session.leave(live)
        return stopped.code, live


def _whether_to_resume(
    session: PlainSession, opening: Opening, lines: Lines, *, resume: bool | None, terminal: bool
) -> bool:
    if resume is not None:
        return resume
    if opening.unfinished is None:
        return False
    when = opening.unfinished.info.started.astimezone().strftime("%Y-%m-%d %H:%M")
    if not terminal:
        session.say(
            f"The session started {when} was cut off and stays open; this is a new one (--resume "
            "continues the old one)."
        )
        return False
    session.say(f"The session started {when} was cut off. Continue it? y or n")
    while True:
        answer = lines.next(None)
        if answer is None or answer.strip() in ("n", "no"):
            return False
        if answer.strip() in ("y", "yes"):
            return True
        session.say("y continues it, n starts a new one")
