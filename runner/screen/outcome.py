"""What the screen says of counts against the past: after an entry, and after the last set."""

from __future__ import annotations

from runner.core.session.counts import set_name
from runner.core.session.events import Corrected, Entered, Event
from runner.core.session.state import State
from runner.core.wrapping import Line
from runner.errors import MatsideError
from runner.live.afterwards import Afterwards, Section, verdict_text
from runner.live.opening import Live, Opening
from runner.live.standing import Standing

INDENT = 9  # columns of the word in front of a section


class Outcome:
    """Asks the rules, and remembers the answer until something has happened.

    A record that cannot be read costs no session: then there is nothing to say.
    """

    def __init__(self, opening: Opening, live: Live) -> None:
        self._live = live
        self._after = Afterwards(opening, live)
        self._known: tuple[tuple[int, str], tuple[Section, ...]] | None = None

    def became(self, event: Event, state: State, *, back: str) -> str:
        """What became of a count that a person has entered or corrected; nothing of other events.

        It names its set: by then another one may stand on the screen. `back` is the key that takes
        it back.
        """
        if not isinstance(event, Entered) or event.by != "person":
            return ""
        row = state.rows[event.entry - 1]
        if isinstance(event, Corrected):
            what = f"{count_text(event)} instead of {_count_before(event, state)}"
            return f"{set_name(state, row)}: {what} · {back} takes it back"
        if event.counted == "no":
            return f"{set_name(state, row)}: not counted · {back} takes it back"
        try:
            said = verdict_text(self._after.verdict(row), self._after.new_count(row))
        except MatsideError:
            said = ""
        what = f"{count_text(event)} saved{f', {said}'.removesuffix('.') if said else ''}"
        return f"{set_name(state, row)}: {what} · {back} takes it back"

    def sections(self, state: State, *, settled: bool = True) -> tuple[Section, ...]:
        """All that the session has brought, as it stands now; `settled`: it can be read back."""
        key = (len(state.log), state.phase)
        if not settled:  # the record may be locked: nobody waits for it here
            return () if self._known is None else self._known[1]
        if self._known is None or self._known[0] != key:
            try:
                self._known = (key, tuple(self._after.sections()))
            except MatsideError:
                self._known = (key, ())
        return self._known[1]

    def standing(self) -> Standing:
        """What is held and advised. Raises MatsideError where the record cannot be read."""
        return self._after.standing()

    def forget(self) -> None:
        """Something was answered: look again."""
        self._known = None


def count_text(event: Entered) -> str:
    """A count as it was entered: `12`, `12 with 2 in reserve`, `31 s`, `not counted`."""
    if event.counted == "no":
        return "not counted"
    value = event.reps if event.hold_s is None else f"{event.hold_s:g} s"
    return f"{value}" if event.reserve is None else f"{value} with {event.reserve} in reserve"


def _count_before(event: Corrected, state: State) -> str:
    """What stood there before the correction."""
    entered = [e for e in state.log if isinstance(e, Entered) and e.entry == event.entry]
    earlier = entered[: entered.index(event)]
    return count_text(earlier[-1]) if earlier else "no count"


def section_lines(sections: tuple[Section, ...]) -> tuple[Line, ...]:
    """The sections as lines of a sheet, the word in front of the first of each."""
    lines: list[Line] = []
    for section in sections:
        for index, text in enumerate(section.lines):
            front = section.title if index == 0 else ""
            lines.append(((front.ljust(INDENT), "mark"), (text, "ink")))
    return tuple(lines)
