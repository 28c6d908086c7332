"""From a session's state to what the screen shows: pure, with `now` in session seconds."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import PlannedSet, RemainingSets, without_part
from runner.law.workout import Exercise, Level, Side, load_text, setup_words
from runner.live.history import Past
from runner.live.session_summary import counts_text
from runner.planning.forecast import as_expected
from runner.planning.shorten import remaining_of
from runner.progress.history import Use
from runner.screen.layout import WORDS
from runner.session import aims
from runner.session.apply import to_beat
from runner.session.count_field import EntryLine
from runner.session.flow import rest_is_over
from runner.session.state import Phase, Row, State
from runner.session.words import SIDES, amount_text
from runner.text import Line, short_day

# What the full screen shows at one instant: plain frozen values, already rounded.
#
# Equal views look the same, so the screen compares before it draws. Whole seconds only: rounded up
# when counting down, rounded down when counting up. Texts may come from plans and people; they are
# made safe where they are drawn.


class Bout(Struct, frozen=True):
    """A set, or one side of it: the running one, or in a rest the one to come."""

    name: str
    short: str
    side: Side
    number: int  # within the exercise and session, from 1
    sets: int
    setup_line: str = ""  # version, measured set-up, load, tempo
    change: str = ""  # what has to be set differently from before; empty: nothing
    aim: str = ""  # the rep range and the reserve, in words
    to_beat: str = ""  # the count to beat, digits; empty: none
    bottom: str = ""  # bottom of the rep range, digits
    hold: bool = False
    ramp: bool = False
    block: int = 1
    new_block: bool = False  # the first set of a later block
    cues: tuple[str, ...] = ()
    caution: str = ""


class MuscleRecovery(Struct, frozen=True):
    """One main muscle of the block: seconds since it last worked, of those it is to have."""

    muscle: str  # with its side, where one side alone has worked
    had_s: int | None  # None: it has not worked yet
    of_s: int


class RoomyExtras(Struct, frozen=True):
    """What only a large terminal has room for."""

    then: tuple[tuple[str, str], ...] = ()  # rests, and the sets behind them
    lately: tuple[tuple[str, str], ...] = ()  # dates, and this exercise's counts at this level
    recovering: tuple[MuscleRecovery, ...] = ()


class Section(Struct, frozen=True):
    """A few lines under one word, on a page."""

    title: str
    lines: tuple[Line, ...]
    shape: Literal["text", "table", "columns"] = "text"  # a table's cells are its lines' spans
    label: int = 0  # columns of the title in front of the lines; 0: it has a line of its own
    spare_cell: int | None = None  # the table's column that is left out first
    scrolls: bool = False  # it is cut first, and the rest reached by the arrow keys
    spare: bool = False  # left out where there is no room for all


Choices = tuple[tuple[str, str], ...]  # a letter, and what it does to what


class View(Struct, frozen=True):
    """Everything on the screen. Empty texts and None are left out."""

    phase: Phase
    seconds: int = 0  # the time
    span_s: int = 0  # length of the rest, or the target of a hold; 0: no end known
    over_s: int | None = None  # seconds past the target of a hold
    waits: bool = False  # the time is over and the session waits for the person
    bout: Bout | None = None
    plan: str = ""
    session: str = ""  # its name
    session_id: str = ""
    trainee: str = ""
    block: int = 0
    blocks: int = 0
    sets_done: int = 0
    sets_all: int = 0
    remaining_s: int | None = None  # of the whole, by the forecast
    lasted_s: int | None = None  # of the whole, once it is over
    over_by: str = ""  # before the start: how long it takes, and until when
    roomy_extras: RoomyExtras = RoomyExtras()
    moves: tuple[str, ...] = ()  # of warm-up or cool-down
    page: tuple[Section, ...] = ()  # of ready, wrap-up and closed
    scroll: int = 0  # lines of the page above the first one shown
    cautions: tuple[str, ...] = ()  # which this trainee has yet to read, before the ready page
    turned: int = 0  # pages of them that have been read
    entry: EntryLine | None = None
    message: str = ""  # what became of the last key or entry
    notice: str = ""  # a lasting trouble, like a record that cannot be written
    tryout: bool = False  # before the session: a set as it will look
    late: str = ""  # how late the session runs, in words
    rehearses: bool = False  # a rehearsal: it has keys of its own
    remote: bool = False  # keys are named by the buttons of a presenter remote
    missing: int = 0  # counts
    offered: tuple[str, ...] = ()  # verbs that take what is offered
    more: Choices | None = None  # the list of `m`, while it is open

    @property
    def in_set(self) -> bool:
        """Whether a set is shown."""
        return self.phase == "set" or self.tryout


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


def target(view: View) -> str:
    """What is aimed at in large digits: the number to beat, else the bottom with a plus.

    Past the target of a hold the seconds beyond it; empty where nothing is known.
    """
    if view.over_s is not None:
        return f"+{view.over_s}"
    if view.bout is None or not (view.bout.to_beat or view.bout.bottom):
        return ""
    return view.bout.to_beat or f"{view.bout.bottom}+"


def large(view: View) -> str:
    """The largest piece: the time, but in a set of repetitions what is aimed at."""
    counted = view.in_set and view.bout is not None and not view.bout.hold
    return (target(view) if counted else "") or clock(view.seconds)


def small(view: View) -> str:
    """The other of the two; in a rest what is aimed at in the set to come."""
    if view.in_set and large(view) != clock(view.seconds):
        return clock(view.seconds)
    return target(view)


def aimed(view: View) -> str:
    """What the target is, in ordinary text."""
    if view.over_s is not None:
        return "seconds past the target"
    if view.bout is None or not target(view):
        return ""
    said = "to beat" if view.bout.to_beat else "at least"
    return f"seconds {said}" if view.bout.hold else said


def labels(view: View) -> tuple[str, str]:
    """What stands above the name, and above the small number."""
    if view.in_set:
        return "now", "time" if small(view) == clock(view.seconds) else aimed(view)
    if view.phase == "warm-up" or view.bout is None:
        return "", ""
    if not target(view):
        return "next", ""
    said = "beat" if view.bout.to_beat else "at least"
    return "next", f"next, {said}{', seconds' if view.bout.hold else ''}"


class Extras(Struct, frozen=True):
    """What the screen knows beside the session's state."""

    trainee: str = ""
    page: tuple[Section, ...] = ()
    scroll: int = 0
    cautions: tuple[str, ...] = ()
    turned: int = 0
    over_by: str = ""
    past: Past | None = None  # of the trainee, where there is room to show some of it
    roomy: bool = False  # whether there is
    entry: EntryLine | None = None
    message: str = ""
    notice: str = ""
    tryout: bool = False
    paced: bool = False  # the pacer is on
    rehearses: bool = False
    remote: bool = False  # the last key was a presenter remote's
    more: Choices | None = None  # the list of `m`, while it is open
    late: str = ""  # how late it runs, in words
    finish: float | None = None  # session second at which all is over, by the forecast


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
        session_id=state.workout.session,
        trainee=extras.trainee,
        block=here[0].block if here else 0,
        blocks=len(state.workout.blocks),
        sets_done=_sets_done(state),
        sets_all=sum(
            s.kind == "work" and s.status in ("todo", "begun") for s in state.course.planned_sets
        ),
        remaining_s=_remaining(state, now, extras.finish),
        lasted_s=floor(state.lasted) if state.phase in ("wrap-up", "closed") else None,
        over_by=extras.over_by,
        roomy_extras=_roomy_extras(state, now, extras) if extras.roomy else RoomyExtras(),
        moves=moves,
        page=extras.page,
        scroll=extras.scroll,
        cautions=extras.cautions if state.phase == "ready" else (),
        turned=extras.turned,
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
        remaining = state.until - now
        return (remaining % 1.0 or 1.0) if remaining > 0 else None
    return None


def _times(state: State, now: float) -> tuple[int, int, int | None]:
    """The large time, its span, and the seconds past the target time of a hold."""
    row = state.running
    if row is not None and row.start is not None:
        passed = max(now - row.start, 0.0)
        target_time = aims.target_time(state, row)
        if target_time is None:
            return floor(passed), 0, None
        return (
            floor(passed),
            ceil(target_time),
            floor(passed - target_time) if passed >= target_time else None,
        )
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
        setup_line=setup_line(planned_set.level)
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
    return running.to_beat if running is not None else to_beat(state, planned_set, side)


def setup_line(level: Level) -> str:
    """Version, measured set-up, load and tempo in one line."""
    parts = [level.name, *setup_words(level.setup)]
    if level.load is not None:
        parts.append(f"{load_text(level.load)} kg")
    if level.tempo:
        parts.append(f"tempo {level.tempo}")
    return ", ".join(parts)


def _change(state: State, index: int) -> str:
    """What to set differently from how the last sets left it."""
    planned_set = state.course.planned_sets[index]
    exercise = state.workout.exercises[planned_set.exercise]
    changes = []
    where = exercise.at(planned_set.level.version).station
    if where is not None:
        setup = state.course.stations.get(where)
        station = state.workout.stations[where].name
    else:
        own = [
            r
            for r in state.rows
            if r.planned_set.exercise == planned_set.exercise and r.start is not None
        ]
        setup = own[-1].planned_set.level.setup if own else None
        station = exercise.name
    if setup is not None and planned_set.level.setup and setup != planned_set.level.setup:
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


def _remaining(state: State, now: float, at: float | None) -> int | None:
    if at is None or state.phase in ("ready", "closed"):
        return None
    return max(ceil(at - now), 0)


def _roomy_extras(state: State, now: float, extras: Extras) -> RoomyExtras:
    coming = state.coming
    if coming is None or state.phase not in ("rest", "set", "paused"):
        return RoomyExtras()
    lately = () if extras.past is None else tuple(_lately(extras.past, coming[0]))
    recovering = tuple(_recovering(state, now))
    return RoomyExtras(tuple(_then(state, now)), lately, recovering)


_SET = 12  # columns of a set's name: seven letters, two digits, and blanks
THEN, LATELY = 3, 3  # sets after the next one, and sessions before this one, that are shown


def _then(state: State, now: float) -> Iterator[tuple[str, str]]:
    """The sets after the one under way or to come, each behind its rest."""
    course, since, _ = remaining_of(state, now)
    seen = {state.course.next}
    for one in RemainingSets(course).walk(since, as_expected):
        if one.set_index in seen:
            continue
        seen.add(one.set_index)
        coming, exercise = one.planned_set, state.workout.exercises[one.planned_set.exercise]
        text = f"{exercise.short} {coming.number}".ljust(_SET) + level_text(exercise, coming.level)
        yield clock(ceil(round(one.rest.seconds, 3))), text
        if len(seen) > THEN:
            return


def _lately(past: Past, planned_set: PlannedSet) -> Iterator[tuple[str, str]]:
    """This exercise's counts in its last sessions at this level, the newest last."""
    use = Use.of(planned_set.level)
    alike = (
        replace(session, sets=tuple(one for one in session.counted if one.use == use))
        for session in past.of(planned_set.exercise, without_part(planned_set.group))
    )
    found = [(short_day(one.on), counts_text(one)) for one in alike if one.sets]
    return iter(found[-LATELY:])


def _recovering(state: State, now: float) -> Iterator[MuscleRecovery]:
    for muscle, side, had, of in aims.recovering(state, now):
        name = muscle if side == "both" else f"{muscle} {side}"
        yield MuscleRecovery(name, None if had is None else floor(had), floor(of))


def level_text(exercise: Exercise, level: Level) -> str:
    """A level in a few words: `6 kg`, `60 cm`, with its version where that alone is not enough."""
    value = _value(level)
    alike = {one.version for one in exercise.progression if _value(one) == value}
    if value and alike <= {level.version}:
        return value
    known = value and value.partition(" ")[0] in level.version.split("-")  # 60 cm is in hands-60
    return level.version if known else f"{value} {level.version}".strip()


def _value(level: Level) -> str:
    """What is set at a level: its load, else the last of its measured set-up."""
    if level.load is not None:
        return f"{load_text(level.load)} kg"
    name, value = level.setup[-1] if level.setup else ("", "")
    return f"{name} {value}" if value.replace(".", "").isdigit() else value  # it has no unit


def counts_today(state: State) -> dict[str, str]:
    """Each exercise's counts in its work sets: `12 11`, `12|12 12|?`, `56s`; `-` is not counted."""
    sets: dict[str, dict[int, list[str]]] = {}
    for row in state.rows:
        if row.status in ("done", "broken"):
            of = sets.setdefault(state.exercise(row).short, {})  # in the order of warm-up sets too
            if row.planned_set.kind == "work":
                of.setdefault(row.index, []).append(_count_text(state, row))
    texts = {name: " ".join(SIDES.join(both) for both in of.values()) for name, of in sets.items()}
    return {name: text for name, text in texts.items() if text}


def _count_text(state: State, row: Row) -> str:
    if row.open:
        return "?"
    if row.value is None or not row.counted:
        return "-"
    return amount_text(row.value, state.exercise(row).measure)
