"""The entry line after a set: a pure state machine between the keys and the session.

It stands open from the set's end. What it suggests (the count to beat, else the floor) is grey
and no value: a value comes only from a digit, a paste, or the remote's opening button, and only
`save` hands one on. Every method gives a new line; nothing here reads a key or writes a record.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from runner.core.entry_text import (
    MOST_REPS,
    MOST_SECONDS,
    Refusal,
    amount_text,
    read_entry,
)
from runner.core.progress.aims import wants_a_second_look
from runner.core.session.commands import Enter
from runner.core.workout import Measure

LONGEST_TYPED = 24  # characters; the longest entry that means something has fifteen

Mode = Literal["untouched", "typed", "value"]


@dataclass(frozen=True, slots=True)
class Asked:
    """What an open entry asks for. Counts are repetitions, or seconds of a hold."""

    label: str  # which set: "PRESS, set 2"
    measure: Measure
    suggestion: float  # the count to beat, else the floor; of a correction, what stands
    to_beat: float | None = None
    ceiling: float | None = None  # of the band; None where being over it says nothing (ramp sets)
    one_sided: bool = False  # two numbers may be typed, left and right


@dataclass(frozen=True, slots=True)
class Saved:
    """An entry to hand on, and what there is to say about it (empty: nothing)."""

    entry: Enter
    remark: str


@dataclass(frozen=True, slots=True)
class EntryLine:
    """One open entry as it stands; `message` is a refusal or a question about it."""

    asked: Asked
    text: str = ""
    mode: Mode = "untouched"  # "value": opened by the remote, which steps it up and down
    message: str = ""
    doubted: bool = False  # the question was asked about just this text

    @property
    def touched(self) -> bool:
        """Whether there is a value yet."""
        return self.mode != "untouched"

    def type(self, text: str) -> EntryLine:
        """A key's character, or a pasted text; the first one replaces suggestion and value."""
        before = self.text if self.mode == "typed" else ""
        signs = "".join(char if char.isprintable() else " " for char in text)
        kept = (before + signs)[:LONGEST_TYPED]
        if not kept.strip():
            return self
        return EntryLine(self.asked, kept, "typed")

    def backspace(self) -> EntryLine:
        """One character less; without any the suggestion stands there again."""
        if len(self.text) <= 1:
            return EntryLine(self.asked)
        return EntryLine(self.asked, self.text[:-1], "typed")

    def open(self) -> EntryLine:
        """The suggestion as a value, which `step` changes and `save` hands on."""
        return self._with_value(self.asked.suggestion)

    def step(self, by: int) -> EntryLine:
        """An opened value one more or one less; a typed text is left alone."""
        if self.mode != "value":
            return self
        return self._with_value(float(self.text) + by)

    def save(self) -> tuple[EntryLine, Saved | None]:
        """What was typed, read; or the line again with the reason why not, or with a question.

        An untouched line does nothing: no count is ever saved by a stray key.
        """
        if not self.touched:
            return self, None
        read = read_entry(self.text, bare=self.asked.measure)
        if isinstance(read, Refusal):
            return self.refused(read.reason), None
        reason = self._unfit(read)
        if reason:
            return self.refused(reason), None
        question = self._doubt(read)
        if question and not self.doubted:
            return replace(self, message=question, doubted=True), None
        return EntryLine(self.asked), Saved(read, self._remark(read))

    def refused(self, reason: str) -> EntryLine:
        """The line as it stands, with the reason why it was not taken."""
        return replace(self, message=reason, doubted=False)

    def _with_value(self, value: float) -> EntryLine:
        most = MOST_REPS if self.asked.measure == "reps" else MOST_SECONDS
        held = min(max(value, 0), most)
        return EntryLine(self.asked, amount_text(held, "reps"), "value")

    def _unfit(self, read: Enter) -> str:
        """Why this entry cannot take what was read, or nothing."""
        if read.measure != self.asked.measure:
            return "This was no hold: write the repetitions, such as 12."
        if len(read.counts) > 1 and not self.asked.one_sided:
            return "This set had no sides: write one number, such as 12."
        return ""

    def _doubt(self, read: Enter) -> str:
        beat = self.asked.to_beat
        most = max(count.value for count in read.counts)
        if beat is None or not wants_a_second_look(beat, most):
            return ""
        typed, last = (amount_text(value, self.asked.measure) for value in (most, beat))
        return f"{typed} is more than twice the {last} to beat: save again if it is right."

    def _remark(self, read: Enter) -> str:
        ceiling = self.asked.ceiling
        if ceiling is None or max(count.value for count in read.counts) <= ceiling:
            return ""
        over = amount_text(ceiling, self.asked.measure)
        return f"Over {over}: this version is getting too light."
