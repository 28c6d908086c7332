"""Which event may follow in which phase, and which phases it may lead to.

    ready -> warm-up -> rest (the lead-in) -> set -> rest -> ... -> wrap-up -> closed

A pause stands beside rest and warm-up. Entering counts is no phase: the rest runs meanwhile.
Where an event may lead to several phases, the state decides which (is a set left? was there a
warm-up?), never the caller. An event that the table does not have is illegal, and changes
nothing. `undone` and `redone` are not in the table: they lead wherever the session stood.
"""

from __future__ import annotations

from collections.abc import Mapping

from runner.core.session.state import Phase

Table = Mapping[str, Mapping[Phase, tuple[Phase, ...]]]

_ANYWHERE: Mapping[Phase, tuple[Phase, ...]] = {
    "ready": ("ready",),
    "warm-up": ("warm-up",),
    "rest": ("rest",),
    "set": ("set",),
    "paused": ("paused",),
    "wrap-up": ("wrap-up",),
}
_ONCE_BEGUN: Mapping[Phase, tuple[Phase, ...]] = {
    phase: same for phase, same in _ANYWHERE.items() if phase != "ready"
}
_LEFT_OUT: Mapping[Phase, tuple[Phase, ...]] = {
    "warm-up": ("warm-up", "wrap-up"),
    "rest": ("rest", "wrap-up"),
    "paused": ("paused", "wrap-up"),
}

TRANSITIONS: Table = {
    "opened": {"ready": ("ready",)},
    "adjusted": {"ready": ("ready",)},
    "begun": {"ready": ("warm-up", "rest")},
    "resting": {"warm-up": ("rest",), "rest": ("rest",), "paused": ("paused",)},
    "started": {"rest": ("set",)},
    "ended": {"set": ("rest", "wrap-up")},
    "skipped": {
        **_LEFT_OUT,
        "ready": ("ready",),  # sets further on, where there is no time for them
        "set": ("rest", "wrap-up"),
        "wrap-up": ("wrap-up",),  # the second side of the last set
    },
    "written": {"ready": ("ready",)},
    "dropped": {**_LEFT_OUT, "set": ("set",)},
    "swapped": _ONCE_BEGUN,
    "version": _ONCE_BEGUN,
    "asked": {"rest": ("rest",)},
    "paused": {"warm-up": ("paused",), "rest": ("paused",)},
    "resumed": {
        "paused": ("warm-up", "rest"),
        "warm-up": ("warm-up",),
        "rest": ("rest",),
        "wrap-up": ("wrap-up",),
        "ready": ("ready",),
    },
    "entered": _ONCE_BEGUN,
    "corrected": {**_ONCE_BEGUN, "closed": ("closed",)},
    "late": _ONCE_BEGUN,
    "used": _ANYWHERE,
    "noted": _ANYWHERE,
    "pain": _ANYWHERE,
    "rpe": _ANYWHERE,
    "mass": _ANYWHERE,
    "held": {"wrap-up": ("wrap-up",), "closed": ("closed",)},
    "closed": dict.fromkeys(_ANYWHERE, ("closed",)),
}


class Illegal(Exception):
    """An event that cannot follow here. Nothing has changed."""


def check(event: str, before: Phase, after: Phase) -> None:
    """Raise Illegal unless `event` may lead from one phase to the other."""
    allowed = TRANSITIONS[event].get(before, ())
    if after not in allowed:
        raise Illegal(f"{event!r} does not lead from {before!r} to {after!r}")
