"""The field for a count: a pure state machine between the keys and the session.

It belongs to the oldest set without a count; where none is missing, digits correct the last count.
The suggestion is grey and not a value: a value comes only from a digit, a paste, or the remote's
opening button. A number always belongs to the set for which it was typed: `Field` keeps what was
typed for each set, and the first digit after another set began or ended starts a new number.

Every method gives a new value; nothing here reads a key or writes a record. What each key does to
each kind of field stands in `runner.screen.keys`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Literal

from msgspec import Struct, field
from msgspec.structs import replace

from runner.law.workout import Measure
from runner.session import entries, events as ev
from runner.session.state import Row, State
from runner.session.verb import Command, Enter, Fix
from runner.session.words import MOST_REPS, MOST_SECONDS, Refusal, amount_text, read_entry
from runner.text import shown

LONGEST_TYPED = 24  # characters; the longest meaningful entry has fifteen

Mode = Literal["untouched", "typed", "value"]
Kind = Literal["none", "empty", "typed", "opened", "stepped", "doubtful", "correction"]
# What may be done to the field, by a key or by the clock.
EntryDoing = Literal[
    "type",
    "back",
    "save",  # a doubtful count is asked about, and saved when it is saved again
    "open",  # with the suggestion as its value
    "plus",
    "minus",
    "clear",
    "later",  # a doubtful count stays in the field; the next rest asks about it
    "drop",  # a correction, and say so
    "enter",  # say that enter changes it
    "name",  # name the main key
]
# What is done once the clock has started a set; to any other kind nothing.
BY_CLOCK: Mapping[Kind, EntryDoing] = {
    "typed": "save",
    "stepped": "save",
    "doubtful": "later",
    "correction": "drop",
}


class AskedCount(Struct, frozen=True):
    """The set for which a field takes a count. Counts are repetitions, or seconds of a hold."""

    label: str  # which set: `PRESS 2`, `ROW L 1`
    measure: Measure
    suggestion: float
    top: float = float("inf")  # of the rep range
    best: float | None = None  # at that level, before this session
    ramp: bool = False  # a warm-up set: a count over the top means nothing
    one_sided: bool = False  # two numbers may be pasted, left and right
    entry: int = 0  # number of its row
    was: str = ""  # for a correction: the present count


class SavedCount(Struct, frozen=True):
    """A count to hand on, and a remark about it ("" for none)."""

    entry: Command
    remark: str


class EntryLine(Struct, frozen=True):
    """What the field holds for one set; `message` is a refusal or a question about it."""

    asked: AskedCount
    text: str = ""
    mode: Mode = "untouched"  # "value": opened by the remote, which steps it up and down
    message: str = ""
    doubted: bool = False  # the question was about exactly this text
    stepped: bool = False
    anew: bool = False  # the next digit starts a new number

    @property
    def touched(self) -> bool:
        """Whether the field has a value yet."""
        return self.mode != "untouched"

    @property
    def kind(self) -> Kind:
        """The row of the table."""
        if self.asked.was:
            return "correction"
        if self.mode == "untouched":
            return "empty"
        if self.mode == "value":
            return "stepped" if self.stepped else "opened"
        read = read_entry(self.text, bare=self.asked.measure)
        return "doubtful" if isinstance(read, Enter) and self._doubt(read) else "typed"

    def type(self, text: str) -> EntryLine:
        """Take a character that was typed, or a text that was pasted.

        The first character replaces a suggestion, an opened value, a number that was asked about,
        and one typed before another set began or ended; a slash continues it.
        """
        goes_on = self.mode == "typed" and (text == "/" or not (self.anew or self.doubted))
        before = self.text if goes_on else ""
        kept = (before + shown(text, " "))[:LONGEST_TYPED]
        if not kept.strip():
            return self
        return EntryLine(self.asked, kept, "typed")

    def backspace(self) -> EntryLine:
        """Delete the last character; without any the suggestion returns.

        An opened value is deleted as a whole, and a digit replaces it as a whole: nobody typed its
        digits, so nothing is added to them.
        """
        if self.mode == "value" or len(self.text) <= 1:
            return EntryLine(self.asked)
        return EntryLine(self.asked, self.text[:-1], "typed")

    def open(self) -> EntryLine:
        """Turn the suggestion into a value, which `step` changes and `save` hands on."""
        return self._with_value(self.asked.suggestion)

    def step(self, by: int) -> EntryLine:
        """Change an opened value by one; a typed text stays."""
        if self.mode != "value":
            return self
        return replace(self._with_value(float(self.text) + by), stepped=True)

    def later(self) -> EntryLine:
        """Another set began or ended: a digit starts a new number, and a doubt is asked anew."""
        return replace(self, anew=self.touched, doubted=False, message="")

    def edited(self, doing: EntryDoing, text: str = "") -> EntryLine:
        """The line after an edit that does not save it."""
        changed: Mapping[EntryDoing, Callable[[], EntryLine]] = {
            "type": lambda: self.type(text),
            "back": self.backspace,
            "open": self.open,
            "plus": lambda: self.step(1),
            "minus": lambda: self.step(-1),
            "clear": lambda: EntryLine(self.asked),
            "later": self.later,
        }
        return changed[doing]()

    def save(self) -> tuple[EntryLine, SavedCount | None]:
        """The typed count, read; or the line again with a reason or a question.

        An untouched line does nothing: no stray key ever saves a count.
        """
        if not self.touched:
            return self, None
        read = read_entry(self.text, bare=self.asked.measure)
        if isinstance(read, Refusal):
            return self.refused(read.reason), None
        reason = self._unfit(read)
        if reason:
            return self.refused(reason), None
        if self._doubt(read) and not self.doubted:
            question = f"{self.text}? Press save again, or type another number."
            return replace(self, message=question, doubted=True), None
        entry: Command = read
        if self.asked.was:
            entry = Fix(self.asked.entry, read.measure, read.counts[0])
        return replace(self, message="", doubted=False, anew=True), SavedCount(
            entry, self._remark(read)
        )

    def refused(self, reason: str) -> EntryLine:
        """The line as it is, with the reason why it was refused."""
        return replace(self, message=reason, doubted=False)

    def _with_value(self, value: float) -> EntryLine:
        most = MOST_REPS if self.asked.measure == "reps" else MOST_SECONDS
        bounded = min(max(value, 0), most)
        return EntryLine(self.asked, amount_text(bounded, "reps"), "value")

    def _unfit(self, read: Enter) -> str:
        """Why this set cannot take what was typed; "" where it can."""
        if read.measure != self.asked.measure:
            return "This set counts repetitions: write a number, like 12."
        if len(read.counts) > 1 and not self.asked.one_sided:
            return "This set has no sides: write one number, like 12."
        if len(read.counts) > 1 and self.asked.was:
            return "A correction is for one side: write one number, like 12."
        return ""

    def _doubt(self, read: Enter) -> bool:
        top, best = self.asked.top, self.asked.best
        return any(entries.doubtful(count.value, top, best) for count in read.counts)

    def _remark(self, read: Enter) -> str:
        if self.asked.ramp or max(count.value for count in read.counts) <= self.asked.top:
            return ""
        over = amount_text(self.asked.top, self.asked.measure)
        return f"Over {over}: this level is too light."


def asked_of(state: State, row: Row) -> AskedCount:
    """What the field asks for a row without a count, or with one to correct."""
    exercise = state.exercise(row)
    return AskedCount(
        label=entries.set_name(state, row),
        measure=exercise.measure,
        suggestion=entries.suggestion(state, row),
        top=exercise.rep_range[1],
        best=entries.best_there(state, row),
        ramp=row.planned_set.kind == "ramp",
        one_sided=row.side != "both",
        entry=row.entry,
        was="" if row.open else entries.count_of(state, row),
    )


_MOVES = (ev.Started, ev.Ended, ev.Skipped, ev.Undone)


class Field(Struct, frozen=True):
    """The field, and what was typed for each set, by the number of its row."""

    line: EntryLine | None = None
    typed: Mapping[int, EntryLine] = field(default_factory=dict)

    def show(self, line: EntryLine) -> Field:
        """The field with another text; it remembers the text of a missing count."""
        if line.asked.was:
            return replace(self, line=line)
        return Field(line, {**self.typed, line.asked.entry: line})

    def follow(self, state: State, events: Iterable[ev.Event]) -> Field:
        """The field after events: for the oldest set without a count, with what was typed for it.

        A count that was undone returns as it was typed. Texts for a set that is no longer done are
        forgotten, and so is a correction as soon as a set begins or ends or is undone.
        """
        moved = any(isinstance(e, _MOVES) for e in events)
        done = {r.entry for r in state.rows if r.status == "done"}
        typed = {
            entry: line.later() if moved else line
            for entry, line in self.typed.items()
            if entry in done
        }
        row = next(iter(state.open_rows), None)
        if row is None:
            stays = self.line is not None and self.line.asked.was and not moved
            return Field(self.line if stays else None, typed)
        line = replace(typed.get(row.entry, EntryLine(asked_of(state, row))), message="")
        before = self.line
        if before is not None and (before.asked.entry, before.asked.was) == (row.entry, ""):
            line = line if moved else before
        return Field(replace(line, asked=asked_of(state, row)), typed)

    def corrected(self, state: State) -> Field | None:
        """The field opened to correct the last saved count; None without one."""
        saved = (e.entry for e in reversed(state.log) if isinstance(e, ev.Entered))
        row = next((state.rows[n - 1] for n in saved if n <= len(state.rows)), None)
        if row is None or row.open or row.status != "done":
            return None
        return replace(self, line=EntryLine(asked_of(state, row)))
