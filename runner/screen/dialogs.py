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

from runner.live.advice import Advisor, ExerciseAdvice
from runner.progress.advice import rule_text
from runner.progress.rules import Advice
from runner.session.apply import Refused
from runner.session.changes import level_text
from runner.text import hanging

Result = TypeVar("Result")


class Overlay(ModalScreen[Result]):
    """What lies over the session. Once it closes, keys still on their way to it do nothing."""

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Close it, once, and only where it lies on top: else another one would be closed.

        Textual calls a screen current that shows through the one above it, as all of these do.
        """
        return super().dismiss(result) if self.is_active else AwaitComplete()


class AskLine(Overlay[None]):
    """One line to type. `take` gets the text and returns a refusal, or None when it is content."""

    DEFAULT_CSS = """
    AskLine { align: center bottom; background: transparent; }
    AskLine > Vertical { height: auto; background: $mat-raised; color: $mat-ink; padding: 0 1; }
    AskLine Input, AskLine Input:focus { border: none; background: $mat-raised; height: 1;
                                         padding: 0; }
    AskLine #reason { color: $mat-refusal; height: auto; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave", show=False)]

    def __init__(self, label: str, take: Callable[[str], str | None]) -> None:
        super().__init__()
        self._label, self._take = label, take

    def compose(self) -> ComposeResult:
        """The question, the line, the reason of a refusal."""
        with Vertical():
            yield Static(Text(f"{self._label}   (enter: save, escape: leave)"))
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


class _Place(Input):
    """A line whose first character is neither a space nor the x that opened it."""

    def check_consume_key(self, key: str, character: str | None = None) -> bool:
        """Whether the key is text, and no binding of the screen's."""
        if key in ("space", "x") and not self.value:
            return False
        return super().check_consume_key(key, character)


class PainPlace(Overlay[None]):
    """Where it hurts, once the exercise has been ended. Nothing typed: no place.

    The remote answers too: next is enter, previous undoes. `told` gets the place, or "".
    """

    DEFAULT_CSS = """
    PainPlace { align: center bottom; background: transparent; }
    PainPlace > Vertical { height: auto; background: $mat-raised; color: $mat-ink; padding: 0 1; }
    PainPlace Input, PainPlace Input:focus { border: none; background: $mat-raised; height: 1;
                                             padding: 0; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pagedown,enter,escape", "take", show=False, priority=True),
        Binding("space,right", "main", show=False, priority=True),
        Binding("pageup,left", "undo", show=False, priority=True),
        Binding("x", "nothing", show=False, priority=True),
    ]

    def __init__(
        self,
        done: str,
        advice: Sequence[str],
        told: Callable[[str], None],
        undo: Callable[[], object],
    ) -> None:
        super().__init__()
        self._done, self._advice, self._told, self._undo = done, advice, told, undo

    def compose(self) -> ComposeResult:
        """What was done, what to do about pain, and the line for the place."""
        asked = "Where does it hurt?   (type it; enter or the main key: no place named)"
        with Vertical():
            yield Static(Text("\n".join((self._done, *self._advice, asked))))
            yield _Place(max_length=200)

    @property
    def _typed(self) -> str:
        return self.query_one(Input).value.strip()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Once something is typed, space and right belong to the text, and so does an x."""
        del parameters
        return action not in ("main", "nothing") or not self._typed

    def take(self) -> None:
        """Hand on what is typed, and close."""
        if self.is_current:
            typed = self._typed
            self.dismiss(None)
            self._told(typed)

    def action_take(self) -> None:
        """The place, or none."""
        self.take()

    def action_main(self) -> None:
        """The main key, with nothing typed: no place."""
        self.take()

    def action_undo(self) -> None:
        """It was no pain."""
        if self.is_current:
            self.dismiss(None)
            self._undo()

    def action_nothing(self) -> None:
        """The key that told the pain is still held down."""


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
    HOW: ClassVar[str] = "down and up scroll, any other key closes this"

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


# Going through what is advised, one exercise at a time: accept, refuse, or leave it for later.


class Answers(Overlay[None]):
    """One piece of advice after another. Only the keys that it names count."""

    DEFAULT_CSS = """
    Answers { align: center middle; background: transparent; }
    Answers > Static { width: 90%; height: auto; padding: 1 3;
                       background: $mat-raised; color: $mat-ink; }
    """

    def __init__(self, advisor: Advisor, told: Callable[[str], None]) -> None:
        """`told` gets what each answer means, in a few words, before it is kept."""
        super().__init__()
        self._advisor, self._told = advisor, told
        self._left = [item.id for item in advisor.items if item.proposes]
        self._week = advisor.lighter

    def compose(self) -> ComposeResult:
        """The advice at hand."""
        yield Static(Text(self.text))

    @property
    def text(self) -> str:
        """What is asked now."""
        if self._left:
            return "\n".join(_lines(self._item, len(self._left)))
        if self._week is not None:
            return f"{_week_text(self._week)}\n\ny  accept      n  refuse      escape  later"
        return "No advice to answer. Any key goes back."

    @property
    def _item(self) -> ExerciseAdvice:
        return self._advisor.find(self._left[0])

    def on_key(self, event: Key) -> None:
        """Accept, refuse, leave the rest for later; other keys are swallowed."""
        event.stop()
        if event.key == "escape" or not (self._left or self._week):
            self.dismiss(None)
        elif event.key == "y" or (event.key.isdigit() and event.key.isascii()):
            self._answer(int(event.key) if event.key.isdigit() else 1)
        elif event.key == "n":
            self._answer(None)

    def _answer(self, choice: int | None) -> None:
        """Take an answer, None to refuse, and go on to the next."""
        try:
            if self._left:
                self._of_exercise(choice)
                self._left.pop(0)
            elif self._week is not None:
                self._told("A lighter week, from today." if choice else "No lighter week.")
                self._advisor.answer_lighter(self._week, accepted=choice is not None)
                self._week = None
        except Refused:
            return  # no such choice
        if self._left or self._week is not None:
            self.query_one(Static).update(Text(self.text))
        else:
            self.dismiss(None)

    def _of_exercise(self, choice: int | None) -> None:
        item = self._item
        if choice is None:
            self._told(f"{item.name}: refused.")
            self._advisor.refuse(item)
        elif choice <= len(item.changes):
            self._told(f"{item.name}: {item.changes[choice - 1].text}.")
            self._advisor.accept(item, choice)
        else:
            raise Refused("no such choice")


def _lines(item: ExerciseAdvice, left: int) -> list[str]:
    advice = item.advice
    expected = advice.line.partition(" -> ")[2]
    lines = [
        f"{item.name}   held: {level_text(item.level)}",
        "",
        f"{rule_text(advice.rule)} ({advice.mark}): {advice.reason}",
        "",
    ]
    for choice, change in enumerate(item.changes, 1):
        key = "y" if choice == 1 else str(choice)
        text = expected if choice == 1 and expected else change.text
        lines.append(f"{key}  accept: {text}")
    lines.append("n  refuse; it comes back after more sessions")
    more = f"      ({left - 1} more)" if left > 1 else ""
    lines.append(f"escape  later, with matside next{more}")
    return lines


def _week_text(advice: Advice) -> str:
    return f"{rule_text(advice.rule)} ({advice.mark}): {advice.reason}"
