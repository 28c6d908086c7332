"""The one widget of the live screen: draws a view, row by row, in the theme's colours."""

from __future__ import annotations

from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.events import Resize
from textual.strip import Strip
from textual.widget import Widget

from runner.core.wrapping import Line, Role
from runner.screen.paint import paint
from runner.screen.view import View

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
