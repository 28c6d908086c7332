"""What a person can do in a session: the commands, and the registry of verbs.

A command is a plain value; `flow.handle` returns its events. The function that decides on a command
is marked with `verb` once for each word or key that asks for it, or with `decides` where none does.
Line mode's words, the keys, the footer, the list that `m` opens, and help all come from that mark.
Verbs that do not concern the session (sound, screen) are marked the same way in
`runner.live.face_verbs`.

A few verbs have a key of their own. All others have a letter in the list of `m`, for fingers slip
beside the space bar; the first of two letters opens a list in that list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, ClassVar, Literal, TypeVar, get_type_hints

from msgspec import Struct, field

from runner.law.workout import Measure, Setup, Side
from runner.progress.adjust import Adjustment
from runner.session.apply import Refused
from runner.session.events import Phase
from runner.text import shown as printable


class Count(Struct, frozen=True):
    """Repetitions, or seconds of a hold, and the reserve if it was given."""

    value: float
    reserve: int | None = None


class Command(Struct, frozen=True):
    """Something asked of the session."""

    after_the_end: ClassVar[bool] = False  # whether a closed session takes it; a count is corrected


class Proceed(Command, frozen=True):
    """Go on with whatever comes now: begin, warm-up over, end the set, resume, close.

    In a rest it does nothing, unless the rest is over and waits for the person.
    """


class Take(Command, frozen=True):
    """Take an offer before the session begins; "" returns to the session as planned."""

    offer: str


class Unwell(Command, frozen=True):
    """Illness or a new pain before the session has begun: it does not start."""


class StartNow(Command, frozen=True):
    """Cut the rest short and start the set."""


class Ask(Command, frozen=True):
    """Rest that many seconds more, or less."""

    seconds: float


class Pause(Command, frozen=True):
    """Pause. `since` is earlier than now where a suspend is noticed only afterwards.

    `known`: a running set was measured up to there; else its length stays unknown.
    """

    why: Literal["person", "suspend"] = "person"
    since: float | None = None
    known: bool = True


class Return(Command, frozen=True):
    """The session goes on after it was cut off."""


class Skip(Command, frozen=True):
    """Leave out the next set, or give up the running one."""

    why: str = ""


class Drop(Command, frozen=True):
    """Leave out the remaining sets of the next or running exercise."""

    why: str = ""


class LeaveOut(Command, frozen=True):
    """Leave out these remaining sets: exercise and number of each."""

    sets: tuple[tuple[str, int], ...]
    why: str = "short of time"


class Swap(Command, frozen=True):
    """Do the remaining sets of the exercise as its first substitute outside the block."""


class Step(Command, frozen=True):
    """One level easier (-1) or harder (+1) from here on."""

    by: Literal[-1, 1]


class Use(Command, frozen=True):
    """What the trainee used: kilograms, or values of the measured set-up by name."""

    load: float | None = None
    setup: tuple[tuple[str, str], ...] = ()


class Enter(Command, frozen=True):
    """One count for the oldest set without one; two for the oldest one-sided set, left and right.

    Where no count is missing, seconds correct the last hold, whose count the clock made.
    """

    after_the_end: ClassVar[bool] = True
    measure: Measure
    counts: tuple[Count, ...]  # one or two


class WriteUp(Command, frozen=True):
    """A set done without the program, before the session is begun.

    `planned_set` is its index among the session's sets, `step` a level of the progression. `counts`
    holds each side that was done, None for "not counted"; without any the set was left out. `pain`
    is where it hurt in it: "" for a place unknown, None where it did not hurt.
    """

    planned_set: int
    step: int
    counts: tuple[tuple[Side, Count | None], ...] = ()
    load: float | None = None
    setup: Setup = ()
    pain: str | None = None
    note: str = ""


class DoneOtherwise(Command, frozen=True):
    """How a session done without the program differed from the plan, before its sets.

    `taken` are offers by their words; `changes` all differences, those of the offers included.
    """

    taken: tuple[str, ...]
    changes: tuple[Adjustment, ...]


class SwappedOnPaper(Command, frozen=True):
    """The sets of an exercise in its block that are not written up yet were done as `to`.

    `group`: those of one version that the plan names; "" for all.
    """

    exercise: str
    to: str
    block: int
    group: str = ""


class NoCount(Command, frozen=True):
    """The oldest set without a count, or the entry numbered `row`, stays without one."""

    after_the_end: ClassVar[bool] = True
    row: int | None = None


class Fix(Command, frozen=True):
    """Correct the entry numbered `row`."""

    after_the_end: ClassVar[bool] = True
    row: int
    measure: Measure
    count: Count


class Late(Command, frozen=True):
    """The key came late: subtract 5 s from the last set."""


class Undo(Command, frozen=True):
    """Take the last action back."""


class Redo(Command, frozen=True):
    """Take the last undo back."""


class Note(Command, frozen=True):
    """A note: to the last set begun, or to the session before the first set and after the last."""

    text: str


class Hurt(Command, frozen=True):
    """It hurts. Ends `exercise` for today, by default that of the last set begun.

    Before the first set it is that of the next one. Before the session begins there is no session
    today. With `where` after a pain without a place, and no exercise, it only gives the place.
    """

    where: str = ""
    exercise: str | None = None
    entry: int | None = None  # the row of an earlier pain, whose place this gives


class Rate(Command, frozen=True):
    """Session RPE, 0 to 10."""

    after_the_end: ClassVar[bool] = True
    rpe: float


class Weigh(Command, frozen=True):
    """Body mass of the day in kg."""

    mass: float


class Keep(Command, frozen=True):
    """Carry the used levels that differ from the plan forward, or mark them as for today only.

    All of them, or those of one exercise.
    """

    after_the_end: ClassVar[bool] = True
    exercise: str | None = None
    today_only: bool = False


class End(Command, frozen=True):
    """Close the session now."""

    by: Literal["person", "end of input"] = "person"


# The phases in which a key works.
ALL: tuple[Phase, ...] = ("ready", "warm-up", "rest", "set", "paused", "wrap-up", "closed")
BEGUN: tuple[Phase, ...] = ("warm-up", "rest", "set", "paused", "wrap-up")
OPEN: tuple[Phase, ...] = ("ready", *BEGUN)
WORK: tuple[Phase, ...] = ("rest", "set", "paused")
AFTER_ONE: tuple[Phase, ...] = (*WORK, "wrap-up")  # once a set has been done
SHEETS: tuple[Phase, ...] = ("ready", "wrap-up", "closed")
COMING: tuple[Phase, ...] = ("warm-up", *WORK)

STEP = 15.0  # seconds that + adds and - subtracts; our choice
# Auto-repeat begins after 0.25 to 0.66 s and then comes every 33 to 92 ms. Our choices.
QUIET_S = 0.7  # seconds without a key; a press after that is certainly no repeat
PRESSED_S = 0.1  # seconds; closer presses are certainly repeats
LAST = 1000  # the rank of keys that a footer need not show


class Verb(Struct, frozen=True):
    """Something a person can do: by a word, by a key or a letter, or by both.

    `label` is the footer's word for a key. For a letter it is the line of the list: a text, or a
    function that names what the verb acts on. The function takes the state where the verb decides
    on a command, else the controller. It raises Refused, with the reason, where the verb cannot be
    used now.
    """

    id: str  # its word in line mode, if any
    does: Callable[..., Any]
    takes: object = None  # what the word stands for; a function reads what follows the word
    form: str = ""  # the word as help writes it; "" where only a key does it
    keys: tuple[str, ...] = ()  # by Textual's names, the first as the footer has it
    letter: str = ""  # in the list of `m`
    phases: tuple[Phase, ...] = ()  # phases in which keys and letter work
    label: str | Callable[[Any], str] = ""
    labels: Mapping[Phase, str] = field(default_factory=dict)  # by phase, where better
    help: str = ""
    word_help: str = ""  # where the word does something else than the key
    asks: str = ""  # the key asks for a line, read like the text after the word
    rank: int = LAST  # the lowest stays longest in a narrow footer, and comes first in help
    apart: float = QUIET_S  # least seconds between two presses of its key
    kept: bool = False  # useless where nothing is kept, as in a rehearsal
    decides: bool = False  # decides on a command of the session; else the controller does it

    def label_in(self, phase: Phase) -> str:
        """The footer's word for its key in this phase."""
        return self.labels.get(phase, self.label if isinstance(self.label, str) else "")

    def line(self, subject: Any) -> str:
        """Its line in the list of `m`. Raises Refused where it cannot be used now."""
        return self.label(subject) if callable(self.label) else self.label

    def read(self, rest: str) -> Any:
        """What the word means with what follows it. Raises Refused with what to write."""
        if callable(self.takes):
            return self.takes(rest)
        if rest:
            raise Refused(f"remove {shown(rest)}")
        return self.takes


VERBS: dict[str, Verb] = {}
REHEARSED: dict[str, Verb] = {}  # what only a rehearsal has; it goes before a session's verbs
DECIDE: dict[type[Command], Callable[[Any, Any], None]] = {}
Marked = TypeVar("Marked", bound=Callable[..., Any])


def verb(
    name: str, takes: object = None, *, among: dict[str, Verb] = VERBS, **fields: Any
) -> Callable[[Marked], Marked]:
    """Mark the function that does this; `fields` are the other ones of `Verb`.

    One with a parameter `command` decides on that kind of command.
    """

    def mark(function: Marked) -> Marked:
        known = "command" in function.__annotations__
        among[name] = Verb(name, function, takes, decides=known, **fields)
        return decides(function) if known else function

    return mark


def decides(function: Marked) -> Marked:
    """Mark the function that decides on the commands that its parameter `command` is of."""
    DECIDE[get_type_hints(function)["command"]] = function
    return function


_SIGNS = {
    "full_stop": ".",
    "slash": "/",
    "plus": "+",
    "minus": "-",
    "equals_sign": "=",
    "question_mark": "?",
    "comma": ",",
    "vertical_line": "|",
    "greater_than_sign": ">",
    "less_than_sign": "<",
}
_NAMES = {"pagedown": "page down", "pageup": "page up", **_SIGNS}
REMOTE = ("pagedown", "pageup", "full_stop", "b")  # buttons of a presenter remote


def key_name(key: str) -> str:
    """A key as people call it."""
    return _NAMES.get(key, key)


def key_of(name: str, *, remote: bool = False) -> str:
    """The key of a verb as people call it, on the remote where that was used last."""
    known = VERBS[name]
    if known.letter:
        return " ".join(("m", *known.letter))
    keys = known.keys
    return key_name(next((k for k in keys if k in REMOTE), keys[0]) if remote else keys[0])


def verbs() -> list[Verb]:
    """All verbs, the most needed first."""
    return sorted(VERBS.values(), key=lambda known: known.rank)


def help_lines() -> Iterator[tuple[str, str]]:
    """Each form of a line in line mode, and what it does."""
    yield "empty line", "start, end the set, go on after a rest that waits, resume, close"
    yield "12  12/2", "repetitions of the oldest set without a count; /2 adds the reserve"
    yield "12 14", "left and right of a one-sided set"
    yield "45s", "seconds of a hold"
    yield from ((known.form, known.word_help or known.help) for known in verbs() if known.form)
    yield "help", "show these words"


def shown(text: str) -> str:
    """A person's text, quoted, short and without control characters."""
    clean = printable(text, "?")
    return repr(clean if len(clean) <= 40 else clean[:39] + "…")
