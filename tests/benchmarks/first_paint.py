"""From the start of a program to the first sign that is to be seen, in a terminal.

The baseline is Textual's smallest app, started the same way. The promise is about what a person
can read and work with, the whole ready sheet; the first picture comes before it.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from statistics import median

from tests.benchmarks.aids.terminal import AIDS, Terminal, glyphs
from tests.benchmarks.frame import Row, in_turn, ratio

TIMES = 9


def rows(*, quick: bool = False) -> list[Row]:
    """The demo's session, on a record that is there."""
    sheets: list[float] = []
    with tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder:

        def smallest() -> float:
            with Terminal(str(AIDS / "smallest.py")) as terminal:
                return terminal.until(glyphs, "a sign")

        def session() -> float:
            options = ("run", "demo", "--for", "Ada", "--fresh", "--data", folder)
            with Terminal("-m", "runner", *options) as terminal:
                first = terminal.until(glyphs, "a sign")
                sheets.append(terminal.until_text("start"))
                return first

        Path(folder).chmod(0o700)
        base, first = in_turn((smallest, session), times=1 if quick else TIMES, warm_up=not quick)
    return [
        Row("start to first paint of matside run", 1e3 * first, "ms", baseline=1e3 * base),
        ratio("start to the whole ready sheet", 1e3 * median(sheets), 1e3 * base, "ms", 1.6),
    ]
