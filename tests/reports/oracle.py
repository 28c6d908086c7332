"""What each muscle does, once more: from `rehearse --json` alone. Imports nothing of `runner`.

The program walks along each side of a muscle; here every instant is asked by itself, by the
words of the law.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

ORDER = ("work", "help", "recovery", "ready")
ROLE = {"prime": "work", "synergist": "help"}
NEAR = 0.01  # seconds; the data have four decimals

Stretch = tuple[str, float, float]


def muscles(data: Any) -> list[str]:
    """Every muscle that the session loads."""
    return sorted({load["muscle"] for step in sets(data) for load in step["loads"]})


def sets(data: Any) -> list[Any]:
    return [step for step in data["steps"] if step["kind"] == "set"]


def recovered(data: Any) -> list[dict[str, float]]:
    """For each bout, in order: its prime movers' seconds since they last were prime movers."""
    found = []
    for step in sets(data):
        had: dict[str, float] = {}
        for load in step["loads"]:
            ends = [
                other["end_s"]
                for other in sets(data)
                if other["end_s"] <= step["start_s"]
                and {**load, "role": "prime"} in other["loads"]
                and load["role"] == "prime"
            ]
            if ends:
                since = step["start_s"] - max(ends)
                had[load["muscle"]] = min(had.get(load["muscle"], since), since)
        found.append(had)
    return found


def stretches(data: Any, muscle: str) -> list[Stretch]:
    """The states of a muscle from 0 to the end, neighbours of one state together."""
    edges = {0.0, data["total_s"]}
    for step in sets(data):
        for other in sets(data):
            law = other["law"]
            for ahead in (0.0, law["recovery_s"], law["recovery_cross_s"]):
                edges |= {step["start_s"], step["end_s"] + ahead}
    cuts = sorted(edge for edge in edges if edge <= data["total_s"])
    found: list[Stretch] = []
    for start, end in pairwise(cuts):
        if end - start < 1e-9:
            continue
        state = state_at(data, muscle, (start + end) / 2)
        if found and found[-1][0] == state:
            found[-1] = (state, found[-1][1], end)
        else:
            found.append((state, start, end))
    return found


def state_at(data: Any, muscle: str, now: float) -> str:
    """The state of a muscle at an instant: the stronger of its two sides."""
    sides = [s for s in (side_at(data, muscle, side, now) for side in ("left", "right")) if s]
    return min(sides, key=ORDER.index)


def side_at(data: Any, muscle: str, side: str, now: float) -> str | None:
    bouts = [
        (ROLE[load["role"]], step)
        for step in sets(data)
        for load in step["loads"]
        if (load["muscle"], load["side"]) == (muscle, side)
    ]
    if not bouts:
        return None
    for state, step in bouts:
        if step["start_s"] <= now < step["end_s"]:
            return state
    before = [bout for bout in bouts if bout[1]["end_s"] <= now]
    after = [bout for bout in bouts if bout[1]["start_s"] > now]
    role, coming = after[0] if after else (before[-1][0], None)
    law = (coming or before[-1][1])["law"]
    for done, step in before:
        if coming and (step["exercise"], step["set"]) == (coming["exercise"], coming["set"]):
            continue
        if done == role == "help":
            continue
        asked = law["recovery_s"] if done == role == "work" else law["recovery_cross_s"]
        if step["end_s"] + asked > now:
            return "recovery"
    return "ready"


def cells(data: Any, muscle: str, seconds: int) -> list[str]:
    """The state that lasts longest in each column; a bout without a column takes its best."""
    timeline = stretches(data, muscle)
    number = math.ceil(data["total_s"] / seconds - 1e-9)
    found = []
    for column in range(number):
        shares = {
            state: sum(
                overlap(start, end, column, seconds) for s, start, end in timeline if s == state
            )
            for state in ORDER
        }
        most = max(shares.values())
        found.append(next(state for state in ORDER if shares[state] > most - NEAR))
    for wanted in ("help", "work"):
        for state, start, end in timeline:
            if state != wanted:
                continue
            shares = {c: overlap(start, end, c, seconds) for c in range(number)}
            here = [c for c, share in shares.items() if share > 0]
            if all(found[c] != state for c in here):
                best = next(c for c in here if shares[c] > max(shares.values()) - NEAR)
                found[best] = "work" if found[best] == "work" else state
    return found


def overlap(start: float, end: float, column: int, seconds: int) -> float:
    return max(0.0, min(end, (column + 1) * seconds) - max(start, column * seconds))
