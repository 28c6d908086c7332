"""Events as plain data and back, and the memory that the first of them keeps."""

from __future__ import annotations

import json

import pytest

from runner.law.course import working_index
from runner.law.workout import Level, load_text, parse_setup, setup_text
from runner.progress.adjust import Baseline, beat_key
from runner.session import events as ev, verb as cmd
from runner.session.apply import replay
from tests.law.builders import exercise, part, workout
from tests.session.mat import Mat

WHERE = {"block": 1, "round": 2, "exercise": "press", "set": 2, "side": "left", "version": "v"}
SET = WHERE | {"entry": 3}

EVENTS = [
    ("opened", {"history": {"held": [["press", "", 1]], "lengths": [], "to_beat": []}}),
    ("adjusted", {"taken": ["lighter"], "changes": [{"kind": "share", "number": 0.5}]}),
    ("begun", {}),
    ("resting", {"until": 90.25, "why": "changeover", "next": "row", "side": "both"}),
    ("started", SET | {"by": "clock", "to_beat": 12.0}),
    ("started", SET | {"by": "person"}),
    ("ended", SET | {"by": "person", "work_s": 40.125}),
    ("ended", SET | {"by": "clock"}),
    ("entered", SET | {"by": "person", "reps": 12, "counted": "yes", "reserve": 2, "beaten": "no"}),
    ("corrected", SET | {"by": "person", "hold_s": 45.5, "counted": "yes"}),
    ("skipped", SET | {"why": "asked", "given_up": "no"}),
    ("written", SET | {"step": 1, "status": "done", "setup": "a=1 cm", "load_kg": 4.0, "reps": 12,
                       "counted": "yes", "reserve": 2, "to_beat": 11.0, "beaten": "yes",
                       "pain": "knee", "note": "cold"}),
    ("written", SET | {"step": 0, "status": "skipped", "setup": "", "counted": "yes"}),
    ("dropped", {"exercise": "press", "why": "pain"}),
    ("swapped", {"exercise": "press", "to": "bench", "block": 1}),
    ("swapped", {"exercise": "press", "to": "bench", "block": 1, "group": "slow"}),
    ("version", {"exercise": "press", "way": "easier", "version": "v", "step": 0, "setup": "",
                 "was": "w"}),
    ("used", {"exercise": "press", "version": "v", "load_kg": 7.5}),
    ("asked", {"seconds": -15.0, "until": 80.0}),
    ("paused", {"why": "suspend"}),
    ("resumed", {"why": "return"}),
    ("undone", {"of": 3, "what": "ended"}),
    ("redone", {"of": 3, "what": "entered", "exercise": "press", "set": 1, "side": "left",
                "entry": 1, "count": "12/2 14"}),
    ("late", SET | {"seconds": 5.0, "work_s": 35.0}),
    ("noted", {"note": "cold\thands\n", "entry": 3}),
    ("pain", {"where": "knee"}),
    ("rpe", {"rpe": 7.0}),
    ("mass", {"mass_kg": 74.5}),
    ("held", {"exercise": "press", "group": "", "version": "v", "setup": "a=1 cm", "load_kg": 4.0,
              "for": "today"}),
    ("held", {"exercise": "press", "group": "", "version": "v", "setup": "", "for": "next"}),
    ("closed", {"complete": "yes", "by": "person"}),
]  # fmt: skip


@pytest.mark.parametrize(("name", "data"), EVENTS)
def test_from_data_and_back(name: str, data: dict[str, object]) -> None:
    event = ev.from_data(name, 12.5, 4, json.loads(json.dumps(data)))
    assert (event.name, event.at, event.act) == (name, 12.5, 4)
    assert ev.to_data(event) == data


def test_a_level_kept_by_an_earlier_version_of_the_program_is_for_next_time() -> None:
    data = {"exercise": "press", "group": "", "version": "v", "setup": ""}
    held = ev.from_data("held", 12.5, 4, data)
    assert isinstance(held, ev.Held)
    assert held.for_ == "next"


def test_every_kind_of_event_is_among_them() -> None:
    assert {name for name, _ in EVENTS} == set(ev.KINDS)


def test_what_is_no_event() -> None:
    with pytest.raises(KeyError):
        ev.from_data("cheered", 0.0, 1, {})
    with pytest.raises(TypeError):
        ev.from_data("begun", 0.0, 1, {"colour": "red"})
    with pytest.raises(TypeError):
        ev.from_data("resting", 0.0, 1, {"until": 1.0})


def test_the_memory_travels_with_the_first_event() -> None:
    levels = (Level("v", "v", (("height", "60 cm"),), load=4.0), Level("w", "w", tempo="2-0-1"))
    press = exercise("press", measure="reps", progression=levels)
    baseline = Baseline(
        working_levels={("press", ""): 1},
        lengths={("press", "w", "2-0-1", "both"): (30.0, 31.5)},
        to_beat={beat_key("press", levels[1], 1, "both"): 12.0},
    )
    data = json.loads(json.dumps(baseline.as_data()))
    assert Baseline.from_data(data) == baseline
    assert Baseline.from_data({}) == Baseline()
    mat = Mat(workout([part(press)]), baseline).begin().set()
    first = mat.events[0]
    assert isinstance(first, ev.Opened)
    assert replay(mat.workout, Baseline.from_data(first.history), mat.events) == mat.state
    assert (mat.row.to_beat, mat.row.planned_set.level.version) == (12.0, "w")
    assert mat.state.course.lengths["press", "w", "2-0-1", "both"] == (30.0, 31.5, 40.0)
    assert working_index(press, "", baseline.working_levels) == 1


def test_setups_and_loads_as_text() -> None:
    setup = (("height", "60 cm"), ("anchor", "1=2 x"))
    assert setup_text(setup) == "height=60 cm;anchor=1=2 x"
    assert parse_setup(setup_text(setup)) == setup
    assert (setup_text(()), parse_setup("")) == ("", ())
    assert [load_text(kg) for kg in (None, 0.0, 12.0, 7.5, 0.1 + 0.2)] == [
        "",
        "0",
        "12",
        "7.5",
        "0.3",
    ]


def test_all_events_of_an_act_have_its_number() -> None:
    mat = Mat().begin().set().do(cmd.Skip()).do(cmd.Undo())
    acts = [event.act for event in mat.events]
    assert acts == sorted(acts)
    assert sorted(set(acts)) == list(range(1, mat.state.acts + 1))
    assert [event.name for event in mat.state.log] == [
        "opened", "begun", "resting", "started", "ended", "entered", "resting", "undone", "resting",
    ]  # fmt: skip
