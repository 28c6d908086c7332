"""What the voice says, and when: phrases as data, as cues are. How they sound is not told here.

Two kinds, as with cues. What the rest under way will bring is known beforehand (`ahead`); what an
event brings is said after it (`of_events`). `repertoire` has all that a session can bring while it
goes as planned, so that it can be made ready before. When a phrase may really begin beside the
cues and beside other phrases is decided in `speech_gaps`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from runner.core.course import Slot
from runner.core.numerals import cardinal, quantity, seconds, spoken
from runner.core.session import amend, commands as cmd, decide, events as ev
from runner.core.session.state import State
from runner.core.workout import Exercise, Measure, Rung, Side

Mode = Literal["off", "on", "names"]
MODES: tuple[Mode, ...] = ("off", "on", "names")

# In seconds, all our choice. Instants before the end of a rest: the count to beat stands between
# the call at ten and the three counted seconds, and is the last that is heard before the set.
TEN = 10.0
BEAT = 7.0
ON_TIME = 0.4  # a time that is called so late is still true
STALE = 4.0  # what became of a count is of no use after so long
COUNTS = 30  # so high are counts made ready beforehand; our choice, higher ones when they come


@dataclass(frozen=True, slots=True)
class Phrase:
    """Something to be said once, beginning between two instants in session seconds.

    `texts` are ways to say it, the fullest first: where that does not fit, the next is tried.
    A phrase with the `key` of one that was said is not said again.
    """

    key: tuple[object, ...]
    texts: tuple[str, ...]
    at: float
    latest: float


def ahead(state: State, mode: Mode) -> tuple[Phrase, ...]:
    """The phrases that this rest will bring while it stays as it is, the most needed first."""
    if mode == "off" or state.phase != "rest" or state.until is None or state.coming is None:
        return ()
    since = state.rest_from if state.rest_from is not None else state.until - TEN
    slot, side = state.coming
    texts = (_name(state, slot, side),) if mode == "names" else _next(state, slot, side)
    phrases = [Phrase(("next", since, slot.number, *texts), texts, since, state.until)]
    if mode == "on":
        ten = state.until - TEN
        if ten > since:
            phrases.append(Phrase(("ten", ten), ("ten seconds",), ten, ten + ON_TIME))
        phrases += _to_beat(state, slot, side)
    return tuple(phrases)


def of_events(events: Sequence[ev.Event], before: State, after: State, mode: Mode) -> list[Phrase]:
    """What the events of one act bring, to be said after their cue."""
    if mode != "on" or not events:
        return []
    at = events[-1].at
    texts = list(_of_events(events, before, after))
    return [Phrase(("event", at, text), (text,), at, at + STALE) for text in texts]


def _of_events(events: Sequence[ev.Event], before: State, after: State) -> Iterator[str]:
    entered = [e for e in events if isinstance(e, ev.Entered)]
    if entered:
        yield _logged(entered)
    if after.phase == "paused" and before.phase != "paused":
        yield "paused"
    if after.phase == "wrap-up" and before.phase not in ("wrap-up", "ready"):
        yield "session done"


def _logged(entered: Sequence[ev.Entered]) -> str:
    """What was logged: one count, or those of both sides."""
    counted = [e for e in entered if e.counted == "yes"]
    if not counted:
        return "not counted"
    counts = [count_text(e) for e in counted]
    parts = [
        "corrected" if isinstance(entered[0], ev.Corrected) else "logged",
        " and ".join(counts),
    ]
    if all(e.beaten == "yes" for e in counted):
        parts.append("beaten")
    return ", ".join(parts)


def count_text(event: ev.Entered) -> str:
    """The count of an entry in words: "twelve", "thirty-four seconds"."""
    return seconds(event.hold_s) if event.hold_s is not None else cardinal(event.reps or 0)


def _to_beat(state: State, slot: Slot, side: Side) -> list[Phrase]:
    value = amend.to_beat(state, slot, side)
    if value is None or state.until is None:
        return []
    measure = state.workout.exercises[slot.exercise].measure
    text = f"{_amount(value, measure)} to beat"
    at = state.until - BEAT
    return [Phrase(("beat", slot.exercise, slot.number, side, text), (text,), at, state.until)]


def _amount(value: float, measure: Measure) -> str:
    return seconds(value) if measure == "hold" else cardinal(int(value))


def _name(state: State, slot: Slot, side: Side) -> str:
    """What comes next, with its side: "rucksack row, left"."""
    name = spoken(state.workout.exercises[slot.exercise].name)
    return name if side == "both" else f"{name}, {side}"


def _next(state: State, slot: Slot, side: Side) -> tuple[str, ...]:
    """What comes next, in full and in short."""
    exercise = state.workout.exercises[slot.exercise]
    if state.course.side:
        return (f"switch sides, {side}",)
    short = f"next, {_name(state, slot, side)}"
    differs = [*_differs(state, slot, exercise), *_which(state, slot)]
    return (", ".join([short, *differs]), short) if differs else (short,)


def _which(state: State, slot: Slot) -> Iterator[str]:
    """What kind of set it is, where that is worth a word."""
    if slot.kind == "ramp":
        yield "ramp set"
    left = [s for s in state.course.slots if s.status == "todo" and s is not slot]
    if not left:
        yield "last set of the session"
    elif all(s.exercise != slot.exercise for s in left):
        yield "last set"


def _differs(state: State, slot: Slot, exercise: Exercise) -> Iterator[str]:
    """What has to be set differently: version, set-up and load where they are not as they were.

    The version counts against the last set of this exercise, the set-up against how its station
    was left, the load against the last that was lifted, whatever with: two exercises may share
    one rucksack. Before its first set an exercise's version and load are told, its station stands
    ready.
    """
    rung = slot.rung
    own = [
        r.slot.rung for r in state.rows if r.start is not None and r.slot.exercise == exercise.id
    ]
    several = len({r.version for r in exercise.ladder}) > 1
    if rung.name and (own[-1].version != rung.version if own else several):
        yield spoken(rung.name)
    if exercise.station is not None:
        stands = state.course.stations.get(exercise.station)
    else:
        stands = own[-1].setup if own else ()
    if rung.setup and stands is not None and dict(stands) != dict(rung.setup):
        yield ", ".join(spoken(f"{name} {value}") for name, value in rung.setup)
    if rung.load is not None and rung.load != _last_load(state):
        yield quantity(rung.load, "kg") if rung.load else "no load"


def _last_load(state: State) -> float | None:
    rungs: Iterable[Rung] = (r.slot.rung for r in reversed(state.rows) if r.start is not None)
    return next((rung.load for rung in rungs if rung.load is not None), None)


def repertoire(state: State, mode: Mode) -> Iterator[str]:
    """Every text that the session brings from here on as planned, in the order of need.

    Each is worked out when it is asked for. Counts are in it up to `COUNTS`; what a change of plan
    brings has to be made when it comes.
    """
    if mode == "off":
        return
    known: set[str] = set()
    for text in _all_texts(state, mode):
        if text not in known:
            known.add(text)
            yield text


def _all_texts(state: State, mode: Mode) -> Iterator[str]:
    for found in _played_through(state):
        for phrase in ahead(found, mode):
            yield from phrase.texts
    if mode == "on":
        yield from ("ten seconds", "paused", "session done", "not counted")
        for count in range(COUNTS + 1):
            said = f"logged, {cardinal(count)}"
            yield from (said, f"{said}, beaten")


def _played_through(state: State) -> Iterator[State]:
    """The rests of the session from here on, if every set is done as it stands."""
    now = state.log[-1].at if state.log else 0.0
    while state.phase not in ("wrap-up", "closed"):
        if state.phase == "rest":
            yield state
            state = decide.handle(state, cmd.StartNow(), now).state
        else:
            now += 1.0
            state = decide.handle(state, cmd.Proceed(), now).state
