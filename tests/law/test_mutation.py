"""Shift any one rule of the timing law by a second, and a check of it fails."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from functools import cache, partial

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from tests.law import test_timing_examples as examples
from tests.law.mutants import Mutant, in_place, mutants
from tests.oracle.draw import sessions
from tests.oracle.model import Outcome, Session
from tests.oracle.ticks import planned_sets, simulate
from tests.session.crafted import CRAFTED
from tests.session.translate import Seen, by_machine, expected_of, fitted, same

MUTANTS = mutants()


def worked_examples() -> Iterator[Callable[[], None]]:
    """The law's worked examples as calls that raise AssertionError."""
    for one in examples.PAIRS:
        yield partial(examples.test_pairs_of_four_and_four, *one)
    for other in examples.MIXED:
        yield partial(examples.test_two_sided_with_one_sided, *other)
    for name, test in vars(examples).items():
        if name.startswith("test_") and not inspect.signature(test).parameters:
            yield test


@cache
def compared() -> tuple[tuple[Session, Outcome, list[Seen]], ...]:
    """A fixed set of sessions with what the oracle has of them: by hand, then the longest.

    What is drawn may change with Hypothesis; those written by hand stay.
    """
    drawn: list[Session] = []

    @settings(
        max_examples=120,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(sessions())
    def draw(session: Session) -> None:
        drawn.append(fitted(session))

    draw()
    drawn.sort(key=lambda session: -len(planned_sets(session)))
    outcomes = [(session, simulate(session)) for session in [*map(fitted, CRAFTED), *drawn]]
    return tuple((s, outcome, expected_of(s, outcome)) for s, outcome in outcomes)


def example_fails() -> bool:
    for example in worked_examples():
        try:
            example()
        except AssertionError:
            return True
    return False


def differs(session: Session, outcome: Outcome, wanted: list[Seen]) -> bool:
    """Whether the machine has the session otherwise; a command refused is a difference."""
    try:
        got = by_machine(session, outcome)
    except Exception:  # noqa: BLE001 - a mutant may break anything
        return True
    return len(got) != len(wanted) or not all(map(same, got, wanted))


def test_nothing_fails_without_a_mutant() -> None:
    assert not example_fails()
    assert not any(differs(*one) for one in compared())


@pytest.mark.parametrize("mutant", MUTANTS, ids=[one.label for one in MUTANTS])
def test_no_mutant_survives(mutant: Mutant) -> None:
    compared()  # by the law as it is
    with in_place(mutant):
        assert example_fails() or any(differs(*one) for one in compared())


def test_labels_are_told_apart() -> None:
    assert len({one.label for one in MUTANTS}) == len(MUTANTS) > 100
