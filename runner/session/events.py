"""What can happen in a session, as frozen values of plain fields.

    ready -> warm-up -> rest (the lead-in) -> set -> rest -> ... -> wrap-up -> closed

A pause may interrupt a set, a rest or the warm-up. Entering counts is no phase: the rest runs
meanwhile. `leads` says in which phases an event may follow, and to which it may lead. Where there
are several, the state decides (does a set remain? was there a warm-up?), never the caller. In a
phase that `leads` lacks, an event is illegal and changes nothing. `undone` and `redone` have no
`leads`: they lead to where the session was.

`at` is in session seconds. `act` numbers the command, or the deadline, that caused an event; the
events of one act are undone together. Field names are what line mode prints and
the record keeps, so they are part of the interface. None means "does not apply".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, Literal

from msgspec import Struct

from runner.law import workout as values
from runner.law.workout import Side

Who = values.Who
YesNo = values.YesNo
Phase = Literal["ready", "warm-up", "rest", "set", "paused", "wrap-up", "closed"]
Leads = Mapping[Phase, tuple[Phase, ...]]

ANYWHERE: Leads = {
    "ready": ("ready",),
    "warm-up": ("warm-up",),
    "rest": ("rest",),
    "set": ("set",),
    "paused": ("paused",),
    "wrap-up": ("wrap-up",),
}
ONCE_BEGUN: Leads = {phase: same for phase, same in ANYWHERE.items() if phase != "ready"}
_LEFT_OUT: Leads = {
    "warm-up": ("warm-up", "wrap-up"),
    "rest": ("rest", "wrap-up"),
    "paused": ("paused", "wrap-up"),
}


class Event(Struct, frozen=True, kw_only=True):
    """Something that happened, at an instant, caused by an act."""

    name: ClassVar[str] = ""
    leads: ClassVar[Leads] = {}
    undoable: ClassVar[bool] = True  # an act that begins with it can be taken back
    moves_rest: ClassVar[bool] = True  # taking it back decides the rest anew
    at: float
    act: int


class SetEvent(Event, frozen=True, kw_only=True):
    """Something about one side of a set; `entry` is the running number of its row."""

    block: int
    round: int
    exercise: str
    set: int
    side: Side
    version: str
    entry: int


class Opened(Event, frozen=True, kw_only=True):
    """The session exists; `history` is the baseline on which it is planned, as plain data."""

    name: ClassVar[str] = "opened"
    undoable: ClassVar[bool] = False
    leads: ClassVar[Leads] = {"ready": ("ready",)}
    history: Mapping[str, Any]


class Adjusted(Event, frozen=True, kw_only=True):
    """The trainee took offers: the offers by name, and all that they change.

    It replaces earlier offers; without any, the session runs as planned.
    """

    name: ClassVar[str] = "adjusted"
    undoable: ClassVar[bool] = False
    leads: ClassVar[Leads] = {"ready": ("ready",)}
    taken: Sequence[str]
    changes: Sequence[Mapping[str, Any]]  # adjustments as plain data


class Begun(Event, frozen=True, kw_only=True):
    """The session has begun: with its warm-up, or its first rest where it has none."""

    name: ClassVar[str] = "begun"
    undoable: ClassVar[bool] = False
    leads: ClassVar[Leads] = {"ready": ("warm-up", "rest")}


class Resting(Event, frozen=True, kw_only=True):
    """A rest was decided, or decided anew; `until` in session seconds."""

    name: ClassVar[str] = "resting"
    leads: ClassVar[Leads] = {
        "warm-up": ("rest",),
        "rest": ("rest",),
        "paused": ("paused",),
    }
    until: float
    why: str
    next: str
    side: Side


class Started(SetEvent, frozen=True, kw_only=True):
    """A bout has begun; `to_beat` as known then."""

    name: ClassVar[str] = "started"
    leads: ClassVar[Leads] = {"rest": ("set",)}
    by: Who
    to_beat: float | None = None


class Ended(SetEvent, frozen=True, kw_only=True):
    """A bout is over; `work_s` is None where a crash cut it off, for its length is unknown."""

    name: ClassVar[str] = "ended"
    leads: ClassVar[Leads] = {"set": ("rest", "wrap-up")}
    by: Who
    work_s: float | None


class Entered(SetEvent, frozen=True, kw_only=True):
    """The count of a bout: repetitions or seconds, or that it is not counted.

    `waits` and `waits_reserve` are for the other side of the set, which is not done yet.
    """

    name: ClassVar[str] = "entered"
    moves_rest: ClassVar[bool] = False
    leads: ClassVar[Leads] = ONCE_BEGUN
    by: Who = "person"
    reps: int | None = None
    hold_s: float | None = None
    counted: YesNo = "yes"
    reserve: int | None = None
    to_beat: float | None = None
    beaten: YesNo | None = None
    waits: float | None = None
    waits_reserve: int | None = None


class Corrected(Entered, frozen=True, kw_only=True):
    """An entry was corrected."""

    name: ClassVar[str] = "corrected"
    leads: ClassVar[Leads] = {**ONCE_BEGUN, "closed": ("closed",)}


class Skipped(SetEvent, frozen=True, kw_only=True):
    """A bout was left out or, `given_up`, ended without a count."""

    name: ClassVar[str] = "skipped"
    leads: ClassVar[Leads] = {
        **_LEFT_OUT,
        "ready": ("ready",),  # later sets, for which there is no time
        "set": ("rest", "wrap-up"),
        "wrap-up": ("wrap-up",),  # the second side of the last set
    }
    why: str
    given_up: YesNo


class Written(SetEvent, frozen=True, kw_only=True):
    """A bout done without the program, written up later: none of its times is known.

    `step` is the index in the progression; `setup` and `load_kg` are those used.
    """

    name: ClassVar[str] = "written"
    undoable: ClassVar[bool] = False
    leads: ClassVar[Leads] = {"ready": ("ready",)}
    step: int
    status: Literal["done", "skipped"] = "done"
    setup: str = ""
    load_kg: float | None = None
    reps: int | None = None
    hold_s: float | None = None
    counted: YesNo = "yes"
    reserve: int | None = None
    to_beat: float | None = None
    beaten: YesNo | None = None
    pain: str | None = None
    note: str | None = None


class Dropped(Event, frozen=True, kw_only=True):
    """The remaining sets of an exercise are left out today; before the begin: on paper."""

    name: ClassVar[str] = "dropped"
    leads: ClassVar[Leads] = {**_LEFT_OUT, "set": ("set",), "ready": ("ready",)}
    exercise: str
    why: str


class Swapped(Event, frozen=True, kw_only=True):
    """The remaining sets of an exercise in its block are done as a substitute."""

    name: ClassVar[str] = "swapped"
    leads: ClassVar[Leads] = ANYWHERE  # before the begin: of a session from paper
    exercise: str
    to: str
    block: int
    group: str | None = None  # group of sets; None for all of the exercise in the block


class Version(Event, frozen=True, kw_only=True):
    """An exercise goes on one level easier or harder; `step` is the index in the progression."""

    name: ClassVar[str] = "version"
    leads: ClassVar[Leads] = ONCE_BEGUN
    exercise: str
    way: Literal["easier", "harder"]
    version: str
    step: int
    setup: str
    load_kg: float | None
    was: str


class Used(Event, frozen=True, kw_only=True):
    """The load or set-up used; None leaves it as it was."""

    name: ClassVar[str] = "used"
    moves_rest: ClassVar[bool] = False
    leads: ClassVar[Leads] = ANYWHERE
    exercise: str
    version: str
    load_kg: float | None = None
    setup: str | None = None


class Asked(Event, frozen=True, kw_only=True):
    """The person moved the end of this rest, by this number of seconds."""

    name: ClassVar[str] = "asked"
    leads: ClassVar[Leads] = {"rest": ("rest",)}
    seconds: float
    until: float


class Paused(Event, frozen=True, kw_only=True):
    """The session stands still; the body does not."""

    name: ClassVar[str] = "paused"
    leads: ClassVar[Leads] = {"warm-up": ("paused",), "rest": ("paused",)}
    why: Literal["person", "suspend"] = "person"


class Resumed(Event, frozen=True, kw_only=True):
    """The session goes on: after a pause or, with `return`, after it was cut off."""

    name: ClassVar[str] = "resumed"
    leads: ClassVar[Leads] = {
        "paused": ("warm-up", "rest"),
        "warm-up": ("warm-up",),
        "rest": ("rest",),
        "wrap-up": ("wrap-up",),
        "ready": ("ready",),
    }
    why: Literal["person", "return"] = "person"


class Undone(Event, frozen=True, kw_only=True):
    """The act numbered `of` was undone; `what` names its event.

    `count` is what was typed, where the act saved a count: "12/2", "12 14" for both sides, "45s";
    `entry` is the first row for which it was saved.
    """

    name: ClassVar[str] = "undone"
    undoable: ClassVar[bool] = False
    of: int
    what: str
    exercise: str | None = None
    set: int | None = None
    side: Side | None = None
    entry: int | None = None
    count: str | None = None


class Redone(Undone, frozen=True, kw_only=True):
    """The undo of the act numbered `of` was taken back."""

    name: ClassVar[str] = "redone"


class Late(SetEvent, frozen=True, kw_only=True):
    """The key came late: the bout's end moves back by these seconds."""

    name: ClassVar[str] = "late"
    leads: ClassVar[Leads] = ONCE_BEGUN
    seconds: float
    work_s: float


class Noted(Event, frozen=True, kw_only=True):
    """A note to one row or, with `entry` None, to the session."""

    name: ClassVar[str] = "noted"
    moves_rest: ClassVar[bool] = False
    leads: ClassVar[Leads] = ANYWHERE
    note: str
    entry: int | None = None


class Pain(Event, frozen=True, kw_only=True):
    """It hurt; `where` is "" until the place is known, which a second event gives.

    `entry` is the row of the set in which it hurt, or before which, if any.
    """

    name: ClassVar[str] = "pain"
    moves_rest: ClassVar[bool] = False
    leads: ClassVar[Leads] = ANYWHERE
    where: str
    exercise: str | None = None
    entry: int | None = None


class Rpe(Event, frozen=True, kw_only=True):
    """How hard the whole session was, 0 to 10."""

    name: ClassVar[str] = "rpe"
    moves_rest: ClassVar[bool] = False
    leads: ClassVar[Leads] = {**ANYWHERE, "closed": ("closed",)}
    rpe: float


class Mass(Event, frozen=True, kw_only=True):
    """Body mass of the day, in kg."""

    name: ClassVar[str] = "mass"
    moves_rest: ClassVar[bool] = False
    leads: ClassVar[Leads] = ANYWHERE
    mass_kg: float


class Held(Event, frozen=True, kw_only=True):
    """A level that differs from the planned one is for today only, or carried forward again.

    Without this event it is carried forward.
    """

    name: ClassVar[str] = "held"
    moves_rest: ClassVar[bool] = False
    leads: ClassVar[Leads] = {**ONCE_BEGUN, "closed": ("closed",)}
    exercise: str
    group: str
    version: str
    setup: str
    load_kg: float | None
    for_: Literal["next", "today"] = "next"  # named `for` in data


class Closed(Event, frozen=True, kw_only=True):
    """The session is over for good; `complete` where no set remains."""

    name: ClassVar[str] = "closed"
    undoable: ClassVar[bool] = False
    leads: ClassVar[Leads] = dict.fromkeys(ANYWHERE, ("closed",))
    complete: YesNo
    by: Literal["person", "end of input"] = "person"


KINDS: Mapping[str, type[Event]] = {
    kind.name: kind
    for kind in tuple(globals().values())
    if isinstance(kind, type) and issubclass(kind, Event) and kind.name
}


def to_data(event: Event) -> dict[str, Any]:
    """The event's own fields, without `at` and `act`, and without those that do not apply."""
    pairs = ((name.rstrip("_"), getattr(event, name)) for name in event.__struct_fields__)
    return {name: v for name, v in pairs if name not in ("at", "act") and v is not None}


def from_data(name: str, at: float, act: int, data: Mapping[str, Any]) -> Event:
    """The event of stored data. KeyError for an unknown name, TypeError for wrong fields.

    `work_s` of a bout that a crash cut off is None, and therefore not in `data`.
    """
    kind = KINDS[name]
    fields = kind.__struct_fields__
    given = {f"{field}_" if f"{field}_" in fields else field: v for field, v in data.items()}
    missing = [field for field in ("work_s", "load_kg") if field in fields and field not in data]
    return kind(at=at, act=act, **dict.fromkeys(missing), **given)
