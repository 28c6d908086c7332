"""A session in a few numbers."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from runner.progress.history import Use
from runner.progress.session_stats import (
    numbers_of,
    paired_against_straight,
    recovery_had,
    retention,
    retention_of,
    session_load,
    values_of,
)
from tests.progress.past import PUSH_UP, hurt, past, session


def test_retention_of_twelve_ten_eight() -> None:
    # By exact arithmetic: 8/12 and 30/36; the names of the measures from memory.
    found = retention([12, 10, 8])
    assert found is not None
    assert found.last == pytest.approx(0.66667, abs=0.00001)
    assert found.total == pytest.approx(0.83333, abs=0.00001)


@pytest.mark.parametrize("counts", [[], [12], [0, 5, 5]])
def test_no_retention_of_nothing(counts: list[float]) -> None:
    assert retention(counts) is None


@given(st.lists(st.integers(1, 40), min_size=2, max_size=6))
def test_sets_that_never_grow_keep_at_most_all(counts: list[int]) -> None:
    found = retention(sorted(counts, reverse=True))
    assert found is not None
    assert 0 < found.last <= found.total <= 1


def test_nothing_is_kept_of_a_first_set_without_a_count() -> None:
    kept = retention_of(session(PUSH_UP, (10, None, 5)))
    assert kept is not None
    assert (kept.last, kept.total) == (0.5, 0.75)
    unfinished = session(PUSH_UP, (None, 10, 5))
    assert numbers_of(unfinished) == (2, 3)
    assert retention_of(unfinished) is None
    assert paired_against_straight([unfinished], past(PUSH_UP, (10, 10, 10))) == []


def test_session_load() -> None:
    # Foster et al. 2001, J Strength Cond Res 15:109-115: RPE x minutes; 7 x 45 = 315.
    assert session_load(7, 45) == 315
    assert session_load(0, 45) == 0
    assert session_load(None, 45) is None
    assert session_load(7, None) is None


def test_recovery_had_against_aimed_at() -> None:
    found = recovery_had([(None, 120, 105), (110, 120, 105), (100, 120, 105), (130, None, None)])
    assert found is not None
    assert (found.had, found.aimed, found.under_least) == (105, 120, 1)
    assert recovery_had([(None, 120, 105)]) is None


def test_paired_work_against_the_person_s_own_straight_sets() -> None:
    straight, paired = past(PUSH_UP, (10, 10, 10)), past(PUSH_UP, (10, 9, 8), (10, 8, 9))
    (found,) = paired_against_straight(paired, straight)
    assert found.kept == pytest.approx(0.9)
    assert found.sessions == (2, 1)
    assert paired_against_straight(paired, []) == []
    other = [session(PUSH_UP, (10, 9), level=1)]
    assert paired_against_straight(paired, other) == []  # another version does not compare
    assert paired_against_straight([hurt(paired[0])], straight) == []
    bridge = session(PUSH_UP, (10, 5, 4))
    harder = Use.of(PUSH_UP.progression[1])
    bridge = replace(bridge, sets=(replace(bridge.sets[0], use=harder), *bridge.sets[1:]))
    assert paired_against_straight([*paired, bridge], straight) == [found]  # of two versions
    nothing = past(PUSH_UP, (0, 0))
    assert paired_against_straight(paired, nothing) == []


def test_one_sided_sets_count_once() -> None:
    assert values_of(session(PUSH_UP, [(10, 8), (9, 9)])) == [9, 9]
