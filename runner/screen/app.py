"""The live session on a full screen: keys in, the driver's state out.

The app owns the only timer. One alarm is set for the next event or visible change; nothing polls.
"""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import timedelta
from functools import partial
from typing import Any, ClassVar

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Click, Event as TextualEvent, Key, Paste
from textual.screen import ModalScreen
from textual.timer import Timer

from runner.errors import Exit, MatsideError
from runner.live.clock import kept_awake
from runner.live.controller import (
    MAIN,
    AnswerAdvice,
    Ask,
    Confirm,
    Controller,
    Leave,
    OnScreen,
    Read,
    ReadOn,
    Request,
    WhereItHurts,
    Work,
)
from runner.live.driver import SettledEvent
from runner.live.session_setup import Live, Opening
from runner.live.session_summary import Section as Brought
from runner.live.sound_controls import Hearing, SoundOptions
from runner.planning.shorten import end_of
from runner.progress.layoff import BEFORE_THE_START
from runner.screen import pages
from runner.screen.dialogs import Answers, AskLine, Overlay, Page, PainPlace, Question
from runner.screen.full_screen import FullScreen, on_signals, run
from runner.screen.keys import (
    BESIDE_LIST,
    Do,
    Edit,
    KeyGuard,
    apart,
    help_all,
    help_page,
    idle,
    is_main,
    is_remote,
    meaning,
    unused,
)
from runner.screen.layout import is_roomy
from runner.screen.paint import Mat, caution_pages, paint
from runner.screen.theme import colourless
from runner.screen.view import Extras, Section, next_change, present
from runner.session.apply import Refused, initial
from runner.session.events import Event
from runner.session.feedback import APART, begins_or_ends, sentence
from runner.session.state import State

FAILED = (
    "matside: the screen failed, which is a fault in matside. What you did is saved. Start again "
    "to continue the session; --plain continues it without a full screen."
)
SOUND_LOOK = 1.0  # seconds between looks for what the player has found out


class LiveApp(FullScreen):
    """One session, from the ready page to the last page."""

    REHEARSES: ClassVar[bool] = False  # counts are asked for only where they are kept
    # Leaving is a question; an interrupt leaves the session open, to be gone on with.
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "ask_end", show=False, priority=True),
    ]

    def __init__(
        self,
        opening: Opening,
        *,
        resume: bool | None,
        yes: bool,
        wanted: SoundOptions | None = None,
        beside: bool = False,
    ) -> None:
        """`beside`: a thread writes what happens."""
        super().__init__(without_colour=colourless(os.environ))
        self.hearing = Hearing(os.environ, wanted, bell=self.bell)
        self.controller = Controller(
            opening,
            self.hearing,
            yes=yes,
            rehearses=self.REHEARSES,
            changed=self.refresh_view,
            hand_time=self.hand_time,
            later=self.call_later,
        )
        self._resume, self._beside = resume, beside
        self.guard = KeyGuard()
        self.refused: MatsideError | None = None  # why there is no session
        self._alarm: Timer | None = None
        self._mat: Mat | None = None
        self._since = math.inf  # keys pressed before anything was visible do nothing
        self._known_lengths: tuple[State, pages.SessionLengths] | None = None  # with offers taken

    # Start and end

    def compose(self) -> ComposeResult:
        """Nothing but the mat."""
        return ()

    def on_mount(self) -> None:
        """Listen to signals; ask about a session that was cut off; open the session."""
        on_signals(self)
        self.set_interval(SOUND_LOOK, self._hear_news)
        self._enter()
        self._since = time.monotonic()

    def _enter(self) -> None:
        unfinished = self.controller.opening.unfinished
        if self._resume is None and unfinished is not None:
            when = unfinished.info.started.astimezone().strftime("%Y-%m-%d %H:%M")
            question = (
                f"The session started {when} was cut off. Continue it?\n"
                "No starts a new one; the old one stays open."
            )
            self.push_screen(Question(question), self._open)
        else:
            self._open(self._resume)

    def _open(self, go_on: bool | None) -> None:  # noqa: FBT001 - a dialog's answer
        """Begin a session, or go on with the one cut off."""
        woken = (lambda: self.call_later(self._look)) if self._beside else None
        try:
            driver = self.controller.open(go_on=go_on, woken=woken).driver
        except MatsideError as error:  # taken up in another terminal since it was looked for
            if not self._beside:
                raise
            self.refused = error
            self.leave(error.code)
            return
        driver.watch(self._take_up)
        driver.listen(self._settled)
        if go_on:
            driver.come_back()
        else:
            driver.open()
        if self._mat is None:
            self._mat = Mat(present(driver.state, driver.now(), self._extras()))
            self.screen_stack[0].mount(self._mat)
        self.refresh_view()

    def action_ask_end(self) -> None:
        """Ctrl+Q asks before it leaves."""
        self.act("end")

    def act(self, name: str) -> None:
        """Do a verb by its key."""
        self.meet(self.controller.act(name))
        self.refresh_view()

    def meet(self, request: Request | None) -> None:
        """Show or ask what the controller wants."""
        match request:
            case Ask():
                drafts = self.controller.drafts
                self.push_screen(AskLine(request.label, request.take, drafts, self._met))
            case Confirm():
                text = "\n".join(
                    (*request.lines, *([""] if request.lines else []), request.question)
                )
                question = Question(text, remote=self.controller.remote)
                self.push_screen(question, partial(self._confirmed, request))
            case Read():
                self.push_screen(
                    Page(request.title, request.lines), lambda _: self.meet(request.then())
                )
            case WhereItHurts():
                self.push_screen(PainPlace(request, self._met))
            case AnswerAdvice():
                self.push_screen(Answers(request.advisor, request.say))
            case Work():
                work = partial(self._work_out, request)
                self.run_worker(work, thread=True, exclusive=True, group="work")
            case ReadOn():
                self._read_on(request)
            case Leave():
                self.leave(request.code)
            case OnScreen():
                self._on_screen(request)

    def _met(self, request: Request | None) -> None:
        """Meet what is asked for next, and show what has changed."""
        self.meet(request)
        self.refresh_view()

    def _confirmed(self, request: Confirm, yes: bool | None) -> None:  # noqa: FBT001 - an answer
        if yes:
            self.meet(request.agreed())

    def _work_out(self, request: Work) -> None:
        """Work in a thread, for a cue may fall due meanwhile."""
        self.call_from_thread(self._worked_out, request, request.work())

    def _worked_out(self, request: Work, found: object) -> None:
        try:
            self.meet(request.then(found))
        except Refused as refused:
            self.controller.message = sentence(str(refused))
            self.refresh_view()

    def _on_screen(self, request: OnScreen) -> None:
        match request.what:
            case "up":
                self._scroll(-1)
            case "down":
                self._scroll(1)
            case "light":
                self.toggle_light()
                look = "Light" if self.light else "Dark"
                self.controller.message = f"{look} screen."
                if self.no_color:
                    self.controller.message = "NO_COLOR is set: the terminal's own colours stay."
            case "help":
                lines = help_page(self.controller.phase, rehearses=self.REHEARSES)
                every = Page("All keys", help_all(rehearses=self.REHEARSES))
                self.push_screen(Page("Keys", lines, again=("question_mark", every)))
            case "care":
                lines = [f"{BEFORE_THE_START.text} x: no session today"]
                lines += [f"- {sign}" for sign in BEFORE_THE_START.signs]
                lines += ["", "Read before you start:"]
                lines += [f"- {text}" for text in self.controller.opening.cautions]
                lines += [f"- {text}" for text in pages.checks(self.controller.opening)]
                self.push_screen(Page("Care", lines))

    def _read_on(self, request: ReadOn) -> None:
        """Show the next page of cautions. Nobody acknowledges what was not shown."""
        if self._mat is not None and self.controller.turned + 1 < caution_pages(
            self._mat.view, *self._mat.size
        ):
            self.controller.turned += 1
        else:
            self.meet(request.at_end())

    def _scroll(self, by: int) -> None:
        """Scroll on, if there is anything more to see."""
        if self._mat is None:
            return
        view, size, scroll = self._mat.view, self._mat.size, self.controller.scroll
        wanted = max(scroll + by, 0)
        now = paint(replace(view, scroll=scroll), *size)
        if paint(replace(view, scroll=wanted), *size) != now:
            self.controller.scroll = wanted

    # What the driver tells

    def _look(self) -> None:
        """See what has been kept."""
        live = self.controller.live
        if live is None:
            return
        if self.controller.read_anew():
            self._enter()
            return
        live.driver.tell()
        self._settled(())

    def _settled(self, events: Sequence[SettledEvent]) -> None:
        """It is known whether events are on file."""
        self.controller.settled(events)
        self.refresh_view()

    def _take_up(self, events: Sequence[Event]) -> None:
        """Update at once what events change on the screen."""
        self.controller.take_up(events)
        if any(map(begins_or_ends, events)) and not self.REHEARSES:  # there time may fly
            over = [one for one in self.screen_stack if isinstance(one, Overlay)]
            if over:
                self.call_later(self._close, over)
        self.refresh_view()

    def _close(self, over: Sequence[Overlay[Any]]) -> None:
        """Close what lay over the session as a set began or ended; keep what was typed there."""
        session = self.controller
        before = dict(session.drafts)
        while isinstance(self.screen, Overlay) and self.screen in over:
            self.screen.give_way()
        if session.drafts != before:
            session.message = "What you typed is kept. The same keys show it again."
        self.refresh_view()

    def _hear_news(self) -> None:
        if self.controller.hear_news():
            self.refresh_view()

    # Drawing and time

    def _extras(self) -> Extras:
        session = self.controller
        state = session.live.driver.state if session.live else None
        trouble = session.live.driver.keeper.trouble if session.live else None
        asked = "" if session.pain_asked is None else session.pain_asked.text
        return Extras(
            trainee=session.opening.trainee,
            page=() if state is None else self.page(state),
            scroll=session.scroll,
            cautions=() if session.cautions_known else session.opening.new_cautions,
            turned=session.turned,
            over_by="" if state is None else self._over_by(state),
            past=session.opening.past,
            roomy=is_roomy(*self.size),
            entry=session.line,
            message=APART.join(filter(None, (asked, session.message))),
            notice=f"NOT KEPT: {trouble}" if trouble else "",
            tryout=session.tryout,
            paced=session.live is not None and session.live.driver.paced,
            finish=session.finish,
            late=session.late,
            rehearses=self.REHEARSES,
            remote=session.remote,
            more=None if session.more is None else tuple(session.choices[session.more_from :]),
        )

    def page(self, state: State) -> tuple[Section, ...]:
        """The page of text of this phase, if it has one."""
        session, hearing = self.controller, self.hearing
        if state.phase == "ready":
            return pages.ready(
                session.opening,
                state,
                self._lengths(state),
                sound=(
                    hearing.player.notice(pointer=False),
                    hearing.voice_notice(pointer=False),
                ),
                asks=not session.yes,
                late=session.late,
            )
        if state.phase == "wrap-up":
            return pages.wrap_up(
                state, self._brought(state), entry=session.line, remote=session.remote
            )
        if state.phase == "closed" and session.live is not None:
            lost = session.live.driver.keeper.trouble or ""
            return pages.closed(
                state, self._brought(state), entry=session.line, remote=session.remote, lost=lost
            )
        return ()

    def _lengths(self, state: State) -> pages.SessionLengths:
        """The forecast length, computed once for the offers taken."""
        if self._known_lengths is None or self._known_lengths[0] is not state:
            taken = planned = end_of(state, 0.0)
            if state.taken:
                base = initial(state.planned or state.workout, self.controller.opening.baseline)
                planned = end_of(base, 0.0)
            self._known_lengths = (state, pages.SessionLengths(planned, taken))
        return self._known_lengths[1]

    def _over_by(self, state: State) -> str:
        """How long it will take, and until when, if it is started now."""
        if state.phase != "ready":
            return ""
        seconds = self._lengths(state).taken
        then = self.controller.opening.clock.local() + timedelta(seconds=seconds)
        return f"{pages.minutes(seconds)} min, done by {then:%H:%M}"

    def _brought(self, state: State) -> tuple[Brought, ...]:
        """What the session has brought, once its sets are done and on file."""
        session = self.controller
        if session.summary is None or session.live is None:
            return ()
        return session.summary.sections(state, settled=session.live.driver.keeper.settled)

    def refresh_view(self) -> None:
        """Show the present state, and set the alarm for the next change."""
        live, asked = self.controller.live, self.controller.undo_asked
        if live is None or self._mat is None:
            return
        driver = live.driver
        now = driver.now()
        self._mat.show(present(driver.state, now, self._extras()))
        waits = [*self.real_waits(driver.seconds_to_wake(), next_change(driver.state, now))]
        if asked is not None:
            waits.append(asked.until - self.hand_time())
        if driver.state.phase == "ready":
            waits.append(60.0 - self.controller.opening.clock.local().second)  # it is over later
        delay = min((w for w in waits if w is not None), default=None)
        if self._beside:
            delay = driver.waits(delay)
        if self._alarm is not None:
            self._alarm.stop()
            self._alarm = None
        if delay is not None:
            self._alarm = self.set_timer(max(delay, 0.001), self._ring)

    def on_resize(self) -> None:
        """Show what there is room for now."""
        self.call_later(self.refresh_view)

    def real_waits(
        self, wake: float | None, change: float | None
    ) -> tuple[float | None, float | None]:
        """Real seconds until the next event, and until the next visible change."""
        return wake, change

    def hand_time(self) -> float:
        """Now, in the seconds in which hands press keys."""
        session = self.controller
        return session.opening.clock.now() if session.live is None else session.live.driver.now()

    def phase_began(self) -> float:
        """Since when, in those seconds, the main key has meant what it means now."""
        live = self.controller.live
        if live is None:
            return 0.0
        state = live.driver.state
        return (state.rest_from if state.phase == "rest" else self.controller.phase_since) or 0.0

    def _ring(self) -> None:
        if self.controller.live is not None:
            self.controller.tick()
            self.controller.undo_is_over()
            self.refresh_view()

    # Keys

    async def on_event(self, event: TextualEvent) -> None:
        """Handle keys in the order in which they come, each before the next.

        A key that is still held down answers nothing on what lies over the session.
        """
        if isinstance(event, Key) and not event.is_forwarded:
            early = os.name == "posix" and event.time < self._since
            if early or self._still_down(event.key) or self._took(event):
                return
        await super().on_event(event)

    def _took(self, event: Key) -> bool:
        """Whether the session, or what lies over it, used a key; else a widget gets it."""
        if event.key in ("ctrl+c", "ctrl+q"):
            return False
        self.app_focus = True
        over = self.screen
        if isinstance(over, Overlay):
            return over.took(event)
        self.on_key(event)
        return True

    def _still_down(self, key: str) -> bool:
        """Whether a page or a question is open and the key only repeats, or comes too soon."""
        if not isinstance(self.screen, ModalScreen):
            return False
        now = self.hand_time()
        fresh = self.guard.fresh(key, now)
        counts = (not is_main(key) or self.guard.quiet(now)) and fresh
        reads = isinstance(self.screen, Page | Question | Answers) and key not in Page.SCROLLING
        return reads and not counts

    def on_key(self, event: Key) -> None:
        """Use a key for the session, unless something lies over it."""
        session = self.controller
        if session.live is None or isinstance(self.screen, ModalScreen):
            return
        event.prevent_default()
        ago = session.ago = self._age_of(event)
        session.tick(ago)  # so that the key means what it means now
        clock = session.opening.clock
        now = self.hand_time() - (clock.now() - clock.ago(ago))
        fresh = self.guard.fresh(event.key, now)
        session.remote = is_remote(event.key)
        answered, request = session.answer_pain(event.key)
        if answered:
            self._met(request)
            return
        phase = session.phase
        known = meaning(event.key, phase, session.line, rehearses=self.REHEARSES)
        if known != Do("undo"):
            session.undo_asked = None
        if self._elsewhere(event.key, known, fresh=fresh):
            self.refresh_view()
            return
        if isinstance(known, Do):
            acted = self._do(known.verb, now, fresh=fresh)
            if acted and known.then is not None and session.phase != "set":
                session.then(known.then)
            return
        if is_main(event.key):
            self.guard.quiet(now)
        if isinstance(known, Edit) and self.guard.gap >= apart(known):
            session.edit(known.doing, known.text)
        elif known is None and fresh:
            session.message = unused(event.key, phase, rehearses=self.REHEARSES)
            self.refresh_view()

    def _elsewhere(self, key: str, known: Do | Edit | None, *, fresh: bool) -> bool:
        """Whether the open try-out or list used a key."""
        session = self.controller
        if session.tryout and known != Do(MAIN):
            session.tryout, session.message = False, ""
            return True
        return session.more is not None and self._in_list(key, fresh=fresh)

    def _in_list(self, key: str, *, fresh: bool) -> bool:
        """Whether the open list used a key; any other meaningful key closes the list."""
        session, key = self.controller, key.lower() if len(key) == 1 else key
        name = session.chosen(key)
        if key in BESIDE_LIST:
            return False
        if key in ("down", "up") and self._mat is not None:
            further = session.more_from + self._mat.listed()
            session.more_from = further if key == "down" and further < len(session.choices) else 0
            return True
        if not fresh:
            return True
        if key in ("m", "escape"):
            session.more, session.message = None, ""
        elif name is not None:
            self.act(name)
        elif meaning(key, session.phase, session.line, rehearses=self.REHEARSES) is not None:
            session.more = None
            return False
        else:
            session.message = idle(key, session.phase)
        return True

    def on_click(self, event: Click) -> None:
        """A click on a hint of the footer, or on a line of the list, presses its key."""
        if self._mat is None or isinstance(self.screen, ModalScreen):
            return
        region = self._mat.region
        key = self._mat.key_at(event.screen_x - region.x, event.screen_y - region.y)
        if key is not None:
            self.post_message(Key(key, key if len(key) == 1 else None))

    def _age_of(self, event: Key) -> float:
        """Real seconds since a key came: the screen may have been busy."""
        return max(time.monotonic() - event.time, 0.0) if os.name == "posix" else 0.0

    def _do(self, name: str, now: float, *, fresh: bool) -> bool:
        """Do a verb, unless its key only repeats or comes too soon; returns whether it was done."""
        session = self.controller
        if name == MAIN:
            if session.saved_at is not None:
                self.guard.saved(session.saved_at)
            if not self.guard.main(now, session.phase, self.phase_began()) or not fresh:
                return False
        elif self.guard.gap < apart(Do(name)):
            return False
        self.act(name)
        return True

    def on_paste(self, event: Paste) -> None:
        """A pasted count is typed text like any other."""
        if self.controller.live is not None and not isinstance(self.screen, ModalScreen):
            self.controller.tick()
            self.controller.edit("type", event.text)


def run_screen(
    opening: Opening, *, resume: bool | None, yes: bool, wanted: SoundOptions
) -> tuple[int, Live | None]:
    """Run a session on the full screen; (exit code, the session)."""
    app = LiveApp(opening, resume=resume, yes=yes, wanted=wanted, beside=True)
    try:
        with kept_awake():
            code = run(app)
    finally:
        app.hearing.close()
        if app.controller.live is not None:
            app.controller.live.driver.keeper.close()
    if app.refused is not None:
        raise app.refused
    done = Exit.SOFTWARE if code is None else int(code)
    if done == Exit.SOFTWARE:
        with suppress(OSError):  # the terminal may have gone
            print(FAILED, file=sys.stderr)
    if done == Exit.OK and app.hearing.missed():
        print(app.hearing.missed(), file=sys.stderr)
    return done, app.controller.live
