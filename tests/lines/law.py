"""The timing law once more, for whole sessions: from `rehearse --json` and the actual ends.

Written from the law's words alone; nothing of the program is imported. It steps through no
time: each rest follows from the sets before it. Sets are taken as done in the order of the
rehearsal, none skipped or changed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median
from typing import Any

Key = tuple[str, int, str]  # exercise, number of the set, side


@dataclass(frozen=True)
class Actual:
    """When a bout really began and ended, in seconds on any line."""

    start: float
    end: float


@dataclass(frozen=True)
class Expected:
    """What the law wants of a bout: the rest before it (None: the first), the recovery."""

    rest: float | None
    recovery: float | None


def key_of(step: Mapping[str, Any]) -> Key:
    return step["exercise"], step["set"], step["side"]


def bouts_of(rehearsal: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [s for s in rehearsal["steps"] if s["kind"] == "set"]


def places(bout: Mapping[str, Any], role: str) -> set[tuple[str, str]]:
    return {(x["muscle"], x["side"]) for x in bout["loads"] if x["role"] == role}


@dataclass
class Book:
    """When each muscle, by side, last ended prime work and last ended assisting work."""

    prime: dict[tuple[str, str], float] = field(default_factory=dict)
    helper: dict[tuple[str, str], float] = field(default_factory=dict)

    def copy(self) -> Book:
        return Book(dict(self.prime), dict(self.helper))

    def enter(self, bout: Mapping[str, Any], end: float) -> None:
        for place in places(bout, "prime"):
            self.prime[place] = end
        for place in places(bout, "synergist"):
            self.helper[place] = end

    def due(self, bout: Mapping[str, Any], same: float, cross: float) -> float:
        wanted = [-1e9]
        for place in places(bout, "prime"):
            wanted += [self.prime[place] + same] if place in self.prime else []
            wanted += [self.helper[place] + cross] if place in self.helper else []
        for place in places(bout, "synergist"):
            wanted += [self.prime[place] + cross] if place in self.prime else []
        return max(wanted)

    def recovered(self, bout: Mapping[str, Any], start: float) -> float | None:
        had = [start - self.prime[p] for p in places(bout, "prime") if p in self.prime]
        return min(had) if had else None


class Session:
    """Walks through a session's bouts; the lengths already done shape those expected."""

    def __init__(self, rehearsal: Mapping[str, Any]) -> None:
        self.bouts = bouts_of(rehearsal)
        self.done: dict[tuple[str, str, str], list[float]] = defaultdict(list)

    def expected(self, bout: Mapping[str, Any]) -> float:
        lengths = self.done[bout["exercise"], bout["version"], bout["side"]]
        if lengths and bout["set_kind"] == "work":
            return float(median(lengths[-3:]))
        return float(bout["end_s"] - bout["start_s"])

    def sides(self, bout: Mapping[str, Any]) -> list[dict[str, Any]]:
        """The bouts of one set, in their order."""
        return [b for b in self.bouts if key_of(b)[:2] == key_of(bout)[:2]]

    def round(self, bout: Mapping[str, Any]) -> list[list[dict[str, Any]]]:
        """The sets of a bout's round, in their order, each as its sides."""
        sets: dict[tuple[str, int], list[dict[str, Any]]] = {}
        for other in self.bouts:
            if (other["block"], other["round"]) == (bout["block"], bout["round"]):
                sets.setdefault((other["exercise"], other["set"]), []).append(other)
        return list(sets.values())

    def due(self, book: Book, bout: Mapping[str, Any], *, least: bool) -> float:
        same, cross = wants(bout, least=least)
        sides = self.sides(bout)
        due = book.due(sides[0], same, cross)
        for second in sides[1:]:
            ahead = self.expected(sides[0]) + bout["law"]["side_gap_s"]
            due = max(due, book.due(second, same, cross) - ahead)
        return due

    def share(self, bout: Mapping[str, Any]) -> tuple[float, float]:
        """(the share of each changeover, their ceiling)."""
        sets = self.round(bout)
        c1, c2 = bout["law"]["changeover_s"]
        floors = [
            max(c1, before[0]["breather_s"], this[0]["position_s"], this[0]["change_s"])
            for before, this in zip(sets[-1:] + sets[:-1], sets, strict=True)
        ]
        work = sum(self.expected(b) for sides in sets for b in sides)
        work += sum(s[0]["law"]["side_gap_s"] * (len(s) - 1) for s in sets)

        def level(key: str) -> float:
            need = max(b["law"][key] + self.expected(b) for s in sets for b in s) - work
            return filled(need, floors)

        ceiling = max(c2, level("recovery_least_s"))
        return min(max(level("recovery_s"), c1), ceiling), ceiling

    def rest(
        self, bout: Mapping[str, Any], before: Mapping[str, Any], book: Book, end: float
    ) -> float:
        """The rest before a set's first side."""
        law = bout["law"]
        forced = max(before["breather_s"], bout["position_s"], bout["change_s"])
        wanted = self.due(book, bout, least=False) - end
        if before["block"] != bout["block"]:
            return float(max(forced, law["block_rest_s"], wanted))
        c1 = law["changeover_s"][0]
        if before["exercise"] == bout["exercise"] or len(self.round(bout)) < 2:
            return float(max(forced, c1, wanted))
        share, ceiling = self.share(bout)
        least = self.due(book, bout, least=True) - end
        return float(max(forced, c1, min(max(wanted, share), ceiling), least))


def wants(bout: Mapping[str, Any], *, least: bool) -> tuple[float, float]:
    law = bout["law"]
    if not least:
        return law["recovery_s"], law["recovery_cross_s"]
    cross = law["recovery_cross_s"] * law["recovery_least_s"] / law["recovery_s"]
    return law["recovery_least_s"], cross


def filled(need: float, floors: Sequence[float]) -> float:
    """The smallest level at which the sum of max(level, floor) reaches the need: by halving."""
    low, high = 0.0, max(need, *floors, 0.0)
    if sum(floors) >= need:
        return 0.0
    for _ in range(200):
        middle = (low + high) / 2
        if sum(max(middle, f) for f in floors) >= need:
            high = middle
        else:
            low = middle
    return high


def expectations(
    rehearsal: Mapping[str, Any], actual: Mapping[Key, Actual]
) -> list[tuple[Key, Expected]]:
    """For each bout in its order, what the law gives after the bouts that really were."""
    session = Session(rehearsal)
    book, before_set = Book(), Book()
    before: dict[str, Any] | None = None
    found: list[tuple[Key, Expected]] = []
    for bout in session.bouts:
        really = actual[key_of(bout)]
        second = before is not None and key_of(before)[:2] == key_of(bout)[:2]
        rest: float | None = None
        if second and before is not None:
            end = actual[key_of(before)].end
            least = before_set.due(bout, *wants(bout, least=True)) - end
            rest = max(bout["law"]["side_gap_s"], least)
        elif before is not None:
            rest = session.rest(bout, before, book, actual[key_of(before)].end)
        if not second:
            before_set = book.copy()
        # The sides of one set ask nothing of each other, nor do they count as recovery.
        recovery = (before_set if second else book).recovered(bout, really.start)
        found.append((key_of(bout), Expected(rest, recovery)))
        book.enter(bout, really.end)
        if bout["set_kind"] == "work":
            lengths = session.done[bout["exercise"], bout["version"], bout["side"]]
            lengths.append(really.end - really.start)
        before = bout
    return found
