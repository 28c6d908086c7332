"""The pages of text: before the first set, and after the last.

A page is made of sections, a few lines under one word each, laid out for the width and height of
the terminal. Where rows are short, the least needed lines go first, then one list scrolls.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

from msgspec import Struct
from rich.cells import cell_len, set_cell_size

from runner.law.course import PlannedSet
from runner.law.workout import Exercise, Side, load_text
from runner.live.offers import LEVEL_FINDING_WORD, offer_reason, offer_text
from runner.live.session_setup import Opening
from runner.live.session_summary import Section as Brought
from runner.progress.adjust import beat_key
from runner.screen.info import GAP, LEAVE_OUT, field_spans, in_columns, wrapped
from runner.screen.view import Section, View, clock, counts_today, level_text
from runner.session.apply import initial, new_levels
from runner.session.count_field import EntryLine
from runner.session.feedback import APART
from runner.session.state import State
from runner.session.verb import key_of
from runner.session.words import SIDES
from runner.text import Line, Role, Span, how_many

_HANGING = 16  # width below which a text that hangs behind another is cut instead
_CAUTIONS = 16  # lines of a page of cautions
_CELLS = 2  # columns between the cells of a table; one where it is tight
_LEAST_CELL = 10  # cells below which a cell that is cut says nothing
_LEAST_SHOWN = 4  # lines of a list that scrolls by itself


def caution_pages(cautions: Sequence[str], width: int, height: int) -> list[list[Line]]:
    """The cautions to read before the first start, in pages; breaks one only where it must."""
    headed = height > _LEAST_SHOWN
    room = max(min(_CAUTIONS, height - 2 * headed), 1)
    pages: list[list[Line]] = [[]]
    for caution in cautions:
        first, *later = wrapped(caution, max(width - 2, 1))
        rows: list[Line] = [
            (("· ", "mark"), (first, "ink")),
            *((("  " + r, "ink"),) for r in later),
        ]
        while rows:
            if len(pages[-1]) + min(len(rows), room) > room:
                pages.append([])
            take = room - len(pages[-1])
            pages[-1] += rows[:take]
            rows = rows[take:]
    head: Line = (("Read before you start", "caution"),)
    return [[head, (), *page] if headed else page for page in pages]


def lines(view: View, width: int, height: int) -> list[Line]:
    """The page; what scrolls gives way, and a line says how much there is more."""
    if view.cautions:
        found = caution_pages(view.cautions, width, height)
        return found[min(view.turned, len(found) - 1)]
    parts = [(one.spare, one.scrolls, _section(one, width)) for one in _with_moves(view)]
    while sum(len(part) for *_, part in parts) > height and any(spare for spare, *_ in parts):
        del parts[max(index for index, (spare, *_) in enumerate(parts) if spare)]
    return _as_one([(scrolls, part) for _, scrolls, part in parts], view.scroll, height)


def _with_moves(view: View) -> Sequence[Section]:
    """The page with the time of the cool-down, which goes on while it is read."""
    if view.phase != "wrap-up" or not (view.span_s or view.seconds or view.moves):
        return view.page
    time = "over" if view.waits else clock(view.seconds)
    moves: Line = ((APART.join(view.moves), "ink"),)
    title = f"COOL DOWN {time}"
    return (Section(title, (moves,), label=len(title) + GAP), Section("", ()), *view.page)


def _as_one(parts: Sequence[tuple[bool, list[Line]]], scroll: int, height: int) -> list[Line]:
    """The parts below each other; where they are too long, the one that scrolls is cut."""
    rows = [row for _, part in parts for row in part]
    if len(rows) <= height:
        return rows
    fixed = sum(len(part) for scrolls, part in parts if not scrolls)
    if height - fixed < _LEAST_SHOWN:
        return _scrolled(rows, scroll, height)
    return [
        row
        for scrolls, part in parts
        for row in (_scrolled(part, scroll, height - fixed) if scrolls else part)
    ]


def _scrolled(rows: list[Line], scroll: int, height: int) -> list[Line]:
    """That many rows from where they are scrolled to; the last one says how many there are more."""
    start = max(0, min(scroll, len(rows) - height))
    shown = rows[start : start + height]
    more = len(rows) - start - len(shown)
    if more and height > 1:
        shown[-1] = _more(f"… {more + 1} more: arrow down", shown[-1])
    elif start and height > 1:
        shown[0] = _more(f"… {start + 1} more: arrow up", shown[0])
    return shown


def _more(text: str, row: Line) -> Line:
    """The text in the place of a row, behind the same word."""
    label = row[:1] if len(row) > 1 else ()
    return (*label, (text, "quiet"))


def _section(section: Section, width: int) -> list[Line]:
    """A section in rows: its word, and its lines behind or below it."""
    if not section.title and not section.lines:
        return [()]
    label = section.label if section.label <= width // 2 else 0
    lead = label or (2 if section.title else 0)
    room = max(width - lead, 1)
    shapes = {"text": _text_rows, "table": _table_rows, "columns": _column_rows}
    lines = section.lines
    if section.spare_cell is not None and _table_width(_sizes(lines), 1) > room:
        lines = tuple(_without(line, section.spare_cell) for line in lines)
    rows = shapes[section.shape](lines, room)
    if not label:
        own: list[Line] = [((section.title, "mark"),)] if section.title else []
        return [*own, *(((" " * lead, "quiet"), *row) for row in rows)]
    titles = [section.title, *[""] * (len(rows) - 1)]
    return [
        ((title.ljust(lead), "mark"), *row) for title, row in zip(titles, rows or [()], strict=True)
    ]


def _text_rows(lines: Sequence[Line], width: int) -> list[Line]:
    return [row for line in lines for row in _wrapped_line(line, width)]


def _sizes(lines: Sequence[Line]) -> list[int]:
    """Columns of each column of a table."""
    columns = zip_longest(*([text for text, _ in line] for line in lines), fillvalue="")
    return [max(map(cell_len, column)) for column in columns]


def _table_width(sizes: Sequence[int], gap: int) -> int:
    return sum(sizes) + gap * (len(sizes) - 1)


def _without(line: Line, cell: int) -> Line:
    return (*line[:cell], *line[cell + 1 :])


def _table_rows(lines: Sequence[Line], width: int) -> list[Line]:
    """Cells below each other; where they do not fit the widest but the last is cut."""
    sizes = _sizes(lines)
    gap = _CELLS if _table_width(sizes, _CELLS) <= width else 1
    over = _table_width(sizes, gap) - width
    if over > 0 and len(sizes) > 1:
        widest = sizes.index(max(sizes[:-1]))
        sizes[widest] = min(sizes[widest], max(sizes[widest] - over, _LEAST_CELL))
    return [
        tuple(
            (text if cell is line[-1] else _sized(text, size) + " " * gap, cell[1])
            for cell, text, size in zip(line, (text for text, _ in line), sizes, strict=False)
        )
        for line in lines
    ]


def _sized(text: str, size: int) -> str:
    """The text in exactly that many cells, with a mark where it is cut."""
    return (
        set_cell_size(text, size) if cell_len(text) <= size else set_cell_size(text, size - 1) + "…"
    )


def _column_rows(lines: Sequence[Line], width: int) -> list[Line]:
    """Short lines in as many columns as there is room for, line by line."""
    if not lines:
        return []
    wide = max(sum(cell_len(text) for text, _ in line) for line in lines) + GAP
    number = max((width + GAP) // wide, 1)
    return [
        _beside(lines[at : at + number], wide) if number > 1 else lines[at]
        for at in range(0, len(lines), number)
    ]


def _beside(lines: Sequence[Line], wide: int) -> Line:
    return (*in_columns(lines[:-1], [wide] * (len(lines) - 1)), *lines[-1])


def _wrapped_line(line: Line, width: int) -> list[Line]:
    """A line in as many rows as it takes; its last span hangs behind the others."""
    *front, (text, role) = [span for span in line if span[0]] or [("", "ink")]
    used = sum(cell_len(before) for before, _ in front)
    if used + cell_len(text) <= width or (front and width - used < _HANGING):
        return [line]
    lead = " " * (len(text) - len(text.lstrip()))
    first, *later = wrapped(text, max(width - used - len(lead), 1))
    indent: Span = (" " * used, role)
    return [(*front, (lead + first, role)), *((indent, (lead + row, role)) for row in later)]


READY = 9  # columns of the words in front of the lines of the ready page
_RANGE = 4  # the cell of today's table that gives way first


class SessionLengths(Struct, frozen=True):
    """The forecast length of the session in seconds: as planned, and with what is taken."""

    planned: float
    taken: float


def ready(
    opening: Opening,
    state: State,
    lengths: SessionLengths,
    *,
    sound: Sequence[str],
    asks: bool,
    late: str,
) -> tuple[Section, ...]:
    """Before the start: what to bring, what is done, what is offered, what to take care of.

    `sound` is a line about sound and voice. `asks`: whether illness and pain are asked about.
    """
    found = [
        _ready_section("NEW", _newcomer(opening)),
        _ready_section("BRING", _to_bring(opening, state)),
        _ready_section("", checks(opening), spare=True),
        Section("TODAY", tuple(_today(opening, state)), "table", READY, _RANGE, scrolls=True),
        _ready_section("LATE", [f"{late}{LEAVE_OUT}"] if late else [], role="caution"),
        Section("OFFERED", tuple(_offered(opening, state, lengths)), label=READY),
        Section("CARE", tuple(_care(opening, asks=asks)), label=READY),
        _ready_section("", _offer_cautions(opening), role="caution", spare=True),
        _ready_section("SOUND", [APART.join(_said_of(text) for text in sound)] if sound else []),
    ]
    return tuple(one for one in found if one.lines)


def _ready_section(
    title: str, texts: Iterable[str], *, role: Role = "ink", spare: bool = False
) -> Section:
    return Section(title, tuple(((text, role),) for text in texts), label=READY, spare=spare)


def _newcomer(opening: Opening) -> Iterator[str]:
    if not opening.known:
        yield f"{opening.trainee} is new here. Welcome."
        if opening.near:
            near = ", ".join(opening.near)
            yield f"Similar names: {near}. Leave, and start with --for NAME."


def _to_bring(opening: Opening, state: State) -> list[str]:
    """Loads with what they are for, and stations, as the first sets want them."""
    loads: dict[float, list[str]] = {}
    for one in state.course.planned_sets:
        short = state.workout.exercises[one.exercise].short
        if one.level.load and short not in loads.setdefault(one.level.load, []):
            loads[one.level.load].append(short)
    things = [f"{load_text(load)} kg ({', '.join(of)})" for load, of in sorted(loads.items())]
    for station in opening.stations:
        values = ", ".join(value for _, value in station.setup)
        things.append(f"{station.station.name}: {values}" if values else station.station.name)
    return [APART.join(things)] if things else []


def checks(opening: Opening) -> Iterator[str]:
    """What to test at each station before the first set."""
    for station in opening.stations:
        if station.station.check:
            yield f"{station.station.name}: {station.station.check}"


def _today(opening: Opening, state: State) -> Iterator[Line]:
    """An exercise a line, those of a block one after the other behind its number."""
    shown: set[tuple[int, str]] = set()
    block = 0
    for one in state.course.planned_sets:
        if (one.block, one.exercise) in shown:
            continue
        shown.add((one.block, one.exercise))
        sets = [
            s
            for s in state.course.planned_sets
            if (s.block, s.exercise) == (one.block, one.exercise) and s.status == "todo"
        ]
        exercise = state.workout.exercises[one.exercise]
        work = [s for s in sets if s.kind == "work"]
        first = (work or sets or [one])[0]
        unit = " s" if exercise.measure == "hold" else ""
        low, high = exercise.rep_range
        yield (
            (str(one.block) if one.block != block else "", "quiet"),
            (exercise.short, "ink"),
            (level_text(exercise, first.level), "quiet"),
            (_sets_text(len(work), len(sets) - len(work)), "ink"),
            (f"{low:g} to {high:g}{unit}", "quiet"),
            (_last(opening, state, exercise, work), "quiet"),
        )
        block = one.block


def _sets_text(work: int, warm_up: int) -> str:
    """`4 sets`, `4 + 1 sets` with a warm-up set first."""
    return f"{work} + {warm_up} sets" if warm_up else how_many(work, "set")


def _last(opening: Opening, state: State, exercise: Exercise, work: Sequence[PlannedSet]) -> str:
    """The last counts at these levels; `new` without one."""
    known = state.baseline.to_beat
    sets = []
    for one in work:
        sides: tuple[Side, ...] = ("left", "right", "both")
        keys = (beat_key(exercise.id, one.level, one.number, side) for side in sides)
        counts = (known.get(key) for key in keys)
        sets.append(SIDES.join(f"{count:g}" for count in counts if count is not None))
    if any(sets):
        return f"last {' '.join(filter(None, sets))}"
    past = () if opening.past is None else opening.past.by_exercise
    return "new level" if any(name == exercise.id for name, _ in past) else "new"


def _offered(opening: Opening, state: State, lengths: SessionLengths) -> Iterator[Line]:
    """What may be taken, the keys that take it, and why; of what is taken, what it changes."""
    for offer in opening.baseline.offers:
        key, taken = key_of(offer.kind), offer.kind in state.taken
        yield (
            ("■ " if taken else "□ ", "mark"),
            (f"{key}  ", "mark"),
            (offer_text(offer, state.workout), "ink"),
        )
        if taken:
            sets, before = (
                _work_sets(state),
                _work_sets(initial(state.planned or state.workout, opening.baseline)),
            )
            changed = (
                f"{sets} sets instead of {before}" if sets != before else how_many(sets, "set")
            )
            now, planned = minutes(lengths.taken), minutes(lengths.planned)
            length = f"{now} min" if now == planned else f"{now} instead of {planned} min"
            yield (("     ", "ink"), (f"taken: {changed}, {length} · {key} gives it back", "mark"))
        elif offer.kind != LEVEL_FINDING_WORD:  # level finding says why in its line
            yield (("     ", "ink"), (f"why: {offer_reason(offer)}", "quiet"))


def _work_sets(state: State) -> int:
    return sum(one.kind == "work" for one in state.course.planned_sets)


def minutes(seconds: float) -> int:
    """Whole minutes, as people plan by them."""
    return round(seconds / 60)


def _offer_cautions(opening: Opening) -> Iterator[str]:
    yield from dict.fromkeys(one.caution for one in opening.baseline.offers if one.caution)


def _care(opening: Opening, *, asks: bool) -> Iterator[Line]:
    """What hurt and what to think of, the key for illness, and the cautions."""
    for warning in opening.warnings:
        yield ((warning, "caution"),)
    if opening.exposed:
        yield ((f"{opening.exposed[:1].upper()}{opening.exposed[1:]}", "caution"),)
    points = f"before you start: {how_many(len(opening.cautions), 'point')}"
    ill: Line = (("x", "mark"), ("  ill, or a new pain   ", "ink")) if asks else ()
    yield (*ill, ("c", "mark"), (f"  {points}", "ink"))


def _said_of(text: str) -> str:
    """A sentence of sound or voice as part of a line."""
    return text.removeprefix("Sound: ").rstrip(".").replace("Voice: ", "voice ")


def wrap_up(
    state: State, brought: Sequence[Brought] = (), *, entry: EntryLine | None, remote: bool
) -> tuple[Section, ...]:
    """After the last set: what is still open, what is kept, what was done, and when next."""
    return _after(state, brought, tuple(_still_open(state, brought, entry, remote=remote)))


def closed(
    state: State,
    brought: Sequence[Brought] = (),
    *,
    entry: EntryLine | None,
    remote: bool,
    lost: str,
) -> tuple[Section, ...]:
    """When all is over: the same page, and how it ended."""
    said = "The session is complete." if state.complete else "Closed before its end."
    head: list[Line] = [((said, "ink"),)]
    if lost:
        head.append(((f"NOT KEPT: {lost}", "caution"),))
    still = _still_open(state, brought, entry, remote=remote)
    return (
        Section("", tuple(head)),
        Section("", ()),
        *_after(state, brought, tuple(still)),
    )


def _after(state: State, brought: Sequence[Brought], still: Sequence[Line]) -> tuple[Section, ...]:
    lines_of = {one.title: one.lines for one in brought}

    def titled(title: str, name: str, *, spare: bool = False) -> Section:
        lines: tuple[Line, ...] = tuple(((text, "ink"),) for text in lines_of.get(name, ()))
        return Section(title, lines, label=len(title) + GAP, spare=spare)

    done: tuple[Line, ...] = tuple(
        ((f"{short} ", "quiet"), (counts, "ink")) for short, counts in counts_today(state).items()
    )
    rated = "" if state.rpe is None else f"   rated {state.rpe:g} of 10"
    found = [
        Section("STILL OPEN", tuple(still), "table"),
        *_new_levels(state),
        Section(f"DONE TODAY{rated}", done, "columns"),
        titled("BEATEN", "Beaten"),
        titled("TO BEAT NEXT TIME", "To beat"),
        titled("NEXT", "Next"),
        titled("ADVICE", "Advice", spare=True),
        titled("WEEK", "Week", spare=True),
        titled("SESSION", "Session", spare=True),
    ]
    return tuple(one for one in found if one.lines)


def _still_open(
    state: State, brought: Sequence[Brought], entry: EntryLine | None, *, remote: bool
) -> Iterator[Line]:
    """What a person has still to enter; digits go to the first count."""
    for number, row in enumerate(state.open_rows):
        side = "" if row.side == "both" else f" {row.side}"
        what = f"{state.exercise(row).short}{side}, set {row.planned_set.number}"
        mine = entry is not None and not entry.asked.was and entry.asked.entry == row.entry
        field = field_spans(entry, "wrap-up", remote=remote) if mine and entry else ()
        mark = "■ " if mine else "□ "
        count = how_many(len(state.open_rows), "count") if number == 0 else ""
        yield ((f"{mark}{count}", "mark"), (what, "ink"), *field)
    if state.rpe is None:
        yield (("□ r", "mark"), ("How hard was it, 0 to 10?", "ink"))
    names = next((one.names for one in brought if one.title == "Advice"), ())
    if names:
        yield (("□ a", "mark"), (f"{len(names)} advice: {', '.join(names)}", "ink"))


def _new_levels(state: State) -> Iterator[Section]:
    """The levels that the next session starts at, where they are not as planned."""
    found = new_levels(state)
    for title, today in (("KEPT FOR NEXT TIME", False), ("ONLY TODAY", True)):
        texts = [one.text.replace(", was ", " (was ") for one in found if one.today_only == today]
        if not texts:
            continue
        other: Span = (": keep it" if today else ": only today", "ink")
        kept = APART.join(f"{text})" for text in texts)
        line: Line = ((f"{kept}   ", "ink"), ("t", "mark"), other)
        yield Section(title, (line,), label=len(title) + GAP)
