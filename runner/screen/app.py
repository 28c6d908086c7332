"""The live session on a full screen: keys in, the driver's state out.

The app owns the only timer. One alarm is set for the next thing that happens or can be seen to
change; nothing polls.
"""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from functools import partial
from types import FrameType
from typing import ClassVar, Protocol

from rich.console import RenderableType
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Event as TextualEvent, Key, Paste
from textual.screen import ModalScreen
from textual.timer import Timer

from runner.errors import Exit, MatsideError
from runner.live.clock import kept_awake, left_alone
from runner.live.driver import Shown
from runner.live.schedule import Schedule
from runner.live.session_setup import Live, Opening
from runner.live.session_summary import Section
from runner.live.sound_controls import Hearing, Wanted
from runner.planning.shorten import finish
from runner.screen import info as sheets
from runner.screen.actions import act, answer_pain, edit, stays, takes_back, undo_is_over
from runner.screen.dialogs import Page, PainPlace, Question
from runner.screen.entry import EntryLine, Field, deeds
from runner.screen.info import Outcome
from runner.screen.keys import (
    Do,
    Edit,
    EntryDoing,
    KeyGuard,
    is_main,
    is_remote,
    key_of,
    meaning,
    repeats,
    unused,
)
from runner.screen.live_screen import PainAsked, UndoAsked
from runner.screen.paint import Mat
from runner.screen.theme import DressedApp, colourless
from runner.screen.view import Extras, View, next_change, present
from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.events import Closed, Ended, Event, Started
from runner.session.feedback import APART, report, sentence
from runner.session.state import State
from runner.sound.player import Player
from runner.text import Line

# Signals that end a full screen: the terminal is put right first, which Textual does not do.

GRACE = 5.0  # seconds for an orderly end; our choice

_NAMES = ("SIGTERM", "SIGHUP", "SIGINT")  # not every system has all of them


class Leaving(Protocol):
    """A full screen that can be left with an exit code."""

    grace: float | None  # seconds for an orderly end after a signal; None: as long as it takes

    def leave(self, code: int, /) -> None:
        """End in good order."""

    def run(self) -> int | None:
        """Show it until it is left."""


def run(app: Leaving, *, grace: float = GRACE) -> int | None:
    """Run a full screen as all there is to this process; its exit code, None if it failed.

    Once the window is gone, the screen can no longer be written, and the loop may wait for that
    for ever. So the process ends `grace` seconds after a signal in any case, with the same code.
    Nothing is lost by it: what was acknowledged is on file. A screen that runs within a process
    of somebody else (a test's) has no such limit: it must not end what it does not own.
    """
    app.grace = grace
    with left_alone():
        return app.run()


def on_signals(app: Leaving) -> None:
    """Leave with 128 and the signal's number. To be called within the running loop."""
    loop = asyncio.get_running_loop()
    for name in _NAMES:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) != signal.SIG_IGN:  # nohup
            with suppress(NotImplementedError):  # not on Windows, where Ctrl+C is a key
                loop.add_signal_handler(number, app.leave, 128 + number)
                if app.grace is not None:
                    # The loop hears of it by a file descriptor; this runs where the loop waits.
                    signal.signal(number, partial(_end_in_any_case, app.grace))


def _end_in_any_case(grace: float, number: int, frame: FrameType | None) -> None:
    del frame
    watchdog = threading.Timer(grace, os._exit, (128 + number,))
    watchdog.daemon = True
    watchdog.start()


FAILED = (
    "matside: the screen has failed, which is our fault. What was done is kept; the session is "
    "offered again at the next start, and --plain goes on without a screen."
)
SOUND_LOOK = 1.0  # seconds between looks for what the player has found out


class LiveApp(DressedApp[int]):
    """One session, from the ready sheet to the summary."""

    REHEARSES: ClassVar[bool] = False  # counts are asked for only where they are kept
    # Leaving is a question; an interrupt leaves the session open, to be gone on with.
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+c", "interrupt", show=False, priority=True),
        Binding("ctrl+q", "ask_end", show=False, priority=True),
    ]

    def __init__(
        self,
        opening: Opening,
        *,
        resume: bool | None,
        yes: bool,
        wanted: Wanted | None = None,
        beside: bool = False,
    ) -> None:
        """`beside`: a thread writes what happens."""
        super().__init__(without_colour=colourless(os.environ))
        self.opening = opening
        self.live: Live | None = None
        self.outcome: Outcome | None = None  # none in a rehearsal
        self.schedule: Schedule | None = None
        self.hearing = Hearing(os.environ, wanted, bell=self.bell)
        self.player: Player = self.hearing.player
        self._resume, self._yes, self._beside = resume, yes, beside
        self.cautions_known = yes or opening.cautions_known
        self.guard = KeyGuard()
        self.field = Field()
        self.remote = False
        self._clock_began = False  # a set, and what is typed is not saved yet
        self.refused: MatsideError | None = None  # why there is no session
        self.message = ""
        self._to_tell: dict[int, str] = {}  # what became of counts, once they are on file
        self._ago = 0.0  # seconds since the key was pressed that is being dealt with
        self.scroll = 0
        self.tryout = False
        self.tried = 0
        self.warned_of = 0  # counts still open when closing was asked for
        self.undo_asked: UndoAsked | None = None
        self.pain_asked: PainAsked | None = None
        self._finish: float | None = None
        self._late = ""
        self._phase_since = 0.0
        self._alarm: Timer | None = None
        self._mat: Mat | None = None
        self.grace: float | None = None

    # Start and end

    def compose(self) -> ComposeResult:
        """Nothing but the mat."""
        return ()

    def on_mount(self) -> None:
        """Listen to signals; ask about a session that was cut off; open the session."""
        on_signals(self)
        self.set_interval(SOUND_LOOK, self._hear_news)
        self._enter()

    def _enter(self) -> None:
        if self._resume is None and self.opening.unfinished is not None:
            when = self.opening.unfinished.info.started.astimezone().strftime("%Y-%m-%d %H:%M")
            question = (
                f"The session begun {when} was cut off. Go on with it?\n"
                "No begins a new one, and leaves that one as it is."
            )
            self.push_screen(Question(question), self._open)
        else:
            self._open(self._resume)

    def _open(self, go_on: bool | None) -> None:  # noqa: FBT001 - a dialog's answer
        """Begin a session, or go on with the one cut off."""
        start = self.opening.resume if go_on else self.opening.begin
        self.live = start(self.player, self.hearing.speaker)
        driver = self.live.driver
        self.outcome = None if self.REHEARSES else Outcome(self.opening, self.live)
        self.schedule = Schedule(self.opening, self.live)
        driver.watch(self._happened)
        driver.listen(self._settled)
        if self._beside:
            try:
                self.opening.hold(self.live)
            except MatsideError as error:  # taken up in another terminal since it was looked for
                self.refused, self.live = error, None
                self.leave(error.code)
                return
            self.opening.write(self.live, lambda: self.call_later(self._look))
        if go_on:
            driver.come_back()
        else:
            driver.open()
        if self._mat is None:
            self._mat = Mat(present(driver.state, driver.now(), self._extras()))
            self.screen_stack[0].mount(self._mat)
        self.refresh_view()

    def leave(self, code: int) -> None:
        """End the program; an unfinished session stays open."""
        self.exit(code, return_code=code)

    def panic(self, *renderables: RenderableType) -> None:
        """End when Textual gives up (on bytes that no terminal should send); nothing is lost."""
        del renderables
        self.leave(Exit.SOFTWARE)

    def action_interrupt(self) -> None:
        """Ctrl+C: leave at once, as an interrupt does."""
        self.leave(Exit.INTERRUPT)

    def action_ask_end(self) -> None:
        """Ctrl+Q is no way out without a question."""
        self.act("end")

    def act(self, action: str) -> None:
        """Do an action of the registry, by its id."""
        act(self, action)

    # What the driver tells

    def _look(self) -> None:
        """See what has been kept."""
        if self.live is None:
            return
        if self.opening.read_anew(self.live):
            self.live, self.message = None, "The record can be read now."
            self.cautions_known = self._yes or self.opening.cautions_known
            self._enter()
            return
        self.live.driver.tell()
        self._settled(())

    def _settled(self, shown: Sequence[Shown]) -> None:
        """It is known whether events are on file: say what became of counts."""
        if self.live is None:
            return
        news = self.live.driver.keeper.news()
        said = [news and f"{news}."]
        for one in shown:
            text = self._to_tell.pop(id(one.event), "")
            said.append(text if one.kept or not text else f"{text.partition(':')[0]}: not kept yet")
        self.message = " ".join(filter(None, (*said, self.message)))
        self.refresh_view()

    def _happened(self, events: Sequence[Event]) -> None:
        """Take up at once what events change on the screen."""
        if self.live is None:
            return
        self.moved(events[0].at)
        state = self.live.driver.state
        asks = state.phase != "closed" and not self.REHEARSES
        correcting = self.line if self.line is not None and self.line.asked.was else None
        self.field = self.field.follow(state, events) if asks else Field()
        self._clock_began |= any(isinstance(e, Started) and e.by == "clock" for e in events)
        begun = any(isinstance(event, Started) for event in events)
        became = self._became(events, state)
        self._to_tell |= became
        told = "" if became else report(events, state, undo=takes_back(self))
        # What was said of the rest is no longer true in the set.
        self.message = told or ("" if begun else self.message)
        if correcting is not None and state.phase == "set" and self.line is None:
            self.message = stays(correcting)
        if any(isinstance(event, Ended | Closed) for event in events):
            self.pain_asked = None
        if begun:
            self.undo_asked = None
            if isinstance(self.screen, PainPlace):
                self.call_later(self.screen.take)  # what was typed so far is kept
        self.refresh_view()

    def _became(self, events: Sequence[Event], state: State) -> dict[int, str]:
        """What became of counts, to be told once they are on file."""
        if self.outcome is None:
            return {}
        back = key_of("undo", remote=self.remote)
        became = ((id(event), self.outcome.became(event, state, back=back)) for event in events)
        return {key: text for key, text in became if text}

    def moved(self, at: float = 0.0) -> None:
        """Take up where the session stands now, `at` the instant of what has happened."""
        if self.live is None:
            return
        state, row = self.live.driver.state, self.live.driver.state.running
        self._finish = finish(state, self.live.driver.now())
        self._phase_since = at if row is None else row.start or 0.0
        if self.schedule is not None:
            self._late = self.schedule.text(state, self.live.driver.now(), self._finish)

    def tick(self, ago: float = 0.0) -> None:
        """Let happen what time has brought; what was typed is saved once a set has begun by it.

        `ago`: what it had brought so many real seconds ago.
        """
        if self.live is not None:
            self.live.driver.tick(ago=ago)
            self._after_the_clock()

    def _after_the_clock(self) -> None:
        if not self._clock_began:
            return
        self._clock_began = False
        for doing in deeds(self.line, "clock", "set"):
            edit(self, doing)

    def _hear_news(self) -> None:
        if self.live is None:
            return  # nothing to show it on yet: it is told once alone
        news = self.hearing.news()
        if news:
            self.message = news
            self.refresh_view()

    # Drawing and time

    @property
    def line(self) -> EntryLine | None:
        """What stands in the field."""
        return self.field.line

    @property
    def view(self) -> View | None:
        """What the mat shows, once there is one."""
        return None if self._mat is None else self._mat.view

    @property
    def mat_size(self) -> tuple[int, int]:
        """Columns and rows of the mat."""
        return (0, 0) if self._mat is None else self._mat.size

    def _extras(self) -> Extras:
        state = self.live.driver.state if self.live else None
        notice = ""
        if self.live is not None:
            keeper = self.live.driver.keeper
            trouble = keeper.trouble
            notice = f"NOT KEPT: {trouble}" if trouble else ""
        asked = "" if self.pain_asked is None else self.pain_asked.text
        return Extras(
            trainee=self.opening.trainee,
            sheet=() if state is None else self.sheet(state),
            scroll=self.scroll,
            entry=self.line,
            message=APART.join(filter(None, (asked, self.message))),
            notice=notice,
            tryout=self.tryout,
            paced=self.live is not None and self.live.driver.paced,
            finish=self._finish,
            late=self._late,
            rehearses=self.REHEARSES,
            remote=self.remote,
        )

    def sheet(self, state: State) -> tuple[Line, ...]:
        """The longer text of this phase, if it has one."""
        if state.phase == "ready":
            return sheets.ready(
                self.opening,
                sound=(self.player.notice(), f"{self.hearing.voice_notice()} Another mode: z"),
                cautions_known=self.cautions_known,
                taken=None if self._yes else state.taken,
            )
        if state.phase == "wrap-up":
            return sheets.wrap_up(state, self._brought(state)[:2])
        if state.phase == "closed" and self.live is not None:
            lost = self.live.driver.keeper.trouble or ""
            return sheets.closed(state, self._brought(state), lost=lost)
        return ()

    def _brought(self, state: State) -> tuple[Section, ...]:
        """What the session has brought, once its sets are done and on file."""
        if self.outcome is None or self.live is None:
            return ()
        return self.outcome.sections(state, settled=self.live.driver.keeper.settled)

    def refresh_view(self) -> None:
        """Show the present state, and set the alarm for the next change."""
        if self.live is None or self._mat is None:
            return
        driver = self.live.driver
        now = driver.now()
        self._mat.show(present(driver.state, now, self._extras()))
        waits = [*self.real_waits(driver.seconds_to_wake(), next_change(driver.state, now))]
        if self.undo_asked is not None:
            waits.append(self.undo_asked.until - self.hand_time())
        delay = min((w for w in waits if w is not None), default=None)
        if self._beside:
            delay = driver.waits(delay)
        if self._alarm is not None:
            self._alarm.stop()
            self._alarm = None
        if delay is not None:
            self._alarm = self.set_timer(max(delay, 0.001), self._ring)

    def real_waits(
        self, wake: float | None, change: float | None
    ) -> tuple[float | None, float | None]:
        """Real seconds until something happens, and until something looks different."""
        return wake, change

    def hand_time(self) -> float:
        """Now, in the seconds in which hands press keys."""
        return 0.0 if self.live is None else self.live.driver.now()

    def phase_began(self) -> float:
        """Since when, in those seconds, what the main key does has stood there."""
        if self.live is None:
            return 0.0
        state = self.live.driver.state
        return (state.rest_from if state.phase == "rest" else self._phase_since) or 0.0

    def _ring(self) -> None:
        if self.live is not None:
            self.tick()
            undo_is_over(self)
            self.refresh_view()

    # Keys

    async def on_event(self, event: TextualEvent) -> None:
        """Keys for what lies over the session: a key still held down must not close a page."""
        if isinstance(event, Key) and not event.is_forwarded and self._held_over(event.key):
            return
        await super().on_event(event)

    def _held_over(self, key: str) -> bool:
        """Whether a page is open and the key only repeats; the guard sees what dialogs take."""
        if self.live is None or not isinstance(self.screen, ModalScreen):
            return False
        now = self.hand_time()
        fresh = self.guard.fresh(key, now)
        if is_main(key):
            self.guard.saw_main(now)
        return isinstance(self.screen, Page) and not fresh and key not in Page.SCROLLING

    def on_key(self, event: Key) -> None:
        """A key of the session's, unless something lies over it."""
        if self.live is None or isinstance(self.screen, ModalScreen):
            return
        event.prevent_default()
        self._ago = self._age_of(event)
        self.tick(self._ago)  # so that the key means what it means now
        clock = self.opening.clock
        now = self.hand_time() - (clock.now() - clock.ago(self._ago))
        state = self.live.driver.state
        fresh = self.guard.fresh(event.key, now)
        self.remote = is_remote(event.key)
        if answer_pain(self, event.key):
            return
        known = meaning(event.key, state.phase, self.line, rehearses=self.REHEARSES)
        if known != Do("undo"):
            self.undo_asked = None
        if isinstance(known, Do):
            acted = self._do(known.action, now, fresh=fresh)
            if acted and known.then is not None and self.live.driver.state.phase != "set":
                self._then(known.then)
            return
        if is_main(event.key):
            self.guard.saw_main(now)
        if isinstance(known, Edit) and (fresh or known.doing not in ("save", "open")):
            edit(self, known.doing, known.text)
        elif known is None and fresh:
            self.message = unused(event.key, state.phase, rehearses=self.REHEARSES)
            self.refresh_view()

    def _then(self, doing: EntryDoing) -> None:
        """What the main key does to the field after it has ended a set."""
        said, before = self.message, self.line
        edit(self, doing)
        after = self.line
        stays_open = before and after and before.asked.entry == after.asked.entry
        if doing != "save" or stays_open:  # else what is said of the count comes once it is kept
            self.message = self.message or said
        self.refresh_view()

    def _age_of(self, event: Key) -> float:
        """Real seconds since a key came: the screen may have been busy."""
        return max(time.monotonic() - event.time, 0.0) if os.name == "posix" else 0.0

    def _do(self, action: str, now: float, *, fresh: bool) -> bool:
        """Do an action, unless its key only repeats or comes too soon; whether it was done."""
        if self.live is None:
            return False
        if action == "main":
            phase = self.live.driver.state.phase
            if not self.guard.main(now, phase, self.phase_began()) or not fresh:
                return False
        elif not repeats(action) and not (fresh and self.guard.once(action, now)):
            return False
        self.act(action)
        return True

    def on_paste(self, event: Paste) -> None:
        """A pasted count is typed text like any other."""
        if self.live is not None and not isinstance(self.screen, ModalScreen):
            self.tick()
            edit(self, "type", event.text)

    def send(self, command: cmd.Command) -> str | None:
        """Ask the session for something; the reason where it refuses."""
        if self.live is None:
            return "the session is not open yet"
        self.message, ago, self._ago = "", self._ago, 0.0
        try:
            self.live.driver.send(command, ago=ago)
        except Refused as refused:
            self.message = sentence(str(refused))
            self.refresh_view()
            return str(refused)
        return None


def run_screen(
    opening: Opening, *, resume: bool | None, yes: bool, wanted: Wanted
) -> tuple[int, Live | None]:
    """Run a session on the full screen; (exit code, the session)."""
    app = LiveApp(opening, resume=resume, yes=yes, wanted=wanted, beside=True)
    try:
        with kept_awake():
            code = run(app)
    finally:
        app.hearing.close()
        if app.live is not None:
            app.live.driver.keeper.close()
    if app.refused is not None:
        raise app.refused
    done = Exit.SOFTWARE if code is None else int(code)
    if done == Exit.SOFTWARE:
        with suppress(OSError):  # the terminal may have gone
            print(FAILED, file=sys.stderr)
    if done == Exit.OK and app.hearing.missed():
        print(app.hearing.missed(), file=sys.stderr)
    return done, app.live
