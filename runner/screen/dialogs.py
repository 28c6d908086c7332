"""What lies over the session for a moment: a line to type, a question, a page to read.

The session goes on beneath; its timers belong to the app, not to these screens.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import ClassVar, TypeVar

from rich.console import Console, ConsoleOptions
from rich.text import Text
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from runner.core.wrapping import hanging

Result = TypeVar("Result")


class Overlay(ModalScreen[Result]):
    """What lies over the session. Once it closes, keys still on their way to it do nothing."""

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Close it, once, and only where it lies on top: else another one would be closed.

        Textual calls a screen current that shows through the one above it, as all of these do.
        """
        return super().dismiss(result) if self.is_active else AwaitComplete()


class Ask(Overlay[None]):
    """One line to type. `take` gets the text and returns a refusal, or None when it is content."""

    DEFAULT_CSS = """
    Ask { align: center bottom; background: transparent; }
    Ask > Vertical { height: auto; background: $mat-raised; color: $mat-ink; padding: 0 1; }
    Ask Input, Ask Input:focus { border: none; background: $mat-raised; height: 1; padding: 0; }
    Ask #reason { color: $mat-refusal; height: auto; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave", show=False)]

    def __init__(self, label: str, take: Callable[[str], str | None]) -> None:
        super().__init__()
        self._label, self._take = label, take

    def compose(self) -> ComposeResult:
        """The question, the line, the reason of a refusal."""
        with Vertical():
            yield Static(Text(f"{self._label}   (enter takes it, escape leaves)"))
            yield Input(max_length=200)
            yield Static("", id="reason")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Hand the text on; stay where it is refused."""
        event.stop()
        if not self.is_active:  # a second enter, on its way while this was closing
            return
        reason = self._take(event.value.strip())
        if reason is None:
            self.dismiss(None)
        else:
            self.query_one("#reason", Static).update(Text(reason))

    def action_leave(self) -> None:
        """Leave without a word."""
        self.dismiss(None)


class Question(Overlay[bool]):
    """A question that y or n answers, and nothing else."""

    DEFAULT_CSS = """
    Question { align: center middle; background: transparent; }
    Question > Static { width: auto; max-width: 90%; height: auto; padding: 1 3;
                        background: $mat-raised; color: $mat-ink; }
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self._text = text

    def compose(self) -> ComposeResult:
        """The question."""
        yield Static(Text(f"{self._text}\n\ny  yes      n  no"))

    def on_key(self, event: Key) -> None:
        """Only y and n count; other keys are swallowed, a presenter's among them."""
        event.stop()
        if event.key in ("y", "n"):
            self.dismiss(event.key == "y")


class Hanging:
    """Lines that go on below their own text: what is explained stands in a column of its own."""

    def __init__(self, lines: Sequence[str]) -> None:
        self._lines = lines

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Text]:
        """The lines as they fit into the width there is."""
        del console
        for line in self._lines:
            yield Text("\n".join(hanging(line, options.max_width)))


class Page(Overlay[None]):
    """Something to read; any key but the scrolling ones closes it."""

    SCROLLING: ClassVar[tuple[str, ...]] = ("up", "down")
    HOW: ClassVar[str] = "down and up read on, any other key closes this"

    DEFAULT_CSS = """
    Page { align: center middle; background: transparent; }
    Page > VerticalScroll { width: 90%; height: 90%; padding: 1 2;
                            background: $mat-raised; color: $mat-ink; }
    """

    def __init__(self, title: str, lines: Sequence[str]) -> None:
        super().__init__()
        self._title, self._lines = title, lines

    def compose(self) -> ComposeResult:
        """Title and lines."""
        with VerticalScroll():
            yield Static(Hanging((f"{self._title}   ({self.HOW})", "", *self._lines)))

    def on_key(self, event: Key) -> None:
        """Scroll with the arrows; close with the rest."""
        if event.key not in self.SCROLLING:
            event.stop()
            self.dismiss(None)
