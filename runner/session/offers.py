"""Taking offers before a session begins, and finding a level set by set."""

from __future__ import annotations

from runner.law.course import find_level
from runner.law.workout import setup_text
from runner.progress.level_finding import FoundLevel, Trial, next_trial
from runner.session import events as ev, verb as cmd
from runner.session.apply import Refused, Turn
from runner.session.changes import level_text, not_today
from runner.session.state import Row, State
from runner.session.verb import verb


@verb(
    "lighter",
    cmd.Take("lighter"),
    form="lighter",
    keys=("e",),
    phases=("ready",),
    rank=20,
    label="lighter session",
    help="Take the lighter session on offer, or not.",
    word_help="Before the start: take the lighter session offered.",
    kept=True,
)
@verb(
    "place",
    cmd.Take("place"),
    form="place",
    keys=("f",),
    phases=("ready",),
    rank=21,
    label="find levels",
    help="Take the level finding on offer, or not.",
    word_help="Before the start: find your levels, from the easiest up.",
    kept=True,
)
@verb(
    "planned",
    cmd.Take(""),
    form="planned",
    rank=22,
    help="Before the start: drop the offers you took; the session runs as planned.",
)
def _take(turn: Turn, command: cmd.Take) -> None:
    """Take an offer beside those taken already; without a name the session runs as planned again.

    Sets left out for time were chosen from the session before the change, so they come back.
    """
    state = turn.state
    if state.phase != "ready":
        raise Refused("offers can be taken only before the start")
    known = {offer.kind: offer for offer in state.baseline.offers}
    if command.offer and command.offer not in known:
        there = ", ".join(known) or "nothing"
        raise Refused(f"{command.offer!r} is not on offer today; on offer: {there}")
    if not command.offer and not state.taken:
        raise Refused("no offer is taken; the session runs as planned")
    if command.offer in state.taken:
        raise Refused(f"{command.offer} is taken already; planned gives it back")
    taken = [*state.taken, command.offer] if command.offer else []
    changes = [one.as_data() for kind in taken for one in known[kind].adjustments]
    for act in sorted({e.act for e in state.log if isinstance(e, ev.Skipped)}, reverse=True):
        turn.emit(ev.Undone, of=act, what=ev.Skipped.name)
    turn.emit(ev.Adjusted, taken=taken, changes=changes)


def trials(state: State, exercise: str) -> list[Trial]:
    """The sets done so far to find an exercise's level, each by its weaker side."""
    known = state.workout.exercises[exercise]
    by_set: dict[int, list[Row]] = {}
    for row in state.rows:
        done = row.status == "done" and row.value is not None and not row.pain
        if done and (row.planned_set.exercise, row.planned_set.kind) == (exercise, "work"):
            by_set.setdefault(row.index, []).append(row)
    found = []
    for rows in by_set.values():
        if len(rows) == len(state.exercise(rows[0]).side_order):
            weaker = min(rows, key=lambda r: (r.value or 0.0) + (r.reserve or 0))
            index = find_level(known, weaker.planned_set.level)
            found.append(Trial(index, weaker.value or 0.0, weaker.reserve))
    return found


def found_level(state: State, exercise: str) -> FoundLevel | None:
    """Where level finding has come to with an exercise; None before its first set."""
    done = trials(state, exercise)
    return next_trial(state.workout.exercises[exercise], done) if done else None


def follow(turn: Turn, row: Row) -> None:
    """After a count: move the remaining sets of an exercise in level finding."""
    state, name = turn.state, row.planned_set.exercise
    if name not in state.workout.level_finding:
        return
    found, target = found_level(state, name), state.course.next_work(name)
    if found is None or target is None:
        return
    exercise = state.workout.exercises[name]
    before = find_level(exercise, target.level)
    if found.index == before:
        return
    level = exercise.progression[found.index]
    turn.emit(
        ev.Version,
        exercise=name,
        way="easier" if found.index < before else "harder",
        version=level.version,
        step=found.index,
        setup=setup_text(level.setup),
        load_kg=level.load,
        was=level_text(target.level),
    )
    coming = turn.state.coming
    if coming is not None and coming[0].exercise == name:
        turn.decide_rest(again=True)


@verb(
    "unwell",
    cmd.Unwell(),
    form="unwell",
    keys=("x",),
    phases=("ready",),
    rank=30,
    label="ill or hurt",
    help="You are ill or have a new pain: no session today.",
    kept=True,
)
def _unwell(turn: Turn, command: cmd.Unwell) -> None:
    if turn.state.phase != "ready":
        raise Refused("the session has started; pain WHERE ends an exercise, end closes it")
    not_today(turn)
