"""What both full screens have: our themes, an end with an exit code, and patience with terminals.

A signal ends a full screen after the terminal is put right, which Textual does not do. What a
terminal sends and makes no sense is passed over; it must not end a session.

Textual's driver (measured with 8.2.8) gives up on bytes that are no UTF-8, as terminals with an
old encoding send, on text in place of a number, as in ESC [ 6 ; 1:1 ~, and on a mouse event after a
report of a window of no pixels. So whatever its parser raises is passed over. Reports of a
window's size among the bytes are left out: the system says it as well (SIGWINCH), and a wrong
one would make the screen as large as it likes.

And it takes every SIGCONT for the end of a suspend by SIGTSTP, and starts a second time over
the first: the terminal's settings are then lost, and where the SIGCONT came with the hangup of
a closed terminal, the first reader may go on for ever.
"""

from __future__ import annotations

import asyncio
import os
import signal
import threading
import traceback
from collections.abc import Sequence
from contextlib import suppress
from functools import partial
from types import FrameType
from typing import Any, ClassVar

from rich.console import RenderableType
from rich.text import Text
from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver
from textual.events import Resize
from textual.filter import LineFilter, Monochrome, NoColor
from textual.message import Message
from textual.messages import InBandWindowResize
from textual.reactive import Reactive
from textual.theme import Theme

from runner.errors import Exit
from runner.live.clock import collecting_new_objects_only
from runner.screen.first_picture import drop_keys, quiet_keys
from runner.screen.theme import DARK, LIGHT, PLAIN, THEMES, WIDGET_CSS, FewColours, TerminalColours

GRACE = 5.0  # seconds for an orderly end; our choice

_NAMES = ("SIGTERM", "SIGHUP", "SIGINT")  # not every system has all of them


def forgiving(driver: type[Driver]) -> type[Driver]:
    """The driver, reading on after what cannot be understood; that read's keys are lost.

    A SIGCONT counts only behind its own SIGTSTP. A driver that reads in another way (Windows has
    neither bytes to decode nor such signals) is as it was.
    """
    read = getattr(driver, "run_input_thread", None)
    go_on = getattr(driver, "_sigcont_application", None)
    process = driver.process_message
    if read is None or go_on is None:
        return driver

    def run_input_thread(self: Any) -> None:
        while not self.exit_event.is_set():
            try:
                read(self)
            except OSError:  # the terminal is gone
                raise
            except Exception:  # noqa: BLE001, S112 - whatever a parser makes of any bytes
                continue

    def process_message(self: Any, message: Message) -> None:
        if not isinstance(message, InBandWindowResize | Resize):
            process(self, message)

    def sigcont(self: Any, *received: object) -> None:
        if self._must_signal_resume:
            go_on(self, *received)

    made = {
        "run_input_thread": run_input_thread,
        "process_message": process_message,
        "_sigcont_application": sigcont,
    }
    return type("Forgiving", (driver,), made)


class FullScreen(App[int]):
    """An app in our themes, which ends with an exit code; it sends no colour where none is wanted.

    Textual 8.2.8 takes an empty NO_COLOR for a set one, and with a set one sends its themes as
    24-bit greys, black on black among them (measured). So neither of its filters is used.
    """

    CSS = WIDGET_CSS
    ENABLE_COMMAND_PALETTE = False
    # Dark from the first: another theme, set later, has every style parsed twice, 3 ms of a start.
    theme: Reactive[str] = Reactive(DARK)
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+c", "interrupt", show=False, priority=True),
    ]

    grace: float | None  # seconds for an orderly end after a signal; None: as long as it takes

    def __init__(self, *, without_colour: bool, light: bool = False) -> None:
        super().__init__(ansi_color=True if without_colour else None)
        self.no_color = without_colour
        self._without_colour = TerminalColours() if without_colour else None
        self._few = FewColours()
        self.theme = PLAIN if without_colour else LIGHT if light else DARK
        self.grace = None

    @property
    def available_themes(self) -> dict[str, Theme]:
        """Ours alone, known before Textual looks for the first."""
        return THEMES

    def leave(self, code: int) -> None:
        """End the program; the terminal is put right."""
        self.exit(code, return_code=code)

    def panic(self, *renderables: RenderableType) -> None:
        """End when Textual gives up (on bytes that no terminal should send)."""
        del renderables
        self.leave(Exit.SOFTWARE)

    def action_interrupt(self) -> None:
        """Ctrl+C: leave at once, as an interrupt does."""
        self.leave(Exit.INTERRUPT)

    def toggle_light(self) -> None:
        """From the dark to the light theme and back; without colour nothing changes."""
        if self._without_colour is None:
            self.theme = DARK if self.light else LIGHT

    @property
    def light(self) -> bool:
        """Whether the screen is light by our theme."""
        return self.theme == LIGHT

    def get_driver_class(self) -> type[Driver]:
        """The terminal's driver, which passes over bytes without sense."""
        return forgiving(super().get_driver_class())

    # Textual has no public place for these two (8.2.8). Its own shows the values of variables, what
    # a person has typed among them.

    def _handle_exception(self, error: Exception) -> None:
        """End, unless it ends anyway: what fails while it is taken down changes no exit code."""
        if not self._exit:
            super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """Say where it failed, in full."""
        self._exit_renderables.append(Text(traceback.format_exc()))
        self._close_messages_no_wait()

    def get_line_filters(self) -> Sequence[LineFilter]:
        """The filters that every drawn line goes through; ours comes last."""
        filters = [
            known
            for known in super().get_line_filters()
            if not isinstance(known, Monochrome | NoColor)
        ]
        if self._without_colour is not None:
            return [*filters, self._without_colour]
        return [*filters, self._few] if self.console.color_system == "standard" else filters


def run(app: FullScreen, *, grace: float = GRACE) -> int | None:
    """Run a full screen as all there is to this process; its exit code, None if it failed.

    Once the window is gone, the screen can no longer be written, and the loop may wait for that
    for ever. So the process ends `grace` seconds after a signal in any case, with the same code.
    Nothing is lost by it: what was acknowledged is on file. A screen that runs within a process
    of somebody else (a test's) has no such limit: it must not end what it does not own.
    """
    app.grace = grace
    quiet_keys()
    drop_keys()
    with collecting_new_objects_only():
        return app.run()


def on_signals(app: FullScreen) -> None:
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
