"""From a view to rows of coloured text, for any size of terminal: pure, no terminal at all.

`paint` gives exactly `rows` rows of exactly `cols` cells. A span's role says what it is; the
screen gives each role its colour, and where there is no colour, weight or brackets tell enough.
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

from runner.screen import glyphs, info
from runner.screen.keys import TRYOUT_HINTS, footer, hints, key_at, letter_at, list_rows
from runner.screen.layout import Area, Layout, layout
from runner.screen.view import View, clock, count, label, word
from runner.session.state import Phase
from runner.text import Line, Role, Span, escaped

_SIDES = {"both": "", "left": "LEFT", "right": "RIGHT"}
_APART = " · "

# The shape of each phase: a rule across the screen, repeated. Our own.
SHAPES: dict[Phase, str] = {
    "ready": "▄   ",
    "warm-up": "▄▀",
    "rest": "▄▄▄ ",
    "set": "█",
    "paused": "█   ",
    "wrap-up": "▀▀▄▄",
    "closed": "▄",
}
_TO_COME = "▄"  # of a hold, up to its mark
_LAST_SECONDS = 3  # of a rest, each a block of its own


def paint(view: View, cols: int, rows: int) -> list[Line]:
    """The whole screen for this view."""
    time = clock(view.seconds)
    areas = _without_gap(view, layout(cols, rows, view.phase, clock=time, tryout=view.tryout))
    canvas: list[list[tuple[int, Line]]] = [[] for _ in range(rows)]
    for area in areas.values():
        for offset, line in enumerate(_content(view, areas, area)[: area.height]):
            canvas[area.y + offset].append((area.x, fitted(line, area.width)))
    if view.more is not None:
        area = list_area(view, cols, rows)
        known = list_rows(view.more, area.width, area.height, _beside_list(view))
        canvas[area.y :] = [[(area.x, fitted(line, area.width))] for line in known]
    return [_joined(pieces, cols) for pieces in canvas]


def list_area(view: View, cols: int, rows: int) -> Area:
    """Where the list of `m` stands: below everything large, on rows of ordinary text."""
    areas = layout(cols, rows, view.phase, clock=clock(view.seconds), tryout=view.tryout)
    large = [area.y + area.height for area in areas.values() if area.glyph]
    top, x = min(max(large, default=0), rows - 1), next(iter(areas.values())).x
    return Area("info", x, top, cols - 2 * x, rows - top)


def _beside_list(view: View) -> str:
    """What is said while the list is open: of the count first, for its field is covered."""
    return (view.entry.message if view.entry is not None else "") or view.message


def footer_of(view: View) -> tuple[tuple[str, str], ...]:
    """The hints of the footer, the most needed first."""
    if view.tryout:
        return TRYOUT_HINTS
    return hints(
        view.phase,
        view.entry,
        rehearses=view.rehearses,
        remote=view.remote,
        missing=view.missing,
        offered=view.offered,
    )


def _without_gap(view: View, areas: Layout) -> Layout:
    """Where lines are so few that the entry has only one, text takes it while nothing is open."""
    text, entry = areas.get("info"), areas.get("entry")
    if text is None or entry is None or entry.height > 1 or info.has_entry(view):
        return areas
    if text.y + text.height != entry.y:
        return areas
    return {**areas, "info": replace(text, height=text.height + 1), "entry": entry}


def as_text(painted: Sequence[Line]) -> list[str]:
    """The rows without roles and without trailing spaces."""
    return ["".join(text for text, _ in line).rstrip() for line in painted]


def fitted(line: Line, cells: int) -> Line:
    """The line in exactly so many cells, cut with an ellipsis where it is too long."""
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
    """The phase's shape in so many cells, with what is left of a rest or done of a hold."""
    shape = SHAPES["set" if view.tryout else view.phase]
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
    large: dict[str, Span] = {
        "time": (clock(view.seconds), "quiet" if view.phase == "paused" else "ink"),
        "word": (word(view), "mark"),
        "count": (count(view), "ink"),
    }
    if area.part in large:
        text, role = large[area.part]
        return _large(text, area, role)
    if area.part == "name":
        return _name(view, area)
    if area.part == "rule":
        return [((rule(view, area.width), "mark"),)]
    return _text(view, areas, area)


def _text(view: View, areas: Layout, area: Area) -> list[Line]:
    if area.part == "label":
        return [((label(view), "quiet"),)]
    if area.part == "head":
        return [_head(view, area.width)]
    if area.part == "aside":
        return info.aside(view, areas, area.height)
    if area.part == "info":
        return info.lines(view, areas, area.width, area.height)
    if area.part == "entry":
        return info.entry_lines(view, area.width, area.height)
    return [_keys(view, area.width)]


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
    """Short name and side; the side shrinks to its first letter before the name has to go."""
    if view.bout is None:
        return []
    side = _SIDES[view.bout.side]
    for text in (f"{view.bout.short} {side}".strip(), f"{view.bout.short} {side[:1]}".strip()):
        if glyphs.drawable(text) and glyphs.width(text, area.glyph) <= area.width:
            return _large(text, area, "ink")
    return _large(
        f"{view.bout.name} {side.lower()}".strip(), Area("name", 0, 0, 0, area.height), "ink"
    )


def _head(view: View, width: int) -> Line:
    """Where we are on the left, how far we are on the right; a lasting trouble before both."""
    right = _APART.join(_progress(view))
    room = max(width - cell_len(right) - 2, 0)
    left: Span = (view.notice, "caution") if view.notice else (_where(view, room), "quiet")
    return (*fitted((left,), room), ("  ", "quiet"), (right, "quiet"))


def _where(view: View, room: int) -> str:
    """Plan, session and block; where they are too long, the plan gives way, then the session."""
    block = f"block {view.block} of {view.blocks}" if view.blocks > 1 and view.block else ""
    parts = [part for part in (view.plan, view.session, block) if part]
    while len(parts) > 1 and cell_len(_APART.join(parts)) > room:
        del parts[0]
    return _APART.join(parts)


def _progress(view: View) -> list[str]:
    parts = []
    if view.sets_all:
        parts.append(f"{view.sets_done} of {view.sets_all} sets")
    if view.left_s is not None:
        parts.append(f"{clock(view.left_s)} left")
    return parts


def _keys(view: View, width: int) -> Line:
    """As many hints as fit, help among them; at least what the main key does."""
    spans: list[Span] = []
    for key, does in footer(footer_of(view), width):
        if spans:
            spans.append((_APART, "quiet"))
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

    def key_at(self, x: int, y: int) -> str | None:
        """The key whose hint, or line of the list, stands there."""
        if not 0 <= y < len(self._rows):
            return None
        if self._view.more is not None:
            area = list_area(self._view, *self.size)
            known = self._view.more
            said = _beside_list(self._view)
            return letter_at(known, area.width, area.height, (x - area.x, y - area.y), said)
        row = "".join(text for text, _ in self._rows[y])
        return key_at(row, x, footer_of(self._view)) if y == len(self._rows) - 1 else None

    def on_resize(self, event: Resize) -> None:
        """Paint anew for the new size."""
        del event
        self._rows = self._painted()
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """One row of the screen."""
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
