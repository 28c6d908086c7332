"""What a terminal sends and makes no sense is passed over; it must not end a session.

Textual's reader (measured with 8.2.8) gives up on bytes that are no UTF-8, as terminals with an old
encoding send, and on numbers that are none, as in ESC [ 6 ; 1:1 ~.
"""

from __future__ import annotations

from typing import Any

from textual.driver import Driver


def forgiving(driver: type[Driver]) -> type[Driver]:
    """The driver, reading on after what cannot be understood; that read's keys are lost.

    A driver that reads in another way (Windows has no bytes to decode) is as it was.
    """
    read = getattr(driver, "run_input_thread", None)
    if read is None:
        return driver

    def run_input_thread(self: Any) -> None:
        while not self.exit_event.is_set():
            try:
                read(self)
            except (ValueError, OverflowError):  # of a decoder, or of a number
                continue

    return type("Forgiving", (driver,), {"run_input_thread": run_input_thread})
