"""The tempo pacer: instants of its ticks, against sums in whole milliseconds."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from runner.law.workout import Level, Measure
from runner.session.sounds import next_tick, pacer_text, phases, tempo_of, wanted
from runner.session.state import State
from tests.law.builders import exercise, part, workout
from tests.session.mat import GO, Mat


def mat(tempo: str | None = "2-0-1", *, pacer: bool = False, measure: Measure = "reps") -> Mat:
    progression = (Level("plain", "plain", tempo=tempo),)
    return Mat(
        workout([part(exercise("row", measure=measure, progression=progression, pacer=pacer), 2)])
    )


def running(tempo: str | None = "2-0-1", measure: Measure = "reps") -> State:
    """A set begun at second 10."""
    return mat(tempo, measure=measure).begin().start().state


def ticks(state: State, until: float) -> list[float]:
    """All ticks of the running set up to an instant."""
    found: list[float] = []
    at = float("-inf")
    while (tick := next_tick(state, at)) is not None and tick <= until:
        found.append(round(tick, 6))
        at = tick
    return found


def test_phases_of_no_length_give_no_tick() -> None:
    assert phases("2-0-1") == ((0.0, 2.0), 3.0)
    assert phases("3-1-1") == ((0.0, 3.0, 4.0), 5.0)
    assert phases("0-0-1.5") == ((0.0,), 1.5)
    assert phases("0-2-1") == ((0.0, 2.0), 3.0)


def test_a_tick_for_each_phase_of_each_repetition_the_start_cue_for_the_first() -> None:
    assert ticks(running("2-0-1"), 20.0) == [12, 13, 15, 16, 18, 19]
    assert ticks(running("3-1-1"), 20.0) == [13, 14, 15, 18, 19, 20]


@pytest.mark.parametrize(("tempo", "measure"), [(None, "reps"), ("2-0-1", "hold")])
def test_without_a_tempo_and_in_holds_there_is_nothing_to_keep(
    tempo: str | None, measure: Measure
) -> None:
    state = running(tempo, measure)
    assert tempo_of(state) is None
    assert next_tick(state, 12.0) is None


def test_nothing_ticks_but_a_running_set() -> None:
    one = mat()
    assert next_tick(one.state, 0.0) is None
    one.begin()
    assert tempo_of(one.state) == "2-0-1"  # of the set to come
    assert next_tick(one.state, 0.0) is None
    one.start().do(GO, after=7.0)
    assert one.state.phase == "rest"
    assert next_tick(one.state, one.now) is None


def test_off_unless_the_plan_or_the_person_asks() -> None:
    for planned in (False, True):
        state = mat(pacer=planned).begin().state
        assert wanted(state, None) is planned
        assert [wanted(state, asked) for asked in (True, False)] == [True, False]
    closed = replace(mat(pacer=True).state, course=replace(mat().state.course, planned_sets=()))
    assert not wanted(closed, None)


def test_what_is_told_of_it() -> None:
    assert pacer_text(running(), on=True) == "Pacer on: 2-0-1 seconds down, held, up."
    assert pacer_text(running(None), on=True) == "Pacer on. This exercise has no tempo to keep."
    assert pacer_text(running(), on=False) == "Pacer off."


LENGTHS = st.tuples(*[st.integers(0, 300)] * 3).filter(lambda parts: sum(parts) >= 50)


@given(LENGTHS, st.integers(0, 400_000), st.integers(1, 20))
def test_any_tempo_however_long_the_set(
    parts: tuple[int, int, int], since: int, number: int
) -> None:
    """Hundredths of a second: the oracle counts them one phase after the other."""
    begins = [0, parts[0], parts[0] + parts[1]]
    lasting = [at for at, length in zip(begins, parts, strict=True) if length]
    before = since // sum(parts) * sum(parts)
    all_of_them = (before + n * sum(parts) + at for n in range(number + 2) for at in lasting)
    expected = [tick for tick in all_of_them if tick > since][:number]
    state = running("-".join(f"{part / 100:g}" for part in parts))
    found, at = [], 10 + since / 100 + 1e-7
    for _ in range(number):
        tick = next_tick(state, at)
        assert tick is not None
        assert tick > at
        found.append(round((tick - 10) * 100, 3))
        at = tick
    assert found == expected
