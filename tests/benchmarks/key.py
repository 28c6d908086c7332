"""From a key to the changed screen: a digit of a count, in a rest, beside an app that echoes keys.

Both run in terminals at the same time and are asked in turn. The rest's own digits change once a
second; keys are pressed when they have just changed.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.benchmarks.aids.sessions import session, to_the_rest
from tests.benchmarks.aids.terminal import AIDS, Terminal
from tests.benchmarks.frame import Row, in_turn, ratio

TIMES = 40
CALM_S = 0.12  # without output before a key is pressed
BACK = "\x7f"


def rows(*, quick: bool = False) -> list[Row]:
    """Milliseconds, with the terminal's own."""
    times = 1 if quick else TIMES
    with (
        tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder,
        Terminal(str(AIDS / "echo.py")) as echo,
        session(Path(folder)) as resting,
    ):
        echo.until_text("ready")
        to_the_rest(resting)
        turns = {"typed": 0}

        def in_session() -> float:
            turns["typed"] += 1
            resting.until(_next(resting), "the next second")
            resting.quiet(CALM_S)
            return resting.press("1" if turns["typed"] % 2 else BACK)

        def in_echo() -> float:
            echo.quiet(CALM_S)
            return echo.press("1" if turns["typed"] % 2 else "2")

        value, base = in_turn((in_session, in_echo), times=times, warm_up=0 if quick else 4)
    return [ratio("key to changed screen", 1e3 * value, 1e3 * base, "ms", 1.5)]


def _next(terminal: Terminal):
    """Something written after now."""
    before = len(terminal.written)
    return lambda written: len(written) > before
