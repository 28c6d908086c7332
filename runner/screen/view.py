"""From a session's state to what the screen shows: pure, with `now` in session seconds."""

from __future__ import annotations

from math import ceil, floor

from msgspec import Struct

from runner.law.course import PlannedSet
from runner.law.workout import Level, Side, load_text
from runner.screen.layout import WORDS
from runner.session import aims
from runner.session.count_field import EntryLine
from runner.session.flow import rest_is_over
from runner.session.state import Phase, Row, State
from runner.session.words import amount_text
from runner.text import Line

# What the full screen shows at one instant: plain frozen values, already rounded.
#
# Two equal views look the same, so whoever shows them compares before drawing. Whole seconds
# only: counting down they are rounded up, counting up they are rounded down. Texts may come from
# plans and people; they are made safe where they are drawn.


class Bout(Struct, frozen=True):
    """A set, or one side of it: the running one, or in a rest the one to come."""

    name: str
    short: str
    side: Side
    number: int  # within the exercise and session, from 1
    sets: int
    gear: str = ""  # version, measured set-up, load, tempo
    change: str = ""  # what has to be set differently from before; empty: nothing
    aim: str = ""  # the band and the reserve, in words
    to_beat: str = ""  # the count to beat, digits; empty: none
    bottom: str = ""  # of the band, digits
    hold: bool = False
    ramp: bool = False
    block: int = 1
    new_block: bool = False  # the first set of a later block
    cues: tuple[str, ...] = ()
    caution: str = ""


class Recovery(Struct, frozen=True):
    """One prime mover of the coming set: seconds since its last prime work, now and then."""

    muscle: str
    side: Side
    had_s: int
    at_start_s: int


Choices = tuple[tuple[str, str], ...]  # a letter, and what it does to what


class View(Struct, frozen=True):
    """Everything on the screen. Empty texts and None are left out."""

    phase: Phase
    seconds: int = 0  # the large time
    span_s: int = 0  # of which `seconds` are left in a rest; the mark of a hold; 0: no end known
    over_s: int | None = None  # seconds past the mark of a hold
    waits: bool = False  # the time is over and the session waits for the person
    bout: Bout | None = None
    plan: str = ""
    session: str = ""
    trainee: str = ""
    block: int = 0
    blocks: int = 0
    sets_done: int = 0
    sets_all: int = 0
    left_s: int | None = None  # of the whole, predicted
    recoveries: tuple[Recovery, ...] = ()
    done: tuple[tuple[str, str], ...] = ()  # short name and its counts, in order
    moves: tuple[str, ...] = ()  # of warm-up or cool-down
    sheet: tuple[Line, ...] = ()  # the text of ready, wrap-up and closed
    scroll: int = 0  # lines of the sheet above the first one shown
    entry: EntryLine | None = None
    message: str = ""  # what became of the last key or entry
    notice: str = ""  # a lasting trouble, such as a record that cannot be kept
    tryout: bool = False  # before the session: a set as it will look
    late: str = ""  # how late the session runs, in words
    rehearses: bool = False  # a rehearsal: it has keys of its own
    remote: bool = False  # keys are named by the buttons of a presenter remote
    missing: int = 0  # counts
    offered: tuple[str, ...] = ()  # verbs that take what is offered
    more: Choices | None = None  # the list of `m`, while it is open


def clock(seconds: int) -> str:
    """Minutes and seconds as on a clock: `0:07`, `12:30`, `100:00`."""
    return f"{seconds // 60}:{seconds % 60:02}"


def word(view: View) -> str:
    """The large word for the phase."""
    if view.phase == "rest" and view.waits:
        return "GO?"
    if view.phase == "set" and view.bout is not None and view.bout.hold:
        return "HOLD"
    return "SET" if view.tryout else WORDS[view.phase]


def count(view: View) -> str:
    """The large count beside the time: digits, or nothing.

    In a set the one to beat, without one the floor of the band with a plus; past the mark of a
    hold the seconds beyond it. In a rest what stands in the entry, once it is a value.
    """
    if view.phase == "set" or view.tryout:
        if view.over_s is not None:
            return f"+{view.over_s}"
        if view.bout is None or view.bout.to_beat:
            return view.bout.to_beat if view.bout else ""
        return f"{view.bout.bottom}+" if view.bout.bottom else ""
    if view.entry is None or not view.entry.touched:
        return ""
    first = view.entry.text.split(" ")[0].partition("/")[0]
    return first if first.isascii() and first.isdigit() else ""


def label(view: View) -> str:
    """What the large count is, in ordinary text."""
    if view.phase == "set" or view.tryout:
        if view.over_s is not None:
            return "seconds past the target"
        if view.bout is None or not (view.bout.to_beat or view.bout.bottom):
            return ""
        unit = "seconds " if view.bout.hold else ""
        return f"{unit}to beat" if view.bout.to_beat else f"{unit}at least"
    return view.entry.asked.label if view.entry is not None else ""


class Extras(Struct, frozen=True):
    """What the screen knows beside the session's state."""

    trainee: str = ""
    sheet: tuple[Line, ...] = ()
    scroll: int = 0
    entry: EntryLine | None = None
    message: str = ""
    notice: str = ""
    tryout: bool = False
    paced: bool = False  # the pacer is on
    rehearses: bool = False
    remote: bool = False  # the last key was a presenter remote's
    more: Choices | None = None  # the list of `m`, while it is open
    late: str = ""  # how late it runs, in words
    finish: float | None = None  # session second at which everything is expected to be over


def present(state: State, now: float, extras: Extras) -> View:
    """The view at one instant."""
    seconds, span, over = _times(state, now)
    here = state.coming
    moves = {
        "warm-up": state.workout.warm_up_moves,
        "wrap-up": state.workout.cool_down_moves,
    }.get(state.phase, ())
    return View(
        phase=state.phase,
        seconds=seconds,
        span_s=span,
        over_s=over,
        waits=_waits(state, now),
        bout=_bout(state, paced=extras.paced),
        plan=state.workout.plan,
        session=state.workout.name,
        trainee=extras.trainee,
        block=here[0].block if here else 0,
        blocks=len(state.workout.blocks),
        sets_done=_sets_done(state),
        sets_all=sum(
            s.kind == "work" and s.status in ("todo", "begun") for s in state.course.planned_sets
        ),
        left_s=_left(state, now, extras.finish),
        recoveries=tuple(
            Recovery(muscle, side, floor(had), floor(then))
            for muscle, side, had, then in aims.recoveries(state, now)
        )
        if state.phase == "rest"
        else (),
        done=_through(state) if extras.rehearses else _done(state),
        moves=moves,
        sheet=extras.sheet,
        scroll=extras.scroll,
        entry=extras.entry,
        message=extras.message,
        notice=extras.notice,
        tryout=extras.tryout,
        rehearses=extras.rehearses,
        remote=extras.remote,
        missing=0 if extras.rehearses else len(state.open_rows),
        offered=tuple(one.kind for one in state.baseline.offers) if not extras.rehearses else (),
        more=extras.more,
        late=extras.late,
    )


def next_change(state: State, now: float) -> float | None:
    """Seconds until the large time shows another number; None while it stands still."""
    row = state.running
    if row is not None and row.start is not None:
        return 1.0 - (now - row.start) % 1.0
    if state.phase in ("warm-up", "rest", "wrap-up") and state.until is not None:
        left = state.until - now
        return (left % 1.0 or 1.0) if left > 0 else None
    return None


def _times(state: State, now: float) -> tuple[int, int, int | None]:
    """The large time, its span, and the seconds past the mark of a hold."""
    row = state.running
    if row is not None and row.start is not None:
        passed = max(now - row.start, 0.0)
        mark = aims.mark(state, row)
        if mark is None:
            return floor(passed), 0, None
        return floor(passed), ceil(mark), floor(passed - mark) if passed >= mark else None
    if state.until is None:
        return 0, 0, None
    at = state.paused_at if state.phase == "paused" and state.paused_at is not None else now
    since = state.rest_from if state.phase == "rest" else None
    span = 0 if since is None else ceil(state.until - since)
    return max(ceil(round(state.until - at, 3)), 0), span, None


def _waits(state: State, now: float) -> bool:
    if state.phase == "rest":
        return state.waits_for_key and rest_is_over(state, now)
    if state.phase == "wrap-up" and not state.workout.cool_down:
        return False  # there is no cool-down that could be over
    return state.phase in ("warm-up", "wrap-up") and state.until is not None and now >= state.until


def _bout(state: State, *, paced: bool) -> Bout | None:
    coming, index = state.coming, state.course.next
    if coming is None or index is None or state.phase in ("wrap-up", "closed"):
        return None
    planned_set, side = coming
    exercise = state.course.exercise_of(planned_set)
    hold = exercise.measure == "hold"
    low = exercise.rep_range[0]
    beat = _to_beat(state, planned_set, side)
    ends = state.last_ended
    return Bout(
        name=exercise.name,
        short=exercise.short,
        side=side,
        number=planned_set.number,
        sets=sum(
            s.exercise == planned_set.exercise and s.status in ("todo", "begun")
            for s in state.course.planned_sets
        ),
        gear=gear(planned_set.level)
        + (", pacer on" if paced and planned_set.level.tempo and not hold else ""),
        change=_change(state, index),
        aim=aims.aim(exercise),
        to_beat="" if beat is None else f"{beat:g}",
        bottom=f"{low:g}",
        hold=hold,
        ramp=planned_set.kind == "ramp",
        block=planned_set.block,
        new_block=ends is not None and ends.planned_set.block != planned_set.block,
        cues=exercise.cues,
        caution=exercise.caution or "",
    )


def _to_beat(state: State, planned_set: PlannedSet, side: Side) -> float | None:
    running = state.running
    return running.to_beat if running is not None else aims.to_beat(state, planned_set, side)


def gear(level: Level) -> str:
    """Version, measured set-up, load and tempo in one line."""
    parts = [level.name, *(f"{name} {value}" for name, value in level.setup)]
    if level.load is not None:
        parts.append(f"{load_text(level.load)} kg")
    if level.tempo:
        parts.append(f"tempo {level.tempo}")
    return ", ".join(parts)


def _change(state: State, index: int) -> str:
    """What has to be set differently from how the last sets left it."""
    planned_set = state.course.planned_sets[index]
    exercise = state.workout.exercises[planned_set.exercise]
    changes = []
    where = exercise.at(planned_set.level.version).station
    if where is not None:
        left = state.course.stations.get(where)
        station = state.workout.stations[where].name
    else:
        own = [
            r
            for r in state.rows
            if r.planned_set.exercise == planned_set.exercise and r.start is not None
        ]
        left = own[-1].planned_set.level.setup if own else None
        station = exercise.name
    if left is not None and planned_set.level.setup and left != planned_set.level.setup:
        changes.append(f"{station} to {', '.join(f'{n} {v}' for n, v in planned_set.level.setup)}")
    loads = [r.planned_set.level.load for r in state.rows if r.start is not None]
    last = next((load for load in reversed(loads) if load is not None), None)
    if last is not None and planned_set.level.load is not None and planned_set.level.load != last:
        changes.append(f"{load_text(planned_set.level.load)} kg instead of {load_text(last)} kg")
    return "; ".join(changes)


def _sets_done(state: State) -> int:
    """Work sets that are done, both sides of each; not those given up."""
    under_way = state.course.last if state.course.running or state.course.side else None
    done = {row.index for row in state.rows if row.status == "done"}
    return sum(
        planned_set.kind == "work" and index in done and index != under_way
        for index, planned_set in enumerate(state.course.planned_sets)
    )


def _left(state: State, now: float, at: float | None) -> int | None:
    if at is None or state.phase in ("ready", "closed"):
        return None
    return max(ceil(at - now), 0)


def _done(state: State) -> tuple[tuple[str, str], ...]:
    """Each exercise's counts so far; the exercise done last comes first, for a list is cut."""
    counts: dict[str, list[str]] = {}
    for row in state.rows:
        if row.status in ("done", "broken"):
            short = state.exercise(row).short
            texts = counts.pop(short, [])
            counts = {short: [*texts, count_text(state, row)], **counts}
    return tuple((short, " ".join(texts)) for short, texts in counts.items())


def _through(state: State) -> tuple[tuple[str, str], ...]:
    """The same where there are no counts: how many sets of each exercise are through."""
    planned_sets = [s for s in state.course.planned_sets if s.status in ("todo", "begun")]
    under_way = state.course.last if state.course.running or state.course.side else None
    sets: dict[str, list[int]] = {}
    for index, planned_set in enumerate(state.course.planned_sets):
        if planned_set.status == "begun":
            done = sets.setdefault(planned_set.exercise, [0])
            done[0] += index != under_way
    return tuple(
        (
            state.workout.exercises[name].short,
            f"{done} of {sum(s.exercise == name for s in planned_sets)}",
        )
        for name, (done,) in sets.items()
    )


def count_text(state: State, row: Row) -> str:
    """A row's count in a few signs: 12, 31s, L9; `?` is open, `-` is not counted."""
    side = {"both": "", "left": "L", "right": "R"}[row.side]
    if row.open:
        return f"{side}?"
    if row.value is None or not row.counted:
        return f"{side}-"
    return side + amount_text(row.value, state.exercise(row).measure)
