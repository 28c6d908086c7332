"""What a rest takes of the processor: large digits that change once a second.

Three programs at the same time, each in a terminal: a session in a rest, Textual idle, and digits
of Textual's own once a second. What a program has started counts with it.
"""

from __future__ import annotations

import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from tests.benchmarks.aids.sessions import session, to_the_rest
from tests.benchmarks.aids.terminal import AIDS, Terminal, has_proc
from tests.benchmarks.frame import Row, above

SECONDS = 30.0


def rows(*, quick: bool = False) -> list[Row]:
    """Percent of a core."""
    if not has_proc():
        return []
    with ExitStack() as stack:
        folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="matside-benchmark-"))
        idle = stack.enter_context(Terminal(str(AIDS / "smallest.py")))
        digits = stack.enter_context(Terminal(str(AIDS / "digits.py")))
        resting = stack.enter_context(session(Path(folder)))
        idle.until_text("ready")
        to_the_rest(resting)
        all_three = (idle, digits, resting)
        _read(all_three, 0.2 if quick else 4.0)  # what starting leaves to be done
        before = [one.cpu_s() for one in all_three]
        begun = time.perf_counter()
        _read(all_three, 1.0 if quick else SECONDS)
        length = time.perf_counter() - begun
        taken = [
            100 * (one.cpu_s() - so_far) / length
            for one, so_far in zip(all_three, before, strict=True)
        ]
    return [
        above("processor in a rest, over digits at 1 Hz", taken[2], taken[1], "%", 1),
        above("processor in a rest, over Textual idle", taken[2], taken[0], "%", 1),
    ]


def _read(terminals: tuple[Terminal, ...], seconds: float) -> None:
    """Take what they write, so that none waits for its terminal."""
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        for terminal in terminals:
            terminal.read(0.05)
