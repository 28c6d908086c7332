"""What was accepted before, as the rules want to know it."""

from __future__ import annotations

from datetime import date, timedelta

from runner.core.progress.answers import AS_PLANNED, Answer, accepted
from tests.core.progress.past import MONDAY


def said(rule: str, kind: str | None, day: int, *, yes: bool = True) -> Answer:
    change = {} if kind is None else {"kind": kind}
    return Answer("press", "", rule, "", change, accepted=yes, on=MONDAY + timedelta(days=day))


def on(day: int) -> date:
    return MONDAY + timedelta(days=day)


def test_since_when_and_what_was_tried_since_the_last_move() -> None:
    flat = [said("flat", "more sets", 1), said("flat", "swap", 22, yes=False)]
    assert accepted([], "press", "") == (None, frozenset())
    assert accepted(flat, "press", "") == (on(1), frozenset({"more sets"}))
    moved = [*flat, said("harder", "move", 30)]
    assert accepted(moved, "press", "") == (on(30), frozenset())
    later = [*moved, said("drop", "recovery", 33), said(AS_PLANNED, None, 40)]
    assert accepted(later[:-1], "press", "") == (on(33), frozenset({"recovery"}))
    assert accepted(later, "press", "") == (on(40), frozenset())
    assert accepted(later, "row", "") == accepted(later, "press", "slow") == (None, frozenset())
