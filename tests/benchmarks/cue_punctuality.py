"""How punctual cues are asked for: a real session in a real terminal, the screen redrawn as usual.

    python -m tests.benchmarks.cue_punctuality

Some 500 cues in about three minutes: ticks of the pacer through long sets, the counted seconds of
the rests between them, and their starts. For each the program says how long after its instant the
player was asked. Aim: median 5 ms, worst 30 ms. The sound itself is the recording double's, in its
process as usual, and says how long after the asking it would have begun.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from pathlib import Path

from tests.sound.real_session import RealSession

SETS, SET_S, CUES = 4, 42.0, 500
PLAN = f"""\
title = "Kestrel Hut, by the clock"
trial = true
[timing]
recovery = "6s"
lead_in = "4s"
[effort]
pacer = true
[exercise.row]
name = "Rucksack row"
pattern = "horizontal pull"
prime = ["upper-back"]
[[exercise.row.version]]
id = "light"
name = "rucksack"
tempo = "0.25-0.25-0.5"
[[session]]
id = "A"
[[session.block]]
do = [{{ exercise = "row", sets = {SETS} }}]
"""
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
Row = tuple[str, str, str]  # what, figure, aim


def measured(folder: Path) -> tuple[list[tuple[str, float, int]], list[tuple[str, int]]]:
    """What was asked for (name, seconds late, ns) and what was played (name, ns)."""
    environ = {"NOTES": str(folder / "notes"), "MATSIDE_SOUND": f"recording:{folder / 'played'}"}
    session = RealSession(folder, environ, ("-c", NOTING), PLAN)
    session.begin()
    for number in range(1, SETS + 1):
        started = session.wait_for("started", number)
        session.press(" ", started.utc + SET_S)
        session.wait_for("ended", number)
    session.press("\x03")
    session.end()
    asked = [line.split("\t") for line in (folder / "notes").read_text().splitlines()]
    played = [line.split("\t") for line in (folder / "played").read_text().splitlines()]
    return (
        [(name, float(late), int(at)) for name, late, at in asked],
        [(name, int(at)) for name, at in played if name != "(ready)"],
    )


def _row(what: str, ms: list[float], aim: str) -> Row:
    figure = f"{len(ms)} cues, median {statistics.median(ms):.1f} ms, worst {max(ms):.1f} ms"
    return what, figure, aim


def rows() -> list[Row]:
    """Measure, and give the figures."""
    with tempfile.TemporaryDirectory(prefix="matside-benchmark-") as folder:
        asked, played = measured(Path(folder))
    if os.environ.get("KEEP"):
        Path(os.environ["KEEP"]).write_text("".join(f"{a}\t{b}\t{c}\n" for a, b, c in asked))
    late = [1000 * s for name, s, _ in asked if name != "logged"][:CUES]
    seconds = [1000 * s for name, s, _ in asked if name in ("count", "start")]
    begun = [(there - at) / 1e6 for (_, _, at), (_, there) in zip(asked, played, strict=False)]
    return [
        _row("asked for after their instant", late, "500 cues, median 5 ms, worst 30 ms"),
        _row("of these, counted seconds and starts", seconds, ""),
        _row("begun by the helper after being asked for", begun, ""),
    ]


if __name__ == "__main__":
    for row in rows():
        sys.stdout.write("\t".join(row) + "\n")
