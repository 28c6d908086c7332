"""The sound server hung or killed under a session on a full screen: the checks of `tests/sound`."""

from __future__ import annotations

from pathlib import Path

from tests.faults.frame import Fault, Outcome, Skipped
from tests.faults.hand import integrity
from tests.sound.mat_sink import missing
from tests.sound.test_session_heard import LIBRARY_WORDS, held_up, in_trouble


def troubled(seed: int, folder: Path) -> Outcome:
    """A whole session; in it the server is stopped for a set, or killed."""
    why_not = missing("paplay")
    if why_not:
        raise Skipped(why_not)
    trouble = ("stopped", "killed")[seed % 2]
    session = in_trouble("paplay", trouble, folder)
    outcome = Outcome(len(session.events()), held_up(session), [trouble])
    outcome.lost += [f"{word!r} on the screen" for word in LIBRARY_WORDS if word in session.sent]
    outcome.lost += [x for p in folder.rglob("*.db") if (x := integrity(p)) != "ok"]
    return outcome


FAULTS = (
    Fault("sound server hung or killed", "SIGSTOP for a set, or SIGKILL; nothing is held up",
          troubled, 4, 0),
)  # fmt: skip
