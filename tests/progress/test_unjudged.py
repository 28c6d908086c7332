"""What no advice is drawn from, and what it makes of sessions that are hardly any."""

from __future__ import annotations

from datetime import timedelta
from itertools import accumulate
from types import SimpleNamespace

import pytest
from hypothesis import example, given, strategies as st
from msgspec.structs import replace

from runner.progress.layoff import Layoff, layoff_of
from runner.progress.pain import no_step_up, pains_of
from runner.progress.rules import Advice, CurrentLevel, advise
from tests.progress.past import MONDAY, PLANK, PUSH_UP, ROW, advice, hurt, loads, past, session

TOP, LOW = (20, 18, 16), (7, 6, 6)


# -- what is not judged ----------------------------------------------------------------------


def test_after_pain_nothing_is_proposed() -> None:
    given = advice(PUSH_UP, [*past(PUSH_UP, TOP), hurt(session(PUSH_UP, TOP, 3))])
    assert (given.rule, given.change, given.others) == ("pain", None, ())
    assert "doctor or physiotherapist" in given.reason
    # and pain ends a run
    after = [session(PUSH_UP, TOP), hurt(session(PUSH_UP, TOP, 3)), session(PUSH_UP, TOP, 6)]
    assert advice(PUSH_UP, after).rule == "stay"


@pytest.mark.parametrize("flag", ["level_finding", "deload"])
def test_placing_and_holding_back_are_passed_over(flag: str) -> None:
    first, between, last = past(PUSH_UP, TOP, LOW, TOP)
    marked = replace(between, **{flag: True})  # type: ignore[arg-type]
    assert advice(PUSH_UP, [first, marked]).change is None
    assert advice(PUSH_UP, [first, marked, last]).rule == "harder"


def test_an_exercise_may_wait_for_its_turn_but_a_layoff_ends_a_run() -> None:
    first, last = session(PUSH_UP, TOP), session(PUSH_UP, TOP, 28)
    assert advice(PUSH_UP, [first, last]).rule == "harder"  # others were trained meanwhile
    for days in (14, 15, 28):
        away = layoff_of([first.on, first.on + timedelta(days=days)], last.on)
        given = advice(PUSH_UP, [first, last], layoff=away)
        assert given.rule == ("harder" if days == 14 else "layoff")


def test_after_a_layoff_two_sessions_at_the_bottom_come_before_a_step_up() -> None:
    trained = [MONDAY, *(MONDAY + timedelta(days=63 + 3 * n) for n in range(4))]
    before = past(PUSH_UP, TOP, TOP)
    away = layoff_of([MONDAY + timedelta(days=3)], MONDAY + timedelta(days=66))
    given = advice(PUSH_UP, before, layoff=away)
    assert (given.rule, given.change) == ("layoff", None)
    assert given.reason == "63 days away: no harder level until 2 sessions reach 8"
    back = layoff_of(trained, trained[-1])
    assert back == Layoff(63, trained[1])
    lighter = replace(session(PUSH_UP, (12, 10), 63), deload=True)  # it counts
    under = session(PUSH_UP, (7, 6), 66)
    over = session(PUSH_UP, (41, 30, 30), 69)
    said = advice(PUSH_UP, [*before, lighter, over], layoff=back)
    assert said.rule == "harder"  # two have reached it
    waits = advice(PUSH_UP, [*before, under, over], layoff=back)
    assert waits.rule == "layoff"
    assert waits.reason.startswith("63 days away until 4 Jan: no harder level until 2 sessions")
    assert waits.reason.endswith("(1 so far)")
    low = [replace(s, on=s.on + timedelta(days=63)) for s in past(PUSH_UP, LOW, LOW, level=3)]
    assert advice(PUSH_UP, low, 3, layoff=back).rule == "easier"  # down is never ruled out


def test_while_it_hurts_a_bridge_may_be_left_but_not_crossed() -> None:
    def bridged(count: int) -> Advice:
        days = [session(PUSH_UP, (count,), day, level=1) for day in (0, 3)]
        return advice(PUSH_UP, days, 0, first_set=1, pain="it hurts")

    assert (bridged(12).rule, bridged(12).change) == ("pain", None)
    back = bridged(5).change
    assert back is not None
    assert (back.kind, back.index) == ("move", 0)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([2, 3, 9, 15, 27]),  # days since the one before
            st.sampled_from([(20, 18, 17), (20, 20, 20), (12, 11, 9), (7, 6, 6), (41, 30, 30)]),
            st.sampled_from([False, False, False, True]),  # it hurts
        ),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from([0, 1, 14, 15, 40]),
)
@example([(2, (20, 18, 17), True)] * 3 + [(2, (20, 18, 17), False)] * 2, 0)
def test_nobody_goes_up_in_pain_or_straight_after_a_layoff(
    drawn: list[tuple[int, tuple[int, ...], bool]], waited: int
) -> None:
    on = list(accumulate(gap for gap, _, _ in drawn))
    today = on[-1] + waited
    days = [
        hurt(session(PUSH_UP, counts, day, level=3), 3) if bad else session(PUSH_UP, counts, day, 3)
        for day, (_, counts, bad) in zip(on, drawn, strict=True)
    ]
    # By the words of the rules, from the days and counts alone.
    pain = [n for n, (_, _, bad) in enumerate(drawn) if bad]
    in_pain = bool(pain) and len(drawn) - 1 - pain[-1] < 2 and today - on[pain[-1]] <= 28
    in_pain |= len(pain) >= 3 and today - on[pain[-3]] <= 28  # three times in four weeks
    starts = [new for old, new in zip([on[0], *on], [*on, today], strict=True) if new - old > 14]
    back = starts[-1] if starts else on[0]
    reached = sum(day >= back and max(c) >= 8 for day, (_, c, _) in zip(on, drawn, strict=True))
    away = bool(starts) and reached < 2

    rows = [
        SimpleNamespace(
            session_id=str(one.on),
            session_start=f"{one.on}T06:30:00+01:00",
            exercise="push-up",
            exercise_name="Push-up",
            prime_movers="chest",
            kind="work",
            side="both",
            status="done",
            pain="yes" if one.pain else None,
            note="",
        )
        for one in days
    ]
    now = MONDAY + timedelta(days=today)
    given_ = advice(
        PUSH_UP,
        days,
        3,
        pain=no_step_up(PUSH_UP, pains_of(rows), now),  # type: ignore[arg-type]
        layoff=layoff_of([one.on for one in days], now),
    )
    up = given_.change is not None and (given_.change.index or 0) > 3
    if in_pain or away:
        assert not up
        assert given_.change is None or given_.rule in ("easier", "drop", "falling")
    elif len(drawn) > 1 and all(c[0] in (20, 41) for _, c, _ in drawn[-2:]):
        since = [n for n, day in enumerate(on) if day >= back and n > (pain[-1] if pain else -1)]
        assert up or len(since) < 2


def test_of_several_sessions_on_one_date_one_counts() -> None:
    assert advice(PUSH_UP, [session(PUSH_UP, TOP), session(PUSH_UP, TOP)]).rule == "stay"


def test_two_running_may_be_two_of_the_same_session_of_the_plan() -> None:
    kinds = ("A", "B", "A")
    days = [
        replace(session(PUSH_UP, counts, 3 * n, level=3), session=kind)
        for n, (counts, kind) in enumerate(zip((LOW, (9, 8), LOW), kinds, strict=True))
    ]
    assert advice(PUSH_UP, days, 3).rule == "easier"
    assert advice(PUSH_UP, days[1:], 3).rule == "stay"


def test_another_version_ends_a_run() -> None:
    mixed = [*past(PUSH_UP, TOP), session(PUSH_UP, TOP, 3, level=1), session(PUSH_UP, TOP, 6)]
    assert advice(PUSH_UP, mixed).rule == "stay"
    assert advice(PUSH_UP, mixed[:2]).reason == "no session at this level yet"


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
    assert advise(CurrentLevel(PUSH_UP, 0), []).reason == "no session yet"
    assert advice(PUSH_UP, past(PUSH_UP, (None, None))).reason == "no set has a count"


def test_sets_of_nothing() -> None:
    assert advice(PUSH_UP, past(PUSH_UP, (0, 0, 0))).rule == "stay"
    assert advice(PUSH_UP, past(PUSH_UP, (0, 0), (0, 0), level=2), 2).rule == "easier"


def test_a_first_set_skipped_leaves_the_next_one_as_the_first() -> None:
    done = [replace(s, sets=s.sets[1:]) for s in past(PUSH_UP, (0, 20, 18), (0, 20, 18))]
    assert advice(PUSH_UP, done).rule == "harder"


@pytest.mark.parametrize("mass", [None, 0.0, -3.0])
def test_without_a_body_mass_shares_alone_will_do(mass: float | None) -> None:
    given = advice(PUSH_UP, past(PUSH_UP, TOP, TOP), mass=mass)
    assert given.expected is not None
    packed = replace(ROW, progression=loads(10, 12, share=0.5))
    days = past(packed, (15, 15), (15, 15))
    assert advice(packed, days, mass=mass).expected is None
    assert advice(packed, days).expected is not None
