"""One session on a full screen in a terminal of its own, killed at a random instant.

What the screen had said is acknowledged: every count is another number, so a count that was
shown as saved can be looked for among the events on file.
"""

from __future__ import annotations

import contextlib
import random
import re
import signal
import sys
import time
from pathlib import Path

import pexpect

from tests.kill.line import DATABASE, Outcome
from tests.kill.plan import PLAN
from tests.kill.twin import TRAINEE, OnFile, differences, left
from tests.lines.process import DEADLINE, ROOT, environment

SAVED = re.compile(rb"([0-9]{2}) (?:saved|instead of)")
LONGEST = 12.0  # seconds from the first screen to the kill


def kill_one_screen(seed: int, folder: Path) -> Outcome:
    """Run a session in `folder`, kill it within twelve seconds of its first screen, and look."""
    rng = random.Random(seed)  # noqa: S311 - a test's own draws
    plan, data = folder / "hurry.toml", folder / "data"
    plan.write_text(PLAN, encoding="utf-8")
    child = pexpect.spawn(
        sys.executable,
        ["-m", "runner", "run", str(plan), "--mute", "--yes", "--data", str(data),
         "--for", TRAINEE],
        env=environment(TERM="xterm-256color", COLUMNS="80", LINES="24"),
        cwd=str(ROOT),
        dimensions=(24, 80),
        timeout=DEADLINE,
    )  # fmt: skip
    seen = bytearray()
    try:
        child.expect(b"start")
        _type(rng, child, seen, rng.uniform(0.0, LONGEST), at_any_moment=seed % 4 == 3)
        child.kill(signal.SIGKILL)
        _read(child, seen, 1.0)
    finally:
        child.close(force=True)
    return _look(folder, plan, bytes(seen))


def _type(
    rng: random.Random,
    child: pexpect.spawn[bytes],
    seen: bytearray,
    seconds: float,
    *,
    at_any_moment: bool,
) -> None:
    """Begin, then end sets and give their counts as fast as the guards of keys let it.

    For `seconds`, and, but for a kill `at_any_moment`, until a first count was shown as saved: a
    machine under load is slow to show one, and a kill before it has nothing to lose.
    """
    child.send(b" ")
    count = 10
    until = time.monotonic() + seconds
    latest = time.monotonic() + DEADLINE

    def wait(least: float, most: float) -> None:
        """Look on; not beyond the kill. Keys that come without a pause are no presses."""
        drawn, left_s = rng.uniform(least, most), until - time.monotonic()
        _read(child, seen, min(drawn, left_s) if left_s > 0 else drawn)

    while time.monotonic() < until or (
        not at_any_moment and not SAVED.search(seen) and time.monotonic() < latest
    ):
        wait(0.75, 1.7)
        child.send(b" ")
        wait(0.0, 0.3)
        count = count + 1 if count < 60 else 11  # twice the top of the range: none is doubtful
        child.send(b"%d\r" % count)


def _read(child: pexpect.spawn[bytes], seen: bytearray, seconds: float) -> None:
    """Take what the screen writes for so long."""
    until = time.monotonic() + seconds
    with contextlib.suppress(pexpect.EOF):
        while (left_s := until - time.monotonic()) > 0:
            with contextlib.suppress(pexpect.TIMEOUT):
                seen += child.read_nonblocking(65536, timeout=left_s)


def _look(folder: Path, plan: Path, seen: bytes) -> Outcome:
    database = folder / "data" / DATABASE
    shown = list(dict.fromkeys(int(number) for number in SAVED.findall(seen)))
    there = left(database) if database.exists() else None
    if there is None:
        return Outcome(len(shown), 0, ["counts shown and no session on file"] if shown else [])
    counts = [e.data.get("reps") for e in there.events if e.name in ("entered", "corrected")]
    outcome = Outcome(len(shown), len(counts))
    outcome.faults += [f"{n} was shown as saved" for n in shown if n not in counts]
    scratch = folder / "scratch"
    scratch.mkdir()
    typed = [line for event in there.events if (line := _line(event)) is not None]
    outcome.faults += differences(folder / "data", scratch, plan, DATABASE, typed)
    return outcome


def _line(event: OnFile) -> str | None:
    """What has to be typed in line mode for an event that keys have brought about."""
    if event.name == "entered" and event.data.get("by") == "person":
        return str(event.data["reps"])
    if event.name == "corrected":
        return f"fix {event.data['entry']} {event.data['reps']}"
    if event.name == "begun" or event.data.get("by") == "person":
        return ""
    return None
