"""One person's overlay: read with exact rows, laid over a plan as a hand would edit it.

The plan edited by hand is made here without the program, and what is never to be planned or
offered is looked for in whatever an overlay makes of drawn plans.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from runner.cli.main import main
from runner.errors import Exit, MatsideError
from runner.output import overlay_path
from runner.plan.compile import compile_session
from runner.plan.faults import PlanFaults
from runner.plan.file import parse_plan
from runner.plan.models import Plan
from runner.plan.overlay import read_overlay
from runner.plan.person import PersonalPlan, read_for
from runner.plan.shelf import as_text
from runner.planning.forecast import session_steps, total
from runner.text import is_control
from tests.plan.plans import SHIPPED, SMALL, shipped

Data = dict[str, Any]
HUT = SHIPPED / "kestrel-hut.toml"


def ada(folder: Path, overlay: str, plan: Path = HUT) -> PersonalPlan:
    """The plan for Ada, whose overlay has this text."""
    path = folder / "people" / "Ada.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(overlay, encoding="utf-8")
    return read_for(plan, folder, "Ada")


def rows(folder: Path, overlay: str) -> list[str]:
    """What is said of an overlay that is refused, without its folder."""
    with pytest.raises(PlanFaults) as faults:
        ada(folder, overlay)
    assert faults.value.code == Exit.DATA
    return [line.replace(f"{folder}/people/", "") for line in faults.value.lines]


def blocks(data: Data) -> list[Data]:
    return [block for session in data["session"] for block in session["block"]]


def by_hand(edit: Callable[[Data], object]) -> Plan:
    """The shipped plan, edited, with what its sessions can come to of the shelf."""
    data = shipped("kestrel-hut")
    del data["include"]
    edit(data)
    done = {item["exercise"] for block in blocks(data) for item in block["do"]}
    waiting = list(done)
    while waiting:
        new = set(data["exercise"][waiting.pop()].get("instead", ())) - done
        done |= new
        waiting += new
    data["exercise"] = {name: one for name, one in data["exercise"].items() if name in done}
    places = [one for e in data["exercise"].values() for one in (e, *e["version"])]
    used = {one.get("station") for one in places}
    data["station"] = {name: one for name, one in data["station"].items() if name in used}
    return parse_plan(as_text(data), "hand.toml")


def same(one: Plan, other: Plan) -> None:
    """Every session compiles to the same."""
    assert [s.id for s in one.session] == [s.id for s in other.session]
    for session in one.session:
        assert compile_session(one, session.id) == compile_session(other, session.id)
    assert one.week == other.week


# Reading.


@pytest.mark.parametrize(
    ("overlay", "row"),
    [
        ('off = "kestrel-hut"', 'Ada.toml:1: off: unknown key; did you mean "of"?'),
        ('of = "kestrel-hutt"', 'Ada.toml:1: of: unknown plan "kestrel-hutt"; did you mean "kes'),
        ('minutes = "30 min"', 'Ada.toml:1: minutes: "30 min" is not a duration; did you mean'),
        ('\ndays = ["mon", "wen"]', 'Ada.toml:2: days 2: "wen" is not a day of the week; did you'),
        ('days = "mon"', 'Ada.toml:1: days: "mon" is not a list; write days = ["mon"]'),
        ("reserve = 30", "Ada.toml:1: reserve: 30 is not a reserve; write 0 to 10"),
        ('stress = ["knee deep"]', "Ada.toml:1: stress: unknown key; move it under [avoid]"),
        ('[avoid]\nuntil = "2027-01-15"', 'Ada.toml:2: avoid.until: "2027-01-15" is not a date'),
        ("[avoid]\nuntil = 2027-01-15T10:00:00", "Ada.toml:2: avoid.until: 2027-01-15"),
        ('[avoid]\nexercise = ["pike-pres"]', "Ada.toml:2: avoid.exercise 1: unknown exercise"),
        ('[avoid]\nstress = ["knee deeep"]', "Ada.toml:2: avoid.stress 1: no exercise states"),
        ('[swap]\npush-up = "band-pres"', 'Ada.toml:2: swap.push-up: unknown exercise "band-pres"'),
        ('[swap]\npush-up = "push-up"', "Ada.toml:2: swap.push-up: an exercise cannot replace"),
        (
            '[avoid]\nstress = ["overhead"]\n[swap]\npush-up = "pike-press"',
            'Ada.toml:4: swap.push-up: "pike-press" is avoided (avoid.stress overhead); write ano',
        ),
        ('[sets]\nbar-row = "++1"', 'Ada.toml:2: sets.bar-row: "++1" is not a number'),
        ("[sets]\nbar-rov = 3", 'Ada.toml:2: sets.bar-rov: unknown exercise "bar-rov"; did'),
        ('[limit]\nsquat = "slowly"', 'Ada.toml:2: limit.squat: squat has no version "slowly"'),
        ('[limit]\nsquat = "slow:6kg"', 'Ada.toml:2: limit.squat: "slow:6kg" names a load'),
        ('[start]\nsquat = "rucksack:7kg"', "Ada.toml:2: start.squat: squat has no level"),
        (
            '[limit]\nsquat = "rucksack"\n[start]\nsquat = "slow"',
            'Ada.toml:4: start.squat: "slow" is harder than the limit rucksack; write an easier',
        ),
    ],
)  # fmt: skip
def test_a_fault_names_line_and_nearest_word(tmp_path: Path, overlay: str, row: str) -> None:
    said = rows(tmp_path, overlay)
    assert len(said) == 1
    assert said[0].startswith(row)


def test_all_faults_come_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    said = rows(tmp_path, 'minutes = "x"\nreserve = "y"\n[avoid]\nuntil = 3\n[sets]\nrow = "z"\n')
    assert [line.partition(": ")[0] for line in said] == [f"Ada.toml:{n}" for n in (1, 2, 4, 6)]


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Ada", "Ada.toml"),
        ("Zoë Berg", "Zoë Berg.toml"),
        ("a/b\\c:d", "a%2Fb%5Cc%3Ad.toml"),
        ("..", "%2E%2E.toml"),
        (".ada", "%2Eada.toml"),
        ("100%", "100%25.toml"),
        ('w?*"<>|', "w%3F%2A%22%3C%3E%7C.toml"),
    ],
)
def test_a_name_that_a_file_cannot_have_is_percent_encoded(name: str, file: str) -> None:
    assert overlay_path(Path("data"), name) == Path("data") / "people" / file


@given(st.text(min_size=1), st.text(min_size=1))
def test_two_names_are_two_files(one: str, other: str) -> None:
    paths = [overlay_path(Path("data"), name) for name in (one, other)]
    assert (paths[0] == paths[1]) == (one == other)
    assert all(path.parent == Path("data/people") for path in paths)


def test_without_an_overlay_the_plan_is_the_shared_one(tmp_path: Path) -> None:
    personal = read_for(HUT, tmp_path, "Ben")
    assert personal.plan is personal.shared
    assert personal.overlaid is None
    assert read_overlay(tmp_path, "Ben") is None


# Each key, as the plan edited by hand.


def _without(name: str) -> Callable[[Data], None]:
    """Leave an exercise out, wherever the plan names it."""

    def edit(data: Data) -> None:
        del data["exercise"][name]
        for one in data["exercise"].values():
            if "instead" in one:
                one["instead"] = [other for other in one["instead"] if other != name]
        for block in blocks(data):
            block["do"] = [item for item in block["do"] if item["exercise"] != name]
        for session in data["session"]:
            session["block"] = [block for block in session["block"] if block["do"]]

    return edit


def _swap(data: Data) -> None:
    for block in blocks(data):
        for item in block["do"]:
            if item["exercise"] == "push-up":
                item["exercise"] = "close-push-up"


def _sets(data: Data) -> None:
    for block in blocks(data):
        for item in block["do"]:
            item["sets"] += {"rucksack-row": 1, "calf-raise": -1}.get(item["exercise"], 0)
            item["sets"] = 5 if item["exercise"] == "plank" else item["sets"]


def _limit(data: Data) -> None:
    versions = data["exercise"]["split-squat"]["version"]
    ids = [version["id"] for version in versions]
    data["exercise"]["split-squat"]["version"] = versions[: ids.index("free") + 1]


def _kneeling(data: Data) -> None:
    """Nothing that states "knee kneeling", and nothing that states nothing as a substitute."""
    exercises = data["exercise"]
    gone = set()
    for name, one in exercises.items():
        kept = [v for v in one["version"] if "knee kneeling" not in v.get("stress", one["stress"])]
        one["version"] = kept
        gone |= set() if kept else {name}
    for name in gone:
        _without(name)(data)


@pytest.mark.parametrize(
    ("overlay", "edit"),
    [
        ("", lambda _: None),
        ("reserve = 3", lambda data: data["effort"].update(reserve=3)),
        (
            'days = ["sat", "mon"]',
            lambda data: data["week"].update(days=["mon", "sat"], sessions=[2, 2]),
        ),
        ('[avoid]\nexercise = ["curl"]', _without("curl")),
        ('[avoid]\nstress = ["knee kneeling"]', _kneeling),
        ('[swap]\npush-up = "close-push-up"', _swap),
        ('[sets]\nrucksack-row = "+1"\ncalf-raise = "-1"\nplank = 5', _sets),
        ('[limit]\nsplit-squat = "free"', _limit),
        (
            '[start]\nsquat = "rucksack:8kg"',
            lambda data: data["exercise"]["squat"].update(first_level="rucksack:8kg"),
        ),
    ],
)
def test_a_key_does_what_a_hand_would(
    tmp_path: Path, overlay: str, edit: Callable[[Data], object]
) -> None:
    personal = ada(tmp_path, f'of = "kestrel-hut"\n{overlay}\n')
    same(personal.plan, by_hand(edit))
    same(parse_plan(personal.text, "stored"), personal.plan)  # as a session keeps it


def test_a_phase_comes_no_nearer_to_the_limit_than_the_overlay(tmp_path: Path) -> None:
    (tmp_path / "plans").mkdir()
    text = (SHIPPED / "kestrel-hut.toml").read_text(encoding="utf-8")
    phases = "".join(f"[[phase]]\nweeks = 1\n{key}\n" for key in ("", "reserve = 1", "reserve = 4"))
    path = tmp_path / "plans" / "phased.toml"
    path.write_text(text + phases, encoding="utf-8")
    (tmp_path / "people").mkdir()
    (tmp_path / "people" / "Ada.toml").write_text('of = "phased"\nreserve = 3\n', encoding="utf-8")
    plan = read_for(path, tmp_path, "Ada").plan
    assert (plan.effort.reserve, [one.reserve for one in plan.phase]) == (3, [None, 3, 4])


def test_minutes_shorten_each_session_to_the_time_there_is(tmp_path: Path) -> None:
    personal = ada(tmp_path, 'of = "kestrel-hut"\nminutes = "30:00"\n')
    for session in personal.plan.session:
        assert session.minutes == 1800
        whole = compile_session(personal.shared, session.id)
        short = compile_session(personal.plan, session.id)
        assert total(session_steps(short)) <= 1800 < total(session_steps(whole))
        assert {m for e in _done(whole) for m in e.prime} == {
            m for e in _done(short) for m in e.prime
        }


def _done(workout: Any) -> list[Any]:
    return [workout.exercises[i.exercise] for block in workout.blocks for i in block.items]


def test_an_avoided_exercise_gives_way_to_its_swap_in_any_plan(tmp_path: Path) -> None:
    overlay = 'of = "demo"\nreserve = 5\n[avoid]\nexercise = ["curl"]\n[swap]\ncurl = "plank"\n'
    personal = ada(tmp_path, overlay)
    assert personal.plan.effort.reserve == 2  # that is meant for the demo alone
    done = [i.exercise for s in personal.plan.session for b in s.block for i in b.do]
    assert "curl" not in done
    assert done.count("plank") == 2


def test_a_swap_whose_block_has_the_other_already_leaves_it_out(tmp_path: Path) -> None:
    personal = ada(tmp_path, 'of = "kestrel-hut"\n[swap]\npush-up = "bar-row"\n')
    first = personal.plan.session[0].block[1]
    assert [item.exercise for item in first.do] == ["bar-row"]
    assert personal.overlaid is not None
    assert any("its block has bar-row already" in d.text for d in personal.overlaid.differences)


def test_a_plan_with_nothing_left_is_a_fault(tmp_path: Path) -> None:
    names = [*shipped("kestrel-hut")["exercise"]]
    said = rows(tmp_path, f'of = "kestrel-hut"\n[avoid]\nexercise = {names}\n'.replace("'", '"'))
    wrong = "no exercise of the plan remains; write a [swap], or avoid less"
    assert said == [f"Ada.toml:2: avoid: {wrong}"]


def test_a_first_level_is_where_someone_begins_who_has_none(tmp_path: Path) -> None:
    personal = ada(tmp_path, 'of = "kestrel-hut"\n[start]\nsquat = "rucksack:8kg"\n')
    workout = compile_session(personal.plan, "A")
    planned_sets = [
        step.planned_set for step in session_steps(workout) if step.planned_set is not None
    ]
    assert {s.level.load for s in planned_sets if (s.exercise, s.kind) == ("squat", "work")} == {
        8.0
    }


def test_until_is_asked_about_when_it_is_over_and_in_force_until_then(tmp_path: Path) -> None:
    ada(tmp_path, 'of = "kestrel-hut"\n[avoid]\nexercise = ["curl"]\nuntil = 2027-01-15\n')
    overlay = read_overlay(tmp_path, "Ada")
    assert overlay is not None
    assert not overlay.over(date(2027, 1, 15))
    assert overlay.over(date(2027, 1, 16))
    assert "curl was to be avoided until 15 Jan 2027 and still is" in overlay.question


# Drawn plans: what is avoided is nowhere, and everything else is as it was.

WORDS = ("shoulder overhead", "wrist extended", "knee deep", "low-back loaded")
NAMES = ("a", "b", "c", "d", "e")


@st.composite
def plans(draw: st.DrawFn) -> Data:
    """Exercises with stresses in any place, substitutes for each other, sets of named versions."""
    stresses = st.none() | st.lists(st.sampled_from(WORDS), min_size=1, max_size=2, unique=True)
    exercises: Data = {}
    for name in NAMES:
        versions = [{"id": f"v{n}", "name": "v"} for n in range(draw(st.integers(1, 3)))]
        for one in versions:
            if (own := draw(st.none() | stresses)) is not None:
                one["stress"] = own
        others = [other for other in NAMES if other != name]
        exercises[name] = {
            "name": name,
            "pattern": "horizontal push",
            "prime": ["chest"],
            "instead": draw(st.lists(st.sampled_from(others), max_size=3, unique=True)),
            "version": versions,
        }
        if (stress := draw(stresses)) is not None:
            exercises[name]["stress"] = stress
    sessions = []
    for session in ("A", "B")[: draw(st.integers(1, 2))]:
        made = []
        for _ in range(draw(st.integers(1, 2))):
            items = []
            for name in draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=3, unique=True)):
                item: Data = {"exercise": name, "sets": draw(st.integers(1, 3))}
                if draw(st.booleans()):
                    ids = [version["id"] for version in exercises[name]["version"]]
                    named = st.lists(
                        st.sampled_from(ids), min_size=item["sets"], max_size=item["sets"]
                    )
                    item["versions"] = draw(named)
                items.append(item)
            made.append({"do": items})
        sessions.append({"id": session, "block": made})
    return {"title": "Hut", "exercise": exercises, "session": sessions}


@st.composite
def overlays(draw: st.DrawFn) -> Data:
    avoid = {
        "stress": draw(st.lists(st.sampled_from((*WORDS, "shoulder")), max_size=2, unique=True)),
        "exercise": draw(st.lists(st.sampled_from(NAMES), max_size=2, unique=True)),
    }
    swap = draw(st.dictionaries(st.sampled_from(NAMES), st.sampled_from(NAMES), max_size=2))
    sets = draw(st.dictionaries(st.sampled_from(NAMES), st.sampled_from(("+1", "-1", "2"))))
    limit = draw(st.dictionaries(st.sampled_from(NAMES), st.just("v0"), max_size=2))
    return {"avoid": avoid, "swap": swap, "sets": sets, "limit": limit}


def _avoided(name: str, version: Data, exercise: Data, avoid: Data) -> bool:
    stated = version.get("stress", exercise.get("stress", []))
    words = [set(one.split()) for one in stated]
    hit = any(set(one.split()) <= word for one in avoid["stress"] for word in words)
    return hit or name in avoid["exercise"]


@settings(max_examples=150, deadline=None)
@given(plans(), overlays())
def test_nothing_avoided_is_planned_offered_or_harder(plan: Data, overlay: Data) -> None:
    before = copy.deepcopy(plan)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "hut.toml"
        path.write_text(as_text(plan), encoding="utf-8")
        try:
            personal = ada(Path(folder), as_text(overlay), path)
        except PlanFaults:
            return  # nothing is left, or a swap for what is avoided
    made = personal.plan
    assert parse_plan(personal.text, "stored") == made
    offered = {other for e in made.exercise.values() for other in e.instead}
    for name, exercise in made.exercise.items():
        old = before["exercise"][name]
        versions = {version["id"]: version for version in old["version"]}
        for version in exercise.version:
            assert not _avoided(name, versions[version.id], old, overlay["avoid"])
        assert name not in overlay["limit"] or [v.id for v in exercise.version] == ["v0"]
        states = "stress" in old or any("stress" in version for version in old["version"])
        if overlay["avoid"]["stress"] and not states:
            assert name not in offered
    for session in made.session:
        workout = compile_session(made, session.id)
        for block in workout.blocks:
            for item in block.items:
                assert item.exercise in workout.exercises
                assert item.exercise not in overlay["swap"] or any(
                    other == item.exercise for other in overlay["swap"].values()
                )


# At the command line.


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_check_lists_differences_and_what_each_costs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ada(tmp_path, 'of = "kestrel-hut"\n[avoid]\nexercise = ["curl"]\nuntil = 2026-01-15\n')
    code, out, _ = said(capsys, "check", "kestrel-hut", "--for", "Ada", "--data", str(tmp_path))
    assert code == Exit.OK
    lines = out.splitlines()
    place = lines.index("  avoid.exercise curl: curl is left out (A 2 sets)")
    # Two sets of one exercise a week, by hand: biceps 2 as main muscle, forearms 2/2 as helper.
    assert lines[place + 1] == "    a week: biceps -2, forearms -1"
    assert "Under the aim because of this, in sets a week:" in lines
    assert "Ada.toml: curl was to be avoided until 15 Jan 2026 and still is." in " ".join(
        out.split()
    )


def test_an_exercise_of_unknown_stress_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = shipped("kestrel-hut")
    del data["include"]
    del data["exercise"]["curl"]["stress"]
    mine = tmp_path / "mine.toml"
    mine.write_text(as_text(data), encoding="utf-8")
    overlay = 'of = "mine"\n[avoid]\nstress = ["shoulder overhead", "nose bent"]\n'
    ada(tmp_path, overlay, mine)
    _, out, _ = said(capsys, "check", str(mine), "--for", "Ada", "--data", str(tmp_path))
    assert "They state no stress, so matside never offers them: curl (planned)" in out
    assert "Avoided, but no exercise here states it: nose bent" in out


def test_for_makes_a_template_that_changes_nothing_and_shows_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("VISUAL", raising=False)
    monkeypatch.delenv("EDITOR", raising=False)
    data = ("--data", str(tmp_path))
    code, _, err = said(capsys, "for", "Ada", *data)
    assert code == Exit.NO_INPUT
    assert "matside for Ada --edit" in err
    code, _, err = said(capsys, "for", "Ada", "--edit", *data)
    assert code == Exit.OK
    assert f"no $VISUAL or $EDITOR is set; edit {tmp_path}/people/Ada.toml" in err
    path = tmp_path / "people" / "Ada.toml"
    assert path.stat().st_mode & 0o777 == 0o600
    same(read_for(HUT, tmp_path, "Ada").plan, read_for(HUT, tmp_path, "Ben").plan)
    code, out, _ = said(capsys, "for", "Ada", *data)
    assert (code, out) == (Exit.OK, path.read_text(encoding="utf-8"))


def test_every_line_of_the_template_may_be_used(tmp_path: Path) -> None:
    assert main(["for", "Ada", "--edit", "--data", str(tmp_path)]) == Exit.OK
    path = tmp_path / "people" / "Ada.toml"
    text = path.read_text(encoding="utf-8")
    used = "\n".join(
        line.removeprefix("# ") for line in text.splitlines() if " = " in line or "[" in line
    )
    tomllib.loads(used)
    personal = ada(tmp_path, used)
    assert personal.overlaid is not None
    assert len(personal.overlaid.differences) > 8


def test_the_editor_is_opened_and_its_file_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    editor = tmp_path / "editor"
    editor.write_text('#!/bin/sh\necho "reserve = 99" > "$2"\ntest "$1" = -w\n')
    editor.chmod(0o755)
    monkeypatch.setenv("VISUAL", f"{editor} -w")
    code, _, err = said(capsys, "for", "Ada", "--edit", "--data", str(tmp_path))
    assert code == Exit.DATA
    assert "Ada.toml:1: reserve: 99 is not a reserve" in err
    monkeypatch.setenv("VISUAL", str(tmp_path / "nothing"))
    code, _, err = said(capsys, "for", "Ada", "--edit", "--data", str(tmp_path))
    assert code == Exit.UNAVAILABLE
    assert "cannot be started" in err


JUNK = st.recursive(
    st.sampled_from(["row", "hut", "one", "slow", "mon", "30:00", "+1", "", "\x1b[2J"])
    | st.integers(-(10**20), 10**20)
    | st.booleans()
    | st.floats()
    | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=2)
        | st.dictionaries(st.sampled_from(["row", "hut", "stress", "until", "\n", ""]), inner)
    ),
    max_leaves=4,
)
KEYS = ("of", "minutes", "days", "reserve", "avoid", "swap", "sets", "limit", "start", "row")


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.sampled_from(KEYS), JUNK))
def test_whatever_an_overlay_holds_it_is_used_or_refused_line_by_line(overlay: Data) -> None:
    with TemporaryDirectory() as folder:
        code, lines = Exit.DATA, list[str]()
        try:
            (Path(folder) / "hut.toml").write_text(SMALL, encoding="utf-8")
            ada(Path(folder), as_text(overlay), Path(folder) / "hut.toml")
        except MatsideError as refused:
            code, lines = Exit(refused.code), list(refused.lines)
    assert code == Exit.DATA
    assert not any(is_control(sign) for line in lines for sign in line)


def test_a_path_of_another_laptop_means_the_plan_of_that_name(tmp_path: Path) -> None:
    overlay = 'of = "/home/coach/kestrel-hut.toml"\nreserve = 4\n'
    assert ada(tmp_path, overlay).plan.effort.reserve == 4
    other = tmp_path / "hut.toml"
    other.write_text(SMALL, encoding="utf-8")
    assert ada(tmp_path, overlay, other).plan.effort.reserve is None
    assert main(["for", "Ada", "--data", str(tmp_path)]) == Exit.OK
