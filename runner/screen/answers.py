"""Going through what is advised, one exercise at a time: accept, refuse, or leave it for later."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text
from textual.app import ComposeResult
from textual.events import Key
from textual.widgets import Static

from runner.core.progress.advice import Advice
from runner.core.session.planning import rung_text
from runner.core.session.turn import Refused
from runner.errors import MatsideError
from runner.live.standing import Stand, Standing
from runner.screen.dialogs import Overlay

Told = Callable[[str], None]


class Answers(Overlay[None]):
    """One piece of advice after another. Only the keys that it names count."""

    DEFAULT_CSS = """
    Answers { align: center middle; background: transparent; }
    Answers > Static { width: 90%; height: auto; padding: 1 3;
                       background: $mat-raised; color: $mat-ink; }
    """

    def __init__(self, standing: Standing, told: Told) -> None:
        """`told` gets what became of each answer, in a few words."""
        super().__init__()
        self._standing, self._told = standing, told
        self._left = [stand.id for stand in standing.stands if stand.proposes]
        self._week = standing.lighter

    def compose(self) -> ComposeResult:
        """The advice at hand."""
        yield Static(Text(self.text))

    @property
    def text(self) -> str:
        """What is asked now."""
        if self._left:
            return "\n".join(_lines(self._stand, len(self._left)))
        if self._week is not None:
            return f"{_week_text(self._week)}\n\ny  accept      n  refuse      escape  later"
        return "Nothing to answer. Any key goes back."

    @property
    def _stand(self) -> Stand:
        return self._standing.find(self._left[0])

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
                self._standing.answer_lighter(self._week, accepted=choice is not None)
                self._told("A lighter week, from today." if choice else "No lighter week.")
                self._week = None
        except Refused:
            return  # no such choice
        except MatsideError as error:
            self._told(f"NOT KEPT: {error}")
            self.dismiss(None)
            return
        if self._left or self._week is not None:
            self.query_one(Static).update(Text(self.text))
        else:
            self.dismiss(None)

    def _of_exercise(self, choice: int | None) -> None:
        stand = self._stand
        if choice is None:
            self._standing.refuse(stand)
            self._told(f"{stand.name}: refused.")
        else:
            change = self._standing.accept(stand, choice)
            self._told(f"{stand.name}: {change.text}.")


def _lines(stand: Stand, left: int) -> list[str]:
    advice = stand.advice
    expected = advice.line.partition(" -> ")[2]
    lines = [
        f"{stand.name}   held: {rung_text(stand.rung)}",
        "",
        f"{advice.rule} ({advice.mark}): {advice.reason}",
        "",
    ]
    for choice, change in enumerate(stand.changes, 1):
        key = "y" if choice == 1 else str(choice)
        text = expected if choice == 1 and expected else change.text
        lines.append(f"{key}  accept: {text}")
    lines.append("n  refuse; it rests until something new is done")
    more = f"      ({left - 1} more)" if left > 1 else ""
    lines.append(f"escape  later, with matside next{more}")
    return lines


def _week_text(advice: Advice) -> str:
    return f"{advice.rule} ({advice.mark}): {advice.reason}"
