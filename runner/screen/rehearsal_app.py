"""The screen of a rehearsal: the live screen on a fast clock, marked as a rehearsal."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any, ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.screen import Screen
from textual.widget import Widget

from runner.errors import Exit
from runner.law.weekly_sets import sets_text
from runner.live.clock import FastClock
from runner.live.controller import MAIN
from runner.live.rehearsal import Rehearsal, speak_or_not
from runner.live.sound_controls import SoundOptions
from runner.screen import pages
from runner.screen.app import FAILED, LiveApp
from runner.screen.full_screen import run
from runner.screen.view import Section, clock
from runner.session.phrases import Mode
from runner.session.state import State
from runner.session.verb import REHEARSED, key_name
from runner.text import Line

NEWEST_S = 0.05  # real seconds between drawings of a time that runs fast; our choice
MARK = "REHEARSAL"


class Banner(Widget):
    """The top row of everything in a rehearsal."""

    DEFAULT_CSS = """
    Banner { dock: top; height: 1; width: 1fr; background: $mat-mark; color: $mat-ground;
             text-style: bold; text-wrap: nowrap; text-overflow: ellipsis; }
    Banner:nocolor { background: $mat-ground; color: $mat-ink; text-style: bold reverse; }
    """

    def __init__(self, text: Text) -> None:
        super().__init__()
        self._text = text

    def render(self) -> Text:
        """The mark."""
        return self._text

    def show(self, text: Text) -> None:
        """Say something else; nothing is drawn where it is the same."""
        if text != self._text:
            self._text = text
            self.refresh()


class RehearsalApp(LiveApp):
    """The session's screen, on a clock that can be driven."""

    REHEARSES: ClassVar[bool] = True

    def __init__(self, opening: Rehearsal, *, mute: bool, voice: Mode | None = None) -> None:
        if not isinstance(opening.clock, FastClock):
            raise TypeError("a rehearsal runs on a FastClock")
        self.clock: FastClock = opening.clock
        # Begin acknowledges nothing here, so nobody has to read to the end first.
        wanted = SoundOptions(mute=mute, voice=voice if self.clock.speed == 1 else "off")
        super().__init__(opening, resume=False, yes=True, wanted=wanted)
        speak_or_not(self.controller)

    def compose(self) -> ComposeResult:
        """The mark above the mat."""
        yield Banner(self._mark())

    def push_screen(self, screen: Any, *args: Any, **more: Any) -> Any:
        """Dialogs and pages carry the mark as well, however much they cover."""
        if isinstance(screen, Screen):
            self.call_later(screen.mount, Banner(self._mark()))
        return super().push_screen(screen, *args, **more)

    def refresh_view(self) -> None:
        """Show the present state and how fast it goes."""
        super().refresh_view()
        for screen in self.screen_stack:
            for banner in screen.query(Banner):
                banner.show(self._mark())

    def _mark(self) -> Text:
        """The top row, its word first, for that is what a narrow row keeps."""
        speed = f"{self.clock.speed:g} times as fast"
        how = "at real speed" if self.clock.speed == 1 else speed
        how = "PAUSED" if self.clock.still else how
        return Text(f" {MARK} · {how} · nothing is saved", no_wrap=True, overflow="ellipsis")

    def page(self, state: State) -> tuple[Section, ...]:
        """Before it: what a rehearsal is, and today's sets. After it: how long it was."""
        if state.phase != "ready":
            over = state.phase in ("wrap-up", "closed")
            return (Section("", tuple(_over(state))),) if over else ()
        lengths = self._lengths(state)
        ready = pages.ready(self.controller.opening, state, lengths, sound=(), asks=False, late="")
        return (Section("", (*_about(), ())), *(one for one in ready if one.title != "NEW"))

    def real_waits(
        self, wake: float | None, change: float | None
    ) -> tuple[float | None, float | None]:
        """Real seconds; none while time stands still."""
        if self.clock.still:
            return None, None
        speed = self.clock.speed
        return (
            None if wake is None else wake / speed,
            None if change is None else max(change / speed, NEWEST_S if speed > 1 else 0.0),
        )

    def hand_time(self) -> float:
        """Hand times are real seconds."""
        return self.clock.real()

    def phase_began(self) -> float:
        """No guard: a set that is ended too early here loses nothing."""
        return float("-inf")

    def act(self, name: str) -> None:
        """Do a verb by its key; the main key lets time go on where it stands still."""
        if self.clock.still and name == MAIN and not self._over():
            self.clock.stand_still(still=False)
            self.refresh_view()
        else:
            super().act(name)

    def action_ask_end(self) -> None:
        """Ctrl+Q is no way out without a question."""
        self.act("leave")

    def _over(self) -> bool:
        return (
            self.controller.live is not None and self.controller.live.driver.state.phase == "closed"
        )


def _about() -> Iterator[Line]:
    yield (("A rehearsal: each set ends by itself after its expected length.", "mark"),)
    yield (("The main key ends a set earlier. matside asks for no counts.", "quiet"),)
    keys = [a for a in REHEARSED.values() if a.id != "still"]
    yield tuple(span for a in keys for span in _hint(key_name(a.keys[0]), a.label_in("rest")))


def _hint(key: str, label: str) -> Line:
    return (key, "mark"), (f" {label}  ", "quiet")


def _over(state: State) -> Iterator[Line]:
    """How long it was, once it is over."""
    begun = next((e.at for e in state.log if e.name == "begun"), 0.0)
    planned_sets = {
        (r.planned_set.exercise, r.planned_set.number, r.planned_set.kind)
        for r in state.rows
        if r.status == "done"
    }
    warm_up = sum(kind == "ramp" for *_, kind in planned_sets)
    seconds = round((state.log[-1].at if state.phase == "closed" else state.until or 0.0) - begun)
    yield ((f"Rehearsed: {clock(seconds)} from the first minute to the last.", "ink"),)
    yield (
        (
            f"{sets_text(len(planned_sets) - warm_up, warm_up)}, "
            f"{len(state.workout.blocks)} blocks.",
            "quiet",
        ),
    )
    yield (
        (
            "matside keeps nothing of it. The same command without --watch prints the table.",
            "quiet",
        ),
    )


def run_rehearsal(opening: Rehearsal, *, mute: bool, voice: Mode | None = None) -> int:
    """Show a rehearsal; returns the exit code. `voice` is what is spoken at real speed."""
    app = RehearsalApp(opening, mute=mute, voice=voice)
    try:
        code = run(app)
    finally:
        app.hearing.close()
        opening.record.close()
    done = Exit.SOFTWARE if code is None else int(code)
    if done == Exit.SOFTWARE:
        print(FAILED, file=sys.stderr)
    return done
