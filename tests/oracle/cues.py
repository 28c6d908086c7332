"""Which cues a rehearsed session brings and when, worked out anew from what anybody can read.

From the timeline as `rehearse --json` prints it and from the plan's own text. Imports nothing of
the program: the rules are those of the README's table of cues.
"""

from __future__ import annotations

import tomllib
from itertools import pairwise
from typing import Any

COUNTED = (3, 2, 1)  # seconds before the end of a rest
Cues = list[tuple[float, str]]


def expected_cues(timeline: dict[str, Any], plan_text: str) -> Cues:
    """(second, cue) in their order, for a trainee without history."""
    plan = tomllib.loads(plan_text)
    exercises, for_all = plan["exercise"], plan.get("effort", {})
    steps = timeline["steps"]
    sets = [step for step in steps if step["kind"] == "set"]
    cues: Cues = [(0.0, "begin")]
    for step, after in pairwise([*steps, None]):
        start, end = step["start_s"], step["end_s"]
        if step["kind"] == "warm-up":
            cues.append((end, "block"))  # the trainee goes on at once, and that counts
        elif step["kind"] == "cool-down":
            cues.append((end, "done"))
        elif step["kind"] == "rest":
            cues += [(end - n, "count") for n in COUNTED if end - n > start]
        else:
            cues.append((start, "start"))
            exercise = exercises[step["exercise"]]
            if exercise.get("measure") == "hold":
                floor = seconds((exercise if "hold" in exercise else for_all)["hold"][0])
                cues += [(start + floor, "mark")] if start + floor <= end else []
            cues.append((end, _at_the_end(step, after, sets, steps[-1] is step)))
    return cues


def _at_the_end(
    step: dict[str, Any],
    after: dict[str, Any] | None,
    sets: list[Any],
    last: bool,  # noqa: FBT001 - whether nothing comes after it
) -> str:
    """What is heard when a set ends: one cue, the one that says most."""
    if step is sets[-1]:
        return "done" if last else "block"
    if after is not None and after.get("why") == "side":
        return "switch"
    coming = sets[sets.index(step) + 1]
    return "block" if coming["block"] != step["block"] else "ended"


def seconds(text: str) -> float:
    """`20s` or `1:00`."""
    if ":" in text:
        minutes, rest = text.split(":")
        return 60.0 * int(minutes) + int(rest)
    return float(text.removesuffix("s"))
