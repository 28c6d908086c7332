"""The clock of a rehearsal: faster, slower, still, and never a jump."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import given, strategies as st

from runner.live.clock import FastClock
from runner.testing import ManualClock


def test_it_shows_as_many_seconds_as_its_speed_says() -> None:
    real = ManualClock()
    fast = FastClock(real, 20)
    real.advance(3)
    assert fast.now() == 60
    assert fast.local() == real._start + timedelta(seconds=60)


def test_another_speed_begins_at_the_second_shown() -> None:
    real = ManualClock()
    fast = FastClock(real, 20)
    real.advance(3)
    fast.run_at(2)
    assert (fast.now(), fast.speed) == (60, 2)
    real.advance(3)
    assert fast.now() == 66


def test_time_stands_still_and_goes_on_from_there() -> None:
    real = ManualClock()
    fast = FastClock(real, 5)
    real.advance(2)
    fast.stand_still(still=True)
    real.advance(100)
    assert (fast.now(), fast.still) == (10, True)
    fast.run_at(60)  # also while it stands
    real.advance(100)
    fast.stand_still(still=False)
    assert (fast.now(), fast.still) == (10, False)
    real.advance(1)
    assert fast.now() == 70


def test_a_suspended_machine_does_not_go_on_rehearsing() -> None:
    real = ManualClock()
    fast = FastClock(real, 60)
    real.advance(1)
    real.suspend(3600)
    assert (fast.now(), fast.slept()) == (60, 0)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["wait", "still", "on", "speed"]), st.sampled_from([0.25, 1.0, 60.0])
        ),
        max_size=30,
    )
)
def test_nothing_that_is_done_to_it_makes_it_jump(done: list[tuple[str, float]]) -> None:
    real = ManualClock()
    fast = FastClock(real, 20)
    for what, number in done:
        before = fast.now()
        if what == "wait":
            real.advance(number)
            assert fast.now() == before + (0 if fast.still else number * fast.speed)
            continue
        if what == "speed":
            fast.run_at(number)
        else:
            fast.stand_still(still=what == "still")
        assert fast.now() == before
