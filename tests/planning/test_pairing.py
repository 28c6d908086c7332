"""Which exercises may alternate, and what that saves by the law's own worked examples."""

from __future__ import annotations

import pytest

from runner.planning import pairing
from runner.planning.pairing import Entry, kinship
from tests.law.builders import exercise, length, part, timing, workout


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        # Antagonists (Terminologia Anatomica's groups; press with row in paired-set studies).
        (("chest",), ("upper-back",), "antagonists"),
        (("biceps",), ("triceps",), "antagonists"),
        (("chest", "front-shoulder"), ("lats",), "antagonists"),
        (("chest",), ("quadriceps",), "unrelated"),
        (("chest",), ("chest",), None),
        (("chest", "triceps"), ("triceps",), None),
    ],
)
def test_kinship_by_prime_movers(
    one: tuple[str, ...], other: tuple[str, ...], expected: str | None
) -> None:
    assert kinship(exercise("a", prime=one), exercise("b", prime=other)) == expected
    assert kinship(exercise("b", prime=other), exercise("a", prime=one)) == expected


def test_what_one_trains_must_not_help_in_the_other() -> None:
    press = exercise("press", prime=("chest",), assist=("triceps",))
    extension = exercise("extension", prime=("triceps",))
    assert kinship(press, extension) is None
    assert pairing.crossed(press, extension) == ("triceps",)


def test_a_muscle_loaded_on_both_sides_is_a_helper_too() -> None:
    row = exercise("row", prime=("upper-back",), both_sides=("low-back",), sides="left first")
    raised = exercise("raise", prime=("low-back",))
    assert kinship(row, raised) is None


def test_antagonists_that_share_a_helper_come_last() -> None:
    press = exercise("press", prime=("chest",), assist=("abdomen",))
    row = exercise("row", prime=("upper-back",), assist=("abdomen",))
    assert kinship(press, row) == "shared helper"


def test_a_muscle_named_in_both_roles_is_no_helper() -> None:
    squat = exercise("squat", prime=("quadriceps",), assist=("glutes", "quadriceps"))
    curl = exercise("curl", prime=("hamstrings",))
    assert kinship(squat, curl) == "antagonists"


@pytest.mark.parametrize(
    ("first", "second", "in_turn", "straight"),
    # The law's worked examples: 4 + 4 sets in turn and as two blocks, first set to last.
    [
        (10, 10, 412.5, 860),
        (20, 20, 475, 940),
        (30, 30, 555, 1020),
        (40, 40, 600, 1100),
        (60, 60, 690, 1260),
        (75, 75, 810, 1380),
        (30, 50, 635, 1100),
        (20, 60, 635, 1100),
    ],
)
def test_what_a_pair_saves_is_the_law_s(
    first: float, second: float, in_turn: float, straight: float
) -> None:
    press, row = exercise("press", first), exercise("row", second)
    session = workout([part(press, 4)], [part(row, 4)])
    (pair,) = pairing.possible(session)
    assert pair.saves == pytest.approx(straight - in_turn)
    assert length(pairing.alternated(session, [pair])) == pytest.approx(in_turn)
    assert length(pairing.alternated(session, [])) == pytest.approx(straight)


def test_unequal_numbers_of_sets() -> None:
    # The law's worked example: 4 sets of 40 with 2 of 40 take 520 in turn. Straight they take
    # 4 x 40 + 3 x 120 = 520, a block rest of 60, and 2 x 40 + 120 = 200.
    session = workout([part(exercise("press", 40), 4), part(exercise("row", 40), 2)])
    (pair,) = pairing.possible(session)
    assert length(pairing.alternated(session, [pair])) == pytest.approx(520)
    assert pair.saves == pytest.approx(260)


def test_a_warm_up_set_does_not_unbalance_a_pair() -> None:
    press, row = exercise("press", 40), exercise("row", 40)
    (bare,) = pairing.possible(workout([part(press, 4)], [part(row, 4)]))
    (with_ramp,) = pairing.possible(workout([part(press, 4, ramp=1)], [part(row, 4)]))
    assert with_ramp.saves == bare.saves


def test_the_best_kinship_first_then_what_saves_most() -> None:
    chest = exercise("press", 40, prime=("chest",))
    back = exercise("row", 40, prime=("upper-back",))
    legs = exercise("squat", 40, prime=("quadriceps",))
    brief = exercise("raise", 10, prime=("calves",))
    session = workout([part(chest), part(legs)], [part(brief), part(back)])
    found = [
        (p.kinship, {pairing.exercise_at(session, e).id for e in (p.first, p.second)})
        for p in pairing.possible(session)
    ]
    assert found[0] == ("antagonists", {"press", "row"})
    assert {kin for kin, _ in found[1:]} == {"unrelated"}
    savings = [p.saves for p in pairing.possible(session)][1:]
    assert savings == sorted(savings, reverse=True)


def test_everything_stays_what_it_was_in_new_blocks() -> None:
    press, row, plank = (exercise(n) for n in ("press", "row", "plank"))
    law = timing(90)
    session = workout([part(press, 4, ramp=1)], [part(row, 3, law)], [part(plank, 2)])
    pair = next(p for p in pairing.possible(session) if p.second == Entry(2, 0))
    assert pairing.groups(session, [pair])[0] == (pair.first, pair.second)
    again = pairing.alternated(session, [pair])
    assert sorted(i.exercise for b in again.blocks for i in b.items) == ["plank", "press", "row"]
    assert next(i for b in again.blocks for i in b.items if i.exercise == "press").ramp == 1
    alone = next(b for b in again.blocks if len(b.items) == 1)
    assert alone.timing[alone.items[0].exercise] in (law, timing())


def test_clashes_name_the_muscles() -> None:
    press = exercise("press", prime=("chest",), assist=("triceps",))
    bench = exercise("bench", prime=("chest", "triceps"))
    (clash,) = pairing.clashes(workout([part(press)], [part(bench)]))
    assert (clash.shared, clash.crossed) == (("chest",), ("triceps",))


def test_only_pairs_that_share_a_muscle_clash() -> None:
    press, bench = (exercise(name, prime=("chest",)) for name in ("press", "bench"))
    squat = exercise("squat", prime=("quadriceps",))
    found = pairing.clashes(workout([part(press)], [part(squat)], [part(bench)]))
    assert [(clash.first, clash.second) for clash in found] == [(Entry(0, 0), Entry(2, 0))]


def test_a_circuit_stays_whole() -> None:
    circuit = [part(exercise(name)) for name in ("press", "row", "squat")]
    session = workout(circuit, [part(exercise("curl"))], [part(exercise("raise"))])
    free = pairing.free(session, pairing.possible(session))
    assert [(pair.first, pair.second) for pair in free] == [(Entry(1, 0), Entry(2, 0))]
    assert pairing.groups(session, free) == [
        (Entry(0, 0), Entry(0, 1), Entry(0, 2)),
        (Entry(1, 0), Entry(2, 0)),
    ]


def test_what_stands_under_other_settings_is_not_paired() -> None:
    calm = timing(150)
    parts = [part(exercise("press"))], [part(exercise("row"), law=calm)], [part(exercise("curl"))]
    session = workout(*parts)
    free = pairing.free(session, pairing.possible(session))
    assert [(pair.first, pair.second) for pair in free] == [(Entry(0, 0), Entry(2, 0))]
