"""What no advice is drawn from, and what it makes of sessions that are hardly any."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from runner.core.progress.advice import Holding, advise
from tests.core.progress.past import PLANK, PUSH_UP, ROW, advice, hurt, loads, past, session

TOP, LOW = (20, 18, 16), (7, 6, 6)


# -- what is not judged ----------------------------------------------------------------------


def test_after_pain_nothing_is_proposed() -> None:
    given = advice(PUSH_UP, [*past(PUSH_UP, TOP), hurt(session(PUSH_UP, TOP, 3))])
    assert (given.rule, given.change) == ("stay", None)
    assert "doctor or physiotherapist" in given.reason
    # and pain ends a run
    after = [session(PUSH_UP, TOP), hurt(session(PUSH_UP, TOP, 3)), session(PUSH_UP, TOP, 6)]
    assert advice(PUSH_UP, after).rule == "stay"


@pytest.mark.parametrize("flag", ["placing", "held_back"])
def test_placing_and_holding_back_are_passed_over(flag: str) -> None:
    first, between, last = past(PUSH_UP, TOP, LOW, TOP)
    marked = replace(between, **{flag: True})  # type: ignore[arg-type]
    assert advice(PUSH_UP, [first, marked]).change is None
    assert advice(PUSH_UP, [first, marked, last]).rule == "harder"


def test_a_break_ends_a_run() -> None:
    days = (0, 14, 29)
    assert advice(PUSH_UP, [session(PUSH_UP, TOP, d) for d in days[:2]]).rule == "harder"
    assert advice(PUSH_UP, [session(PUSH_UP, TOP, d) for d in days[1:]]).rule == "stay"


def test_who_was_there_meanwhile_was_on_no_break() -> None:
    first, between, last = (session(PUSH_UP, TOP, day) for day in (0, 10, 20))
    for there in (replace(between, held_back=True), replace(between, placing=True)):
        assert advice(PUSH_UP, [first, there, last]).rule == "harder"
    nothing = session(PUSH_UP, (None, None), 10)
    assert advice(PUSH_UP, [first, nothing, last]).rule == "stay"
    after = [first, replace(between, on=first.on + timedelta(days=20), held_back=True)]
    assert advice(PUSH_UP, [*after, session(PUSH_UP, TOP, 22)]).rule == "stay"


def test_another_version_ends_a_run() -> None:
    mixed = [*past(PUSH_UP, TOP), session(PUSH_UP, TOP, 3, rung=1), session(PUSH_UP, TOP, 6)]
    assert advice(PUSH_UP, mixed).rule == "stay"
    assert advice(PUSH_UP, mixed[:2]).reason == "nothing was done at the version held"


def test_one_sided_work_follows_the_weaker_side() -> None:
    lunge = replace(PUSH_UP, sides="left first")
    strong = [(22, 20), (20, 18), (19, 17)]
    weak = [(22, 19), (20, 18), (19, 17)]
    assert advice(lunge, past(lunge, strong, strong)).rule == "harder"
    assert advice(lunge, past(lunge, weak, weak)).rule == "stay"
    assert "weaker side" in advice(lunge, past(lunge, strong, strong)).reason


def test_a_hold_goes_by_its_seconds() -> None:
    given = advice(PLANK, past(PLANK, (62, 55, 50), (60, 50, 45)))
    assert (given.rule, given.expected) == ("harder", None)
    assert advice(PLANK, past(PLANK, (90, 20, 20))).rule == "drop"  # no hard ceiling of a hold


def test_refused_advice_rests_for_two_sessions() -> None:
    days = past(PUSH_UP, TOP, TOP, TOP, TOP, TOP)
    refused = {"harder": days[1].on}
    rules = [advice(PUSH_UP, days[:n], refused=refused).rule for n in (2, 3, 4, 5)]
    assert rules == ["stay", "stay", "stay", "harder"]
    assert "refused" in advice(PUSH_UP, days[:3], refused=refused).reason


# -- bad input -------------------------------------------------------------------------------


def test_nothing_done_and_nothing_counted() -> None:
    assert advise(Holding(PUSH_UP, 0), []).reason == "nothing has been done yet"
    assert advice(PUSH_UP, past(PUSH_UP, (None, None))).reason == "no set has a count"


def test_sets_of_nothing() -> None:
    assert advice(PUSH_UP, past(PUSH_UP, (0, 0, 0))).rule == "stay"
    assert advice(PUSH_UP, past(PUSH_UP, (0, 0), (0, 0), rung=2), 2).rule == "easier"


def test_a_first_set_skipped_leaves_the_next_one_as_the_first() -> None:
    done = [replace(s, sets=s.sets[1:]) for s in past(PUSH_UP, (0, 20, 18), (0, 20, 18))]
    assert advice(PUSH_UP, done).rule == "harder"


@pytest.mark.parametrize("mass", [None, 0.0, -3.0])
def test_without_a_body_mass_shares_alone_will_do(mass: float | None) -> None:
    given = advice(PUSH_UP, past(PUSH_UP, TOP, TOP), mass=mass)
    assert given.expected is not None
    packed = replace(ROW, ladder=loads(10, 12, share=0.5))
    days = past(packed, (15, 15), (15, 15))
    assert advice(packed, days, mass=mass).expected is None
    assert advice(packed, days).expected is not None
