"""The ordinary text of the screen, for the hands on the keys.

What stands in it, and in what order it gives way where there are few lines.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.cells import cell_len, chop_cells

from runner.law.weekly_sets import sets_text
from runner.live.offers import offer_lines
from runner.live.session_setup import Opening
from runner.live.session_summary import Section
from runner.progress.history import SetRow
from runner.screen.layout import Layout
from runner.screen.view import Bout, Recovery, View, clock, count_text, word
from runner.session.apply import new_levels
from runner.session.count_field import EntryLine
from runner.session.state import State
from runner.session.verb import key_of
from runner.text import Line, Role, Span

_LABEL = 10  # columns of the words in front of the lines
_LABELLED = 44  # width below which they stand in the line itself
_HANGING = 16  # width below which a text that hangs behind another is cut instead
_APART = " · "
_CUT = " …"

# Rank of each kind of line: the lowest stays longest. Our choice, by what a wrong guess costs.
_WHERE, _CHANGE, _AIM, _GEAR, _CAUTION, _RECOVERY, _DONE_REST, _CUE, _DONE_SET, _MORE = range(10)

Ranked = tuple[int, Line]


def lines(view: View, planned_sets: Layout, width: int, height: int) -> list[Line]:
    """The lines of the text block that fit into so many rows, in their order."""
    if view.sheet and view.phase in ("ready", "wrap-up", "closed") and not view.tryout:
        return _sheet(view, width, height)
    ranked, cut = list(_ranked(view, planned_sets, width)), False
    while len(ranked) > height:
        worst = max(rank for rank, _ in ranked)
        at = max(index for index, (rank, _) in enumerate(ranked) if rank == worst)
        cut = cut or worst == _MORE
        del ranked[at]
    if cut:
        ranked = list(_marked(ranked))
    return [line for _, line in ranked]


def _marked(ranked: Sequence[Ranked]) -> Iterator[Ranked]:
    """The lines with a mark at the end of the counts so far, which are not all there."""
    places = [n for n, (rank, _) in enumerate(ranked) if rank in (_DONE_SET, _DONE_REST, _MORE)]
    for number, (rank, line) in enumerate(ranked):
        yield rank, (*line, (_CUT, "quiet")) if number == max(places, default=-1) else line


def aside(view: View, planned_sets: Layout, height: int) -> list[Line]:
    """Text beside a large piece that stands alone."""
    if "info" not in planned_sets:  # all the text there is on a terminal of three or four rows
        return [*_status(view, planned_sets), *entry_lines(view, 0, 1)][:height]
    if view.phase == "paused":
        return [(("The session waits for you.", "ink"),), (("Recovery goes on.", "quiet"),)]
    if view.phase in ("ready", "closed"):
        who: list[Line] = [
            ((view.trainee, "ink"),),
            ((view.plan, "quiet"),),
            ((view.session, "quiet"),),
        ]
        return [line for line in who if line[0][0]][:height]
    if view.phase == "wrap-up":
        said = "Cool-down time is up." if view.waits else "All sets done."
        return [((said, "ink"),), (("Close when you are done.", "quiet"),)]
    if view.waits:
        return [(("Time is up.", "ink"),), (("Go on when you are ready.", "quiet"),)]
    return []


def has_entry(view: View) -> bool:
    """Whether anything stands in the entry's place."""
    return view.entry is not None or view.message != ""


def entry_lines(view: View, width: int, height: int) -> list[Line]:
    """The open entry and above it what there is to say; in one row whatever is newest."""
    message: Line = ((view.message, "mark"),) if view.message else ()
    if view.entry is None:
        rows = wrapped(view.message, width) if height > 1 else [view.message]
        return [((row, "mark"),) for row in rows] if message else []
    line = view.entry
    role: Role = "caution" if line.doubted else "refusal"
    said: Line = ((line.message, role),) if line.message else message
    if height > 1:
        return [said, _entry(line, view)]
    if line.message:
        return [((f"{line.text} ", "typed"), ("  ", "quiet"), *said)]
    return [_entry(line, view)]


def _entry(line: EntryLine, view: View) -> Line:
    """Which set is asked for and what stands there; a suggestion is no value, and looks it."""
    unit = "seconds" if line.asked.measure == "hold" else "repetitions"
    asked: Span = (f"{line.asked.label}  ", "ink")
    saves = "enter" if view.phase == "set" else "space"
    typed: Span = (f" {line.text}▏", "typed")
    match line.kind:
        case "empty":
            grey = f"({line.asked.suggestion:g})"
            can_open = view.remote and view.phase in ("rest", "wrap-up")
            how = ". opens it" if can_open else f"type the {unit}, {saves} saves"
            return (asked, (grey, "suggestion"), (f"  {how}", "quiet"))
        case "opened" | "stepped":
            how = "  page up, page down: less, more  . saves"
            return (asked, (f" {line.text} ", "typed"), (how, "quiet"))
        case "correction":
            changed: Span = (f"{line.asked.label} was {line.asked.was} → ", "ink")
            enter = "." if view.remote else "enter"
            return (changed, (f"{line.text}▏", "typed"), (f" {enter} changes it", "quiet"))
    return (asked, typed, (f"  {'.' if view.remote else saves} saves", "quiet"))


def _status(view: View, planned_sets: Layout) -> list[Line]:
    """The phase and what is done or comes, in one line."""
    return [line for rank, line in _ranked(view, planned_sets, 0) if rank == _WHERE][:1]


def _ranked(view: View, planned_sets: Layout, width: int) -> Iterator[Ranked]:
    """Every line there is to show, in order, with its rank. Width 0: do not wrap."""
    prefix: Line = ()
    if "word" not in planned_sets:
        prefix = ((word(view), "mark"), (_APART, "quiet"))
    if view.notice and "head" not in planned_sets:
        prefix = ((view.notice, "caution"), (_APART, "quiet"), *prefix)
    yield from _moves(view, width)
    if view.late and view.phase != "set":
        yield from _labelled("Late", f"{view.late} · m i: leave out sets", "caution", _AIM, width)
    if view.bout is None:
        yield _WHERE, (*prefix, (view.session or view.plan, "ink"))
    else:
        yield from _of_bout(view, view.bout, prefix, width)
    if view.done:
        text = _APART.join(f"{short} {counts}" for short, counts in view.done)
        rank = _DONE_SET if view.phase == "set" else _DONE_REST
        first, *later = _labelled("So far", text, "quiet", rank, width - len(_CUT))
        yield first
        yield from ((_MORE, line) for _, line in later)


def _moves(view: View, width: int) -> Iterator[Ranked]:
    for index, move in enumerate(view.moves):
        yield from _labelled("" if index else "Moves", move, "ink", _CHANGE, width)


def _of_bout(view: View, bout: Bout, prefix: Line, width: int) -> Iterator[Ranked]:
    where = _where(bout)
    if prefix or not _labels(width):
        narrow = width and sum(cell_len(text) for text, _ in prefix) + cell_len(where) > width
        yield _WHERE, (*prefix, (_where_short(bout) if narrow else where, "ink"))
    else:
        yield from _labelled("Now" if view.phase == "set" else "Next", where, "ink", _WHERE, width)
    yield from _labelled("With", bout.gear, "quiet", _GEAR, width)
    if view.phase != "set":
        yield from _labelled("Change", bout.change, "mark", _CHANGE, width)
    beat = f"{bout.to_beat}{' s' if bout.hold else ''} to beat" if bout.to_beat else ""
    yield from _labelled(
        "Aim", _APART.join(part for part in (beat, bout.aim) if part), "ink", _AIM, width
    )
    if view.phase != "set":
        had = _APART.join(_recoveries(view.recoveries))
        yield from _labelled("Recovery", had, "quiet", _RECOVERY, width)
    yield from _labelled("Caution", bout.caution, "caution", _CAUTION, width)
    for index, cue in enumerate(bout.cues):
        yield from _labelled("" if index else "Cue", cue, "ink", _CUE, width)


def _where(bout: Bout) -> str:
    side = "" if bout.side == "both" else f", {bout.side}"
    parts = [f"{bout.name}{side}", f"set {bout.number} of {bout.sets}"]
    if bout.ramp:
        parts.append("a warm-up set first")
    if bout.new_block:
        parts.append(f"block {bout.block} starts")
    return _APART.join(parts)


def _where_short(bout: Bout) -> str:
    """The same where there are few columns: what cannot be guessed comes first."""
    side = "" if bout.side == "both" else f" {bout.side}"
    return f"{bout.short}{side} {bout.number} of {bout.sets}"


def _recoveries(all_of_them: Sequence[Recovery]) -> list[str]:
    """Muscles that recover alike in one: `glutes, quadriceps 1:27 now, 2:01 at the start`."""
    alike: dict[str, list[str]] = {}
    for one in all_of_them:
        side = "" if one.side == "both" else f" {one.side}"
        times = f"{clock(one.had_s)} now, {clock(one.at_start_s)} at the start"
        alike.setdefault(times, []).append(f"{one.muscle}{side}")
    return [f"{', '.join(muscles)} {times}" for times, muscles in alike.items()]


def _labels(width: int) -> bool:
    return width >= _LABELLED


def _labelled(label: str, text: str, role: Role, rank: int, width: int) -> Iterator[Ranked]:
    """A text with the word in front of it, wrapped; only its first line keeps the rank."""
    if not text:
        return
    if not _labels(width):
        front = f"{label}: " if label and rank != _WHERE else ""
        yield rank, ((front, "quiet"), (text, role))
        return
    for index, part in enumerate(wrapped(text, width - _LABEL)):
        front = label if index == 0 else ""
        yield rank, ((front.ljust(_LABEL), "quiet"), (part, role))


def wrapped(text: str, cells: int) -> list[str]:
    """The text in lines of at most so many cells, broken at spaces where there are any."""
    rows = [""]
    for long_word in text.split():
        for piece in chop_cells(long_word, cells):
            joined = f"{rows[-1]} {piece}" if rows[-1] else piece
            if cell_len(joined) <= cells:
                rows[-1] = joined
            else:
                rows.append(piece)
    return rows


def _sheet(view: View, width: int, height: int) -> list[Line]:
    """The sheet from where it is scrolled to; the last row says how much is left."""
    moves = [line for _, line in _moves(view, width)]
    rows = [row for line in view.sheet for row in _wrapped_line(line, width)]
    rows = [*moves, (), *rows] if moves else rows
    if view.late:
        rows = [((f"{view.late} · m i: leave out sets", "caution"),), (), *rows]
    start = max(0, min(view.scroll, len(rows) - height))
    shown = rows[start : start + height]
    left = len(rows) - start - len(shown)
    if left and height > 1:
        shown[-1] = ((f"… {left + 1} more lines: down", "quiet"),)
    return shown


def _wrapped_line(line: Line, width: int) -> list[Line]:
    """A line of the sheet in as many rows as it takes; its last span hangs behind the others."""
    *front, (text, role) = [span for span in line if span[0]] or [("", "ink")]
    used = sum(cell_len(before) for before, _ in front)
    if used + cell_len(text) <= width or (front and width - used < _HANGING):
        return [line]
    lead = " " * (len(text) - len(text.lstrip()))
    first, *later = wrapped(text, max(width - used - len(lead), 1))
    indent: Span = (" " * used, role)
    return [(*front, (lead + first, role)), *((indent, (lead + row, role)) for row in later)]


# What the screen says of counts against the past: after an entry, and after the last set.

INDENT = 9  # columns of the word in front of a section


def section_lines(sections: tuple[Section, ...]) -> tuple[Line, ...]:
    """The sections as lines of a sheet, the word in front of the first of each."""
    lines: list[Line] = []
    for section in sections:
        for index, text in enumerate(section.lines):
            front = section.title if index == 0 else ""
            lines.append(((front.ljust(INDENT), "mark"), (text, "ink")))
    return tuple(lines)


# The longer texts of the screen: what stands there before the first set and after the last.


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
            yield (
                (
                    f"Names like it: {', '.join(opening.near)}. Leave, and start with --for NAME.",
                    "caution",
                ),
            )
    yield (
        (
            f"Up to {_sets(opening)}. Can you read this from the mat? Try it: {key_of('try')}",
            "quiet",
        ),
    )
    for line in sound:
        yield ((line, "quiet"),)
    if opening.exposed:
        yield ((f"{opening.exposed[:1].upper()}{opening.exposed[1:]}", "caution"),)
    yield from _warned(opening, taken)
    yield ()
    yield from to_set_up(opening)
    yield from _last_time(opening.last_time)
    if cautions_known:
        yield (("? shows the keys and the cautions.", "quiet"),)
        yield from _offered(opening, taken)
        return
    yield from to_know(opening)
    yield from _offered(opening, taken)
    yield (("Starting means you have read these.", "caution"),)


def _warned(opening: Opening, taken: Sequence[str] | None) -> Iterator[Line]:
    """The question before the start, and what is to be thought of."""
    if taken is not None:
        yield (
            ("x", "mark"),
            (" if you are ill, or something hurts that did not hurt before", "ink"),
        )
    for warning in opening.warnings:
        yield ((warning, "caution"),)


def _offered(opening: Opening, taken: Sequence[str] | None) -> Iterator[Line]:
    """What may be taken, and the keys that take it."""
    for offer in opening.baseline.offers:
        key = key_of(offer.kind)
        for line in offer_lines(offer):
            yield ((line, "ink"),)
        if taken and offer.kind in taken:
            yield (
                (key, "mark"),
                (" is taken for today; press again for the session as planned", "mark"),
            )
        else:
            yield ((key, "mark"), (": take it. Otherwise the session runs as planned.", "ink"))
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
    yield (("Read before you start:", "caution"),)
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
    lines.append((("a", "mark"), (" answer the advice", "ink")))
    return (*lines, (), *(section_lines(brought) or summary(state)))


def _new_levels(state: State) -> Iterator[Line]:
    """The levels that the next session starts at, where they are not as planned."""
    for one in new_levels(state):
        key, what = ("t", ": keep it") if one.today_only else ("t", ": only today")
        said = "only today" if one.today_only else "kept for next time"
        yield ((f"{one.text}: {said} · ", "ink"), (key, "mark"), (what, "ink"))


def closed(state: State, brought: tuple[Section, ...] = (), *, lost: str) -> tuple[Line, ...]:
    """When all is over: what it has brought."""
    head = "The session is complete." if state.complete else "Closed before its end."
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
