"""What can be asked of a session. Plain values; `flow.handle` says what comes of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from runner.law.workout import Measure, Setup, Side


@dataclass(frozen=True, slots=True)
class Count:
    """Repetitions, or seconds of a hold, and the reserve if it was given."""

    value: float
    reserve: int | None = None


@dataclass(frozen=True, slots=True)
class Command:
    """Something asked of the session."""


@dataclass(frozen=True, slots=True)
class Proceed(Command):
    """Go on, whatever that means now: begin, warm-up over, end the set, resume, close.

    In a rest it does nothing, unless the rest is over and waits for the person.
    """


@dataclass(frozen=True, slots=True)
class Take(Command):
    """Take an offer before the session begins; "" goes back to the session as planned."""

    offer: str


@dataclass(frozen=True, slots=True)
class Unwell(Command):
    """Ill, or a new pain, before the session has begun: it is not started."""


@dataclass(frozen=True, slots=True)
class Answer(Command):
    """An answer to advice, as it was written. The session itself knows of no advice."""

    text: str


@dataclass(frozen=True, slots=True)
class Pace(Command):
    """Turn the pacer on or off. That is the driver's business; the session does not change."""


@dataclass(frozen=True, slots=True)
class Hear(Command):
    """Change what is heard, which is no business of the session's.

    `value` is a volume from 0 to 100, or how much is spoken: off, on or names; nothing for "sound",
    which is off or on again.
    """

    what: Literal["sound", "volume", "voice", "voice-volume"]
    value: str = ""


@dataclass(frozen=True, slots=True)
class StartNow(Command):
    """Cut the rest and start the set."""


@dataclass(frozen=True, slots=True)
class Ask(Command):
    """So many seconds more, or less, for this rest."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Pause(Command):
    """Stand still. `since` is earlier than now where a suspend is only noticed afterwards.

    `known`: a set that runs has been measured up to there; else its length stays unknown.
    """

    why: Literal["person", "suspend"] = "person"
    since: float | None = None
    known: bool = True


@dataclass(frozen=True, slots=True)
class Return(Command):
    """The session goes on after it was cut off."""


@dataclass(frozen=True, slots=True)
class Skip(Command):
    """Leave out the coming set, or give up the running one."""

    why: str = ""


@dataclass(frozen=True, slots=True)
class Drop(Command):
    """Leave out what is left of the coming or running exercise."""

    why: str = ""


@dataclass(frozen=True, slots=True)
class LeaveOut(Command):
    """Leave out these sets, of those still to come: exercise and number of each."""

    sets: tuple[tuple[str, int], ...]
    why: str = "short of time"


@dataclass(frozen=True, slots=True)
class Shorten(Command):
    """Leave out as much as is needed to be over in so many seconds, or by a time of day.

    Neither: in the time that was given for the session. A face with a clock turns it into
    `LeaveOut`.
    """

    within: float | None = None
    until: int | None = None  # second of the local day


@dataclass(frozen=True, slots=True)
class Swap(Command):
    """Do what is left of the exercise as its first substitute that the block does not have."""


@dataclass(frozen=True, slots=True)
class Step(Command):
    """One position easier (-1) or harder (+1) from here on."""

    by: Literal[-1, 1]


@dataclass(frozen=True, slots=True)
class Use(Command):
    """What was really used: kilograms, or values of the measured set-up by name."""

    load: float | None = None
    setup: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Enter(Command):
    """One count for the oldest open entry; two for the oldest one-sided set, left and right.

    Seconds go to the last hold where no entry is open, since the clock has made its entry.
    """

    measure: Measure
    counts: tuple[Count, ...]  # one or two


@dataclass(frozen=True, slots=True)
class WriteUp(Command):
    """A set done without the program, before the session is begun.

    `slot` is its place among the session's sets, `step` one in the exercise's ladder. `counts`
    holds each side that was done, None for "not counted"; without any the set was left out.
    """

    slot: int
    step: int
    counts: tuple[tuple[Side, Count | None], ...] = ()
    load: float | None = None
    setup: Setup = ()
    pain: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class NoCount(Command):
    """The oldest open entry, or the one numbered `row`, is not counted."""

    row: int | None = None


@dataclass(frozen=True, slots=True)
class Fix(Command):
    """Put the entry numbered `row` right."""

    row: int
    measure: Measure
    count: Count


@dataclass(frozen=True, slots=True)
class Late(Command):
    """The key came late: 5 s off the last set's end."""


@dataclass(frozen=True, slots=True)
class Undo(Command):
    """Take the last action back."""


@dataclass(frozen=True, slots=True)
class Redo(Command):
    """Take the last undo back."""


@dataclass(frozen=True, slots=True)
class Note(Command):
    """A note: to the last set begun, or to the session before the first and after the last."""

    text: str


@dataclass(frozen=True, slots=True)
class Hurt(Command):
    """Something hurts. Ends `exercise` for today, by default that of the last set begun.

    Before the first set it is that of the coming one, and before the session begins there is
    no session today. With `where` after a pain without a place, and no exercise, it only gives
    the place.
    """

    where: str = ""
    exercise: str | None = None
    entry: int | None = None  # of a pain told without its place, which this gives


@dataclass(frozen=True, slots=True)
class Rate(Command):
    """Session RPE, 0 to 10."""

    rpe: float


@dataclass(frozen=True, slots=True)
class Weigh(Command):
    """Body mass of the day in kg."""

    mass: float


@dataclass(frozen=True, slots=True)
class Keep(Command):
    """The levels used that are not as planned are carried forward, or of today only.

    All of them, or those of one exercise.
    """

    exercise: str | None = None
    today_only: bool = False


@dataclass(frozen=True, slots=True)
class End(Command):
    """Close the session now."""

    by: Literal["person", "end of input"] = "person"
