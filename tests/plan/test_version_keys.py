"""Sides, measure, station and stress of a version: as if the plan had that version alone.

On drawn plans a session with the keys in the versions is run beside one of a plan edited by hand,
whose exercises have the version that is worked at alone, with its keys their own. The edit is made
here on plain data. A version that is changed in the session, by `harder`, `easier` or `swap`, is
held against a session that has it from the start.
"""

from __future__ import annotations

import copy
import csv
import io
import json
import re
from datetime import date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings, strategies as st

from runner.cli.main import main
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.plan.review import tally
from runner.plan.shelf import as_text
from runner.planning.shorten import fit_session
from runner.progress.adjust import Baseline, begin_course
from runner.progress.history import SetRow
from runner.progress.week_aims import under_aim
from runner.reports.timeline import as_data
from tests.lines.manual import run, script
from tests.plan.plans import rows as plan_rows
from tests.plans import plan as hut_plan

Data = dict[str, Any]
KEYS = ("sides", "measure", "station", "stress")
NAMES = ("a", "b", "c")
STATIONS: Data = {
    name: {"name": name, "change": 7.0, "bears_body_weight": True, "check": "Try it."}
    for name in ("bar", "bench")
}

own_keys = st.fixed_dictionaries(
    {},
    optional={
        "sides": st.sampled_from(["together", "left first", "right first"]),
        "measure": st.sampled_from(["reps", "hold"]),
        "station": st.sampled_from(["bar", "bench"]),
        "stress": st.sampled_from([[], ["knee deep"], ["wrist extended"]]),
    },
)


@st.composite
def plans(draw: st.DrawFn) -> Data:
    """Up to two exercises in a block, a third for their place; two or three versions of each."""
    exercises: Data = {}
    for name in NAMES:
        versions = [
            {"id": f"v{n}", "name": f"v{n}", "body_share": 0.2 + n / 10, **draw(own_keys)}
            for n in range(draw(st.integers(2, 3)))
        ]
        for number, version in enumerate(versions):
            version["setup"] = {f"height {number}": f"{60 - 10 * number} cm"}
        exercises[name] = {
            "name": name,
            "pattern": "horizontal push",
            "prime": [draw(st.sampled_from(["chest", "triceps", "lats"]))],
            "assist": ["abdomen"],
            "both_sides": ["low-back"],
            "reps": [5, 9],
            "hold": ["4s", "9s"],
            "instead": ["c"] if name != "c" else [],
            "version": versions,
            **draw(own_keys),
        }
    items = [
        {"exercise": name, "sets": draw(st.integers(1, 3)), "ramp": draw(st.integers(0, 1))}
        for name in draw(st.sampled_from([("a",), ("a", "b")]))
    ]
    return {
        "title": "Hut",
        "timing": {"recovery": "20s", "changeover": ["2s", "4s"], "side_gap": "3s"},
        "station": copy.deepcopy(STATIONS),
        "exercise": exercises,
        "session": [{"id": "A", "block": [{"do": items}, {"do": [{"exercise": "b", "sets": 1}]}]}],
    }


def usable(plan: Data) -> Data:
    """The plan without keys that no version of an exercise can use, as the checks have it."""
    for one in plan["exercise"].values():
        of = [{**one, **version} for version in one["version"]]
        measures = {version.get("measure", "reps") for version in of}
        if "reps" not in measures:
            one.pop("reps", None)
        if "hold" not in measures:
            one.pop("hold", None)
        if {version.get("sides", "together") for version in of} == {"together"}:
            one.pop("both_sides", None)
    return plan


def beginning_at(plan: Data, at: dict[str, int]) -> Data:
    """The plan whose exercises begin at these versions; no lighter version for the ramp sets."""
    made = copy.deepcopy(plan)
    for name, number in at.items():
        one = made["exercise"][name]
        one["first_level"] = one["version"][number]["id"]
    return usable(made)


def by_hand(plan: Data, at: dict[str, int]) -> Data:
    """The same with that version alone, its keys those of the exercise."""
    made = copy.deepcopy(plan)
    for name, number in at.items():
        one = made["exercise"][name]
        version = one["version"][number]
        one.update({key: version.pop(key) for key in KEYS if key in version})
        one["version"] = [version]
    return usable(made)


def workout_of(plan: Data) -> Any:
    return compile_session(parse_plan(as_text(plan), "hut"), "A")


def ran(plan: Data, *lines: str) -> tuple[str, list[SetRow]]:
    """What line mode prints in a session, but for its id; and its rows."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "hut.toml"
        path.write_text(as_text(plan), encoding="utf-8")
        done = run(path, Path(folder) / "data", script(*lines, step=2.0))
        out = re.sub(r"session=\S+", "", done.out)
        return out, [row._replace(session_id="") for row in done.live.rows()]


LINES = st.lists(
    st.sampled_from(["", "", "go", "go", "12", "6 7", "5s", "skip", "nocount", "undo", "pause"]),
    max_size=25,
)
NOTHING_UNDONE = LINES.map(lambda lines: [line for line in lines if line != "undo"])
AT = st.fixed_dictionaries({name: st.integers(0, 1) for name in NAMES})
NO_RAMP = settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def without_ramps(plan: Data) -> Data:
    """A warm-up set is done in the version before, which the plan by hand does not have."""
    for session in plan["session"]:
        for block in session["block"]:
            for item in block["do"]:
                item["ramp"] = 0
    return plan


@NO_RAMP
@given(plans(), AT, LINES)
def test_a_session_is_that_of_the_plan_edited_by_hand(
    plan: Data, at: dict[str, int], lines: list[str]
) -> None:
    plan = without_ramps(plan)
    one, other = beginning_at(plan, at), by_hand(plan, at)
    workouts = workout_of(one), workout_of(other)
    timelines = [as_data(workout, Baseline()) for workout in workouts]
    assert timelines[0] == timelines[1]
    fits = [fit_session(begin_course(workout), 30.0) for workout in workouts]
    assert fits[0] == fits[1]
    assert ran(one, "", "go", *lines) == ran(other, "", "go", *lines)


@NO_RAMP
@given(plans(), AT, NOTHING_UNDONE, st.sampled_from(["harder", "easier"]))
def test_another_version_from_here_on_is_as_if_it_had_been_from_the_start(
    plan: Data, at: dict[str, int], lines: list[str], word: str
) -> None:
    first = plan["session"][0]["block"][0]["do"][0]["exercise"]
    before = at[first]
    after = before + 1 if word == "harder" else before - 1
    if not 0 <= after < len(plan["exercise"][first]["version"]):
        return
    out, changed = ran(beginning_at(plan, at), "", word, "go", *lines)
    assume("\tversion\t" in out)  # one leg is not easier than two, whatever the order
    from_start = ran(beginning_at(plan, at | {first: after}), "", "note x", "go", *lines)[1]
    assert [row._replace(note="") for row in changed] == [
        row._replace(note="") for row in from_start
    ]


@NO_RAMP
@given(plans(), AT, NOTHING_UNDONE)
def test_a_substitute_is_as_if_it_were_planned(
    plan: Data, at: dict[str, int], lines: list[str]
) -> None:
    plan = without_ramps(plan)
    item = plan["session"][0]["block"][0]["do"][0]
    swapped = ran(beginning_at(plan, at), "", "swap", "go", *lines)[1]
    item["exercise"] = "c"
    planned = ran(beginning_at(plan, at), "", "note x", "go", *lines)[1]
    assert [row._replace(swapped_for="", note="") for row in swapped] == [
        row._replace(note="") for row in planned
    ]


TWO_LEGS = hut_plan(
    "Hut",
    {
        "bridge": {
            "name": "Bridge",
            "pattern": "hinge",
            "prime": ["glutes"],
            "both_sides": ["low-back"],
            "reps": [5, 9],
            "hold": ["10s", "20s"],
            "version": [
                {"id": "two", "name": "two legs", "body_share": 0.5},
                {"id": "one", "name": "one leg", "body_share": 0.5, "sides": "left first"},
                {
                    "id": "still",
                    "name": "one leg, held",
                    "body_share": 0.5,
                    "sides": "right first",
                    "measure": "hold",
                },
            ],
        }
    },
    [{"bridge": 4}],
)


def test_two_legs_one_leg_and_a_hold_in_one_session(tmp_path: Path) -> None:
    (tmp_path / "hut.toml").write_text(TWO_LEGS, encoding="utf-8")
    done = run(
        tmp_path / "hut.toml",
        tmp_path / "data",
        script("", "go", "", "9", "harder", "go", "", "8 7", "go", "", "harder", "go", "", "go", "",
               "easier", "go", "", "6", "go", "", "5"),
    )  # fmt: skip
    found = [
        (row.version, row.side, row.measure, row.reps, row.hold_s is not None, row.synergists)
        for row in done.live.rows()
    ]
    assert found == [
        ("two", "both", "reps", 9, False, ""),
        ("one", "left", "reps", 8, False, "low-back"),
        ("one", "right", "reps", 7, False, "low-back"),
        ("still", "right", "hold", None, True, "low-back"),
        ("still", "left", "hold", None, True, "low-back"),
        ("one", "left", "reps", 6, False, "low-back"),
        ("one", "right", "reps", 5, False, "low-back"),
    ]
    # One leg moves all of the share, two legs half of it each: Levels are compared for one limb.
    bridge = done.live.driver.state.workout.exercises["bridge"]
    assert [level.sides for level in bridge.progression] == [
        "together", "left first", "right first"
    ]  # fmt: skip


def test_one_sided_beside_two_sided_counts_alike_before_and_after(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One set on two legs, then three on one: the low back helps in those three, by half."""
    plan = tmp_path / "plans" / "hut.toml"
    plan.parent.mkdir()
    named = 'sets = 4, versions = ["two", "one", "one", "one"]'
    plan.write_text(TWO_LEGS.replace("sets = 4", named), encoding="utf-8")
    today = datetime.now().astimezone().date()
    lines = ("", "go", "", "9", *("go", "", "go", "", "8 7") * 3)
    run(plan, tmp_path, script(*lines), on=today)

    def said(*words: str) -> str:
        assert main([*words, "--data", str(tmp_path)]) == 0
        return " ".join(capsys.readouterr().out.split())

    capsys.readouterr()
    workout = compile_session(parse_plan(plan.read_text(encoding="utf-8"), "hut"), "A")
    before = tally([workout])
    assert (before.work_sets, before.by_muscle) == (4, {"glutes": 4.0, "low-back": 1.5})
    assert under_aim([workout], (2, 2), {"low-back": (3.0, 4.0)}) == {"glutes"}
    week = csv.DictReader(io.StringIO(said_rows(tmp_path, capsys, "weeks")))
    after = {row["muscle"]: float(row["sets"]) for row in week if row["muscle"]}
    assert after == before.by_muscle
    rows = csv.DictReader(io.StringIO(said_rows(tmp_path, capsys, "sets")))
    assert [(row["version"], row["side"], row["synergists"]) for row in rows] == [
        ("two", "both", ""), *[("one", side, "low-back") for side in ("left", "right")] * 3
    ]  # fmt: skip
    (ada,) = json.loads(said("roster", "--json"))
    assert (ada["done"], ada["session"]) == (1, "A")
    assert "low-back 1.5 too little" in said("review", "--all", "--plain", "--for", "Ada")
    out = tmp_path / "ada.html"
    assert main(["sheet", "hut", "--for", "Ada", "-o", str(out), "--data", str(tmp_path)]) == 0
    page = out.read_text(encoding="utf-8")
    assert ("12 11/2 9" in page, "12|11" in page) == (True, True)


def said_rows(data: Path, capsys: pytest.CaptureFixture[str], what: str) -> str:
    """An exported table."""
    capsys.readouterr()
    assert main(["export", "--what", what, "--data", str(data)]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize(
    ("change", "row"),
    [
        (
            ('sides = "left first"\n', 'sides = "left"\n'),
            'exercise.bridge.version.one.sides: "left"',
        ),
        (('measure = "hold"\n', 'measure = "hold"\ntempo = "2-0-1"\n'), "a hold has no tempo"),
        (('measure = "hold"\n', ""), "exercise.bridge.hold: this exercise counts repetitions"),
        (
            ('prime = ["glutes"]\n', 'prime = ["glutes"]\nmeasure = "hold"\n'),
            "exercise.bridge.reps: a hold has no repetitions",
        ),
    ],
)
def test_faults_look_at_every_version(change: tuple[str, str], row: str) -> None:
    assert any(row in line for line in plan_rows(change, text=TWO_LEGS))


def test_both_sides_wants_one_version_that_is_one_sided() -> None:
    text = TWO_LEGS.replace('sides = "left first"\n', "").replace('sides = "right first"\n', "")
    assert plan_rows(text=text) == [
        'exercise.bridge.both_sides: both_sides needs one-sided work; write sides = "left first", '
        "or name the muscles in assist"
    ]


def test_advice_goes_from_two_legs_to_one_and_on_to_a_hold(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each version is judged by its own range and unit; what nobody can foresee is a bridge."""
    plan, data = tmp_path / "hut.toml", tmp_path / "data"
    plan.write_text(TWO_LEGS.replace("sets = 4", "sets = 2"), encoding="utf-8")
    today = date.today()  # noqa: DTZ011 - a person's date

    def said(*words: str) -> str:
        capsys.readouterr()
        assert main(["next", str(plan), "--for", "Ada", "--data", str(data), *words]) == 0
        return " ".join(capsys.readouterr().out.split())

    for ago in (12, 10):
        done = script("", "go", "", "9", "go", "", "9", "")
        run(plan, data, done, on=today - timedelta(days=ago))
    assert "once at 20, then one, to reach 5 there" in said()  # one leg carries twice as much
    assert "Bridge: one since" in said("--set", "bridge=one")
    for ago in (7, 5):
        done = script("", "go", "", "go", "", "9 9", "go", "", "go", "", "9 9", "")
        run(plan, data, done, on=today - timedelta(days=ago))
    shown = said()
    assert "9 and 9 of 9 on the weaker side" in shown
    assert "-> the first set with still" in shown  # 9 repetitions say nothing of a hold
    shown = said("--accept", "bridge")
    assert "first set: still" in shown
    assert "first set of 10 s with still: twice at 10 s, then all sets" in shown
