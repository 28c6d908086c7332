"""What an act did, in a few words: exercise, set and side, and what takes it back.

For people, on the screen and in line mode. Exercises have their short names.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from runner.law.workout import load_text, parse_setup, setup_words
from runner.session import events as ev
from runner.session.changes import NOT_TODAY, level_words, short_of
from runner.session.flow import act_taken_back, can_be_undone
from runner.session.state import State
from runner.session.words import amount_text

APART = " · "
OFFERS = {"lighter": "lighter session", "place": "level finding"}  # by the words of line mode


def report(events: Sequence[ev.Event], state: State, *, undo: str, redo: str = "") -> str:
    """What an act did and what takes it back; "" for an act that nobody asked for.

    `state` is the one after it. `undo` and `redo` say what does it: "u takes it back".
    """
    first = events[0]
    by_clock = isinstance(first, ev.Started | ev.Ended) and first.by == "clock"
    if by_clock or isinstance(first, ev.Opened | ev.Closed):
        return ""
    undoable = can_be_undone(events) and state.phase != "closed"
    said, back = described(events, state), undo if undoable else ""
    if isinstance(events[-1], ev.Adjusted):
        return said
    if isinstance(first, ev.Redone):
        again = [e for e in state.log if e.act == first.of]
        said, back = f"Redone: {described(again, state) or first.what}", undo
    elif isinstance(first, ev.Undone) and state.undone_from is not None:
        gone = act_taken_back(state, state.undone_from)
        said = f"Taken back: {described(gone, state.undone_from) or first.what}"
        back = "" if any(isinstance(e, ev.Started) for e in gone) else redo
    return APART.join(filter(None, (said, back)))


def described(events: Sequence[ev.Event], state: State) -> str:
    """What the events of one act did; `state` is one in which they count."""
    for kind, words in _WORDS.items():
        found = [e for e in events if isinstance(e, kind)]
        if found:
            return words(state, found, events)
    return ""


def begins_or_ends(event: ev.Event) -> bool:
    """Whether an event begins or ends a set."""
    given_up = isinstance(event, ev.Skipped) and event.given_up == "yes"
    return given_up or isinstance(event, ev.Started | ev.Ended)


def gives_place(state: State, pain: ev.Pain) -> bool:
    """Whether an event only gives the place of an earlier pain."""
    earlier = [e for e in state.log if isinstance(e, ev.Pain) and e.act < pain.act]
    return bool(
        pain.where and earlier and not earlier[-1].where and earlier[-1].entry == pain.entry
    )


def sentence(text: str) -> str:
    """A refusal as a line of its own."""
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "?", "!")) else ".")


def set_text(state: State, event: ev.SetEvent, *, side: bool = True) -> str:
    """A set, and its side where it has sides."""
    which = f" {event.side}" if side and event.side != "both" else ""
    return f"{short_of(state, event.exercise)} set {event.set}{which}"


def _sets(count: int) -> str:
    return f"{count} set" if count == 1 else f"{count} sets"


Found = Sequence[Any]  # the events of an act that are of one kind
Words = Callable[[State, Found, Sequence[ev.Event]], str]
# In order, the one that says most first: the first kind that an act has describes it.
_WORDS: dict[type[ev.Event], Words] = {}


def _says(kind: type[ev.Event]) -> Callable[[Words], Words]:
    """Mark the words for this kind of event."""

    def mark(words: Words) -> Words:
        _WORDS[kind] = words
        return words

    return mark


@_says(ev.Pain)
def _pain(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    pain = found[0]
    where = f"pain, {pain.where}" if pain.where else "pain"
    if pain.exercise is None:
        return f"Noted for the session: {where}"
    name = short_of(state, pain.exercise)
    if not any(isinstance(e, ev.Skipped | ev.Dropped) for e in events):
        return f"{name}: {where}"
    return f"{name} ends for today, {_out(state, events, pain.exercise)} left out: {where}"


def _out(state: State, events: Iterable[ev.Event], exercise: str) -> str:
    """How many sets an act left out of an exercise."""
    skipped = {(e.exercise, e.set) for e in events if isinstance(e, ev.Skipped)}
    dropped = any(isinstance(e, ev.Dropped) for e in events)
    more = sum((s.exercise, s.status) == (exercise, "dropped") for s in state.course.planned_sets)
    return _sets(len(skipped) + (more if dropped else 0))


@_says(ev.Adjusted)
def _adjusted(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    taken = ", ".join(OFFERS.get(kind, kind) for kind in found[0].taken)
    said = f"For today: {taken}." if taken else "As planned."
    back = any(isinstance(e, ev.Undone) for e in events)
    return f"{said} The sets left out for time come back." if back else said


@_says(ev.Begun)
def _begun(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    return "Warm-up begun" if state.workout.warm_up > 0 else "Begun"


@_says(ev.Started)
def _started(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    return f"{set_text(state, found[0])} begun"


@_says(ev.Paused)
def _paused(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    ended = [e for e in events if isinstance(e, ev.Ended)]
    return f"{set_text(state, ended[0])} ended, paused" if ended else "Paused"


@_says(ev.Ended)
def _ended(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    counts = [e for e in events if isinstance(e, ev.Entered)]
    return ", ".join([f"{set_text(state, found[0])} ended", *map(_value, counts)])


@_says(ev.Swapped)
def _swapped(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    one = found[0]
    sets = sum(
        (s.exercise, s.block, s.status) == (one.to, one.block, "todo")
        for s in state.course.planned_sets
    )
    return f"{short_of(state, one.exercise)} swapped for {short_of(state, one.to)}, {_sets(sets)}"


@_says(ev.Dropped)
def _dropped(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    name = found[0].exercise
    return f"{short_of(state, name)} dropped, {_out(state, events, name)}"


@_says(ev.Skipped)
def _skipped(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    sets: dict[str, set[int]] = {}
    for one in found:
        sets.setdefault(one.exercise, set()).add(one.set)
    count = sum(map(len, sets.values()))
    if count > 1 or found[0].why == "short of time":
        each = ", ".join(f"{short_of(state, name)} {len(out)}" for name, out in sets.items())
        return f"{_sets(count)} left out: {each}"
    if found[0].given_up == "yes":
        later = "".join(f", {e.side} skipped" for e in found[1:])
        return f"{set_text(state, found[0])} given up{later}"
    return f"{set_text(state, found[0], side=len(found) == 1)} skipped"


@_says(ev.Entered)
def _entered(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    what = " corrected to" if isinstance(found[0], ev.Corrected) else ":"
    said = [f"{set_text(state, one)}{what} {_value(one)}" for one in found]
    if found[0].counted == "no":
        said = [f"{set_text(state, found[0])} not counted"]
    return "; ".join([*said, *(_version(state, [e], events) for e in events if _steps(e))])


def _steps(event: ev.Event) -> bool:
    return isinstance(event, ev.Version)


def _value(one: ev.Entered) -> str:
    if one.reps is None and one.hold_s is None:
        return "not counted"
    text = f"{one.reps}" if one.hold_s is None else amount_text(one.hold_s, "hold")
    return text if one.reserve is None else f"{text} with {one.reserve} in reserve"


@_says(ev.Version)
def _version(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    one = found[0]
    level = state.workout.exercises[one.exercise].progression[one.step]
    return f"{short_of(state, one.exercise)} {one.way}: {level_words(level)}"


@_says(ev.Used)
def _used(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    one = found[0]
    parts = setup_words(parse_setup(one.setup or ""))
    parts += [] if one.load_kg is None else [f"{load_text(one.load_kg)} kg"]
    return f"{short_of(state, one.exercise)} used {', '.join(parts)}"


@_says(ev.Late)
def _late(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    return f"{set_text(state, found[0])}: {found[0].seconds:g} s off its end"


@_says(ev.Noted)
def _noted(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    if found[0].note == NOT_TODAY:
        return ""
    if found[0].entry is None:
        return "Note saved for the session"
    row = state.rows[found[0].entry - 1]
    return (
        f"Note saved for {short_of(state, row.planned_set.exercise)} set {row.planned_set.number}"
    )


@_says(ev.Asked)
def _asked(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    seconds, coming = found[0].seconds, state.coming
    way = "longer" if seconds > 0 else "shorter"
    before = "" if coming is None else f" before {short_of(state, coming[0].exercise)}"
    where = "" if coming is None else f" set {coming[0].number}"
    return f"Rest{before}{where} {abs(round(seconds))} s {way}"


@_says(ev.Held)
def _held(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    names = dict.fromkeys(short_of(state, one.exercise) for one in found)
    what = "Today only" if found[0].for_ == "today" else "Kept for next time"
    return f"{what}: {', '.join(names)}"


@_says(ev.Resumed)
def _resumed(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    return "Pause ended"


@_says(ev.Rpe)
def _rpe(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    return f"Session rated {found[0].rpe:g} of 10"


@_says(ev.Mass)
def _mass(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    return f"Body mass {found[0].mass_kg:g} kg"


@_says(ev.Resting)
def _resting(state: State, found: Found, events: Sequence[ev.Event]) -> str:
    return "Warm-up ended"
