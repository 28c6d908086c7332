"""The most memory that a whole session has, and what Textual's smallest app has."""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.benchmarks.aids.sessions import session, to_the_rest
from tests.benchmarks.aids.terminal import AIDS, Terminal, has_proc
from tests.benchmarks.frame import Row, ratio


def rows(*, quick: bool = False) -> list[Row]:
    """From the ready sheet to the summary, with a set, its count, help and palette."""
    if not has_proc():
        return []
    with Terminal(str(AIDS / "smallest.py")) as terminal:
        terminal.until_text("ready")
        terminal.wait(0.2)
        base = terminal.peak_mib()
    with (
        tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder,
        session(Path(folder)) as terminal,
    ):
        terminal.until_text("start")
        ready = terminal.peak_mib()
        if not quick:
            _whole(terminal)
        peak = terminal.peak_mib()
    return [
        Row("peak memory up to the ready sheet", ready, "MiB", baseline=base),
        ratio("peak memory of a session", peak, base, "MiB", 1.6),
    ]


def _whole(terminal: Terminal) -> None:
    to_the_rest(terminal)
    for keys in ("12\r", "?", "\x1b", "\x10", "\x1b"):  # a count, the help, the palette
        terminal.press(keys)
        terminal.wait(1.0)
    terminal.press("q")
    terminal.wait(1.0)
    terminal.press("y")
    terminal.until_text("leave")
    terminal.wait(0.5)
