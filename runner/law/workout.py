"""A session of a plan, ready to run: what plan files compile to.

Frozen values only. Times are seconds, loads kilograms. Nothing here reads or checks a file;
`runner.plan` does, and promises the invariants named beside the fields.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct, field
from msgspec.structs import replace

from runner.text import shown

# The fixed values that rows of sets are made of, and how they are written as text.
#
# Apart from the classes that use them, and light: whoever only reads rows back loads no more.

Side = Literal["both", "left", "right"]
Measure = Literal["reps", "hold"]
SetKind = Literal["work", "ramp"]
Setup = tuple[tuple[str, str], ...]  # measured set-up: (name, "value unit"), in the plan's order
RowStatus = Literal["running", "done", "broken", "skipped"]
Who = Literal["clock", "person"]
YesNo = Literal["yes", "no"]


def setup_text(setup: Setup) -> str:
    """A measured set-up as the record writes it: `name=value unit`, `;` between."""
    return ";".join(f"{name}={value}" for name, value in setup)


def setup_words(setup: Setup) -> list[str]:
    """A measured set-up as a person reads it, one text a value: "anchor 60 cm"."""
    return [f"{name} {value}" for name, value in setup]


def parse_setup(text: str) -> Setup:
    """The measured set-up that `setup_text` wrote."""
    pairs = (part.partition("=") for part in text.split(";") if part)
    return tuple((name, value) for name, _, value in pairs)


def load_text(load: float | None) -> str:
    """Kilograms as short as they go, empty for none: 12, 7.5."""
    return "" if load is None else f"{load:.10g}"


Sides = Literal["together", "left first", "right first"]
Advance = Literal["first set", "every set", "two for two"]  # what a small step up asks for


LEAST_SHARE = 7 / 8  # L of the recovery, where nothing else is said; "about two minutes"
CROSS_SHARE = 3 / 4  # A as a share of the recovery; our choice


class Timing(Struct, frozen=True):
    """The settings of the timing law in force for one exercise in one block, in seconds."""

    recovery: float = 120.0  # T; common practice
    recovery_least: float = 120.0 * LEAST_SHARE  # L, 0 < L <= T
    recovery_cross: float = 120.0 * CROSS_SHARE  # A, 0 <= A <= T
    changeover_from: float = 30.0  # c1; common practice
    changeover_to: float = 45.0  # c2, c1 <= c2; common practice
    block_rest: float = 60.0  # our choice, as those below
    side_gap: float = 15.0
    position: float = 5.0
    breather: float = 0.0

    @property
    def cross_least(self) -> float:
        """Least recovery across roles, A·L/T."""
        return self.recovery_cross * self.recovery_least / self.recovery


class Level(Struct, frozen=True):
    """One version of an exercise at one set-up and load: what is really set up and lifted."""

    version: str  # the version's id
    name: str
    setup: Setup = ()
    load: float | None = None  # kg added
    load_step: float | None = None  # the increment `by` of a load range
    tempo: str | None = None  # as written: seconds down-held-up
    seconds_a_rep: float = 2.0  # the tempo's, else the exercise's
    body_share: float | None = None  # fraction of body mass moved
    source: str | None = None
    sides: Sides = "together"  # of the version: what is lifted by two limbs counts half for one


class Station(Struct, frozen=True):
    """A thing that has to be set up: a bar, a post, a bench."""

    id: str
    name: str
    change: float = 0.0  # seconds to set it differently
    bears_body_weight: bool = False
    check: str | None = None


class VersionKeys(Struct, frozen=True):
    """What a version has in place of the exercise's: see `Exercise.at`."""

    sides: Sides
    measure: Measure
    rep_range: tuple[float, float]
    station: str | None
    stress: tuple[str, ...] | None
    both_sides: tuple[str, ...]


class Exercise(Struct, frozen=True):
    """An exercise with its progression: all levels of all versions, from easier to harder.

    Versions may differ in sides, measure, station and stress. Code that has a set in hand asks for
    the exercise `at` the set's version; without that, these fields are those of the first version.
    """

    id: str
    name: str
    short: str  # at most seven letters, for the large glyphs; upper case
    pattern: str
    prime: tuple[str, ...]
    assist: tuple[str, ...]
    both_sides: tuple[str, ...]  # loaded on both sides by one-sided work
    sides: Sides
    measure: Measure
    rep_range: tuple[float, float]  # bottom and top: repetitions, or seconds of a hold
    reserve: int  # repetitions in reserve aimed at
    rep_limit: int
    progression: tuple[Level, ...]  # at least one
    priority: int = 2
    cues: tuple[str, ...] = ()
    caution: str | None = None
    instead: tuple[str, ...] = ()
    station: str | None = None
    load_on: str | None = None
    way_out: str | None = None
    pacer: bool = False  # a soft tick for each phase of the tempo
    advance: Advance = "first set"
    stress: tuple[str, ...] | None = None  # joint and position; None: unknown
    versions: tuple[tuple[str, VersionKeys], ...] = ()  # all of them, where one differs
    begins: Level | None = None  # the level of who has none yet; None: the first

    def at(self, version: str) -> Exercise:
        """The exercise as it is in one of its versions."""
        for name, keys in self.versions:
            if name == version:
                return replace(
                    self,
                    sides=keys.sides,
                    measure=keys.measure,
                    rep_range=keys.rep_range,
                    station=keys.station,
                    stress=keys.stress,
                    both_sides=keys.both_sides,
                )
        return self

    @property
    def side_order(self) -> tuple[Side, ...]:
        """The bouts of a set, in the order in which they are done."""
        if self.sides == "together":
            return ("both",)
        return ("left", "right") if self.sides == "left first" else ("right", "left")

    @property
    def muscles(self) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
        """Prime movers, synergists, and those that one-sided work loads on both sides."""
        return self.prime, self.assist, self.both_sides

    @property
    def helping(self) -> tuple[str, ...]:
        """The helping muscles, with what one-sided work loads on both sides."""
        both = (*self.assist, *self.both_sides)
        return tuple(dict.fromkeys(muscle for muscle in both if muscle not in self.prime))

    def level_named(self, text: str) -> int | None:
        """Index in the progression of `mark-2`, `mark-2:120 cm` or `light:8kg`; None if unknown.

        Without a value it is the version's first level.
        """
        version, _, value = text.partition(":")
        wanted = _bare(value)
        for index, level in enumerate(self.progression):
            if level.version == version.strip() and (not wanted or wanted in _values(level)):
                return index
        return None

    def first_level(self, version: str) -> int:
        """Index in the progression of a version's first level; KeyError for an unknown version."""
        for index, level in enumerate(self.progression):
            if level.version == version:
                return index
        raise KeyError(version)


def _values(level: Level) -> set[str]:
    """What a level may be called by beside its version."""
    values = {_bare(value) for _, value in level.setup}
    load = load_text(level.load)
    return values | ({load, f"{load}kg"} if load else set())


def _bare(text: str) -> str:
    return "".join(text.split()).lower()


class Item(Struct, frozen=True):
    """One exercise of a block: its number of ramp sets, then its number of work sets."""

    exercise: str
    sets: int  # at least one
    ramp: int = 0
    versions: tuple[str, ...] = ()  # one for each work set, or empty: the working level


class Block(Struct, frozen=True):
    """Exercises done in turn; one is straight sets, two an alternating pair, more a circuit."""

    items: tuple[Item, ...]
    timing: Mapping[str, Timing]  # for every exercise of the plan: a swap may bring in any
    starts_by_key: bool = False  # a set waits for the person when its rest is over
    reach: float = 0.0  # seconds taken off a hold for the way to the key


class Workout(Struct, frozen=True):
    """One session of a plan, compiled."""

    plan: str  # the plan's title
    session: str  # the session's id
    name: str
    blocks: tuple[Block, ...]
    exercises: Mapping[str, Exercise]
    stations: Mapping[str, Station] = field(default_factory=dict)
    summary: str = ""
    trial: bool = False
    lead_in: float = 10.0
    warm_up: float = 0.0
    warm_up_moves: tuple[str, ...] = ()
    cool_down: float = 0.0
    cool_down_moves: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()  # the plan's own, beside the general ones
    # Ids of exercises: what the trainee has agreed to for today.
    nothing_to_beat: frozenset[str] = frozenset()
    level_finding: frozenset[str] = frozenset()  # with level finding, from the easiest version up

    @property
    def heading(self) -> str:
        """Plan, session and its name in one line."""
        named = "" if self.name == self.session else f": {shown(self.name)}"
        return f"{shown(self.plan)}, session {shown(self.session)}{named}"
