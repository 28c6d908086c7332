"""What the voice says, and when: phrases as data, like cues. Other rooms make the sound.

There are two kinds, as with cues. Phrases that hold while the state stays as it is are known in
advance, with their instants (`ahead`). Phrases about an act are said after it (`of_events`). A
person with closed eyes must learn from them what the screen shows large: the phase, the next
exercise and its side, the aim, and which count is missing.

`repertoire` has all texts of a session that goes as planned, so that they can be rendered before.
`place` decides when a phrase may really begin beside the cues and other phrases.

Speech and cues. No phrase ever delays a cue. (1) A phrase begins only where it ends 0.25 s before
the next known cue, and 0.25 s after the last one; where the full text fits nowhere, a shorter one
is tried. (2) Two phrases never sound at once. (3) An unexpected cue, after a key or a count, cuts
the phrase; the phrase is said again from its beginning if it is still true and fits. It is cut and
not mixed: not every player can mix, and nobody understands speech under a cue.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Literal

from msgspec import Struct

from runner.law.course import PlannedSet
from runner.law.number_words import cardinal, quantity, seconds, spoken
from runner.law.workout import Exercise, Level, Measure, Side, setup_words
from runner.session import apply, events as ev, flow, verb as cmd
from runner.session.state import Row, State

Mode = Literal["off", "on", "names"]
MODES: tuple[Mode, ...] = ("off", "on", "names")

# In seconds, all our choice. Instants before the end of a rest: the count to beat comes between the
# call at ten and the three counted seconds, and is the last phrase before the set.
TEN = 10.0
BEAT = 7.0
ON_TIME = 0.4  # a called time is still true this much later
STALE = 8.0  # after this time nobody needs to hear what an act did
ASKS = 6.0  # after this time without typing the voice asks for the count
AGAIN = 4.0  # up to here in a set the voice catches up on what the rest had no room for
BARE = 90.0  # seconds: up to here a range of a hold is said in seconds, as it is written
COUNTS = 30  # counts up to this are rendered in advance, higher ones when they come; our choice


class Phrase(Struct, frozen=True):
    """Something to say once, beginning between two instants in session seconds.

    `texts` are ways to say it, the fullest first: where one does not fit, the next is tried. A
    phrase whose `key` was said already is not said again. Keys that begin with NAME say what comes
    or what runs; only the last one heard counts, for it replaces the earlier one in the listener's
    head.
    """

    key: tuple[object, ...]
    texts: tuple[str, ...]
    at: float
    latest: float


NAME, AIM = "name", "aim"
FIRST = (NAME, AIM)  # whether the set needs it; then it comes before mere confirmations
_FOREVER = float("inf")


def ahead(state: State, mode: Mode) -> tuple[Phrase, ...]:
    """What to say while the state stays as it is, the most needed first."""
    if mode == "off":
        return ()
    row = state.running
    if state.phase == "rest" and state.until is not None and state.coming is not None:
        phrases = list(_in_rest(state, mode, state.coming, state.until))
    elif row is not None and row.start is not None:
        phrases = list(_in_set(state, mode, row, row.start))
    elif mode == "names":
        phrases = []
    elif state.phase == "warm-up" and state.until is not None:
        phrases = list(_in_warm_up(state, state.until))
    elif state.phase == "wrap-up" and state.until is not None:
        phrases = list(_in_wrap_up(state, state.until))
    elif state.phase == "paused" and state.paused_at is not None:
        at = state.paused_at
        phrases = [Phrase(("paused", at), ("paused",), at, _FOREVER), *_missing(state, at)]
    else:
        phrases = []
    return tuple(phrases)


def _in_rest(
    state: State, mode: Mode, coming: tuple[PlannedSet, Side], until: float
) -> Iterator[Phrase]:
    planned_set, side = coming
    since = state.rest_from if state.rest_from is not None else until - TEN
    texts = _names(state, planned_set, side) if mode == "names" else _next(state, planned_set, side)
    yield Phrase(_name_key(state, planned_set, side), texts, since, until)
    if mode != "on":
        return
    if not state.course.side:
        yield from _missing(state, since, until)
    ten = until - TEN
    if ten > since:
        yield Phrase(("ten", ten), ("ten seconds",), ten, ten + ON_TIME)
    yield _aim(state, planned_set, side, until - BEAT, until)
    if state.waits_for_key:
        yield Phrase(("waits", until), ("press to start",), until, _FOREVER)


def _in_set(state: State, mode: Mode, row: Row, start: float) -> Iterator[Phrase]:
    """What the rest had no room for, and what an undo has brought back."""
    latest = start + AGAIN
    names = _names(state, row.planned_set, row.side)
    yield Phrase(_name_key(state, row.planned_set, row.side), names, start, latest)
    undone = state.log[-1] if state.log else None
    if isinstance(undone, ev.Undone):
        texts = tuple(f"{name} goes on" for name in names)
        yield Phrase((NAME, "goes on", undone.at), texts, undone.at, undone.at + STALE)
    if mode == "on":
        yield _aim(state, row.planned_set, row.side, start, latest)


def _in_warm_up(state: State, until: float) -> Iterator[Phrase]:
    since = until - state.workout.warm_up
    yield from _timed("warm-up", state.workout.warm_up, state.workout.warm_up_moves, since, until)
    text = "warm-up time is up, press to go on"
    yield Phrase(("warm-up is up", until), (text,), until, _FOREVER)


def _in_wrap_up(state: State, until: float) -> Iterator[Phrase]:
    since = until - state.workout.cool_down
    yield Phrase(("sets", since), ("all sets done",), since, _FOREVER)
    down = state.workout.cool_down
    yield from _timed("cool-down", down, state.workout.cool_down_moves, since, until)
    yield from _missing(state, since, until)
    if state.open_rows:
        if down > 0:
            yield Phrase(("cool-down", until), ("cool-down time is up",), until, _FOREVER)
        yield from _missing(state, until)
    else:
        yield Phrase(("all done", until), ("all done, press to close",), until, _FOREVER)


def _timed(
    what: str, lasts: float, moves: Sequence[str], since: float, until: float
) -> Iterator[Phrase]:
    """A part that only the clock measures: its name and length, then its moves in turn."""
    if lasts <= 0:
        return
    yield Phrase((what,), (f"{what}, {seconds(lasts)}", what), since, until)
    for number, move in enumerate(moves):
        if text := spoken(move):
            yield Phrase((what, number), (text,), since, until)


def _missing(state: State, since: float, latest: float = _FOREVER) -> Iterator[Phrase]:
    """The missing count: the oldest, for which the field on the screen asks."""
    for row in state.open_rows[:1]:
        text = _asked(state, row.planned_set, row.side)
        yield Phrase(("missing", row.entry, since), (text,), since + ASKS, latest)


def _asked(state: State, planned_set: PlannedSet, side: Side) -> str:
    name = _name(state, planned_set, side)
    return f"{name}, set {cardinal(planned_set.number)}, how many?"


def of_events(events: Sequence[ev.Event], before: State, mode: Mode) -> list[Phrase]:
    """What to say about the events of one act, after their cue."""
    if mode != "on" or not events:
        return []
    at = events[-1].at
    texts = list(_of_events(events, before))
    return [Phrase(("event", at, text), (text,), at, at + STALE) for text in texts]


def _of_events(events: Sequence[ev.Event], before: State) -> Iterator[str]:
    entered = [e for e in events if isinstance(e, ev.Entered)]
    if entered:
        yield _logged(entered)
    asked = [e for e in events if isinstance(e, ev.Asked)]
    if asked and not any(isinstance(e, ev.Started) for e in events):
        more = sum(e.seconds for e in asked)
        yield f"{seconds(abs(more))} {'more' if more > 0 else 'less'}"
    skipped = [e for e in events if isinstance(e, ev.Skipped)]
    for event in events:
        if isinstance(event, ev.Undone):
            yield _taken_back(event, before)
        elif isinstance(event, ev.Dropped):
            yield f"{spoken(before.workout.exercises[event.exercise].name)} dropped"
            return
    if len({(e.exercise, e.set) for e in skipped}) == 1:
        name = spoken(before.workout.exercises[skipped[0].exercise].name)
        yield f"{name}, set {cardinal(skipped[0].set)}, skipped"
    elif skipped:
        yield f"{cardinal(len({(e.exercise, e.set) for e in skipped}))} sets left out"


def _taken_back(event: ev.Undone, state: State) -> str:
    """What an undo took back, or a redo brought again, and of which set."""
    parts = ["done again" if isinstance(event, ev.Redone) else "taken back"]
    if event.exercise is not None:
        parts.append(spoken(state.workout.exercises[event.exercise].name))
    if event.set is not None:
        parts.append(f"set {cardinal(event.set)}")
    return ", ".join([*parts, _TAKEN_BACK.get(event.what, "the last act")])


# What an undo takes back, by the first event of the act.
_TAKEN_BACK = {
    "entered": "the count",
    "corrected": "the correction",
    "ended": "the end of the set",
    "started": "the start",
    "skipped": "the skip",
    "dropped": "the drop",
    "asked": "the change of this rest",
    "paused": "the pause",
    "resumed": "going on",
    "swapped": "the swap",
    "version": "the change of level",
    "used": "the load or set-up",
    "noted": "the note",
    "resting": "the step",
    "mass": "the body mass",
    "rpe": "how hard it was",
    "late": "the late key",
    "held": "what is kept",
    "pain": "the pain",
    "adjusted": "the offer",
}


def _logged(entered: Sequence[ev.Entered]) -> str:
    """The counts that were saved: one, or those of both sides."""
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


def _aim(state: State, planned_set: PlannedSet, side: Side, at: float, latest: float) -> Phrase:
    """The count to beat; without one, the range that is aimed at."""
    exercise = state.course.exercise_of(planned_set)
    value = apply.to_beat(state, planned_set, side)
    if value is not None:
        text = f"{_amount(value, exercise.measure)} to beat"
    else:
        text = f"aim for {_range(*exercise.rep_range, exercise.measure)}"
    return Phrase((AIM, planned_set.exercise, planned_set.number, side, text), (text,), at, latest)


def _range(low: float, high: float, measure: Measure) -> str:
    """Bottom and top of a range: "eight to twenty", "twenty to sixty seconds"."""
    if low == high:
        return _amount(high, measure)
    if measure == "hold" and high > BARE:
        return f"{seconds(low)} to {seconds(high)}"
    both = f"{cardinal(int(low))} to {cardinal(int(high))}"
    return f"{both} seconds" if measure == "hold" else both


def _amount(value: float, measure: Measure) -> str:
    return seconds(value) if measure == "hold" else cardinal(int(value))


def _name(state: State, planned_set: PlannedSet, side: Side) -> str:
    """What comes next, with its side: "rucksack row, left"."""
    name = spoken(state.workout.exercises[planned_set.exercise].name)
    return name if side == "both" else f"{name}, {side}"


def _names(state: State, planned_set: PlannedSet, side: Side) -> tuple[str, ...]:
    """The name in full, and as short as it stands on the screen, for a short rest."""
    short = spoken(state.workout.exercises[planned_set.exercise].short.lower())
    return _name(state, planned_set, side), short if side == "both" else f"{short} {side}"


def _name_key(state: State, planned_set: PlannedSet, side: Side) -> tuple[object, ...]:
    """The same in a rest and in its set, as long as nothing of it is changed."""
    return NAME, state.rest_from, planned_set.exercise, planned_set.number, side, planned_set.level


def _next(state: State, planned_set: PlannedSet, side: Side) -> tuple[str, ...]:
    """The next set, the fullest text first."""
    exercise = state.workout.exercises[planned_set.exercise]
    names = _names(state, planned_set, side)
    since = state.rest_from or 0.0
    if state.course.side and not any(isinstance(e, ev.Undone) and e.at >= since for e in state.log):
        return (f"switch sides, {side}", side)
    short = f"next, {names[0]}"
    differs = [*_differs(state, planned_set, exercise), *_which(state, planned_set)]
    full = (", ".join([short, *differs]),) if differs else ()
    return (*full, short, *names)


def _which(state: State, planned_set: PlannedSet) -> Iterator[str]:
    """What kind of set it is, where that matters."""
    if planned_set.kind == "ramp":
        yield "warm-up set"
    remaining = [
        s for s in state.course.planned_sets if s.status == "todo" and s is not planned_set
    ]
    if not remaining:
        yield "last set of the session"
    elif all(s.exercise != planned_set.exercise for s in remaining):
        yield "last set"


def _differs(state: State, planned_set: PlannedSet, exercise: Exercise) -> Iterator[str]:
    """What to set differently: version, set-up and load where they changed.

    The version is compared with the last set of this exercise, the set-up with how its station was
    left, the load with the last one lifted in any exercise: two exercises may share one rucksack.
    Before its first set the version and load of an exercise are said; its station is set up
    already.
    """
    level = planned_set.level
    own = [
        r.planned_set.level
        for r in state.rows
        if r.start is not None and r.planned_set.exercise == exercise.id
    ]
    several = len({r.version for r in exercise.progression}) > 1
    if level.name and (own[-1].version != level.version if own else several):
        named = {part.casefold() for part in spoken(exercise.name).split(", ")}
        yield from (p for p in spoken(level.name).split(", ") if p.casefold() not in named)
    station = exercise.at(level.version).station
    if station is not None:
        items = state.course.stations.get(station)
    else:
        items = own[-1].setup if own else ()
    if level.setup and items is not None and dict(items) != dict(level.setup):
        yield ", ".join(map(spoken, setup_words(level.setup)))
    if level.load is not None and level.load != _last_load(state):
        yield quantity(level.load, "kg") if level.load else "no load"


def _last_load(state: State) -> float | None:
    levels: Iterable[Level] = (
        r.planned_set.level for r in reversed(state.rows) if r.start is not None
    )
    return next((level.load for level in levels if level.load is not None), None)


def repertoire(state: State, mode: Mode) -> Iterator[str]:
    """Every text of the session as planned from here on, in the order of need.

    Each is computed when it is asked for. Includes counts up to `COUNTS`; texts after a change of
    plan are rendered when they come.
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
        yield from ("paused", "not counted", "all done, press to close", "cool-down time is up")
        for planned_set in state.course.planned_sets:
            for side in state.course.exercise_of(planned_set).side_order:
                yield _asked(state, planned_set, side)
        for count in range(COUNTS + 1):
            said = f"logged, {cardinal(count)}"
            yield from (said, f"{said}, beaten")


def _played_through(state: State) -> Iterator[State]:
    """The session from here on, act by act, if every set is done as planned."""
    now = state.log[-1].at if state.log else 0.0
    while state.phase not in ("wrap-up", "closed"):
        yield state
        now += 1.0
        command = cmd.StartNow() if state.phase == "rest" else cmd.Proceed()
        state = flow.handle(state, command, now).state
    yield state


# When a phrase may begin: beside the cues, and beside other phrases.
#
# The rule. No phrase delays a cue: it is asked for at its instant, whatever is being said.
#
# 1. A phrase begins only where it ends, by its rendered length, at least `GAP` before the next cue
#    that is known, and no sooner than `GAP` after the end of the last cue. Where it fits nowhere
#    between its two instants it is not said; a shorter way to say it is tried before.
# 2. Two phrases never sound at once; `BREATH` lies between them.
# 3. A cue that nobody could know (a key, an entry) while a phrase sounds is played at once and cuts
#    the phrase. One that was cut is said again, from its beginning, if it is still true and fits.

GAP = 0.25  # seconds between speech and a cue; our choice: what ears need to tell them apart
BREATH = 0.4  # seconds between two phrases; our choice

Cues = Sequence[tuple[float, float]]  # coming cues: (instant, length), in seconds, in order
Length = Callable[[str], float | None]  # length of a rendered text; None where it is not rendered


class PlacedPhrase(Struct, frozen=True):
    """A phrase with its instant: begins at `at`, is said as `text`, ends at `end`."""

    at: float
    end: float
    text: str
    phrase: Phrase


def place(
    phrases: Iterable[Phrase], cues: Cues, length: Length, free: float
) -> PlacedPhrase | None:
    """The phrase to begin next, or None; nothing begins before `free`.

    Of two that could begin at the same time, the first in the list does.
    """
    found = [one for phrase in phrases if (one := _placed(phrase, cues, length, free)) is not None]
    return min(found, key=lambda one: one.at, default=None)


def _placed(phrase: Phrase, cues: Cues, length: Length, free: float) -> PlacedPhrase | None:
    for text in phrase.texts:
        lasts = length(text)
        if lasts is None:
            continue
        at = _fits(lasts, cues, max(phrase.at, free))
        if at <= phrase.latest:
            return PlacedPhrase(at, at + lasts, text, phrase)
    return None


def _fits(lasts: float, cues: Cues, earliest: float) -> float:
    """The first instant from `earliest` on at which a phrase of this length meets no cue."""
    at = earliest
    for instant, cue_length in cues:
        if at + lasts + GAP <= instant:
            break
        at = max(at, instant + cue_length + GAP)
    return at
