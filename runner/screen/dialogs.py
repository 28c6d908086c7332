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
from textual.events import Click, Key
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from runner.live.advice import Advisor, ExerciseAdvice
from runner.live.controller import MAIN, Request, WhereItHurts
from runner.progress.advice import rule_text
from runner.progress.rules import Advice
from runner.screen.info import wrapped
from runner.session.apply import Refused
from runner.session.changes import level_text
from runner.session.verb import VERBS
from runner.text import hanging

Result = TypeVar("Result")


class Overlay(ModalScreen[Result]):
    """Lies over the session. After it closes, keys still on their way to it do nothing.

    It closes as soon as a set begins or ends; what was typed in it is kept. Keys may reach it
    before its widgets exist and after they have gone, so it keeps what it needs for a key and never
    looks for widgets.
    """

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Close it, once, and only if it is on top; otherwise another one would close.

        Textual calls a screen current that shows through the one above it, as all of these do.
        """
        return super().dismiss(result) if self.is_active else AwaitComplete()

    def give_way(self) -> None:
        """Close, for a set begins or ends."""
        self.dismiss(None)

    def took(self, event: Key) -> bool:
        """Whether it dealt with a key as the key came; else Textual's own widgets are to have it.

        Widgets get their keys by queues, each its own: of several keys that come at once a later
        one would overtake the one that opens or closes this.
        """
        del event
        return False


class LineDialog(Overlay[None]):
    """A dialog with one line to type in."""

    def __init__(self, text: str = "") -> None:
        super().__init__()
        self.line = Input(text, max_length=200, select_on_focus=False)
        self.line.cursor_position = len(text)

    @property
    def text(self) -> str:
        """What is typed, without blanks around it."""
        return self.line.value.strip()

    def wrote(self, event: Key) -> bool:
        """Whether a key was text for the line."""
        if event.is_printable and event.character is not None:
            self.line.replace(event.character, *self.line.selection)
        elif event.key == "backspace":
            self.line.action_delete_left()
        else:
            return False
        return True


class AskLine(LineDialog):
    """One line to type. `take` gets the text and returns a refusal, or None where it accepts it.

    Text that is typed and not entered is kept in `drafts`, by the label, and comes back next time.
    """

    DEFAULT_CSS = """
    AskLine { align: center bottom; background: transparent; }
    AskLine > Vertical { height: auto; background: $mat-raised; color: $mat-ink; padding: 0 1; }
    AskLine Input, AskLine Input:focus { border: none; background: $mat-raised; height: 1;
                                         padding: 0; }
    AskLine #reason { color: $mat-refusal; height: auto; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave", show=False)]

    def __init__(
        self,
        label: str,
        take: Callable[[str], Request | str | None],
        drafts: dict[str, str] | None = None,
        meet: Callable[[Request | None], object] | None = None,
    ) -> None:
        """`meet` gets what is asked for next, once this is closed."""
        self._drafts = {} if drafts is None else drafts
        super().__init__(self._drafts.pop(label, ""))
        self._label, self._take, self._meet = label, take, meet
        self._reason = Static("", id="reason")

    def compose(self) -> ComposeResult:
        """The question, the line, the reason of a refusal."""
        with Vertical():
            yield Static(Text(f"{self._label}   (enter: save, escape: leave)"))
            yield self.line
            yield self._reason

    def took(self, event: Key) -> bool:
        """Text, enter and escape."""
        if event.key == "enter":
            self._enter()
        elif event.key == "escape":
            self.action_leave()
        else:
            return self.wrote(event)
        return True

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter, where it comes by the line's own way."""
        event.stop()
        self._enter()

    def _enter(self) -> None:
        """Hand the text on; stay where it is refused."""
        if not self.is_active:  # a second enter, on its way while this was closing
            return
        found = self._take(self.text)
        if isinstance(found, str):
            self._reason.update(Text(found))
            return
        self.dismiss(None)
        if self._meet is not None and found is not None:
            self._meet(found)

    def action_leave(self) -> None:
        """Close without entering; what is typed stays for the next time."""
        if self.is_active:
            self.give_way()

    def give_way(self) -> None:
        """Close, and keep what is typed."""
        if self.text:
            self._drafts[self._label] = self.text
        self.dismiss(None)


class PainPlace(LineDialog):
    """Where it hurts, after the exercise was ended. Nothing typed: no place.

    The remote answers too: next is enter, previous undoes. `meet` gets the next request.
    """

    DEFAULT_CSS = """
    PainPlace { align: center bottom; background: transparent; }
    PainPlace > Vertical { height: auto; background: $mat-raised; color: $mat-ink; padding: 0 1; }
    PainPlace Input, PainPlace Input:focus { border: none; background: $mat-raised; height: 1;
                                             padding: 0; }
    """

    def __init__(self, asked: WhereItHurts, meet: Callable[[Request | None], object]) -> None:
        super().__init__()
        self._asked, self._meet = asked, meet

    def compose(self) -> ComposeResult:
        """What was done, what to do about pain, and the line for the place."""
        columns, rows = self.app.size
        before = [self._asked.done, *self._asked.advice]
        asked = "Where does it hurt? Type it.   enter, space: no place · page up, left: undo"
        lines = [*before, asked]
        if sum(len(wrapped(line, columns - 2)) for line in lines) >= rows:
            # The line to type in stays in sight, and what is asked above it.
            lines = [*before, "Where does it hurt? enter: no place · left: undo"]
            lines = [row for line in lines for row in wrapped(line, columns - 2)][-(rows - 1) :]
        with Vertical():
            yield Static(Text("\n".join(lines)))
            yield self.line

    def took(self, event: Key) -> bool:
        """Text; or it took the place, or undid, or was the key that told the pain, still down."""
        key, typed = event.key, bool(self.text)
        if key in VERBS["undo"].keys[1:]:  # u is a letter
            self._undo()
        elif key == "escape" and self._asked.waits:
            self._undo()  # what waits for the answer is not done
        elif key in ("enter", "escape", "pagedown") or (not typed and key in VERBS[MAIN].keys):
            self.give_way()
        elif key != "x" or typed:
            return self.wrote(event)
        return True

    def give_way(self) -> None:
        """Hand on what is typed, and close."""
        if self.is_active:
            self.dismiss(None)
            self._meet(self._asked.take(self.text))

    def _undo(self) -> None:
        """It was no pain."""
        self.dismiss(None)
        self._asked.undo()
        self._meet(None)


def says_yes(key: str) -> bool | None:
    """The answer of a key: y and the main key yes, n and the undo key no, others None."""
    if key in ("y", *VERBS[MAIN].keys):
        return True
    return False if key in ("n", *VERBS["undo"].keys) else None


class Question(Overlay[bool]):
    """A question that y or the main key answers with yes, n or the undo key with no."""

    DEFAULT_CSS = """
    Question { align: center bottom; background: transparent; }
    Question > Static { width: 1fr; height: auto; padding: 0 1;
                        background: $mat-raised; color: $mat-ink; }
    """

    def __init__(self, text: str, *, remote: bool = False) -> None:
        super().__init__()
        self._text, self._remote = text, remote

    def compose(self) -> ComposeResult:
        """The question."""
        yes, no = ("page down", "page up") if self._remote else ("y, space", "n, u")
        yield Static(Text(f"{self._text}   {yes}: yes   {no}: no"))

    def took(self, event: Key) -> bool:
        """Every key."""
        self.on_key(event)
        return True

    def on_key(self, event: Key) -> None:
        """Only these keys count; others are swallowed."""
        event.stop()
        yes = says_yes(event.key)
        if yes is not None:
            self.dismiss(yes)

    def on_click(self, event: Click) -> None:
        """A click beside the question answers nothing."""
        event.stop()


class HangingLines:
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
    MORE: ClassVar[str] = "? again: all keys; any other key closes this"

    DEFAULT_CSS = """
    Page > VerticalScroll { width: 100%; height: 100%; padding: 0 1;
                            background: $mat-raised; color: $mat-ink; }
    """

    def __init__(
        self, title: str, lines: Sequence[str], again: tuple[str, Page] | None = None
    ) -> None:
        """`again`: a key, and the page that it opens in the place of this one."""
        super().__init__()
        self._title, self._lines, self._again = title, lines, again

    def compose(self) -> ComposeResult:
        """Title and lines."""
        with VerticalScroll():
            how = self.HOW if self._again is None else self.MORE
            yield Static(HangingLines((f"{self._title}   ({how})", "", *self._lines)))

    def took(self, event: Key) -> bool:
        """Every key but those that scroll."""
        if event.key in self.SCROLLING:
            return False
        self.on_key(event)
        return True

    def on_key(self, event: Key) -> None:
        """Scroll with the arrows; close with the rest."""
        if self._again is not None and event.key == self._again[0]:
            event.stop()
            if self.is_active:
                self.app.switch_screen(self._again[1])
        elif event.key not in self.SCROLLING:
            event.stop()
            self.dismiss(None)


# Going through what is advised, one exercise at a time: accept, refuse, or leave it for later.


class Answers(Overlay[None]):
    """One piece of advice after another. Only the keys that it names do anything."""

    DEFAULT_CSS = """
    Answers { align: center middle; background: transparent; }
    Answers > Static { width: 90%; height: auto; padding: 1 3;
                       background: $mat-raised; color: $mat-ink; }
    """

    def __init__(self, advisor: Advisor, say: Callable[[str], None]) -> None:
        """`told` gets what each answer means, in a few words, before it is kept."""
        super().__init__()
        self._advisor, self._say = advisor, say
        self._remaining = [item.id for item in advisor.items if item.proposes]
        self._week = advisor.lighter
        self._shown = Static(Text(self.text))

    def compose(self) -> ComposeResult:
        """The advice at hand."""
        yield self._shown

    @property
    def text(self) -> str:
        """What is asked now."""
        if self._remaining:
            return "\n".join(_lines(self._item, len(self._remaining)))
        if self._week is not None:
            return f"{_week_text(self._week)}\n\ny  accept      n  refuse      escape  later"
        return "No advice to answer. Any key goes back."

    @property
    def _item(self) -> ExerciseAdvice:
        return self._advisor.find(self._remaining[0])

    def took(self, event: Key) -> bool:
        """Every key."""
        self.on_key(event)
        return True

    def on_key(self, event: Key) -> None:
        """Accept, refuse, leave the rest for later; other keys are swallowed."""
        event.stop()
        if event.key == "escape" or not (self._remaining or self._week):
            self.dismiss(None)
        elif event.key.isdigit() and event.key.isascii():
            self._answer(int(event.key))
        elif (yes := says_yes(event.key)) is not None:
            self._answer(1 if yes else None)

    def _answer(self, choice: int | None) -> None:
        """Take an answer, None to refuse, and go on to the next."""
        try:
            if self._remaining:
                self._of_exercise(choice)
                self._remaining.pop(0)
            elif self._week is not None:
                self._say("A lighter week, from today." if choice else "No lighter week.")
                self._advisor.answer_lighter(self._week, accepted=choice is not None)
                self._week = None
        except Refused:
            return  # no such choice
        if self._remaining or self._week is not None:
            self._shown.update(Text(self.text))
        else:
            self.dismiss(None)

    def _of_exercise(self, choice: int | None) -> None:
        item = self._item
        if choice is None:
            self._say(f"{item.name}: refused.")
            self._advisor.refuse(item)
        elif choice <= len(item.changes):
            self._say(f"{item.name}: {item.changes[choice - 1].text}.")
            self._advisor.accept(item, choice)
        else:
            raise Refused("no such choice")


def _lines(item: ExerciseAdvice, remaining: int) -> list[str]:
    advice = item.advice
    expected = advice.line.partition(" -> ")[2]
    lines = [
        f"{item.name}   working level: {level_text(item.level)}",
        "",
        f"{rule_text(advice.rule)} ({advice.source}): {advice.reason}",
        "",
    ]
    for choice, change in enumerate(item.changes, 1):
        key = "y" if choice == 1 else str(choice)
        text = expected if choice == 1 and expected else change.text
        lines.append(f"{key}  accept: {text}")
    lines.append("n  refuse; it comes back after more sessions")
    more = f"      ({remaining - 1} more)" if remaining > 1 else ""
    lines.append(f"escape  later, with matside next{more}")
    return lines


def _week_text(advice: Advice) -> str:
    return f"{rule_text(advice.rule)} ({advice.source}): {advice.reason}"
