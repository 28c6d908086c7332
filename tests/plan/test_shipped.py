"""The plans that come along hold to what we ask of everybody's."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.cli.main import main
from runner.errors import Exit
from runner.law.workout import Workout
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.models import Plan
from runner.plan.review import content_warnings, tally
from runner.planning.forecast import session_steps, straight, total
from runner.resources import plans_dir

SHELF = plans_dir() / "shelf.toml"
SHIPPED = [path for path in sorted(plans_dir().glob("*.toml")) if path != SHELF]


def shipped(stem: str) -> Plan:
    return read_plan(plans_dir() / f"{stem}.toml")


def sessions(plan: Plan) -> list[Workout]:
    return [compile_session(plan, session.id) for session in plan.session]


def test_two_plans_and_a_shelf_come_along() -> None:
    assert SHELF.exists()
    assert [path.stem for path in SHIPPED] == ["demo", "kestrel-hut"]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_there_is_nothing_to_remark(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert content_warnings(read_plan(path)) == []
    assert main(["check", str(path)]) == Exit.OK
    assert "warning" not in capsys.readouterr().out


def test_the_demo_is_a_trial_of_about_two_minutes() -> None:
    plan = shipped("demo")
    assert plan.trial
    (demo,) = sessions(plan)
    assert 90 <= total(session_steps(demo)) <= 130
    used = [demo.exercises[item.exercise] for block in demo.blocks for item in block.items]
    assert len(demo.blocks[0].items) == 2
    assert "hold" in {exercise.measure for exercise in used}
    assert {"left first", "right first"} & {exercise.sides for exercise in used}
    assert demo.lead_in <= 5


def test_the_full_plan_has_three_sessions_of_40_to_60_minutes() -> None:
    plan = shipped("kestrel-hut")
    assert not plan.trial
    found = sessions(plan)
    assert [workout.session for workout in found] == ["A", "B", "C"]
    assert plan.effort.seconds_a_rep == 3
    for workout in found:
        assert 40 * 60 <= total(session_steps(workout)) <= 50 * 60
        assert total(session_steps(workout)) < 0.75 * total(session_steps(straight(workout)))


def test_the_full_plan_reaches_its_weekly_sets_for_every_muscle() -> None:
    plan = shipped("kestrel-hut")
    assert plan.week.sets == (10, 20)
    sets = tally(sessions(plan)).by_muscle
    larger = set(sets) - set(plan.week.muscles)
    assert larger >= {
        *("chest", "upper-back", "lats", "front-shoulder", "side-shoulder", "rear-shoulder"),
        *("biceps", "triceps", "abdomen", "low-back"),
        *("glutes", "quadriceps", "hamstrings"),
    }
    for muscle, count in sets.items():
        least, most = dict(plan.week.muscles.items()).get(muscle, plan.week.sets)
        assert least <= count <= most, muscle


def test_the_full_plan_shows_what_a_plan_can_do() -> None:
    plan = shipped("kestrel-hut")
    found = sessions(plan)
    items = [item for w in found for block in w.blocks for item in block.items]
    exercises = found[0].exercises
    used = [exercises[item.exercise] for item in items]
    assert {len(block.items) for w in found for block in w.blocks} == {2}
    assert any(item.ramp for item in items)
    assert any(exercise.measure == "hold" for exercise in used)
    legs = [e for e in used if e.sides != "together" and "quadriceps" in e.prime]
    assert legs
    assert all(plan.exercise[leg.id].breather for leg in legs)
    vertical = [e for e in used if e.pattern == "vertical push"]
    assert len(vertical) >= 2
    anchors = [dict(level.setup)["anchor"] for level in exercises["band-press"].progression]
    assert anchors[:6] == ["100 cm", "120 cm", "140 cm", "160 cm", "180 cm", "200 cm"]
    assert exercises["rucksack-row"].progression[1].load == 6
    assert {e.way_out is not None for e in used if e.load_on in {"back", "overhead"}} == {True}
    assert all(station.check for station in found[0].stations.values())


def test_the_push_ups_have_the_published_shares_in_their_order() -> None:
    """Ebben et al. 2011, J Strength Cond Res 25:2891-2894; one laboratory for all of them."""
    progression = sessions(shipped("kestrel-hut"))[0].exercises["push-up"].progression
    shares = {
        "hands-60": 0.41,
        "knees": 0.49,
        "hands-30": 0.55,
        "flat": 0.64,
        "feet-30": 0.70,
        "feet-60": 0.74,
        "rucksack": 0.74,
    }
    assert {level.version: level.body_share for level in progression} == shares
    assert [level.body_share for level in progression] == sorted(
        level.body_share or 0 for level in progression
    )
    assert all("Ebben et al. 2011" in (level.source or "") for level in progression)
    # At 75 kg, exact: 30.75, 36.75, 41.25, 48.00, 52.50, 55.50 kg.
    kilograms = [
        round(75 * (level.body_share or 0), 2) for level in progression if level.load is None
    ]
    assert kilograms == [30.75, 36.75, 41.25, 48.0, 52.5, 55.5]
