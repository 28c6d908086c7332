"""The ordinary text of the screen in a session, for a person at the keys.

What it says, what gives way first where there are few lines, and what a large terminal shows
besides. `pages` has what comes before the first set and after the last.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import zip_longest

from rich.cells import cell_len, set_cell_size

from runner.screen.layout import Layout
from runner.screen.view import (
    Bout,
    View,
    aimed,
    clock,
    large,
    target,
    word,
)
from runner.session.count_field import EntryLine
from runner.session.feedback import APART
from runner.text import Line, Role, Span, wrapped as as_lines

_LABEL = 10  # columns of the words in front of the lines
_LABELLED = 44  # width below which they stand in the line itself
LEAVE_OUT = " · m i: leave out sets"  # behind how late it is
GAP = 3  # columns between the cells of a table, and between columns
_BAR = 8  # columns of a muscle's bar
_FRAMED_PAGE = 6  # lines of a page that surely show what is asked for


def lines(view: View, areas: Layout, width: int, height: int) -> list[Line]:
    """The lines of the text block that fit into that many rows, in their order."""
    known = list(_labelled_texts(view, areas, width, one_row=False))
    if len(known) > height:
        known = list(_labelled_texts(view, areas, width, one_row=True))
    rows = known[:height]
    if "name" in areas and len(rows) < height:
        rows += _beyond(view, width, height - len(rows) - 1)
    return rows


def beside(view: View, areas: Layout) -> list[Line]:
    """Text beside the large piece: what it is, or what the session waits for, where it fits."""
    if is_tiny(areas):
        counted = view.in_set and large(view) == target(view)
        return [((clock(view.seconds), "ink"),)] if counted else []
    if "name" not in areas and "info" not in areas:
        return [_status(view, areas)]
    if view.in_set and large(view) == target(view):
        return [((aimed(view), "quiet"),)]
    said = "Time is up. Go on when you are ready." if view.waits else ""
    return [((said, "ink"),)] if said and cell_len(said) <= areas["beside"].width else []


def is_tiny(areas: Layout) -> bool:
    """Whether there are but the large piece, one line, and the keys.

    The line is the count's; what there is to say then stands in the place of the keys. Where no
    count is asked for, it is what there is to say, else the status.
    """
    return "name" not in areas and "info" not in areas and "keys" in areas


def said_for_keys(view: View, areas: Layout) -> Line:
    """The text in place of the keys, where nothing else has a row for it."""
    line = view.entry
    if line is None or not is_tiny(areas):
        return ()
    if line.message:
        return ((line.message, "caution" if line.doubted else "refusal"),)
    return ((view.message, "mark"),) if view.message else ()


def entry_lines(view: View, areas: Layout, width: int, height: int) -> list[Line]:
    """What there is to say, and the count where nothing else shows it; the newest stays longest."""
    line = view.entry
    asked = () if line is None or _is_shown(line, view, areas) else _entry(line, view, width)
    if is_tiny(areas) and (asked or not view.message):
        return [asked or _status(view, areas)]
    if line is not None and line.message:
        role: Role = "caution" if line.doubted else "refusal"
        rows: list[Line] = [((row, role),) for row in wrapped(line.message, width)]
        if asked and height == 1:
            return [((f"{line.text} ", "typed"), ("  ", "quiet"), (line.message, role))]
        return [*rows, asked][-height:] if asked else rows[:height]
    said: list[Line] = [((row, "mark"),) for row in wrapped(view.message, width) if row]
    if not asked:
        return said if len(said) <= height else [*said[: height - 1], _ends(said[height - 1 :])]
    return [*said[: height - 1], asked]


def _ends(rows: Sequence[Line]) -> Line:
    """What is left of a message in the last row there is for it; the screen marks the cut."""
    return ((" ".join(text for row in rows for text, _ in row), rows[0][0][1]),)


def _is_shown(line: EntryLine, view: View, areas: Layout) -> bool:
    """Whether frame or page show the field already; a correction says in words what changes."""
    if line.asked.was:
        return False
    if view.phase in ("wrap-up", "closed"):
        return "info" in areas and areas["info"].height >= _FRAMED_PAGE
    return "frame" in areas


def _entry(line: EntryLine, view: View, width: int) -> Line:
    """Which set is asked for and what stands there; a suggestion is no value, and looks it.

    Where it is too long the keys that save it are left out, then the set's name.
    """
    asked: Span = (f"{line.asked.label}{' ' if line.asked.was else '  '}", "ink")
    row = (asked, *field_spans(line, view.phase, remote=view.remote))
    for shorter in (row, row[:-1], row[1:-1]):
        if sum(cell_len(text) for text, _ in shorter) <= width:
            return shorter
    return row[1:]


def field_spans(line: EntryLine, phase: str, *, remote: bool) -> Line:
    """The field in a line of text, and the key that saves it."""
    saves = "." if remote else "enter" if phase == "set" else "space"
    typed: Span = (f" {line.text}▏", "typed")
    match line.kind:
        case "empty":
            grey = f"({line.asked.suggestion:g})"
            can_open = remote and phase in ("rest", "wrap-up", "closed")
            how = ". opens it" if can_open else f"type it, {saves} saves"
            return ((grey, "suggestion"), (f" {how}", "quiet"))
        case "opened" | "stepped":
            how = "  page up, page down: less, more  . saves"
            return ((f" {line.text} ", "typed"), (how, "quiet"))
        case "correction":
            enter = "." if remote else "enter"
            was: Span = (f"was {line.asked.was} → ", "ink")
            return (was, (f"{line.text}▏", "typed"), (f" {enter} changes it", "quiet"))
    return (typed, (f"  {saves} saves", "quiet"))


def _status(view: View, areas: Layout) -> Line:
    """The phase and what is done or comes, in one line."""
    return next(_labelled_texts(view, areas, 0, one_row=True), ())


Labelled = tuple[str, str, Role]


def _labelled_texts(view: View, areas: Layout, width: int, *, one_row: bool) -> Iterator[Line]:
    """What there is to say of the set, the most needed first. Width 0: one line, no words before.

    Where name or word have no large letters, they stand in front of it all.
    """
    prefix: Line = ()
    if "word" not in areas and not (view.phase == "warm-up" and "name" in areas):
        prefix = ((word(view), "mark"), (APART, "quiet"))
    if view.notice and "head" not in areas:
        prefix = ((view.notice, "caution"), (APART, "quiet"), *prefix)
    known = list(_of_bout(view, view.bout)) if view.bout is not None else []
    if view.bout is None and prefix:
        yield (*prefix, (view.session or view.plan, "ink"))
    yield from _labelled(("Moves", APART.join(view.moves), "ink"), width, one_row=False)
    unnamed = prefix or view.phase == "warm-up" or "name" not in areas
    if unnamed and view.bout is not None:
        known.insert(0, known.pop(1))
        if prefix or width < _LABELLED:
            text = known.pop(0)[1]
            used = sum(cell_len(before) for before, _ in prefix)
            if used + cell_len(text) > width:
                text = _where_short(view.bout)
            yield (*prefix, (text, "ink"))
    for label, text, role in known:
        yield from _labelled((label, text, role), width, one_row=one_row)


def _of_bout(view: View, bout: Bout) -> Iterator[Labelled]:
    changed = f" · change: {bout.change}" if bout.change and not view.in_set else ""
    yield "Set up", f"{bout.setup_line}{changed}", "mark" if changed else "ink"
    yield "Now" if view.in_set else "Next", _where(bout), "ink"
    yield "Aim", bout.aim, "ink"
    if view.late and not view.in_set:
        yield "Late", f"{view.late}{LEAVE_OUT}", "caution"
    yield "Tips", APART.join(bout.cues), "quiet"
    if bout.caution and bout.number == 1 and not view.in_set:
        yield "Care", bout.caution, "caution"


def _where(bout: Bout) -> str:
    side = "" if bout.side == "both" else f", {bout.side}"
    parts = [f"{bout.name}{side}", f"set {bout.number} of {bout.sets}"]
    if bout.ramp:
        parts.append("a warm-up set first")
    if bout.new_block:
        parts.append(f"block {bout.block} starts")
    return APART.join(parts)


def _where_short(bout: Bout) -> str:
    """The same where there are few columns: what cannot be guessed comes first."""
    side = "" if bout.side == "both" else f" {bout.side}"
    return f"{bout.short}{side} {bout.number} of {bout.sets}"


def _labelled(known: Labelled, width: int, *, one_row: bool) -> Iterator[Line]:
    """A text with the word in front of it, in one row or in as many as it takes."""
    label, text, role = known
    if not text:
        return
    if width < _LABELLED:
        yield ((f"{label}: " if label else "", "quiet"), (text, role))
        return
    for index, part in enumerate([text] if one_row else wrapped(text, width - _LABEL)):
        yield (((label if index == 0 else "").ljust(_LABEL), "quiet"), (part, role))


def wrapped(text: str, cells: int) -> list[str]:
    """The text in lines of at most that many cells."""
    return as_lines(text, cells, "", columns=cell_len)


# What only a large terminal has room for: three lists beside each other, and never more.


def _beyond(view: View, width: int, height: int) -> list[Line]:
    """What comes after, the last sessions, and the muscles as they recover."""
    found = view.roomy_extras
    lists: list[tuple[str, list[Line]]] = [
        ("After that", [((f"{rest:>5}  ", "quiet"), (text, "ink")) for rest, text in found.then]),
        ("Last times", [((f"{day:>6}  ", "quiet"), (text, "ink")) for day, text in found.lately]),
        ("Recovery", _bars(view)),
    ]
    shown = [(title, of) for title, of in lists if of]
    if not shown or height < 1 + min(2, max(len(of) for _, of in shown)):
        return []
    columns = [
        [((title, "quiet"),), *_cut_list(of, height - 1, newest=of is lists[1][1])]
        for title, of in shown
    ]
    wide = [max(sum(cell_len(text) for text, _ in line) for line in of) for of in columns]
    gaps = max(len(wide) - 1, 1)
    free = max((width - sum(wide)) // gaps, 1)
    cells = [size + free for size in wide[:-1]]
    if cells:  # the first list is cut where it is tight
        cells[0] -= max(sum(wide) + free * gaps - width, 0)
    rows = zip_longest(*columns, fillvalue=())
    return [(), *((*in_columns(row[:-1], cells), *row[-1]) for row in rows)]


def _bars(view: View) -> list[Line]:
    """A bar for each muscle, full once the law lets it work again."""
    wide = max((cell_len(one.muscle) for one in view.roomy_extras.recovering), default=0)
    rows: list[Line] = []
    for one in view.roomy_extras.recovering:
        rested = one.had_s is None or one.had_s >= one.of_s
        full = _BAR if rested else (one.had_s or 0) * _BAR // one.of_s
        times = " rested" if rested else f" {clock(one.had_s or 0)} of {clock(one.of_s)}"
        bar: Span = ("█" * full + "▄" * (_BAR - full), "mark")
        rows.append(((f"{one.muscle.ljust(wide)} ", "ink"), bar, (times, "quiet")))
    return rows


def _cut_list(of: Sequence[Line], height: int, *, newest: bool) -> Sequence[Line]:
    """As much of a list as there is room for, with a mark where it is cut: the newest stays."""
    if len(of) <= height:
        return of
    mark: Line = (("…", "quiet"),)
    return [mark, *of[len(of) - height + 1 :]] if newest else [*of[: height - 1], mark]


def in_columns(cells: Sequence[Line], columns: Sequence[int]) -> Line:
    """Pieces beside each other, each in that many cells and a blank behind it."""
    spans: list[Span] = []
    for cell, column in zip(cells, columns, strict=True):
        used = sum(cell_len(text) for text, _ in cell)
        spans.extend(cell if used < column else _cut(cell, column - 1))
        spans.append((" " * max(column - used, 1), "quiet"))
    return tuple(spans)


def _cut(line: Line, cells: int) -> Line:
    """The front of a line, with a mark where it is cut."""
    kept: list[Span] = []
    room = cells - 1
    for text, role in line:
        kept.append((set_cell_size(text, min(cell_len(text), room)), role))
        room -= min(cell_len(text), room)
    return (*kept, ("…", "quiet"))
