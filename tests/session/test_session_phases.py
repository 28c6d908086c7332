"""Every phase with every command: what comes of it, or the sentence that refuses it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest
from msgspec.structs import fields, replace

from runner.law.workout import Level
from runner.progress.adjust import Adjustment
from runner.session import events as ev, verb as cmd
from runner.session.apply import evolve
from runner.session.state import Illegal, Phase, State, check
from tests.law.builders import exercise, part, workout
from tests.session.mat import GO, Mat, reps, seconds

PROGRESSION = tuple(Level(name, name) for name in ("light", "middle", "heavy"))


def fresh() -> Mat:
    """Press, with a substitute and three versions, and a hold; two sets each."""
    press = exercise("press", measure="reps", instead=("bench",), progression=PROGRESSION)
    parts = [part(press, 2, versions=("middle",) * 2), part(exercise("plank"), 2)]
    return Mat(workout(parts, beside=[exercise("bench")], warm_up=60.0, cool_down=30.0))


def _paused(mat: Mat) -> Mat:
    return mat.begin().set().do(cmd.Pause())


WAYS: Mapping[Phase, Callable[[Mat], Mat]] = {
    "ready": lambda mat: mat,
    "warm-up": lambda mat: mat.do(GO),
    "rest": lambda mat: mat.begin().set(),  # press done, its entry open; plank to come
    "set": lambda mat: mat.begin().set().start(),  # the plank runs
    "paused": _paused,
    "wrap-up": lambda mat: mat.begin().to_the_end(),
    "closed": lambda mat: mat.begin().do(cmd.End()),
}
PHASES = tuple(WAYS)

COMMANDS: Mapping[str, cmd.Command] = {
    "go on": GO,
    "go": cmd.StartNow(),
    "+": cmd.Ask(15.0),
    "-": cmd.Ask(-15.0),
    "pause": cmd.Pause(),
    "return": cmd.Return(),
    "skip": cmd.Skip(),
    "drop": cmd.Drop(),
    "leave out": cmd.LeaveOut((("plank", 2), ("press", 2), ("press", 9))),
    "swap": cmd.Swap(),
    "easier": cmd.Step(-1),
    "lighter": cmd.Take("lighter"),
    "unwell": cmd.Unwell(),
    "from paper": cmd.WriteUp(0, 0, (("both", cmd.Count(12)),)),
    "otherwise, from paper": cmd.DoneOtherwise((), (Adjustment("sets", "press", number=1.0),)),
    "swapped, from paper": cmd.SwappedOnPaper("press", "bench", 1),
    "harder": cmd.Step(1),
    "load": cmd.Use(load=8.0),
    "setup": cmd.Use(setup=(("height", "60 cm"),)),
    "12": reps(12),
    "12 14": reps(12, 14),
    "45s": seconds(45),
    "nocount": cmd.NoCount(),
    "fix 1 13": cmd.Fix(1, "reps", cmd.Count(13)),
    "late": cmd.Late(),
    "undo": cmd.Undo(),
    "redo": cmd.Redo(),
    "note": cmd.Note("cold hands"),
    "pain": cmd.Hurt("left shoulder"),
    "rpe": cmd.Rate(7.0),
    "mass": cmd.Weigh(74.5),
    "keep": cmd.Keep(),
    "today": cmd.Keep(today_only=True),
    "end": cmd.End(),
}

NOT_BEGUN = "the session has not started; start it first"
NO_REST = "no rest is running"
NO_SET = "no set comes next"
NONE_LEFT = "no set remains"
NO_ENTRY = "no count to enter; fix N NUMBER corrects one"
NO_ENTRY_TO_LEAVE = "no count to enter; fix N nocount clears an earlier one"
NO_HOLD = "no hold is waiting for a count; write repetitions as a plain number: 12"
NO_SUCH = "no entry 1; entries so far: none yet"
NO_PAIR = "two numbers need a one-sided set without a count; write one number"
NO_END = "no set has ended yet"
NO_UNDO = "nothing to undo"
NO_REDO = "nothing to redo; redo works only straight after undo"
NO_KEEP = "keep and today work only after a set"
AS_PLANNED = "every level is as planned; nothing to keep"
NO_PLANK = "Plank at the hut"

# What each command brings about: the names of its events and the phase after, or the refusal.
Answer = str | tuple[str, Phase]
FROM_PAPER = dict.fromkeys(PHASES, "this session is running; enter its counts there")
TABLE: Mapping[str, Mapping[Phase, Answer]] = {
    "go on": {
        "ready": ("begun", "warm-up"),
        "warm-up": ("resting", "rest"),
        "rest": ("", "rest"),
        "set": ("ended entered resting", "rest"),
        "paused": ("resumed", "rest"),
        "wrap-up": ("closed", "closed"),
    },
    "go": {
        "ready": NO_SET,
        "warm-up": NO_SET,
        "rest": ("asked started", "set"),
        "set": "no rest is running",
        "paused": NO_SET,
        "wrap-up": NO_SET,
    },
    "+": {phase: ("asked", phase) if phase == "rest" else NO_REST for phase in PHASES},
    "-": {phase: ("asked", phase) if phase == "rest" else NO_REST for phase in PHASES},
    "pause": {
        "ready": "pause works in a set or a rest, not in 'ready'",
        "warm-up": ("paused", "paused"),
        "rest": ("paused", "paused"),
        "set": ("ended entered resting paused", "paused"),
        "paused": "pause works in a set or a rest, not in 'paused'",
        "wrap-up": "pause works in a set or a rest, not in 'wrap-up'",
    },
    "return": {
        "ready": ("resumed", "ready"),
        "warm-up": ("resumed", "warm-up"),
        "rest": ("resumed", "rest"),
        "set": ("ended resting resumed", "rest"),
        "paused": ("resumed", "rest"),
        "wrap-up": ("resumed", "wrap-up"),
    },
    "skip": {
        "ready": NOT_BEGUN,
        "warm-up": ("skipped", "warm-up"),
        "rest": ("skipped resting", "rest"),
        "set": ("skipped resting", "rest"),
        "paused": ("skipped resting", "paused"),
        "wrap-up": NONE_LEFT,
    },
    "drop": {
        "ready": NOT_BEGUN,
        "warm-up": ("dropped", "warm-up"),
        "rest": ("dropped resting", "rest"),
        "set": ("skipped dropped resting", "rest"),
        "paused": ("dropped resting", "paused"),
        "wrap-up": NONE_LEFT,
    },
    "leave out": {
        "ready": ("skipped skipped", "ready"),
        "warm-up": ("skipped skipped", "warm-up"),
        "rest": ("skipped skipped", "rest"),  # the plank comes all the same, as long as before
        "set": "finish this set first; sets can be left out in a rest or a pause",
        "paused": ("skipped skipped", "paused"),
        "wrap-up": "finish this set first; sets can be left out in a rest or a pause",
    },
    "swap": {
        "ready": NOT_BEGUN,
        "warm-up": ("swapped", "warm-up"),
        "rest": f"{NO_PLANK} has no substitute outside this block",
        "set": f"{NO_PLANK} has no substitute outside this block",
        "paused": f"{NO_PLANK} has no substitute outside this block",
        "wrap-up": NONE_LEFT,
    },
    "easier": {
        "ready": NOT_BEGUN,
        "warm-up": ("version", "warm-up"),
        "rest": f"{NO_PLANK} is at its easiest level",
        "set": f"{NO_PLANK} is at its easiest level",
        "paused": f"{NO_PLANK} is at its easiest level",
        "wrap-up": NONE_LEFT,
    },
    "harder": {
        "ready": NOT_BEGUN,
        "warm-up": ("version", "warm-up"),
        "rest": f"{NO_PLANK} is at its hardest level",
        "set": f"{NO_PLANK} is at its hardest level",
        "paused": f"{NO_PLANK} is at its hardest level",
        "wrap-up": NONE_LEFT,
    },
    "lighter": dict.fromkeys(PHASES, "offers can be taken only before the start")
    | {"ready": "'lighter' is not on offer today; on offer: nothing"},
    "unwell": dict.fromkeys(
        PHASES, "the session has started; pain WHERE ends an exercise, end closes it"
    )
    | {"ready": ("noted closed", "closed")},
    "from paper": FROM_PAPER | {"ready": ("written", "ready")},
    "otherwise, from paper": FROM_PAPER | {"ready": ("adjusted", "ready")},
    "swapped, from paper": FROM_PAPER | {"ready": ("swapped", "ready")},
    "load": {phase: ("used", phase) for phase in PHASES},
    "setup": {phase: ("used", phase) for phase in PHASES},
    "12": {phase: ("entered", phase) for phase in PHASES}
    | dict.fromkeys(("ready", "warm-up"), NO_ENTRY),
    "12 14": dict.fromkeys(PHASES, NO_PAIR),
    "45s": dict.fromkeys(PHASES, NO_HOLD) | {"wrap-up": ("corrected", "wrap-up")},
    "nocount": {phase: ("entered", phase) for phase in PHASES}
    | dict.fromkeys(("ready", "warm-up"), NO_ENTRY_TO_LEAVE),
    "fix 1 13": {phase: ("entered", phase) for phase in PHASES}
    | dict.fromkeys(("ready", "warm-up"), NO_SUCH),
    "late": {
        "ready": NO_END,
        "warm-up": NO_END,
        "rest": ("late resting", "rest"),
        "set": ("late", "set"),
        "paused": ("late resting", "paused"),
        "wrap-up": ("late", "wrap-up"),
    },
    "undo": {
        "ready": NO_UNDO,
        "warm-up": NO_UNDO,
        "rest": ("undone", "set"),
        "set": ("undone resting", "rest"),  # the plank had begun by the clock
        "paused": ("undone resting", "rest"),
        "wrap-up": ("undone", "set"),
    },
    "redo": dict.fromkeys(PHASES, NO_REDO),
    "note": {phase: ("noted", phase) for phase in PHASES},
    "pain": {
        "ready": ("pain noted closed", "closed"),
        "warm-up": ("skipped pain dropped", "warm-up"),
        "rest": ("pain dropped", "rest"),  # of the press, of which a set is left
        "set": ("pain skipped dropped resting", "rest"),
        "paused": ("pain dropped", "paused"),
        "wrap-up": ("pain", "wrap-up"),
    },
    "rpe": {phase: ("rpe", phase) for phase in PHASES},
    "mass": {phase: ("mass", phase) for phase in PHASES},
    "keep": dict.fromkeys(PHASES, AS_PLANNED) | dict.fromkeys(("ready", "warm-up"), NO_KEEP),
    "today": dict.fromkeys(PHASES, AS_PLANNED) | dict.fromkeys(("ready", "warm-up"), NO_KEEP),
    "end": dict.fromkeys(PHASES, ("closed", "closed")),
}  # fmt: skip


def answer(name: str, phase: Phase) -> Answer:
    if phase == "closed":  # levels, counts and how hard it was may still be spoken of
        if name in ("keep", "today"):
            return AS_PLANNED
        if name == "rpe":
            return "rpe", "closed"
        counts = ("12", "12 14", "45s", "nocount", "fix 1 13")
        return TABLE[name]["warm-up"] if name in counts else "the session is closed"
    return TABLE[name][phase]


def test_the_table_has_every_command() -> None:
    asked = {type(command) for command in COMMANDS.values()}
    assert asked == set(cmd.DECIDE)
    assert set(TABLE) == set(COMMANDS)


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("name", COMMANDS)
def test_command_in_phase(name: str, phase: Phase) -> None:
    mat = WAYS[phase](fresh())
    assert mat.phase == phase
    wanted, before = answer(name, phase), mat.state
    if isinstance(wanted, str):
        assert mat.refused(COMMANDS[name], after=1.0) == wanted
        assert mat.state == before
        return
    events, after = wanted
    mat.do(COMMANDS[name], after=1.0)
    assert (mat.names, mat.phase) == (events.split(), after)
    assert len({event.act for event in mat.latest}) <= 1
    assert mat.state.acts == before.acts + bool(events)


# -- the table of transitions ---------------------------


ANY = {float: 5.0, int: 1, str: "n"}  # of a field for which any value does


def _events() -> list[ev.Event]:
    """One event of each kind, as of an act that is still to come."""
    where = {
        "block": 1,
        "round": 1,
        "exercise": "press",
        "set": 1,
        "side": "both",
        "version": "middle",
        "entry": 1,
    }
    special = {
        "work_s": 1.0, "by": "person", "history": {}, "until": 99.0, "why": "recovery",
        "next": "press", "given_up": "no", "to": "bench", "way": "harder", "step": 1, "setup": "",
        "load_kg": None, "was": "", "group": "", "complete": "no", "taken": [], "changes": [],
    }  # fmt: skip
    found = []
    for name, kind in ev.KINDS.items():
        if name in ("undone", "redone"):
            continue
        needed = [one for one in fields(kind) if one.required and one.type in ANY]
        known = {key: value for key, value in (where | special).items() if hasattr(kind, key)}
        data = {one.name: ANY[one.type] for one in needed} | known
        if name == "pain":
            data |= {"where": "knee"}
        if name in ("closed", "entered", "corrected"):
            data.pop("by")
        found.append(kind(**(data | {"at": 500.0, "act": 900})))
    return found


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("event", _events(), ids=lambda event: str(event.name))
def test_event_in_phase(event: ev.Event, phase: Phase) -> None:
    """An event that the table does not have is illegal and changes nothing."""
    state = WAYS[phase](fresh()).state
    before, allowed = replace(state), event.leads.get(phase, ())
    after = _evolved(state, event)
    assert after is None or after.phase in allowed
    assert after is None or after.log == (*state.log, event)
    assert state == before


def _evolved(state: State, event: ev.Event) -> State | None:
    """The state after an event; None where it is illegal."""
    try:
        return evolve(state, event)
    except Illegal:
        return None


def test_the_table_knows_every_event() -> None:
    assert {name for name, kind in ev.KINDS.items() if not kind.leads} == {"undone", "redone"}
    after_the_end = [name for name, kind in ev.KINDS.items() if "closed" in kind.leads]
    assert after_the_end == ["corrected", "rpe", "held"]  # and nothing else


def test_a_phase_that_the_table_does_not_have() -> None:
    with pytest.raises(Illegal, match="'started' does not lead from 'ready' to 'set'"):
        check("started", "ready", "set")


def test_events_that_do_not_fit_the_course() -> None:
    mat = fresh().begin()
    mat.start()
    started = mat.latest[0]
    assert isinstance(started, ev.Started)
    rest = fresh().begin().state
    for other in (replace(started, exercise="plank"), replace(started, set=2)):
        with pytest.raises(Illegal, match="another set is to come"):
            evolve(rest, other)
    with pytest.raises(Illegal, match="no set is to come"):
        evolve(WAYS["wrap-up"](fresh()).state, started)
    skipped = next(event for event in _events() if event.name == "skipped")
    assert isinstance(skipped, ev.Skipped)
    with pytest.raises(Illegal, match="no set 9 of press"):
        evolve(rest, replace(skipped, set=9))
    with pytest.raises(Illegal, match="no set is running"):
        evolve(rest, replace(skipped, given_up="yes"))
    left_out = evolve(rest, skipped)
    with pytest.raises(Illegal, match="that bout has been"):
        evolve(left_out, skipped)
    fixed = next(event for event in _events() if event.name == "corrected")
    assert isinstance(fixed, ev.Corrected)
    with pytest.raises(Illegal, match="no entry 7"):
        evolve(rest, replace(fixed, entry=7))
