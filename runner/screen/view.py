"""What the full screen shows at one instant: plain frozen values, already rounded.

Two equal views look the same, so whoever shows them compares before drawing. Whole seconds only:
counting down they are rounded up, counting up they are rounded down. Texts may come from plans
and people; they are made safe where they are drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

from runner.core.session.state import Phase
from runner.core.workout import Side
from runner.core.wrapping import Line
from runner.screen.entry import EntryLine
from runner.screen.layout import WORDS


@dataclass(frozen=True, slots=True)
class Bout:
    """A set, or one side of it: the running one, or in a rest the one to come."""

    name: str
    short: str
    side: Side
    number: int  # within the exercise and session, from 1
    sets: int
    gear: str = ""  # version, measured set-up, load, tempo
    change: str = ""  # what has to be set differently from before; empty: nothing
    aim: str = ""  # the band and the reserve, in words
    to_beat: str = ""  # the count to beat, digits; empty: none
    floor: str = ""  # of the band, digits
    hold: bool = False
    ramp: bool = False
    block: int = 1
    new_block: bool = False  # the first set of a later block
    cues: tuple[str, ...] = ()
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Recovery:
    """One prime mover of the coming set: seconds since its last prime work, now and then."""

    muscle: str
    side: Side
    had_s: int
    at_start_s: int


@dataclass(frozen=True, slots=True)
class View:
    """Everything on the screen. Empty texts and None are left out."""

    phase: Phase
    seconds: int = 0  # the large time
    span_s: int = 0  # of which `seconds` are left in a rest; the mark of a hold; 0: no end known
    over_s: int | None = None  # seconds past the mark of a hold
    waits: bool = False  # the time is over and the session waits for the person
    bout: Bout | None = None
    plan: str = ""
    session: str = ""
    trainee: str = ""
    block: int = 0
    blocks: int = 0
    sets_done: int = 0
    sets_all: int = 0
    left_s: int | None = None  # of the whole, predicted
    recoveries: tuple[Recovery, ...] = ()
    done: tuple[tuple[str, str], ...] = ()  # short name and its counts, in order
    moves: tuple[str, ...] = ()  # of warm-up or cool-down
    sheet: tuple[Line, ...] = ()  # the text of ready, wrap-up and closed
    scroll: int = 0  # lines of the sheet above the first one shown
    entry: EntryLine | None = None
    message: str = ""  # what became of the last key or entry
    notice: str = ""  # a lasting trouble, such as a record that cannot be kept
    tryout: bool = False  # before the session: a set as it will look
    late: str = ""  # how late the session runs, in words
    rehearses: bool = False  # a rehearsal: it has keys of its own
    remote: bool = False  # keys are named by the buttons of a presenter remote


def clock(seconds: int) -> str:
    """Minutes and seconds as on a clock: `0:07`, `12:30`, `100:00`."""
    return f"{seconds // 60}:{seconds % 60:02}"


def word(view: View) -> str:
    """The large word for the phase."""
    if view.phase == "rest" and view.waits:
        return "GO?"
    if view.phase == "set" and view.bout is not None and view.bout.hold:
        return "HOLD"
    return "SET" if view.tryout else WORDS[view.phase]


def count(view: View) -> str:
    """The large count beside the time: digits, or nothing.

    In a set the one to beat, without one the floor of the band with a plus; past the mark of a
    hold the seconds beyond it. In a rest what stands in the entry, once it is a value.
    """
    if view.phase == "set" or view.tryout:
        if view.over_s is not None:
            return f"+{view.over_s}"
        if view.bout is None or view.bout.to_beat:
            return view.bout.to_beat if view.bout else ""
        return f"{view.bout.floor}+" if view.bout.floor else ""
    if view.entry is None or not view.entry.touched:
        return ""
    first = view.entry.text.split(" ")[0].partition("/")[0]
    return first if first.isascii() and first.isdigit() else ""


def label(view: View) -> str:
    """What the large count is, in ordinary text."""
    if view.phase == "set" or view.tryout:
        if view.over_s is not None:
            return "seconds past the mark"
        if view.bout is None or not (view.bout.to_beat or view.bout.floor):
            return ""
        unit = "seconds " if view.bout.hold else ""
        return f"{unit}to beat" if view.bout.to_beat else f"{unit}at least"
    return view.entry.asked.label if view.entry is not None else ""
