"""A corpus of plans: bad ones with the objection that each must draw, good ones that draw none.

The bounds are those of reference-values: 48 h and at most 5 days (ACSM 2009), counts of 6 to 15
or 15 to 40 (Iversen et al. 2021); 10 sets of a muscle and 40 sets in a session are our choice.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest
import tomlkit

from runner.cli.main import main
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan, read_plan
from runner.plan.objections import Objection, objections
from tests.plan.plans import SHIPPED

Data = dict[str, Any]


def exercise(pattern: str, *prime: str, **more: Any) -> Data:
    versions = [{"id": "one", "name": "one", "load": {"from": 4, "to": 12, "by": 4}}]
    return {
        "name": pattern.title(),
        "pattern": pattern,
        "prime": list(prime),
        "version": versions,
        **more,
    }


def block(*items: str, sets: int = 3, **more: Any) -> Data:
    return {"do": [{"exercise": name, "sets": sets} for name in items], **more}


UPPER = [block("push-up", "row"), block("press", "pull-down")]
LOWER = [block("squat", "plank"), block("hinge")]
WHOLE = [
    block("squat", "row"),
    block("push-up", "pull-down"),
    block("hinge", "plank"),
    block("press", sets=2),
]


def good() -> Data:
    """Two whole-body sessions a week, each muscle twice."""
    blocks = copy.deepcopy(WHOLE)
    return {
        "title": "Hut",
        "exercise": {
            "squat": exercise("squat", "quadriceps", "glutes"),
            "push-up": exercise("horizontal push", "chest", assist=["triceps"]),
            "row": exercise("horizontal pull", "upper-back", assist=["biceps"]),
            "press": exercise("vertical push", "front-shoulder"),
            "pull-down": exercise("vertical pull", "lats"),
            "hinge": exercise("hinge", "hamstrings"),
            "plank": exercise("trunk", "abdomen", measure="hold"),
        },
        "session": [
            {"id": "A", "warm_up": "4:00", "block": blocks},
            {"id": "B", "warm_up": "4:00", "block": copy.deepcopy(blocks)},
        ],
    }


def levels(*versions: Data) -> list[Data]:
    return [{"id": f"v{number}", "name": "some", **v} for number, v in enumerate(versions)]


def versions(name: str, *some: Data, **more: Any) -> Callable[[Data], None]:
    def change(plan: Data) -> None:
        plan["exercise"][name].update(version=levels(*some), **more)

    return change


def keys(name: str, **more: Any) -> Callable[[Data], None]:
    return lambda plan: plan["exercise"][name].update(more)


def sessions(*some: list[Data], **more: Any) -> Callable[[Data], None]:
    def change(plan: Data) -> None:
        plan["session"] = [
            {"id": f"S{n}", "warm_up": "4:00", "block": blocks, **more}
            for n, blocks in enumerate(some)
        ]

    return change


def without(*names: str) -> Callable[[Data], None]:
    """The plan without these exercises, in every block."""

    def change(plan: Data) -> None:
        for session in plan["session"]:
            for one in session["block"]:
                one["do"] = [item for item in one["do"] if item["exercise"] not in names]
            session["block"] = [one for one in session["block"] if one["do"]]

    return change


def sets(**numbers: int) -> Callable[[Data], None]:
    def change(plan: Data) -> None:
        for session in plan["session"]:
            for one in session["block"]:
                for item in one["do"]:
                    item["sets"] = numbers.get(item["exercise"].replace("-", "_"), item["sets"])

    return change


def each(**more: Any) -> Callable[[Data], None]:
    """Keys of every session."""

    def change(plan: Data) -> None:
        for session in plan["session"]:
            session.update(more)

    return change


def top(**more: Any) -> Callable[[Data], None]:
    return lambda plan: plan.update(more)


BAD: list[tuple[str, Callable[[Data], None], str]] = [
    ("loads from heavy to light", versions("squat", {"load": {"from": 12, "to": 4, "by": -4}}),
     "order"),
    ("a lighter version after a heavier", versions("squat", {"load": 20}, {"load": 10}), "order"),
    ("lighter ranges later", versions("row", {"load": {"from": 8, "to": 16, "by": 4}},
     {"load": {"from": 4, "to": 8, "by": 4}}), "order"),
    ("shares that fall", versions("push-up", {"body_share": 0.64}, {"body_share": 0.49}), "order"),
    ("shares that fall later on", versions("push-up", {"body_share": 0.41}, {"body_share": 0.74},
     {"body_share": 0.70}), "order"),
    ("a share that falls past a slow version", versions("push-up", {"body_share": 0.64},
     {"body_share": 0.64, "tempo": "3-1-1"}, {"body_share": 0.55}), "order"),
    ("one tempo, lighter", versions("hinge", {"load": 20, "tempo": "3-1-1"},
     {"load": 12, "tempo": "3-1-1"}), "order"),
    ("a row that trains the chest", keys("row", prime=["chest"]), "pattern"),
    ("a squat for the arms", keys("squat", prime=["biceps"]), "pattern"),
    ("a press for the lats", keys("push-up", prime=["lats"]), "pattern"),
    ("a hinge for the quadriceps", keys("hinge", prime=["quadriceps"]), "pattern"),
    ("a plank for the calves", keys("plank", prime=["calves"]), "pattern"),
    ("a pull-down for the triceps", keys("pull-down", prime=["triceps"]), "pattern"),
    ("no push", without("push-up", "press"), "missing pattern"),
    ("no pull", without("row", "pull-down"), "missing pattern"),
    ("no hinge", without("hinge"), "missing pattern"),
    ("no squat", without("squat"), "missing pattern"),
    ("nothing for the trunk", without("plank"), "missing pattern"),
    ("11 sets of a muscle in a session", sets(squat=11), "sets of a muscle"),
    ("helpers bring a muscle over 10", lambda plan: (keys("press", assist=["chest"])(plan),
     sessions([*WHOLE, block("press", sets=4), block("push-up", "row", sets=6)])(plan)),
     "sets of a muscle"),
    ("48 work sets in a session", sets(squat=8, row=8, push_up=8, pull_down=8, hinge=8, plank=8),
     "sets of a session"),
    ("the same session on five days", top(week={"sessions": [5, 5]}), "following days"),
    ("four whole-body sessions", sessions(WHOLE, WHOLE, WHOLE, WHOLE), "following days"),
    ("four upper days of five", sessions(UPPER, UPPER, LOWER, UPPER, UPPER),
     "following days"),
    ("six days a week", top(week={"sessions": [6, 6]}), "days"),
    ("seven sessions", sessions(*[WHOLE] * 7), "days"),
    ("every set to the limit", top(effort={"reserve": 0}), "reserve"),
    ("to the limit, said for each", lambda plan: [keys(name, reserve=0)(plan)
     for name in plan["exercise"]], "reserve"),
    ("counts from 3", top(effort={"reps": [3, 8]}), "range"),
    ("counts to 35", top(effort={"reps": [15, 35]}), "range"),
    ("one exercise to 40", keys("squat", reps=[20, 40]), "range"),
    ("one exercise from 1", keys("row", reps=[1, 5]), "range"),
    ("no warm-up", each(warm_up="0s"), "warm-up"),
    ("a warm-up in one of two", lambda plan: plan["session"][1].update(warm_up="0s"), "warm-up"),
    ("three times as much push", lambda plan: (without("pull-down")(plan),
     sets(push_up=6, row=2)(plan)), "push and pull"),
    ("half as much push", sets(push_up=2, row=4, pull_down=4), "push and pull"),
    ("a load on the back, no way out", keys("squat", load_on="back"), "way out"),
    ("a load overhead, no way out", keys("press", load_on="overhead"), "way out"),
]  # fmt: skip

GOOD: list[tuple[str, Callable[[Data], None]]] = [
    ("the plan itself", top(summary="As it is.")),
    ("straight sets", lambda plan: [
        s.update(block=[block(i["exercise"]) for one in s["block"] for i in one["do"]])
        for s in plan["session"]
    ]),
    ("trios", each(block=[
        block("squat", "push-up", "row"), block("hinge", "press", "pull-down"), block("plank"),
    ])),
    ("upper and lower, twice", sessions(UPPER, LOWER, UPPER, LOWER)),
    ("three times a week", top(week={"sessions": [3, 3], "sets": [6, 12]})),
    ("a warm-up set in place of a warm-up", lambda plan: [
        (s.update(warm_up="0s"), s["block"][0]["do"][0].update(ramp=1)) for s in plan["session"]
    ]),
    ("two exercises and no warm-up", sessions([block("push-up", "row")], warm_up="0s")),
    ("a trial of whatever", lambda plan: (top(trial=True, effort={"reserve": 0})(plan),
                                          each(warm_up="0s")(plan))),
    ("slower, then lighter; one side, then both", versions(
        "squat", {"load": 20, "body_share": 0.886},
        {"load": 10, "body_share": 0.886, "tempo": "3-1-1"})),
    ("one exercise to the limit", keys("plank", reserve=0)),
    ("a higher set-up with less load", versions(
        "row", {"load": 20, "setup": {"height": "45 cm"}},
        {"load": 8, "setup": {"height": "30 cm"}})),
    ("a load on the back with a way out", keys("squat", load_on="back", way_out="Sit down.")),
    ("somewhat more pull than push", sets(push_up=2)),
]  # fmt: skip


def drawn(change: Callable[[Data], object]) -> list[Objection]:
    data = good()
    change(data)
    plan = parse_plan(tomlkit.dumps(data), "hut.toml")
    return objections(plan, [compile_session(plan, session.id) for session in plan.session])


@pytest.mark.parametrize(("change", "rule"), [case[1:] for case in BAD], ids=[c[0] for c in BAD])
def test_a_bad_plan_draws_its_objection_and_no_other(
    change: Callable[[Data], object], rule: str
) -> None:
    found = drawn(change)
    assert {one.rule for one in found} == {rule}
    for one in found:
        assert one.wrong
        assert one.remedy
        assert one.ground


@pytest.mark.parametrize("change", [c[1] for c in GOOD], ids=[c[0] for c in GOOD])
def test_a_good_plan_draws_none(change: Callable[[Data], object]) -> None:
    assert drawn(change) == []


@pytest.mark.parametrize("stem", ["kestrel-hut", "demo"])
def test_the_shipped_plans_draw_none(stem: str) -> None:
    plan = read_plan(SHIPPED / f"{stem}.toml")
    assert objections(plan, [compile_session(plan, s.id) for s in plan.session]) == []


def test_the_corpus_is_as_large_as_it_should_be() -> None:
    assert len(BAD) >= 30
    assert len(GOOD) + 2 >= 10
    rules = {rule for _, _, rule in BAD}
    assert len(rules) == 12


def test_check_says_them_with_ground_and_remedy(
    tmp_path: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    data = good()
    data["session"][0]["warm_up"] = "0s"
    path = tmp_path / "hut.toml"
    path.write_text(tomlkit.dumps(data), encoding="utf-8")
    assert main(["check", str(path)]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[0] == f"{path}: good"
    assert (
        'session.A: objection: no warm-up and no warm-up set; write warm_up = "4:00", or '
        "ramp = 1 in the first exercises (common practice)"
    ) in " ".join(out.split())
