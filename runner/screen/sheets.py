"""The longer texts of the screen: what stands there before the first set and after the last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from runner.core.session.amend import new_levels
from runner.core.session.state import State
from runner.core.weekly import sets_text
from runner.core.wrapping import Line
from runner.live.afterwards import Section
from runner.live.before import offer_lines
from runner.live.opening import Opening
from runner.record.columns import SetRow
from runner.screen.keys import action, key_name
from runner.screen.outcome import section_lines
from runner.screen.present import count_text


def ready(
    opening: Opening,
    *,
    sound: Sequence[str],
    cautions_known: bool,
    taken: Sequence[str] | None = (),
) -> tuple[Line, ...]:
    """Before the start: who, what, offers, stations and their checks, last time, cautions.

    `sound` is what is to be said of it, a line each. `taken` are the offers taken; None leaves
    out the question for illness and pain.
    """
    return tuple(_ready(opening, sound, cautions_known=cautions_known, taken=taken))


def _ready(
    opening: Opening, sound: Sequence[str], *, cautions_known: bool, taken: Sequence[str] | None
) -> Iterator[Line]:
    workout = opening.workout
    yield ((f"{workout.plan}: {workout.name}", "ink"), (f"   for {opening.trainee}", "quiet"))
    if not opening.known:
        yield ((f"{opening.trainee} is new here. Welcome.", "mark"),)
        if opening.near:
            yield ((f"Names like it: {', '.join(opening.near)}. Leave and use --for.", "caution"),)
    yield ((f"Up to {_sets(opening)}. Can you read this from the mat? Try it: t", "quiet"),)
    for line in sound:
        yield ((line, "quiet"),)
    if opening.exposed:
        yield ((f"{opening.exposed[:1].upper()}{opening.exposed[1:]}", "caution"),)
    yield from _warned(opening, taken)
    yield ()
    yield from to_set_up(opening)
    yield from _last_time(opening.last_time)
    if cautions_known:
        yield (("The cautions are known; ? shows the keys.", "quiet"),)
        yield from _offered(opening, taken)
        return
    yield from to_know(opening)
    yield from _offered(opening, taken)
    yield (("Begin says that these are known.", "caution"),)


def _warned(opening: Opening, taken: Sequence[str] | None) -> Iterator[Line]:
    """The question before the start, and what is to be thought of."""
    if taken is not None:
        yield (("x", "mark"), (" if you are ill, or something hurts that did not before", "ink"))
    for warning in opening.warnings:
        yield ((warning, "caution"),)


def _offered(opening: Opening, taken: Sequence[str] | None) -> Iterator[Line]:
    """What may be taken, and the keys that take it."""
    for offer in opening.memory.offers:
        key = key_name(action(offer.kind).keys[0])
        for line in offer_lines(offer):
            yield ((line, "ink"),)
        if taken and offer.kind in taken:
            yield ((key, "mark"), (" is taken for today; once more: as planned", "mark"))
        else:
            yield ((key, "mark"), (" takes it; else all is as planned", "ink"))
        if offer.caution:
            yield ((offer.caution, "caution"),)


def to_set_up(opening: Opening) -> Iterator[Line]:
    """The stations, how they have to stand, and how to check them."""
    for place in opening.stations:
        setup = ", ".join(f"{name} {value}" for name, value in place.setup)
        named = f"{place.station.name}: {setup}" if setup else place.station.name
        yield (("Set up  ", "mark"), (named, "ink"))
        if place.station.check:
            yield ((f"        {place.station.check}", "caution"),)


def to_know(opening: Opening) -> Iterator[Line]:
    """The cautions."""
    yield (("To be known before you begin:", "caution"),)
    for caution in opening.cautions:
        yield ((f"- {caution}", "ink"),)


def _sets(opening: Opening) -> str:
    items = [item for block in opening.workout.blocks for item in block.items]
    return sets_text(sum(i.sets for i in items), sum(i.ramp for i in items))


def _last_time(rows: Sequence[SetRow]) -> Iterator[Line]:
    """What was done the last time, one line an exercise."""
    if not rows:
        return
    yield ((f"Last time, {rows[0].session_start[:10]}", "mark"),)
    counts: dict[str, list[str]] = {}
    for row in rows:
        if row.status == "done":
            value = row.reps if row.hold_s is None else f"{row.hold_s:g}s"
            side = {"both": "", "left": "L", "right": "R"}[row.side]
            counts.setdefault(row.exercise_name, []).append(
                f"{side}{'-' if value is None else value}"
            )
    for name, texts in counts.items():
        yield ((f"        {name}  ", "quiet"), (" ".join(texts), "ink"))


def wrap_up(state: State, brought: tuple[Section, ...] = ()) -> tuple[Line, ...]:
    """After the last set: what was done and beaten, and what is still to be said."""
    lines: list[Line] = []
    rated = "" if state.rpe is None else f"  (said: {state.rpe:g})"
    lines.append((("r", "mark"), (f" how hard was the session, 0 to 10{rated}", "ink")))
    lines.append((("n", "mark"), (" a note", "ink")))
    lines += _new_levels(state)
    lines.append((("a", "mark"), (" answer what is advised", "ink")))
    return (*lines, (), *(section_lines(brought) or summary(state)))


def _new_levels(state: State) -> Iterator[Line]:
    """The levels that the next session starts at, where they are not as planned."""
    for one in new_levels(state):
        key, what = ("t", ": keep it") if one.today_only else ("t", ": only today")
        said = "only today" if one.today_only else "kept for next time"
        yield ((f"{one.text}: {said} · ", "ink"), (key, "mark"), (what, "ink"))


def closed(state: State, brought: tuple[Section, ...] = (), *, lost: str) -> tuple[Line, ...]:
    """When all is over: what it has brought."""
    head = "The session is complete." if state.complete else "Closed as unfinished."
    lines: list[Line] = [((head, "ink"),)]
    if lost:
        lines.append(((f"NOT KEPT: {lost}", "caution"),))
    lines += _new_levels(state)
    return (*lines, (), *(section_lines(brought) or summary(state)))


def summary(state: State) -> Iterator[Line]:
    """One line an exercise: its counts, and how many of them beat the last time."""
    by_exercise: dict[str, list[str]] = {}
    beaten: dict[str, int] = {}
    for row in state.rows:
        if row.status in ("done", "broken"):
            name = state.exercise(row).name
            by_exercise.setdefault(name, []).append(count_text(state, row))
            beaten[name] = beaten.get(name, 0) + (row.beaten == "yes")
    for name, texts in by_exercise.items():
        more = f"   beaten: {beaten[name]}" if beaten[name] else ""
        yield ((f"{name}  ", "quiet"), (" ".join(texts), "ink"), (more, "mark"))
