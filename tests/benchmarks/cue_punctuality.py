"""How punctual cues are asked for: a real session in a real terminal, the screen redrawn as usual.

Some 500 cues in about three minutes: ticks of the pacer through long sets, the counted seconds of
the rests between them, and their starts. For each the program says how long after its instant the
player was asked. Aim: median 5 ms, worst 30 ms. The sound itself is the recording double's, in its
process as usual, and says how long after the asking it would have begun.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from statistics import median

from tests.benchmarks.frame import Row, at_most
from tests.plans import plan
from tests.sound.real_session import RealSession

SETS, SET_S, CUES = 4, 42.0, 500
PLAN = plan(
    "Kestrel Hut, by the clock",
    {"row": {"version": [{"id": "light", "name": "rucksack", "tempo": "0.25-0.25-0.5"}]}},
    [{"row": SETS}],
    trial=True,
    timing={"recovery": "6s", "lead_in": "4s"},
    effort={"pacer": True},
)
# The program as it is; whatever the player is asked for is noted beside.
NOTING = """\
import os, sys, time
from runner.cli.main import main
from runner.sound.player import Player
play = Player.play
notes = open(os.environ["NOTES"], "w", buffering=1)
def noted(self, name, late_s=0.0):
    at = time.monotonic_ns()
    play(self, name, late_s)
    notes.write(f"{name}\\t{late_s}\\t{at}\\n")
Player.play = noted
sys.exit(main())
"""


def measured(
    folder: Path, plan: str = PLAN, sets: int = SETS, set_s: float = SET_S
) -> tuple[list[tuple[str, float, int]], list[tuple[str, int]]]:
    """What was asked for (name, seconds late, ns) and what was played (name, ns)."""
    environ = {"NOTES": str(folder / "notes"), "MATSIDE_SOUND": f"recording:{folder / 'played'}"}
    session = RealSession(folder, environ, ("-c", NOTING), plan)
    session.begin()
    for number in range(1, sets + 1):
        started = session.wait_for("started", number)
        session.press(" ", started.utc + set_s)
        session.wait_for("ended", number)
    session.press("\x03")
    session.end()
    asked = [line.split("\t") for line in (folder / "notes").read_text().splitlines()]
    played = [line.split("\t") for line in (folder / "played").read_text().splitlines()]
    return (
        [(name, float(late), int(at)) for name, late, at in asked],
        [(name, int(at)) for name, at in played if name != "(ready)"],
    )


def rows(*, quick: bool = False) -> list[Row]:
    """Measure, and give the figures."""
    with tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder:
        short = (PLAN.replace('"4s"', '"3.5s"'), 1, 1.6)
        asked, played = measured(Path(folder), *(short if quick else ()))
    known = ("count", "start", "mark", "tick")  # in advance; a key brings all others
    late = [1000 * s for name, s, _ in asked if name in known][:CUES]
    keys = [1000 * s for name, s, _ in asked if name not in known]
    seconds = [1000 * s for name, s, _ in asked if name in ("count", "start")]
    begun = [(there - at) / 1e6 for (_, _, at), (_, there) in zip(asked, played, strict=False)]
    return [
        Row("cues", len(late), ""),
        at_most("asked for after their instant, median", median(late), "ms", 5),
        at_most("asked for after their instant, worst", max(late), "ms", 30),
        Row("of these, counts and starts: worst", max(seconds), "ms"),
        Row("what a key brings, once it is on file: median", median(keys), "ms"),
        Row("begun by the helper after being asked for, median", median(begun), "ms"),
        Row("begun by the helper after being asked for, worst", max(begun), "ms"),
    ]
