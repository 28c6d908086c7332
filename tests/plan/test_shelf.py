"""The shipped shelf: every exercise has a card, every progression goes from easier to harder."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from runner.cli.main import main
from runner.errors import Exit
from runner.law.workout import Exercise
from runner.plan.compile import compile_session
from runner.plan.file import read_plan, read_shelf
from runner.plan.models import Plan
from runner.plan.values import PATTERNS
from runner.resources import plans_dir


def _shelf() -> Plan:
    shelf = read_shelf(plans_dir() / "shelf.toml")
    assert shelf is not None
    return shelf


SHELF = _shelf()
EXERCISES = compile_session(SHELF, "shelf").exercises
STRESS = re.compile(
    r"(shoulder (overhead|forward|backward|sideways)|elbow (bent|straight)|wrist extended"
    r"|grip loaded|neck bent|head down|low-back (loaded|arched|sideways|turning)"
    r"|hip (deep|bent|straight|stretched|sideways)|knee (deep|bent|straightening|kneeling)"
    r"|ankle (bent|stretched)|one leg)"
)

# Ids that people have in their records, of the plans as they were before there was a shelf.
RELEASED = {
    "push-up": ("hands-60", "knees", "hands-30", "flat", "feet-30", "feet-60"),
    "band-press": ("mark-1", "mark-2", "slow"),
    "overhead-press": ("rucksack", "slow"),
    "pike-press": ("knees", "feet"),
    "side-raise": ("grip", "slow"),
    "push-down": ("stand", "slow"),
    "close-push-up": ("hands-60", "flat"),
    "bar-row": ("lean-30", "lean-45", "lean-60", "lean-75"),
    "rucksack-row": ("light", "slow"),
    "pull-down": ("mark-1", "mark-2"),
    "straight-arm": ("mark-1", "mark-2"),
    "face-pull": ("mark-1", "mark-2"),
    "pull-apart": ("grip",),
    "curl": ("straps", "slow"),
    "band-curl": ("grip",),
    "squat": ("rucksack", "slow"),
    "split-squat": ("free", "rucksack"),
    "step-up": ("low", "high"),
    "hinge": ("rucksack", "slow"),
    "heel-slide": ("out", "both", "slow"),
    "calf-raise": ("floor", "loaded"),
    "both-calves": ("rucksack",),
    "plank": ("knees", "toes", "long"),
    "leg-lower": ("heel", "bent", "straight"),
    "side-plank": ("knees", "feet"),
    "back-raise": ("sides", "temples", "long"),
    "bird-dog": ("leg", "both"),
    "bench-push-up": ("knees", "feet"),
    "bridge": ("both", "one"),
    "wall-push-up": ("stride",),
    "blade-squeeze": ("stand", "slow"),
    "stand-tall": ("both", "one"),
}


def test_some_forty_exercises_of_every_pattern() -> None:
    assert 40 <= len(EXERCISES) <= 50
    found = {exercise.pattern for exercise in EXERCISES.values()}
    assert found == set(PATTERNS)


@pytest.mark.parametrize("name", RELEASED)
def test_released_ids_stay_in_their_order(name: str) -> None:
    ids = [version.id for version in SHELF.exercise[name].version]
    assert [one for one in ids if one in RELEASED[name]] == list(RELEASED[name])


@pytest.mark.parametrize("name", EXERCISES)
def test_every_exercise_has_a_whole_card(name: str) -> None:
    exercise = SHELF.exercise[name]
    for text in (exercise.start, exercise.how, exercise.counts_when, exercise.stop_if):
        assert text
        assert text.endswith(".")
        assert len(text) <= 160
    assert 1 <= len(exercise.cues) <= 3
    assert all(len(cue) <= 40 for cue in exercise.cues)
    assert exercise.instead
    words = [*(exercise.stress or ()), *(s for v in exercise.version for s in v.stress or ())]
    assert exercise.stress
    assert [word for word in words if not STRESS.fullmatch(word)] == []


@pytest.mark.parametrize("name", EXERCISES)
def test_a_share_has_a_source_and_a_source_a_share(name: str) -> None:
    for version in SHELF.exercise[name].version:
        assert (version.body_share is None) == (version.source is None)


@pytest.mark.parametrize("of", EXERCISES.values(), ids=lambda of: of.id)
def test_shares_and_loads_rise_along_a_progression(of: Exercise) -> None:
    shares = [level.body_share for level in of.progression if level.body_share is not None]
    assert shares == sorted(shares)
    for one, other in pairwise(of.progression):
        if one.version == other.version and one.load is not None:
            assert other.load is not None
            assert one.load < other.load


def test_one_laboratory_in_each_progression() -> None:
    """Never mix laboratories inside one progression: their shares disagree."""
    for exercise in SHELF.exercise.values():
        assert len({(v.source or "").split(";")[0].split(":")[0] for v in exercise.version
                    if v.source}) <= 1  # fmt: skip


def test_computed_shares_are_the_body_without_what_stays_put() -> None:
    """Segments of men as fractions of body mass: de Leva 1996, J Biomech 29:1223-1230."""
    shank, foot, forearm, hand = 0.0433, 0.0137, 0.0162, 0.0061
    for name, share in {
        "squat": 1 - 2 * (shank + foot),
        "sit-stand": 1 - 2 * (shank + foot),
        "one-leg-squat": 1 - shank - foot,
        "step-up": 1 - shank - foot,
        "bar-pull": 1 - 2 * (forearm + hand),
        "calf-raise": 1 - foot,
    }.items():
        shares = {v.body_share for v in SHELF.exercise[name].version} - {None}
        assert len(shares) == 1
        assert shares.pop() == pytest.approx(share, abs=0.0006)


def test_the_floor_needs_no_bench() -> None:
    push = EXERCISES["push-up"]
    at = {level.version: push.at(level.version).station for level in push.progression}
    assert {version for version, station in at.items() if station is None} == {
        "knees", "hands-30", "flat", "feet-30"
    }  # fmt: skip
    assert set(at.values()) == {None, "bench"}


def test_the_floor_s_push_ups_leave_the_bench_as_it_stands() -> None:
    """A push-up on the floor has no change of station, one on the bench at another height has."""
    workout = compile_session(read_plan(plans_dir() / "kestrel-hut.toml"), "A")
    push, squat = workout.exercises["push-up"], workout.exercises["squat"]
    assert squat.at("rucksack").station == push.at("hands-60").station == "bench"
    assert push.at("flat").station is None


@pytest.mark.parametrize("name", EXERCISES)
def test_every_card_fits_eighty_columns(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["show", name]) == Exit.OK
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    flat = " ".join(out.split())
    exercise = SHELF.exercise[name]
    for text in (exercise.start, exercise.how, exercise.counts_when, exercise.stop_if):
        assert text in flat
    assert all(cue in flat for cue in exercise.cues)
    assert all(f"{v.id} " in flat and v.name in flat for v in exercise.version)
    shares = sum(v.body_share is not None for v in exercise.version)
    assert flat.count("% of body mass [") == shares
    assert flat.count("no measured share") == len(exercise.version) - shares


def test_a_card_of_a_plan_and_an_exercise_that_nobody_has(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["show", "rucksack-row", "--plan", "demo"]) == Exit.OK
    assert "2 to 10 kg by 2" in capsys.readouterr().out
    assert main(["show", "pushup"]) == Exit.NO_INPUT
    assert (
        capsys.readouterr().err
        == 'matside: shelf has no exercise "pushup"; did you mean "push-up"?\n'
    )
