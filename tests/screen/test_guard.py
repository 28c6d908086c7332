"""The key guard, against presses as auto-repeat makes them: after 500 ms, then every 33 ms."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from runner.screen.keys import KeyGuard
from runner.session.state import Phase

PHASES: tuple[Phase, ...] = ("ready", "warm-up", "rest", "set", "paused", "wrap-up")


def train(start: float, presses: int) -> list[float]:
    """One press, held down: the first repeat after half a second, then 33 ms apart."""
    return [start, *(start + 0.5 + n * 0.033 for n in range(presses))]


def counted(times: list[float], phase: Phase, since: float, guard: KeyGuard) -> list[float]:
    return [now for now in times if guard.main(now, phase, since)]


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("presses", [1, 5, 300])
def test_a_key_held_down_counts_once(phase: Phase, presses: int) -> None:
    assert counted(train(100.0, presses), phase, 0.0, KeyGuard()) == [100.0]


def test_holding_the_key_never_ends_the_set_it_started() -> None:
    """The clock starts a set at 100 while the key has been held since 99."""
    assert counted(train(99.0, 600)[1:], "set", 100.0, warm(99.0)) == []


def warm(*seen: float) -> KeyGuard:
    guard = KeyGuard()
    for now in seen:
        guard.quiet(now)
    return guard


@pytest.mark.parametrize(
    ("gap", "counts"), [(0.033, False), (0.5, False), (0.699, False), (0.7, True), (3.0, True)]
)
def test_quiet_before_a_key_that_counts(gap: float, *, counts: bool) -> None:
    assert warm(0.0).main(gap, "warm-up", -9.0) is counts


def test_a_press_that_was_ignored_counts_as_seen() -> None:
    guard = KeyGuard()
    assert [guard.main(now, "set", 0.0) for now in (5.0, 5.5, 6.0, 6.5, 7.1, 7.81)] == [
        True,
        False,
        False,
        False,
        False,
        True,
    ]


def test_one_ignored_because_the_set_is_young_counts_as_seen() -> None:
    guard = KeyGuard()
    assert not guard.main(101.4, "set", 100.0)
    assert not guard.main(101.6, "set", 100.0)
    assert guard.main(102.3, "set", 100.0)


@pytest.mark.parametrize(
    ("phase", "age", "counts"),
    [
        ("set", 0.0, False),
        ("set", 1.49, False),
        ("set", 1.5, True),
        ("rest", 0.0, False),
        ("rest", 1.99, False),
        ("rest", 2.0, True),
        ("paused", 0.0, True),
        ("warm-up", 0.0, True),
        ("wrap-up", 0.0, True),
        ("ready", 0.0, True),
    ],
)
def test_the_first_moments_of_a_phase(phase: Phase, age: float, *, counts: bool) -> None:
    assert KeyGuard().main(50.0 + age, phase, 50.0) is counts


@pytest.mark.parametrize(("after", "counts"), [(0.0, False), (1.99, False), (2.0, True)])
def test_no_rest_is_cut_just_after_saving(after: float, *, counts: bool) -> None:
    guard = KeyGuard()
    guard.saved(50.0)
    assert guard.main(50.0 + after, "rest", 0.0) is counts


def test_saving_does_not_keep_a_set_from_ending() -> None:
    guard = KeyGuard()
    guard.saved(50.0)
    assert guard.main(50.1, "set", 0.0)


def test_the_key_that_saves_is_a_main_key() -> None:
    """Enter, held down: it saves, and its repeats neither cut the rest nor do so later."""
    guard = KeyGuard()
    guard.quiet(50.0)
    guard.saved(50.0)
    assert counted(train(50.0, 200)[1:], "rest", 0.0, guard) == []


@pytest.mark.parametrize("key", ["full_stop", "enter", "b"])
def test_a_key_held_down_is_fresh_once(key: str) -> None:
    guard = KeyGuard()
    assert [now for now in train(10.0, 200) if guard.fresh(key, now)] == [10.0]


def test_another_key_in_between_shows_that_it_was_let_go() -> None:
    guard = KeyGuard()
    presses = [("1", 0.0), ("2", 0.1), ("enter", 0.2), ("1", 0.3), ("4", 0.4), ("enter", 0.5)]
    assert all(guard.fresh(key, now) for key, now in presses)
    assert not guard.fresh("enter", 1.1)
    assert guard.fresh("enter", 1.9)


@given(st.lists(st.floats(0.0, 2.0), min_size=1, max_size=60), st.floats(0.0, 5.0))
def test_two_that_count_are_never_close(gaps: list[float], since: float) -> None:
    times, now = [], 0.0
    for gap in gaps:
        now += gap
        times.append(now)
    kept = counted(times, "set", since, KeyGuard())
    assert all(now - since >= 1.5 for now in kept)
    for earlier, later in pairwise(kept):
        assert later - earlier >= 0.7
        before = max(now for now in times if now < later)
        assert later - before >= 0.7
