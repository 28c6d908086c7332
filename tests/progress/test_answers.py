"""What was accepted before, as the rules want to know it."""

from __future__ import annotations

from datetime import date, timedelta

from msgspec.structs import replace

from runner.progress.adjust import Adjustment
from runner.progress.advice import Change, ChangeKind, CurrentLevel
from runner.progress.answers import (
    AS_PLANNED,
    Answer,
    accepted,
    in_force,
    is_answered,
    positions,
)
from tests.progress.past import MONDAY, ROW, advice, past


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
    fewer = [said("drop", "fewer sets", 1), *moved]  # tried once, for a move gives it not back
    assert accepted(fewer, "press", "") == (on(30), frozenset({"fewer sets"}))
    assert accepted(later, "row", "") == accepted(later, "press", "slow") == (None, frozenset())


def agreed(name: str, day: int, *, yes: bool = True, **change: object) -> Answer:
    return Answer(name, "", "flat", "", change, accepted=yes, on=on(day))


def test_a_lighter_week_is_in_force_for_seven_days() -> None:
    week = [agreed("", 3, kind="lighter week")]
    found = [bool(in_force(week, on(day))) for day in (2, 3, 9, 10)]
    assert found == [False, True, True, False]
    assert in_force(week) == ()  # what lasts is all else
    assert {one.kind for one in in_force(week, on(3))} == {"share", "reserve", "no count"}
    assert in_force([agreed("", 3, yes=False, kind="lighter week")], on(3)) == ()


def test_what_was_agreed_adds_up_until_it_is_as_planned() -> None:
    longer = agreed("press", 0, kind="recovery", seconds=30.0)
    more, fewer = (agreed("press", n, kind=f"{w} sets") for n, w in ((1, "more"), (2, "fewer")))
    other = agreed("row", 1, kind="swap", exercise="curl")
    assert in_force([longer, longer, other]) == (
        Adjustment("recovery", "press", number=60.0),
        Adjustment("swap", "row", to="curl"),
    )
    assert in_force([more, more]) == (Adjustment("sets", "press", number=2.0),)
    assert in_force([more, fewer]) == ()
    planned = Answer("press", "", AS_PLANNED, "", {}, accepted=True, on=on(5))
    assert in_force([longer, more, other, planned]) == (Adjustment("swap", "row", to="curl"),)
    assert in_force([longer, planned, more]) == (Adjustment("sets", "press", number=1.0),)
    refused = [agreed("press", 1, yes=False, kind="more sets"), agreed("press", 2, kind="move")]
    assert in_force(refused) == ()


def test_no_to_advice_that_proposes_nothing_is_kept_too() -> None:
    row = replace(ROW, instead=("press",))
    top = len(row.progression) - 1
    given = advice(row, past(row, (12, 12, 12), (12, 12, 12), level=top), top)
    assert given.change is None
    assert given.others  # a substitute, for the plan has no harder level
    no = Answer.to(given, on(4), accepted=False)
    assert (no.rule, no.change, no.accepted) == (given.rule, {}, False)
    assert is_answered(given, [no], on(3))
    assert is_answered(given, [no], on(4))  # after the session, on its day
    assert not is_answered(given, [no], on(5))  # something new was done
    assert is_answered(given, [no], None)


def test_only_a_change_of_level_makes_a_working_level() -> None:
    current = CurrentLevel(ROW, 1, mass=75.0)
    held = {("row", "first:"): 2, ("row", ""): 1}
    kinds: dict[ChangeKind, list[tuple[str, int]]] = {
        "bridge": [("first:", 2)],
        "easier later": [("later:", 2)],
        "move": [("", 2), ("first:", 2)],
    }
    for kind, found in kinds.items():
        assert list(positions(current, Change(kind, "another level", 2), held)) == found
    longer = Change("recovery", "30 s more recovery", seconds=30.0)
    assert list(positions(current, longer, held)) == []
