"""Decisions that change the remaining sets: skip, drop, swap, version, what was used."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal

from runner.law.course import PlannedSet, find_level
from runner.law.workout import Exercise, Level, load_text, setup_text, setup_words
from runner.progress.pain import substitutes
from runner.progress.progression import LevelsDone, easier_than, harder_than, no_easier
from runner.session import events as ev, verb as cmd
from runner.session.apply import Refused, Turn, coming_set, new_levels, set_fields
from runner.session.state import Row, State
from runner.session.verb import BEGUN, COMING, WORK, decides, verb
from runner.session.words import HEAVIEST, bounded

LONGEST_NAME = 16  # letters of a name in the list; a longer name is replaced by the short one
NOT_TODAY = "not started: ill, or a new pain"


def _leave_out(turn: Turn, why: str) -> None:
    """Give up the running bout or skip the next one, and skip the side that would follow."""
    state = turn.state
    planned_set, side = coming_set(state)
    sides = state.course.exercise_of(planned_set).side_order
    later = sides[sides.index(side) + 1 :]
    running = state.running
    if running is not None:
        turn.emit_row(ev.Skipped, running, why=why, given_up="yes")
    else:
        later = (side, *later)
    for left_out in later:
        fields = set_fields(planned_set, left_out, len(turn.state.rows) + 1)
        turn.emit(ev.Skipped, **fields, why=why, given_up="no")


def short_of(state: State, exercise: str) -> str:
    """What the screen calls an exercise."""
    return state.workout.exercises[exercise].short


def _skip_line(state: State) -> str:
    planned_set, _ = coming_set(state)
    does = "skip" if state.running is None else "give up"
    return f"{does} {short_of(state, planned_set.exercise)} set {planned_set.number}"


@verb(
    "skip",
    cmd.Skip(),
    form="skip",
    letter="k",
    phases=WORK,
    rank=140,
    label=_skip_line,
    help="Skip the next set, or give up the running one.",
)
def _skip(turn: Turn, command: cmd.Skip) -> None:
    _leave_out(turn, command.why or "asked")
    turn.decide_rest(again=True)


@decides
def _leave_sets_out(turn: Turn, command: cmd.LeaveOut) -> None:
    """Leave out later sets; the running one, or the one between its sides, stays."""
    state = turn.state
    if state.phase not in ("ready", "warm-up", "rest", "paused"):
        raise Refused("finish this set first; sets can be left out in a rest or a pause")
    wanted = set(command.sets)
    planned_sets = [
        s
        for s in state.course.planned_sets
        if s.status == "todo" and (s.exercise, s.number) in wanted
    ]
    if not planned_sets:
        raise Refused("these sets are over already; nothing was left out")
    if state.phase == "ready" and len(planned_sets) == sum(
        s.status == "todo" for s in state.course.planned_sets
    ):
        raise Refused("at least one set must stay")
    before = turn.planned()
    for planned_set in planned_sets:
        for side in state.course.exercise_of(planned_set).side_order:
            fields = set_fields(planned_set, side, len(turn.state.rows) + 1)
            turn.emit(ev.Skipped, **fields, why=command.why, given_up="no")
    if turn.planned() != before:  # another set comes next, or one is alone in its round now
        turn.decide_rest(again=True)


def _drop_line(state: State) -> str:
    planned_set, _ = coming_set(state)
    sets = sum(
        (s.exercise, s.status) == (planned_set.exercise, "todo") for s in state.course.planned_sets
    )
    sets += planned_set.status != "todo"  # the running one
    return f"drop {short_of(state, planned_set.exercise)}, {sets} {'set' if sets == 1 else 'sets'}"


@verb(
    "drop",
    cmd.Drop(),
    form="drop",
    letter="d",
    phases=COMING,
    rank=150,
    label=_drop_line,
    help="Skip all sets to go of this exercise.",
)
def _drop(turn: Turn, command: cmd.Drop) -> None:
    planned_set, _ = coming_set(turn.state)
    _drop_exercise(turn, planned_set.exercise, command.why or "asked")
    turn.decide_rest(again=True)


def _drop_exercise(turn: Turn, exercise: str, why: str) -> None:
    """Leave out the remaining sets of an exercise; give up a running bout of it."""
    state = turn.state
    under_way = state.running is not None or state.course.side > 0
    if under_way and state.coming is not None and state.coming[0].exercise == exercise:
        _leave_out(turn, why)
    if any((s.exercise, s.status) == (exercise, "todo") for s in turn.state.course.planned_sets):
        turn.emit(ev.Dropped, exercise=exercise, why=why)


def _swapped_for(state: State) -> tuple[PlannedSet, Exercise]:
    """The next set, and the substitute for its exercise. Raises Refused."""
    planned_set, _ = coming_set(state)
    name = state.workout.exercises[planned_set.exercise].name
    if (state.running is not None or state.course.side) and not _more_in_block(state, planned_set):
        raise Refused(f"{name} has no set to go in this block")
    substitute = substitute_of(state, planned_set)
    if substitute is None:
        raise Refused(f"{name} has no substitute outside this block")
    return planned_set, substitute


def _swap_line(state: State) -> str:
    planned_set, substitute = _swapped_for(state)
    name = substitute.name
    if len(name) > LONGEST_NAME:
        name = substitute.short
    elif name[1:2].islower():
        name = name[:1].lower() + name[1:]
    return f"swap {short_of(state, planned_set.exercise)} for {name}"


@verb(
    "swap",
    cmd.Swap(),
    form="swap",
    letter="w",
    phases=COMING,
    rank=110,
    label=_swap_line,
    help="Replace this exercise with its substitute.",
)
def _swap(turn: Turn, command: cmd.Swap) -> None:
    state = turn.state
    planned_set, substitute = _swapped_for(state)
    if state.running is not None or state.course.side:
        _leave_out(turn, "swapped")
    turn.emit(ev.Swapped, exercise=planned_set.exercise, to=substitute.id, block=planned_set.block)
    turn.decide_rest(again=True)


def _more_in_block(state: State, planned_set: PlannedSet) -> bool:
    return any(
        (s.exercise, s.block, s.status) == (planned_set.exercise, planned_set.block, "todo")
        for s in state.course.planned_sets
    )


def substitute_of(state: State, planned_set: PlannedSet) -> Exercise | None:
    """The first substitute that may be offered and is not in the block.

    After pain today: see `runner.progress.pain`.
    """
    block = {s.exercise for s in state.course.planned_sets if s.block == planned_set.block}
    hurt = {r.planned_set.exercise for r in state.rows if r.pain}
    known = state.workout.exercises
    offered = substitutes(state.course.exercise_of(planned_set), known, hurt)
    return next((known[name] for name in offered if name not in block), None)


def _stepped(state: State, by: int) -> tuple[PlannedSet, PlannedSet, int]:
    """The next set, the next work set of its exercise, and the new level.

    Raises Refused without one.
    """
    planned_set, _ = coming_set(state)
    exercise = state.workout.exercises[planned_set.exercise]
    target = state.course.next_work(planned_set.exercise)
    if target is None:
        raise Refused(f"{exercise.name} has no set to go")
    mass = state.baseline.mass if state.mass is None else state.mass
    move = easier_than if by < 0 else harder_than
    step = move(exercise, target.level, mass, done_so_far(state, exercise))
    if step.kind == "top":
        hardest = f"{exercise.name} is at its hardest level"
        raise Refused(no_easier(exercise, target.level) if by < 0 else hardest)
    return planned_set, target, step.index


def _step_line(by: Literal[-1, 1]) -> Callable[[State], str]:
    def line(state: State) -> str:
        planned_set, target, index = _stepped(state, by)
        exercise = state.workout.exercises[planned_set.exercise]
        way = "easier" if by < 0 else "harder"
        return f"{exercise.short} {way}: {level_words(exercise.progression[index], target.level)}"

    return line


def level_words(level: Level, before: Level | None = None) -> str:
    """A level in a few words; with `before`, what differs from that level."""
    parts = [] if before is not None and before.version == level.version else [level.name]
    if parts and before is not None:  # of `hands on the bench, feet on the floor` the feet
        same = before.name.split(", ")
        parts = [part for part in level.name.split(", ") if part not in same] or parts
    known = () if before is None else before.setup
    parts += [f"{name} {value}" for name, value in level.setup if (name, value) not in known]
    if level.load is not None and (before is None or before.load != level.load):
        parts.append(f"{load_text(level.load)} kg")
    return ", ".join(parts)


@verb(
    "easier",
    cmd.Step(-1),
    form="easier",
    letter="e",
    phases=COMING,
    rank=120,
    label=_step_line(-1),
    help="One level easier from here on.",
)
@verb(
    "harder",
    cmd.Step(1),
    form="harder",
    letter="h",
    phases=COMING,
    rank=130,
    label=_step_line(1),
    help="One level harder from here on.",
)
def _step(turn: Turn, command: cmd.Step) -> None:
    state = turn.state
    planned_set, target, index = _stepped(state, command.by)
    exercise = state.workout.exercises[planned_set.exercise]
    level = exercise.progression[index]
    turn.emit(
        ev.Version,
        exercise=exercise.id,
        way="easier" if command.by < 0 else "harder",
        version=level.version,
        step=index,
        setup=setup_text(level.setup),
        load_kg=level.load,
        was=level_text(target.level),
    )
    if planned_set.status == "todo":
        turn.decide_rest(again=True)


def done_so_far(state: State, exercise: Exercise) -> LevelsDone:
    """What is known of the levels of an exercise: from earlier sessions and from today's sets."""
    before = state.baseline.done(exercise)
    last, counts = dict(before.last), dict(before.counts)
    begun: set[int] = set()
    for row in state.rows:
        planned_set = row.planned_set
        if (planned_set.exercise, planned_set.kind, row.status) != (exercise.id, "work", "done"):
            continue
        index = find_level(exercise, planned_set.level)
        last[planned_set.level.version] = index
        if row.value is not None and index not in begun and not row.pain:
            begun.add(index)
            counts[index] = row.value
    return LevelsDone(last, counts)


def level_text(level: Level) -> str:
    """A level in a few words: version, measured set-up, load."""
    parts = [level.version, *setup_words(level.setup)]
    if level.load is not None:
        parts.append(f"{load_text(level.load)} kg")
    return ", ".join(parts)


def _read_setup(rest: str) -> cmd.Use:
    pairs = tuple(re.findall(r"([^\s=;]+)=([^=;]+?)(?=\s+[^\s=;]+=|$)", rest))
    if not pairs or " ".join(f"{n}={v}" for n, v in pairs) != " ".join(rest.split()):
        raise Refused("write a set-up as name=value: setup height=60 cm")
    return cmd.Use(setup=pairs)


@verb(
    "load",
    lambda rest: cmd.Use(load=bounded(rest, "a load in kg", 0.0, HEAVIEST)),
    form="load 12",
    rank=181,
    help="Kilograms you used in the last set; later sets use them too.",
)
@verb(
    "setup",
    _read_setup,
    form="setup height=60 cm",
    rank=182,
    help="Set-up you used in the last set; later sets use it too.",
)
def _use(turn: Turn, command: cmd.Use) -> None:
    state = turn.state
    begun = state.last_begun
    planned_set = (
        begun.planned_set if begun is not None else (state.coming[0] if state.coming else None)
    )
    if planned_set is None:
        raise Refused("no set remains")
    known = {name for name, _ in planned_set.level.setup}
    for name, _ in command.setup:
        if known and name not in known:
            raise Refused(f"the set-up has no {name!r}; it has {', '.join(sorted(known))}")
    before = turn.planned()
    turn.emit(
        ev.Used,
        exercise=planned_set.exercise,
        version=planned_set.level.version,
        load_kg=command.load,
        setup=setup_text(command.setup) if command.setup else None,
    )
    if turn.planned() != before:  # a station has another set-up than was assumed
        turn.decide_rest(again=True)


@verb(
    "pain",
    cmd.Hurt,
    form="pain WHERE",
    keys=("x",),
    phases=BEGUN,
    rank=30,
    label="it hurts",
    help="End this exercise for today because it hurts.",
    word_help="It hurts: ends the exercise for today; WHERE now or later.",
)
def _hurt(turn: Turn, command: cmd.Hurt) -> None:
    state = turn.state
    if state.phase == "ready":
        turn.emit(ev.Pain, where=command.where)
        not_today(turn)
        return
    bare = None if command.exercise else pain_without_place(state, command.entry)
    if bare is not None and command.where:
        turn.emit(ev.Pain, where=command.where, exercise=bare.exercise, entry=bare.entry)
        return
    row, before = _hurting(state, command.exercise), turn.planned()
    if row is not None:
        exercise = row.planned_set.exercise
        turn.emit(ev.Pain, where=command.where, exercise=exercise, entry=row.entry)
        _drop_exercise(turn, exercise, "pain")
    elif state.coming is not None:
        exercise, entry = state.coming[0].exercise, len(state.rows) + 1
        _leave_out(turn, "pain")
        turn.emit(ev.Pain, where=command.where, exercise=exercise, entry=entry)
        _drop_exercise(turn, exercise, "pain")
    else:
        turn.emit(ev.Pain, where=command.where)
    if turn.planned() != before:  # another set comes next, or it is alone in its round now
        turn.decide_rest(again=True)


def _hurting(state: State, exercise: str | None) -> Row | None:
    """The row in which it hurt; None where it hurts before the next set."""
    if exercise is None:
        return state.last_begun
    begun = [r for r in state.rows if r.start is not None and r.planned_set.exercise == exercise]
    coming = state.coming
    if not begun or (state.running is None and coming and coming[0].exercise == exercise):
        if coming is None or coming[0].exercise != exercise:
            raise Refused(f"{exercise} is neither the last exercise nor the next one")
        return None
    return begun[-1]


def pain_without_place(state: State, entry: int | None = None) -> ev.Pain | None:
    """The last pain, where its place is missing and no set was begun since.

    For a row named by its `entry`, also after a later set.
    """
    ends = ev.Pain if entry is not None else ev.Pain | ev.Started
    last = next((e for e in reversed(state.log) if isinstance(e, ends) and _about(e, entry)), None)
    return last if isinstance(last, ev.Pain) and not last.where else None


def _about(event: ev.Event, entry: int | None) -> bool:
    return entry is None or getattr(event, "entry", None) == entry


def not_today(turn: Turn) -> None:
    """Close the session with nothing done; the plan then goes on with the same session."""
    turn.emit(ev.Noted, note=NOT_TODAY, entry=None)
    turn.emit(ev.Closed, complete="no", by="person")


@verb(
    "keep",
    cmd.Keep(),
    form="keep",
    rank=63,
    help="Keep the levels you used for next time; the default.",
)
@verb(
    "today",
    cmd.Keep(today_only=True),
    form="today",
    keys=("t",),
    phases=("wrap-up", "closed"),
    rank=62,
    label="only today",
    help="Use changed levels today only, or keep them for next time.",
    word_help="After the last set, or before end: use changed levels today only.",
    kept=True,
)
def _keep(turn: Turn, command: cmd.Keep) -> None:
    state = turn.state
    if state.phase in ("ready", "warm-up"):
        raise Refused("keep and today work only after a set")
    differ = [one for one in new_levels(state) if command.exercise in (None, one.exercise.id)]
    if not differ:
        raise Refused("every level is as planned; nothing to keep")
    wanted = [one for one in differ if one.today_only != command.today_only]
    if not wanted:
        so = "for today only" if command.today_only else "kept for next time"
        raise Refused(f"no change: {', '.join(one.text for one in differ)}: {so}")
    for one in wanted:
        turn.emit(
            ev.Held,
            exercise=one.exercise.id,
            group=one.group,
            version=one.level.version,
            setup=setup_text(one.level.setup),
            load_kg=one.level.load,
            for_="today" if command.today_only else "next",
        )
