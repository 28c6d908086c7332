"""A session of tenths of seconds, so that many can be killed; and what is typed into it."""

from __future__ import annotations

import random
from collections.abc import Iterator

from tests.plans import USUAL, loads, plan, versions

PLAN = plan(
    "Hut, in a hurry",
    {
        "press": {
            "name": "Press",
            "instead": ["push"],
            "version": [
                {"id": "one", "name": "one stride", "load": loads(4, 20, 2)},
                {"id": "two", "name": "two strides"},
            ],
        },
        "push": {**USUAL["push-up"], "version": [{"id": "one", "name": "on the knees"}]},
        "row": {
            "name": "Row",
            "sides": "left first",
            "version": [{"id": "low", "name": "low bar"}],
        },
        "plank": {"version": versions("floor")},
    },
    [{"press": 9, "row": 9}, {"plank": 9, "press": 9}],
    timing={
        "recovery": "0.6s",
        "changeover": ["0.1s", "0.2s"],
        "block_rest": "0.2s",
        "side_gap": "0.1s",
        "position": "0.1s",
        "lead_in": "0.1s",
    },
    effort={"reps": [8, 30], "seconds_a_rep": 0.5, "hold": ["0.3s", "0.6s"]},
)

OTHERS = ("undo", "skip", "note by the stove", "+", "-", "late", "easier", "harder", "pause")
MORE = ("load 8", "setup height=60 cm", "fix 1 9", "pain elbow", "drop", "swap", "mass 74.5")


def lines(rng: random.Random) -> Iterator[str]:
    """What somebody types who goes on fast: mostly the end of a set and its count."""
    while True:
        chosen = rng.random()
        if chosen < 0.5:
            yield ""
        elif chosen < 0.8:
            yield str(rng.randint(5, 25)) + rng.choice(["", "/2", " 11"])
        elif chosen < 0.97:
            yield rng.choice(OTHERS)
        else:
            yield rng.choice(MORE)
