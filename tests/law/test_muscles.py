"""The muscle ids: as the reference sheet lists them, each pair of antagonists both ways."""

from __future__ import annotations

import re

from runner.law.muscles import ANTAGONISTS, MUSCLES, Muscle, fits


def test_ids_are_words_with_hyphens_each_once() -> None:
    assert len(set(MUSCLES)) == len(MUSCLES) == 22
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", muscle) for muscle in MUSCLES)


def test_antagonists_work_both_ways() -> None:
    assert set(ANTAGONISTS) == set(MUSCLES)
    for muscle, others in ANTAGONISTS.items():
        assert muscle not in others
        assert all(muscle in ANTAGONISTS[other] for other in others)


def test_the_pairs_that_a_plan_is_checked_for() -> None:
    pairs: set[tuple[Muscle, Muscle]] = {
        ("chest", "upper-back"),
        ("quadriceps", "hamstrings"),
        ("biceps", "triceps"),
    }
    pairs.add(("abdomen", "low-back"))
    assert all(other in ANTAGONISTS[muscle] for muscle, other in pairs)


def test_a_pattern_fits_by_one_of_its_main_muscles() -> None:
    assert fits("squat", ["quadriceps", "calves"])
    assert not fits("squat", ["biceps", "calves"])
    assert fits("a dance", ["biceps"])  # nothing is known of it
    assert fits("squat", ["thumb"])  # nor of that
