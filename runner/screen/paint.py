"""From a view to rows of coloured text, for a terminal of any size: pure.

`paint` returns exactly `rows` rows of exactly `cols` cells. A span's role says what it is; the
screen gives each role its colour. Without colours, weight or brackets say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from msgspec.structs import replace
from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.events import Resize
from textual.strip import Strip
from textual.widget import Widget

from runner.screen import glyphs, info, pages
from runner.screen.keys import (
    TRYOUT_HINTS,
    footer,
    hints,
    key_at,
    letter_at,
    lines_shown,
    list_height,
    list_rows,
)
from runner.screen.layout import PLANS, Area, Layout, is_roomy, layout
from runner.screen.view import RoomyExtras, View, aimed, clock, labels, large, small, target, word
from runner.session.count_field import EntryLine
from runner.session.feedback import APART
from runner.session.state import Phase
from runner.text import Line, Role, Span, escaped

_SIDES = {"both": "", "left": " L", "right": " R"}

# The shape of each phase: a rule across the screen, repeated. Our own.
SHAPES: dict[Phase, str] = {
    "warm-up": "▄▀",
    "rest": "▄▄▄ ",
    "set": "█",
    "paused": "█   ",
}
_TO_COME = "▄"  # of a hold, up to its target
_LAST_SECONDS = 3  # of a rest, each a block of its own
_BESIDE = 2  # columns between a name and the number beside it


def paint(view: View, cols: int, rows: int) -> list[Line]:
    """The whole screen for this view."""
    if not is_roomy(cols, rows):
        view = replace(view, roomy_extras=RoomyExtras())
    areas = _fitting(view, _areas(view, cols, rows))
    canvas: list[list[tuple[int, Line]]] = [[] for _ in range(rows)]
    for area in areas.values():
        for offset, line in enumerate(_content(view, areas, area)[: area.height]):
            canvas[area.y + offset].append((area.x, fitted(line, area.width)))
    if view.more is not None:
        area = list_area(view, cols, rows)
        known = list_rows(view.more, area.width, area.height, _beside_list(view))
        canvas[area.y : area.y + area.height] = [
            [(area.x, fitted(line, area.width))] for line in known
        ]
    return [_joined(pieces, cols) for pieces in canvas]


def _areas(view: View, cols: int, rows: int) -> Layout:
    return layout(cols, rows, view.phase, large=large(view), tryout=view.tryout)


def list_area(view: View, cols: int, rows: int) -> Area:
    """Where the list of `m` stands: below everything large, and not on a count in a line.

    It takes the last of these rows, as many as it needs.
    """
    areas = _areas(view, cols, rows)
    x = next(iter(areas.values())).x
    bottoms = [area.y + area.height for area in areas.values() if area.glyph]
    top, bottom, entry = min(max(bottoms, default=0), rows - 1), rows, areas.get("entry")
    if view.entry is not None and entry is not None and "frame" not in areas:
        if entry.y > top:
            bottom = entry.y
        elif entry.y + entry.height < rows:
            top = entry.y + entry.height
    top = max(top, bottom - list_height(view.more or (), cols - 2 * x))
    return Area("info", x, top, cols - 2 * x, bottom - top)


def _beside_list(view: View) -> str:
    """What is said while the list is open: of the count first, for its field is covered."""
    return (view.entry.message if view.entry is not None else "") or view.message


def footer_of(view: View, turns: int = 0) -> tuple[tuple[str, str], ...]:
    """The hints of the footer, the most needed first; `turns`: pages of cautions to be read."""
    if view.tryout:
        return TRYOUT_HINTS
    known = hints(
        view.phase,
        view.entry,
        rehearses=view.rehearses,
        remote=view.remote,
        missing=view.missing,
        offered=view.offered,
    )
    if not turns:
        return known
    return ((known[0][0], f"next page ({view.turned + 1} of {turns + 1})"), *known[-2:])


def caution_pages(view: View, cols: int, rows: int) -> int:
    """How many pages of cautions come before the ready page."""
    return _pages(view, layout(cols, rows, view.phase))


def _fitting(view: View, areas: Layout) -> Layout:
    """The areas as far as they depend on what is shown: text and entry, name and number."""
    return _named(view, _entered(view, areas))


def _entered(view: View, areas: Layout) -> Layout:
    """Text and entry share their rows: as many for the entry as there is to say."""
    text, entry = areas.get("info"), areas.get("entry")
    if text is None or entry is None or text.y + text.height != entry.y:
        return areas
    both = text.height + entry.height
    needed = len(info.entry_lines(view, areas, entry.width, 2))
    least = 0 if text.height == 1 and not needed else min(1, entry.height)
    rows = min(max(needed, least, entry.height if entry.height > 1 else 0), both - 1)
    return {
        **areas,
        "info": replace(text, height=both - rows),
        "entry": replace(entry, y=text.y + both - rows, height=rows),
    }


def _named(view: View, areas: Layout) -> Layout:
    """A long name moves the small number to the edge, and needs its room where that is too few."""
    name, number = areas.get("name"), areas.get("small")
    if name is None or number is None or view.bout is None:
        return areas
    wide = glyphs.width(_short(view), name.glyph)
    if wide <= name.width:
        return areas
    end = number.x + number.width
    x = end - max(
        glyphs.width(small(view), number.glyph) if small(view) else 0, len(labels(view)[1])
    )
    if name.x + wide + _BESIDE > x:
        shrunk = {part: area for part, area in areas.items() if not part.startswith("small")}
        return {**shrunk, "name": replace(name, width=end - name.x)}
    moved: Layout = {
        **areas,
        "name": replace(name, width=x - _BESIDE - name.x),
        "small": replace(number, x=x, width=end - x),
    }
    label = areas.get("small label")
    return moved if label is None else {**moved, "small label": replace(label, x=x, width=end - x)}


def _short(view: View) -> str:
    return "" if view.bout is None else f"{view.bout.short}{_SIDES[view.bout.side]}"


def as_text(painted: Sequence[Line]) -> list[str]:
    """The rows without roles and without trailing spaces."""
    return ["".join(text for text, _ in line).rstrip() for line in painted]


def fitted(line: Line, cells: int) -> Line:
    """The line in exactly that many cells, cut with an ellipsis where it is too long."""
    if cells < 1:
        return ()
    spans = [(escaped(text), role) for text, role in line if text]
    over = sum(cell_len(text) for text, _ in spans) > cells
    room = cells - 1 if over else cells
    kept: list[Span] = []
    for text, role in spans:
        size = min(cell_len(text), room)
        if size:
            kept.append((set_cell_size(text, size), role))
        room -= size
    rest = "…" if over else " " * room
    return (*kept, (rest, "quiet")) if rest else tuple(kept)


def rule(view: View, width: int) -> str:
    """The phase's shape in that many cells, with what remains of a rest or is done of a hold."""
    shape = SHAPES["set" if view.in_set else view.phase]
    full = (shape * width)[:width]
    if view.phase == "rest" and not view.waits:
        if 0 < view.seconds <= _LAST_SECONDS:
            block = "█" * (width // _LAST_SECONDS - 2) + "  "
            return (block * view.seconds).ljust(width)[:width]
        return full[: _share(view, width)].ljust(width)
    if view.phase == "set" and view.span_s and view.over_s is None:
        return full[: _share(view, width)].ljust(width, _TO_COME)
    return full


def _share(view: View, width: int) -> int:
    return min(width, view.seconds * width // view.span_s) if view.span_s else width


def _content(view: View, areas: Layout, area: Area) -> list[Line]:
    """What stands in a area, one line a row."""
    pieces: dict[str, Span] = {
        "large": (large(view), "quiet" if view.phase == "paused" else "ink"),
        "word": (word(view), "mark"),
        "small": (small(view), "ink"),
    }
    if area.part in pieces:
        text, role = pieces[area.part]
        return _large(text, area, role)
    if area.part == "name":
        return _name(view, area)
    if area.part == "frame":
        return _frame(view, area)
    if area.part == "rule":
        return [((rule(view, area.width), "mark"),)]
    return _text(view, areas, area)


def _text(view: View, areas: Layout, area: Area) -> list[Line]:
    if area.part in ("label", "small label"):
        above, beside = labels(view)
        if view.in_set and "beside" not in areas and large(view) == target(view):
            above = f"{aimed(view)}{APART}{above}"
        if beside and "small" not in areas:
            above = f"{above}{APART}{beside.removeprefix('next, ')} {small(view)}"
        return [((above if area.part == "label" else beside, "quiet"),)]
    if area.part == "head":
        return [_head(view, area.width)]
    if area.part == "beside":
        return info.beside(view, areas)
    if area.part == "info":
        paged = PLANS[view.phase] == "page" and not view.tryout
        size = (area.width, area.height)
        return pages.lines(view, *size) if paged else info.lines(view, areas, *size)
    if area.part == "entry":
        rows = info.entry_lines(view, areas, area.width, area.height)
        return rows or ([] if "info" in areas or "name" in areas else info.beside(view, areas))
    said = info.said_for_keys(view, areas)
    return [said or _keys(view, area.width, turns=_pages(view, areas))]


def _frame(view: View, area: Area) -> list[Line]:
    """The count that is asked for, in a frame with its set's name; a reserve in it is small."""
    line = view.entry
    if line is None:
        return []
    asks = "how long?" if line.asked.measure == "hold" else "how many?"
    title = f"{line.asked.label}: {f'was {line.asked.was}' if line.asked.was else asks}"
    title = title if cell_len(title) <= area.width - 4 else f"{title[: area.width - 5]}…"
    front = f"┌ {escaped(title)} "
    inner = area.width - 2
    top = f"{front}{'─' * (area.width - 1 - cell_len(front))}┐"
    rows: list[Line] = [((top, "mark"),)]
    rows += [
        (("│ ", "mark"), *fitted(content, inner - 1), ("│", "mark"))
        for content in _counted(line, area.glyph, inner - 1)
    ]
    return [*rows, ((f"└{'─' * inner}┘", "mark"),)]


def _counted(line: EntryLine, glyph: int, width: int) -> list[Line]:
    """What stands in the field, a line a row of its glyphs."""
    blank: Line = ()
    middle = [blank] * ((glyph - 1) // 2)
    after = [blank] * (glyph - 1 - len(middle))
    if not line.touched:
        return [*middle, ((f"({line.asked.suggestion:g})", "suggestion"),), *after]
    digits, slash, reserve = line.text.partition("/")
    behind = f" {slash}{reserve}" if slash else ""
    drawn = (
        digits.isdecimal()
        and digits.isascii()
        and glyphs.width(digits, glyph) + len(behind) <= width
    )
    if not drawn:
        return [*middle, ((f" {line.text}▏", "typed"),), *after]
    rows: list[Line] = [((row, "ink"),) for row in glyphs.render(digits, glyph)]
    return [*rows[:-1], (*rows[-1], (behind, "ink"))]


def _large(text: str, area: Area, role: Role) -> list[Line]:
    """Large glyphs, or the text itself in the middle where they have no room."""
    if not text:
        return []
    drawable = area.glyph and glyphs.drawable(text)
    if drawable and glyphs.width(text, area.glyph, area.style) <= area.width:
        return [((row, role),) for row in glyphs.render(text, area.glyph, area.style)]
    blank: Line = ()
    return [blank] * ((area.height - 1) // 2) + [((text, role),)]


def _name(view: View, area: Area) -> list[Line]:
    """Short name and side in large letters; where they have no room, the whole name in text."""
    if view.phase == "warm-up":
        return _large(word(view), area, "mark")
    if view.bout is None:
        return []
    text = _short(view)
    if glyphs.drawable(text) and glyphs.width(text, area.glyph) <= area.width:
        return _large(text, area, "ink")
    side = "" if view.bout.side == "both" else f" {view.bout.side}"
    return _large(f"{view.bout.name}{side}", replace(area, glyph=0), "ink")


def _head(view: View, width: int) -> Line:
    """Where we are on the left, how far we are on the right; a lasting trouble before both."""
    right = _progress(view)
    cells = sum(cell_len(text) for text, _ in right)
    room = max(width - cells - 2, 0)
    left: Span = (view.notice, "caution") if view.notice else (_where(view, room), "quiet")
    return (*fitted((left,), room), ("  ", "quiet"), *right)


def _where(view: View, room: int) -> str:
    """Session and block, on a page plan and trainee too; where too long the plan gives way."""
    name = view.session
    if view.phase == "ready" and view.session_id != view.session:
        name = f"{view.session_id} {view.session}".strip()
    block = f"block {view.block} of {view.blocks}" if view.blocks > 1 and view.block else ""
    trainee = view.trainee if view.phase == "ready" else ""
    paged = PLANS[view.phase] == "page" and not view.tryout
    parts = [view.plan, name, trainee] if paged else [name, block]
    parts = [part for part in parts if part]
    while len(parts) > 1 and cell_len(APART.join(parts)) > room:
        del parts[0]
    return APART.join(parts)


def _progress(view: View) -> Line:
    """How far the session is."""
    if view.over_by:
        parts = [view.over_by]
    else:
        parts = [f"{view.sets_done} of {view.sets_all} sets"] if view.sets_all else []
        if view.lasted_s is not None:
            parts.append(clock(view.lasted_s))
        if view.remaining_s is not None and view.phase != "wrap-up":
            parts.append(f"{clock(view.remaining_s)} to go")
    return ((APART.join(parts), "quiet"),)


def _pages(view: View, areas: Layout) -> int:
    """How many pages of cautions there are before the ready page; 0: none."""
    text = areas.get("info")
    if not view.cautions or text is None or view.tryout:
        return 0
    return len(pages.caution_pages(view.cautions, text.width, text.height))


def _keys(view: View, width: int, *, turns: int = 0) -> Line:
    """As many hints as fit, help among them; at least what the main key does."""
    spans: list[Span] = []
    for key, does in footer(footer_of(view, turns), width):
        if spans:
            spans.append((APART, "quiet"))
        spans.extend(((key, "mark"), (f" {does}", "quiet")))
    return tuple(spans)


def _joined(pieces: list[tuple[int, Line]], cols: int) -> Line:
    """The pieces of one row at their places, blanks between them."""
    spans: list[Span] = []
    at = 0
    for x, line in sorted(pieces, key=lambda piece: piece[0]):
        if x > at:
            spans.append((" " * (x - at), "quiet"))
        spans.extend(line)
        at = x + sum(cell_len(text) for text, _ in line)
    if at < cols:
        spans.append((" " * (cols - at), "quiet"))
    return tuple(spans)


# The one widget of the live screen: draws a view, row by row, in the theme's colours.

_COMPONENTS: dict[Role, str] = {
    "ink": "mat--ink",
    "quiet": "mat--quiet",
    "mark": "mat--mark",
    "caution": "mat--caution",
    "refusal": "mat--refusal",
    "suggestion": "mat--suggestion",
    "typed": "mat--typed",
}


class Mat(Widget):
    """Shows a `View`; redraws only the rows that look different."""

    DEFAULT_CSS = """
    Mat { width: 1fr; height: 1fr; background: $mat-ground; color: $mat-ink; }
    Mat > .mat--ink { color: $mat-ink; text-style: bold; }
    Mat > .mat--quiet { color: $mat-quiet; }
    Mat > .mat--mark { color: $mat-mark; text-style: bold; }
    Mat > .mat--caution { color: $mat-caution; text-style: bold; }
    Mat > .mat--refusal { color: $mat-refusal; text-style: bold; }
    Mat > .mat--suggestion { color: $mat-quiet; text-style: italic; }
    Mat > .mat--typed { color: $mat-ground; background: $mat-ink; text-style: bold; }
    Mat:nocolor > .mat--typed { text-style: bold reverse; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = set(_COMPONENTS.values())

    def __init__(self, view: View) -> None:
        self._styles: dict[Role, Style] = {}
        super().__init__()
        self._view = view
        self._rows: list[Line] = []

    @property
    def view(self) -> View:
        """What is shown."""
        return self._view

    def show(self, view: View) -> None:
        """Show another view; nothing is drawn where it looks the same."""
        if view == self._view and self._rows:
            return
        self._view = view
        before, self._rows = self._rows, self._painted()
        if len(before) != len(self._rows):
            self.refresh()
            return
        from textual.geometry import Region  # noqa: PLC0415 - beside its only use

        changed = [
            y for y, (old, new) in enumerate(zip(before, self._rows, strict=True)) if old != new
        ]
        if changed:
            self.refresh(*(Region(0, y, self.size.width, 1) for y in changed))

    def listed(self) -> int:
        """How many lines of the list have room."""
        area = list_area(self._view, *self.size)
        message = _beside_list(self._view)
        return lines_shown(self._view.more or (), area.width, area.height, message)

    def key_at(self, x: int, y: int) -> str | None:
        """The key whose hint, or line of the list, stands there."""
        if not 0 <= y < len(self._rows):
            return None
        if self._view.more is not None:
            area = list_area(self._view, *self.size)
            known = self._view.more
            message = _beside_list(self._view)
            return letter_at(known, area.width, area.height, (x - area.x, y - area.y), message)
        row = "".join(text for text, _ in self._rows[y])
        turns = caution_pages(self._view, *self.size)
        return key_at(row, x, footer_of(self._view, turns)) if y == len(self._rows) - 1 else None

    def on_resize(self, event: Resize) -> None:
        """Paint anew for the new size."""
        del event
        self._rows = self._painted()
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """One row of the screen."""
        if not self._rows:  # the first picture comes before the event of its size
            self._rows = self._painted()
        if y >= len(self._rows):
            return Strip.blank(self.size.width)
        segments = [Segment(text, self._style(role)) for text, role in self._rows[y]]
        return Strip(segments, self.size.width)

    def _painted(self) -> list[Line]:
        width, height = self.size
        return paint(self._view, width, height) if width and height else []

    def _style(self, role: Role) -> Style:
        """The role's style on the ground; worked out once for a theme, for every key needs some."""
        if role not in self._styles:
            own = self.get_component_rich_style(_COMPONENTS[role], partial=role != "typed")
            self._styles[role] = self.rich_style + own
        return self._styles[role]

    def notify_style_update(self) -> None:
        """Colours have changed."""
        self._styles.clear()
        super().notify_style_update()
