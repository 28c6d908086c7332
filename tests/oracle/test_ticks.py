"""The oracle against the published text of the timing law: every worked example."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from .model import Bout, Exercise, Outcome, Session, Settings
from .ticks import simulate

SECOND = 4  # ticks; 47.5 s and 78.75 s are whole


def settings(**seconds: float) -> Settings:
    """The law's defaults, position 0:05; in seconds."""
    usual = {"T": 120, "L": 105, "A": 90, "c1": 30, "c2": 45, "gap": 15, "block_rest": 60}
    usual |= {"position": 5, "breather": 0}
    return Settings(**{name: int(value * SECOND) for name, value in (usual | seconds).items()})


def exercise(name: str, sets: int, seconds: float, **other: Any) -> Exercise:
    """An exercise with a prime mover of its own, its sets as long as expected."""
    length = int(seconds * SECOND)
    both = other.get("sides", "together") == "together"
    given: dict[str, Any] = {"settings": settings(), "prime": (f"muscle of {name}",)}
    given["expected"] = {"both": length} if both else {"left": length, "right": length}
    return Exercise(name, sets, **(given | other))


def run(*blocks: tuple[Exercise, ...], **other: Any) -> Outcome:
    return simulate(Session(blocks, lead_in=10 * SECOND, **other))


def rests(outcome: Outcome) -> list[float]:
    """Seconds, without the lead-in."""
    return [bout.rest_before / SECOND for bout in outcome.bouts[1:]]


def total(outcome: Outcome) -> float:
    return (outcome.bouts[-1].end - outcome.bouts[0].start) / SECOND


def recoveries(outcome: Outcome, name: str, side: str = "both") -> list[float | None]:
    return [
        None if bout.recovery is None else bout.recovery / SECOND
        for bout in outcome.bouts
        if bout.planned_set.exercise.id == name and bout.planned_set.side == side
    ]


def last(outcome: Outcome) -> Bout:
    return outcome.bouts[-1]


@pytest.mark.parametrize(
    ("lengths", "rest", "whole", "recovery", "straight"),
    [
        ((10, 10), 47.5, 412.5, (105, 105), 860),
        ((20, 20), 45, 475, (110, 110), 940),
        ((30, 30), 45, 555, (120, 120), 1020),
        ((40, 40), 40, 600, (120, 120), 1100),
        ((60, 60), 30, 690, (120, 120), 1260),
        ((75, 75), 30, 810, (135, 135), 1380),
        ((30, 50), 45, 635, (140, 120), 1100),
        ((20, 60), 45, 635, (150, 110), 1100),
    ],
)
def test_pairs(
    lengths: tuple[float, float],
    rest: float,
    whole: float,
    recovery: tuple[float, float],
    straight: float,
) -> None:
    first, second = exercise("a", 4, lengths[0]), exercise("b", 4, lengths[1])
    pair = run((first, second))
    assert rests(pair) == [rest] * 7
    assert total(pair) == whole
    assert recoveries(pair, "a") == [None, *[recovery[0]] * 3]
    assert recoveries(pair, "b") == [None, *[recovery[1]] * 3]
    alone = run((first,), (second,))
    assert total(alone) == straight
    assert rests(alone) == [120, 120, 120, 60, 120, 120, 120]
    assert pair.bouts[0].rest_before == alone.bouts[0].rest_before == 10 * SECOND


def test_circuit() -> None:
    circuit = run((exercise("a", 3, 30), exercise("b", 3, 40), exercise("c", 3, 50)))
    assert rests(circuit) == [30] * 8
    assert total(circuit) == 600
    for name, recovery in (("a", 180), ("b", 170), ("c", 160)):
        assert recoveries(circuit, name) == [None, recovery, recovery]


def test_one_sided_straight_sets() -> None:
    outcome = run((exercise("a", 3, 40, sides="left first"),))
    assert rests(outcome) == [15, 65, 15, 65, 15]
    assert total(outcome) == 415
    assert recoveries(outcome, "a", "left") == recoveries(outcome, "a", "right")
    assert recoveries(outcome, "a", "left") == [None, 120, 120]


@pytest.mark.parametrize(
    ("length", "rest", "whole", "recovery"), [(20, 32.5, 527.5, 120), (30, 30, 630, 135)]
)
def test_two_sided_with_one_sided(
    length: float, rest: float, whole: float, recovery: float
) -> None:
    sided = exercise("b", 4, length, sides="left first")
    outcome = run((exercise("a", 4, length), sided))
    assert rests(outcome) == [*[rest, 15, rest] * 3, rest, 15]
    assert total(outcome) == whole
    for name, side in (("a", "both"), ("b", "left"), ("b", "right")):
        assert recoveries(outcome, name, side) == [None, *[recovery] * 3]


def test_four_with_two() -> None:
    outcome = run((exercise("a", 4, 40), exercise("b", 2, 40)))
    assert rests(outcome) == [40, 40, 40, 40, 120]
    assert total(outcome) == 520
    assert recoveries(outcome, "a") == [None, 120, 120, 120]
    assert recoveries(outcome, "b") == [None, 120]
    short = run((exercise("a", 4, 10), exercise("b", 2, 10)))
    assert rests(short) == [47.5, 47.5, 47.5, 62.5, 120]
    assert total(short) == 385
    assert recoveries(short, "a") == [None, 105, 120, 120]
    assert recoveries(short, "b") == [None, 105]


def test_three_with_a_breather() -> None:
    third = exercise("c", 2, 10, settings=settings(breather=50))
    outcome = run((exercise("a", 3, 10), exercise("b", 3, 10), third))
    assert rests(outcome) == [30, 30, 50, 30, 30, 50, 47.5]
    assert total(outcome) == 347.5


def test_pair_with_crossed_roles() -> None:
    a = exercise("a", 3, 40, prime=("chest",), assist=("triceps",))
    outcome = run((a, exercise("b", 3, 30, prime=("triceps",))))
    assert rests(outcome) == [78.75] * 5
    assert total(outcome) == 603.75


def test_breather_in_a_pair() -> None:
    b = exercise("b", 3, 40, settings=settings(breather=60))
    outcome = run((exercise("a", 3, 40), b))
    assert rests(outcome) == [30, 60, 30, 60, 30]
    assert total(outcome) == 450
    assert recoveries(outcome, "a") == recoveries(outcome, "b") == [None, 130, 130]
    assert [bout.why for bout in outcome.bouts] == [
        "lead-in",
        "changeover",
        "breather",
        "changeover",
        "breather",
        "changeover",
    ]


def test_change_before_every_other_set() -> None:
    b = exercise("b", 3, 30, station="bar", setups=("1", "2", "3"))
    outcome = run((exercise("a", 3, 30), b), stations={"bar": 60 * SECOND}, stood={"bar": "0"})
    assert rests(outcome) == [60, 30, 60, 30, 60]
    assert total(outcome) == 420
    assert recoveries(outcome, "a") == recoveries(outcome, "b") == [None, 120, 120]
    assert [bout.why for bout in outcome.bouts[1:3]] == ["station", "changeover"]


def test_longer_recovery() -> None:
    longer = settings(T=180, L=160)
    pair = (exercise("a", 5, 20, settings=longer), exercise("b", 5, 20, settings=longer))
    outcome = run(pair)
    assert rests(outcome) == [70] * 9
    assert total(outcome) == 830
    assert recoveries(outcome, "a") == recoveries(outcome, "b") == [None, *[160] * 4]


def _times(value: Settings, factor: int) -> Settings:
    return Settings(**{name: ticks * factor for name, ticks in vars(value).items()})


def scaled(session: Session, factor: int) -> Session:
    """The same session with every time multiplied."""

    def each(lengths: Mapping[Any, int]) -> dict[Any, int]:
        return {key: ticks * factor for key, ticks in lengths.items()}

    def one(old: Exercise) -> Exercise:
        return replace(
            old,
            settings=_times(old.settings, factor),
            expected=each(old.expected),
            expected_ramp=each(old.expected_ramp),
            actual=each(old.actual),
            history={s: tuple(h * factor for h in past) for s, past in old.history.items()},
        )

    return replace(
        session,
        blocks=tuple(tuple(one(old) for old in block) for block in session.blocks),
        lead_in=session.lead_in * factor,
        acts=tuple(
            replace(act, after=act.after * factor, amount=act.amount * factor)
            for act in session.acts
        ),
        stations=each(session.stations),
    )


def test_scaled_examples() -> None:
    session = Session(((exercise("a", 3, 20), exercise("b", 2, 20, sides="left first")),), 40)
    assert [b.start * 3 for b in simulate(session).bouts] == [
        b.start for b in simulate(scaled(session, 3)).bouts
    ]
