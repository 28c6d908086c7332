"""(state, command, now) -> events, or a refusal with its reason.

`now` is session seconds. A command that cannot be used raises Refused and changes nothing.
`advance` returns what only time causes. `read_line` reads a command from a line.
"""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any

from msgspec.structs import replace

from runner.law.course import LATE_KEY
from runner.law.workout import Measure
from runner.session import entries, events as ev, verb as cmd
from runner.session.apply import Refused, Turn, TurnResult
from runner.session.state import Row, State
from runner.session.verb import ALL, DECIDE, OPEN, PRESSED_S, STEP, VERBS, decides, shown, verb
from runner.session.words import HEAVIEST, Refusal, amount_text, bounded, read_entry

# Undo and redo.


@verb(
    "undo",
    cmd.Undo(),
    form="undo",
    keys=("u", "pageup", "left"),
    phases=OPEN,
    rank=10,
    label="undo",
    help="Take back what you did last.",
)
def undo(turn: Turn, command: cmd.Undo) -> None:
    """Undo the last act that still counts, the person's or the clock's."""
    events = last_act(turn.state)
    if not events:
        raise Refused("nothing to undo")
    turn.emit(ev.Undone, **_about(turn.state, events))
    _rest_anew(turn, events)


def _redone(state: State) -> tuple[State, tuple[ev.Event, ...]]:
    """The state before the undo, and the events that a redo would bring back. Raises Refused."""
    before = state.undone_from
    if before is None:
        raise Refused("nothing to redo; redo works only straight after undo")
    events = act_taken_back(state, before)
    started = next((e for e in events if isinstance(e, ev.Started)), None)
    if started is not None:
        name = state.workout.exercises[started.exercise].name
        raise Refused(f"redo cannot start a set; start {name}, set {started.set}, again")
    return before, events


def _redo_line(state: State) -> str:
    _redone(state)
    return "redo"


@verb(
    "redo",
    cmd.Redo(),
    form="redo",
    letter="y",
    phases=OPEN,
    rank=180,
    label=_redo_line,
    help="Take the last undo back.",
)
def redo(turn: Turn, command: cmd.Redo) -> None:
    """Take back the last undo, until something else happens; a set is begun, not redone."""
    before, events = _redone(turn.state)
    turn.emit(ev.Redone, **_about(before, events))
    _rest_anew(turn, events)


def last_act(state: State) -> tuple[ev.Event, ...]:
    """The events of the act that an undo would take back; empty without one."""
    acts: dict[int, list[ev.Event]] = {}
    for event in state.log:
        acts.setdefault(event.act, []).append(event)
    for events in reversed(acts.values()):
        if _came_back(events[0]):
            return ()  # acts before the session was cut off stay
        if can_be_undone(events):
            return tuple(events)
    return ()


def can_be_undone(events: Sequence[ev.Event]) -> bool:
    """Whether an undo can take back an act of these events."""
    return events[0].undoable


def act_taken_back(state: State, before: State) -> tuple[ev.Event, ...]:
    """The events of the act that a redo would bring back; `before` is the state before the undo."""
    undone = next(e for e in state.log if isinstance(e, ev.Undone) and e.act > before.acts)
    return tuple(e for e in before.log if e.act == undone.of)


def about(events: Sequence[ev.Event]) -> ev.Event:
    """The event that describes an act: pain, the begin of a set, else the first."""
    for kind in (ev.Pain, ev.Started):
        for event in events:
            if isinstance(event, kind):
                return event
    return events[0]


def _about(state: State, events: Sequence[ev.Event]) -> dict[str, Any]:
    """The fields of an undo or redo; in `state` the act still counts."""
    event = about(events)
    names = ("exercise", "set", "side", "entry")
    fields = {name: getattr(event, name, None) for name in names}
    if not isinstance(event, ev.SetEvent):
        fields["side"] = None  # a rest belongs to the next set
    return {"of": event.act, "what": event.name, "count": _typed(state, events), **fields}


def _typed(state: State, events: Sequence[ev.Event]) -> str | None:
    """What a person typed to save counts, the left side first."""
    counts: dict[str, str] = {}
    for event in events:
        if isinstance(event, ev.Entered) and event.by == "person" and event.counted == "yes":
            measure = state.exercise(state.rows[event.entry - 1]).measure
            value = event.hold_s if event.reps is None else event.reps
            counts[event.side] = _count(value, event.reserve, measure)
            if event.waits is not None:
                other = "right" if event.side == "left" else "left"
                counts[other] = _count(event.waits, event.waits_reserve, measure)
    return " ".join(counts[side] for side in ("both", "left", "right") if side in counts) or None


def _count(value: float | None, reserve: int | None, measure: Measure) -> str:
    text = amount_text(value or 0.0, measure)
    return text if reserve is None else f"{text}/{reserve}"


def _rest_anew(turn: Turn, events: Sequence[ev.Event]) -> None:
    if any(e.moves_rest for e in events):
        turn.decide_rest(again=True)


def _came_back(event: ev.Event) -> bool:
    """Whether an act that begins with `event` is the return after a crash."""
    cut_off = isinstance(event, ev.Ended) and event.work_s is None
    return cut_off or (isinstance(event, ev.Resumed) and event.why == "return")


def opened(state: State, now: float = 0.0) -> TurnResult:
    """The first event of a session in its initial state: it keeps the baseline."""
    turn = Turn(state, now)
    turn.emit(ev.Opened, history=state.baseline.as_data())
    return turn.result()


NEAR = 0.7  # least likeness of two words, by difflib; our choice


def read_line(line: str) -> cmd.Command:
    """The command in a line. Raises Refused with what to write instead.

    The controller reads words that the session does not know.
    """
    text = line.strip()
    if not text:
        return cmd.Proceed()
    name, _, rest = text.partition(" ")
    known = VERBS.get(name)
    if known is not None and known.form and known.decides:
        command: cmd.Command = known.read(rest.strip())
        return command
    entry = read_entry(text)
    if isinstance(entry, Refusal):
        words = [one.id for one in VERBS.values() if one.form]
        near = get_close_matches(name, words, 1, NEAR)
        if near:
            raise Refused(f'unknown word {shown(name)}. Did you mean "{near[0]}"?')
        if text[:1].isalpha():
            raise Refused(f"{shown(text)} is unknown; help lists the words")
        raise Refused(entry.reason)
    return entry


def handle(state: State, command: cmd.Command, now: float) -> TurnResult:
    """The events that `command` causes. Raises Refused."""
    if state.phase == "closed" and not command.after_the_end:
        raise Refused("the session is closed")
    turn = Turn(state, now)
    DECIDE[type(command)](turn, command)
    return turn.result()


def correct(state: State, command: cmd.Fix | cmd.NoCount, now: float) -> TurnResult:
    """Correct an entry of a closed session. Raises Refused, also for an open one."""
    if state.phase != "closed":
        raise Refused("the session is not closed")
    if command.row is None:
        count = "nocount" if isinstance(command, cmd.NoCount) else "NUMBER"
        raise Refused(f"name the entry: fix N {count}")
    return handle(state, command, now)


def deadline(state: State) -> float | None:
    """When time will cause the next event, in session seconds; None where it cannot."""
    if state.phase == "rest" and not state.waits_for_key:
        return state.until
    return None


def advance(state: State, now: float) -> TurnResult:
    """The events that time caused by `now`, dated at their deadline."""
    due = deadline(state)
    turn = Turn(state, now)
    if due is not None and due <= now:
        turn.start("clock", at=due)
    return turn.result()


def rest_is_over(state: State, now: float) -> bool:
    """Whether a rest waits for the person."""
    return state.phase == "rest" and state.until is not None and now >= state.until


@decides
def _proceed(turn: Turn, command: cmd.Proceed) -> None:
    state = turn.state
    if state.phase == "ready":
        turn.emit(ev.Begun)
        if turn.state.phase == "rest":
            turn.decide_rest()
    elif state.phase == "warm-up":
        turn.decide_rest()
    elif state.running is not None:
        _end_set(turn, state.running)
    elif state.phase == "rest":
        if state.waits_for_key and rest_is_over(state, turn.now):
            turn.start("person")
    elif state.phase == "paused":
        _resume(turn)
    else:
        _close(turn, cmd.End())


def _end_set(turn: Turn, row: Row, *, known: bool = True) -> None:
    """End the running bout; `known` is False where a crash cut it off."""
    work = replace(row, end=turn.now).work if known else None
    turn.emit_row(ev.Ended, row, by="person" if known else "clock", work_s=work)
    _settle(turn, row.entry)
    turn.decide_rest()


def _settle(turn: Turn, entry: int) -> None:
    """What the end of a bout enters by itself: a hold's seconds, a count that waited for it."""
    state = turn.state
    row = state.rows[entry - 1]
    waiting = state.waits.get((row.index, row.side))
    if waiting is not None:
        entries.enter(turn, row, cmd.Count(*waiting))
    elif state.exercise(row).measure == "hold" and row.work is not None:
        # To the tenth, as it is stored; otherwise event and record could contradict each other.
        seconds = round(max(row.work - state.block_of(row.planned_set).reach, 0.0), 1)
        entries.enter(turn, row, cmd.Count(seconds), by="clock")


@verb("go", cmd.StartNow(), form="go", rank=5, help="Start now.")
def _start_now(turn: Turn, command: cmd.StartNow) -> None:
    state = turn.state
    if state.phase != "rest" or state.until is None:
        raise Refused("no rest is running" if state.phase == "set" else "no set comes next")
    remaining = state.until - turn.now
    if remaining > 0:
        turn.emit(ev.Asked, seconds=-remaining, until=turn.now)
    turn.start("person")


@verb(
    "+",
    cmd.Ask(STEP),
    form="+",
    keys=("plus", "equals_sign"),
    phases=("rest",),
    rank=40,
    label="15 s more",
    help="Rest 15 s longer.",
    apart=PRESSED_S,
)
@verb(
    "-",
    cmd.Ask(-STEP),
    form="-",
    keys=("minus",),
    phases=("rest",),
    rank=41,
    label="15 s less",
    help="Rest 15 s less.",
    apart=PRESSED_S,
)
def _ask(turn: Turn, command: cmd.Ask) -> None:
    state = turn.state
    if state.phase != "rest" or state.until is None:
        raise Refused("no rest is running")
    until = max(state.until + command.seconds, turn.now)
    turn.emit(ev.Asked, seconds=until - state.until, until=until)


@verb(
    "pause",
    cmd.Pause(),
    form="pause",
    keys=("p", "full_stop", "b"),
    phases=("warm-up", "rest", "set"),
    rank=20,
    label="pause",
    help="Pause the session; muscles go on recovering.",
)
def _pause(turn: Turn, command: cmd.Pause) -> None:
    if command.since is not None and turn.state.log:
        turn.now = min(max(command.since, turn.state.log[-1].at), turn.now)
    if turn.state.running is not None:
        _end_set(turn, turn.state.running, known=command.known)
    if turn.state.phase in ("warm-up", "rest"):
        turn.emit(ev.Paused, why=command.why)
    elif not turn.events:
        raise Refused(f"pause works in a set or a rest, not in {turn.state.phase!r}")


def _resume(turn: Turn) -> None:
    turn.emit(ev.Resumed)
    _at_least_lead_in(turn)


def _at_least_lead_in(turn: Turn) -> None:
    """After a return the set starts as planned, but not before the get-ready time is over."""
    state = turn.state
    if state.phase != "rest" or state.until is None or state.coming is None:
        return
    earliest = turn.now + state.workout.lead_in
    if state.until < earliest:
        planned_set, side = state.coming
        turn.emit(ev.Resting, until=earliest, why="lead-in", next=planned_set.exercise, side=side)


@decides
def _return(turn: Turn, command: cmd.Return) -> None:
    """Go on after a crash; a set that was cut off has no known length."""
    row = turn.state.running
    if row is not None and row.start is not None:
        back, expected = turn.now, turn.state.course.expected(row.planned_set, row.side)
        # A count or note from before the crash was made while the set still ran.
        turn.now = min(max(row.start + expected, turn.state.log[-1].at), back)
        _end_set(turn, row, known=False)
        turn.now = back
    turn.emit(ev.Resumed, why="return")
    _at_least_lead_in(turn)


def _ended_late(state: State) -> tuple[Row, float]:
    """The last set that ended, and its length if the key came late. Raises Refused."""
    row = state.last_ended
    if row is not None and row.status == "broken":
        called = f"{state.exercise(row).name}, set {row.planned_set.number},"
        raise Refused(f"{called} was given up; only the end of a set that was done can move")
    if row is None or row.status != "done" or row.work is None:
        raise Refused("no set has ended yet")
    work = row.work - LATE_KEY
    if work <= 0:
        raise Refused(
            f"{state.exercise(row).name}, set {row.planned_set.number}, "
            f"lasted only {row.work:.1f} s"
        )
    return row, work


def _late_line(state: State) -> str:
    _ended_late(state)
    return f"key came late: {LATE_KEY:g} s off the last set"


@verb(
    "late",
    cmd.Late(),
    form="late",
    letter="l",
    phases=("rest", "paused", "wrap-up"),
    rank=230,
    label=_late_line,
    help="Say that the last set ended 5 s before the key.",
    kept=True,
)
def _late(turn: Turn, command: cmd.Late) -> None:
    row, work = _ended_late(turn.state)
    until = turn.state.until
    turn.emit_row(ev.Late, row, seconds=LATE_KEY, work_s=work)
    state = turn.state
    if state.phase not in ("rest", "paused") or until is None or state.rest_from is None:
        return
    # The rest is decided anew from the earlier end. It never gets longer by that, and never so
    # short that the set would start without its count-down.
    planned = state.rest_from + state.course.rest().seconds + state.asked
    new = max(planned, min(until, turn.now + state.workout.lead_in))
    if new != until and state.coming is not None:
        planned_set, side = state.coming
        why = str(state.course.rest().why) if new == planned else "lead-in"
        turn.emit(ev.Resting, until=new, why=why, next=planned_set.exercise, side=side)


def _something(rest: str, form: str) -> str:
    if not rest:
        raise Refused(f"write {form}")
    return rest


@verb(
    "note",
    lambda rest: cmd.Note(_something(rest, "note TEXT")),
    form="note TEXT",
    letter="n",
    phases=OPEN,
    rank=210,
    label="note",
    help="Write a note.",
    asks="Note",
    kept=True,
)
def _note(turn: Turn, command: cmd.Note) -> None:
    row = turn.state.last_begun
    to_session = row is None or turn.state.phase == "wrap-up"
    turn.emit(ev.Noted, note=command.text, entry=None if row is None or to_session else row.entry)


@verb(
    "rpe",
    lambda rest: cmd.Rate(bounded(rest, "session RPE", 0.0, 10.0)),
    form="rpe N",
    keys=("r",),
    phases=("wrap-up", "closed"),
    rank=60,
    label="how hard",
    help="Say how hard the session was, 0 to 10.",
    asks="How hard was the session, 0 to 10?",
    kept=True,
)
def _rate(turn: Turn, command: cmd.Rate) -> None:
    turn.emit(ev.Rpe, rpe=command.rpe)


@verb(
    "mass",
    lambda rest: cmd.Weigh(bounded(rest, "body mass in kg", 20.0, HEAVIEST)),
    form="mass 74.5",
    letter="b",
    phases=OPEN,
    rank=170,
    label="body mass",
    help="Enter the body mass of the day in kg.",
    asks="Body mass in kg",
    kept=True,
)
def _weigh(turn: Turn, command: cmd.Weigh) -> None:
    turn.emit(ev.Mass, mass_kg=command.mass)


@verb(
    "end",
    cmd.End(),
    form="end",
    keys=("q",),
    phases=ALL,
    rank=50,
    label="end",
    labels={"closed": "leave"},
    help="Close the session now; asks first.",
    word_help="Close the session now.",
    kept=True,
)
def _close(turn: Turn, command: cmd.End) -> None:
    remaining = turn.state.course.next is not None
    if turn.state.phase == "ready":  # written up: paper has no warm-up sets
        for exercise in dict.fromkeys(
            row.planned_set.exercise for row in turn.state.rows if row.pain
        ):
            if any(
                (s.exercise, s.status) == (exercise, "todo") for s in turn.state.course.planned_sets
            ):
                turn.emit(ev.Dropped, exercise=exercise, why="pain")
        planned_sets = turn.state.course.planned_sets
        remaining = any((s.status, s.kind) == ("todo", "work") for s in planned_sets)
    turn.emit(ev.Closed, complete="no" if remaining else "yes", by=command.by)
