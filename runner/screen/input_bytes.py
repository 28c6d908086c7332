"""What a terminal sends and makes no sense is passed over; it must not end a session.

Textual's driver (measured with 8.2.8) gives up on bytes that are no UTF-8, as terminals with an old
encoding send, on numbers that are none, as in ESC [ 6 ; 1:1 ~, and on a mouse event after a report
of a window of no pixels. So whatever its parser raises is passed over. Reports of a window's size
among the bytes are left out: the system says it as well (SIGWINCH), and a wrong one would make the
screen as large as it likes.

And it takes every SIGCONT for the end of a suspend by SIGTSTP, and starts a second time over the
first: the terminal's settings are then lost, and where the SIGCONT came with the hangup of a closed
terminal, the first reader may go on for ever.
"""

from __future__ import annotations

from typing import Any

from textual.driver import Driver
from textual.events import Resize
from textual.message import Message
from textual.messages import InBandWindowResize


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
