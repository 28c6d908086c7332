"""A plan file as it is written: every key, in pydantic models that refuse unknown keys.

Durations are seconds, loads kilograms. `runner.plan.checks` checks what depends on several keys in
different tables, and says which timing is in force.

Why pydantic: a file needs good messages and a schema. The core needs neither; it has frozen values
of its own and imports no library. Most of the time of `check` goes into loading pydantic.
"""

# No `from __future__ import annotations` here: pydantic would have to evaluate each text.
import os
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag, model_validator

from runner.law.muscles import MUSCLES
from runner.plan.values import (
    Advance,
    CountPair,
    Day,
    Duration,
    DurationPair,
    HoldPair,
    Id,
    Kilograms,
    LoadOn,
    Measured,
    MeasureWord,
    Muscle,
    Pattern,
    Reps,
    RepsPair,
    SecondsARep,
    SessionId,
    SetsStep,
    SetupName,
    Share,
    Short,
    Sides,
    Starts,
    Tempo,
    Text,
    checking,
    decimal,
    measures,
    positions,
)

# No plug-in of another package may change what a plan is; searching for plug-ins also takes time.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

MOST_EXERCISES = 500  # exercises of a plan; our choice
MOST_BLOCKS = 100  # blocks of a session; our choice
PLAIN, RANGE = "plain value", "range of values"
STRESS = 'What it stresses, joint and position: ["shoulder overhead", "wrist extended"].'


class Table(BaseModel):
    """A table of the file. TOML has types, so nothing is converted: "3" is not a number.

    Validators are built once for the whole plan, when the first plan is read.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)


class LoadRange(Table):
    """A range of loads in kg; each is a position of the version."""

    start: Kilograms = Field(alias="from", description="The first load, in kg.")
    to: Kilograms = Field(description="The last load, in kg; `by` must reach it.")
    by: Annotated[float, Field(ge=-1000, le=1000, allow_inf_nan=False)] = Field(
        description="The step from one load to the next, in kg."
    )

    @model_validator(mode="after")
    def _reaches(self) -> Self:
        checking(LoadRange.loads)(self)
        return self

    def loads(self) -> tuple[float, ...]:
        """Every load in kg, without rounding errors of binary fractions."""
        steps = positions(decimal(self.start), decimal(self.to), decimal(self.by))
        return tuple(float(step) for step in steps)


class SetupRange(Table):
    """A measured range of a set-up, each value a number and a unit."""

    start: Measured = Field(alias="from", description='The first value: "120 cm".')
    to: Measured = Field(description="The last value; `by` must reach it.")
    by: Measured = Field(description='The step from one value to the next: "20 cm".')

    @model_validator(mode="after")
    def _reaches(self) -> Self:
        checking(SetupRange.texts)(self)
        return self

    def texts(self) -> tuple[str, ...]:
        """Every position as a text with its unit."""
        return measures(self.start, self.to, self.by)


def _kind(value: object) -> str:
    return RANGE if isinstance(value, dict | Table) else PLAIN


Load = Annotated[
    Annotated[Kilograms, Tag(PLAIN)] | Annotated[LoadRange, Tag(RANGE)], Discriminator(_kind)
]
SetupValue = Annotated[
    Annotated[Measured, Tag(PLAIN)] | Annotated[SetupRange, Tag(RANGE)], Discriminator(_kind)
]
Texts = Annotated[tuple[Text, ...], Field(strict=False)]
Muscles = Annotated[tuple[Muscle, ...], Field(strict=False, max_length=len(MUSCLES))]
Ids = Annotated[tuple[Id, ...], Field(strict=False, max_length=100)]


class Version(Table):
    """One version of an exercise; a range in it stands for several positions."""

    id: Id = Field(description="Its id within the exercise.")
    name: Text = Field(description="A description in a few words.")
    sides: Sides | None = Field(default=None, description="Instead of the exercise's.")
    measure: MeasureWord | None = Field(default=None, description="Instead of the exercise's.")
    station: Id | None = Field(default=None, description="Instead of the exercise's.")
    setup: dict[SetupName, SetupValue] = Field(
        default={}, description='The set-up, measured: { anchor = "100 cm" }.'
    )
    load: Load | None = Field(default=None, description="Load added, in kg, or a range of loads.")
    tempo: Tempo | None = None
    body_share: Share | None = Field(default=None, description="Fraction of body mass moved.")
    source: Text | None = Field(default=None, description="Where the share was published.")
    stress: Texts | None = Field(
        default=None, description="What this version stresses, in place of the exercise's."
    )


class RecoveryKeys(Table):
    """Timing that may stand in the plan, a block or an exercise."""

    recovery: Duration | None = Field(default=None, description="Recovery aimed at; default 2:00.")
    recovery_least: Duration | None = Field(
        default=None, description="Least recovery; default 7/8 of the recovery."
    )
    recovery_cross: Duration | None = Field(
        default=None,
        description="Recovery between a set that trains a muscle and one that uses it as a helper; "
        "default 3/4 of the recovery.",
    )
    side_gap: Duration | None = Field(
        default=None, description="Gap between the sides of a one-sided set; default 15s."
    )
    position: Duration | None = Field(
        default=None, description="Time to get into position; default 5s."
    )
    breather: Duration | None = Field(
        default=None,
        description="Least rest after a set, whatever exercise comes next; default 0s.",
    )


class BlockKeys(RecoveryKeys):
    """Timing that may stand in the plan or in a block."""

    changeover: DurationPair | None = Field(
        default=None,
        description='Rest between two exercises of a block; default ["30s", "45s"].',
    )
    block_rest: Duration | None = Field(
        default=None, description="Rest before the first set of a later block; default 1:00."
    )
    set_starts: Starts | None = Field(
        default=None,
        description="clock: a set starts when the rest ends; key: it starts at your key.",
    )
    reach: Duration | None = Field(
        default=None, description="Subtracted from a hold, for the reach to the key; default 0s."
    )


class PlanTiming(BlockKeys):
    """The plan's timing."""

    lead_in: Duration = Field(
        default=10.0, description="Get-ready time before the first set; default 10s."
    )


class EffortKeys(Table):
    """Effort that may stand in the plan or in an exercise."""

    reserve: Annotated[int, Field(ge=0, le=10)] | None = Field(
        default=None, description="Repetitions in reserve aimed at; default 2."
    )
    reps: RepsPair | None = Field(
        default=None, description="Rep range, bottom and top; default [8, 30]."
    )
    hold: HoldPair | None = Field(
        default=None, description='Range of a hold; default ["10s", "1:00"].'
    )
    hard_ceiling: Reps | None = Field(
        default=None, description="Rep limit: over it a level is too light; default 40."
    )
    seconds_a_rep: SecondsARep | None = Field(
        default=None, description="Seconds a repetition where a version has no tempo; default 2."
    )
    pacer: bool | None = Field(
        default=None, description="A soft tick for each part of a repetition; default false."
    )
    advance: Advance | None = Field(
        default=None,
        description="What a small step up asks for. first set: the first set at the top of the "
        "rep range and no set under its bottom, two sessions running; every set: all "
        "sets at the top, once; two for two: two over the top in the last set, two "
        "sessions running. Default first set.",
    )


class Week(Table):
    """What a week aims at."""

    sessions: CountPair | None = Field(default=None, description="Sessions a week: [3, 4].")
    days: Annotated[tuple[Day, ...], Field(strict=False, max_length=7)] = Field(
        default=(), description='Days to train on: ["mon", "wed", "sat"].'
    )
    sets: CountPair | None = Field(default=None, description="Sets for every muscle: [10, 20].")
    muscles: dict[Muscle, CountPair] = Field(
        default={}, description="Sets for single muscles with another aim: { calves = [6, 10] }."
    )


class Station(Table):
    """A thing that has to be set up: a bar, a post, a bench."""

    name: Text = Field(description="What it is called.")
    change: Duration = Field(default=0.0, description="Time to change the set-up; default 0s.")
    bears_body_weight: bool = Field(
        default=False, description="true: somebody hangs or leans on it."
    )
    check: Text | None = Field(default=None, description="What to try before every session.")


class Exercise(RecoveryKeys, EffortKeys):
    """An exercise with its versions, from easier to harder."""

    name: Text = Field(description="Its name, on the screen and spoken.")
    short: Short | None = Field(
        default=None,
        description="Its short name, at most seven letters; default made from the id.",
    )
    pattern: Pattern = Field(description="The movement it belongs to.")
    prime: Muscles = Field(min_length=1, description="Main muscles: what it trains.")
    assist: Muscles = Field(default=(), description="Helping muscles.")
    both_sides: Muscles = Field(
        default=(), description="Helping muscles that one-sided work loads on both sides."
    )
    sides: Sides = Field(
        default="together", description="Both sides together, or one after the other."
    )
    measure: MeasureWord = Field(
        default="reps", description="Counted in repetitions, or held for a time."
    )
    priority: Annotated[int, Field(ge=1, le=3)] = Field(
        default=2, description="When time is short, sets of priority 3 go first and of 1 last."
    )
    cues: Texts = Field(default=(), description="Coaching tips, a few words each.")
    caution: Text | None = Field(
        default=None, description="What to read before the session starts."
    )
    instead: Ids = Field(default=(), description="Substitutes, in order.")
    station: Id | None = Field(default=None, description="The station it needs.")
    load_on: LoadOn | None = Field(default=None, description="Where the load is carried.")
    way_out: Text | None = Field(default=None, description="The way out of a failed repetition.")
    start: Text | None = Field(default=None, description="The starting position.")
    how: Text | None = Field(default=None, description="The movement, and how far it goes.")
    counts_when: Text | None = Field(default=None, description="When a repetition counts.")
    stop_if: Text | None = Field(default=None, description="The sign to stop.")
    stress: Texts | None = Field(default=None, description=STRESS)
    first_level: Text | None = Field(
        default=None,
        description='Level of a new trainee: "light:6kg"; default the first of the progression.',
    )
    version: Annotated[tuple[Version, ...], Field(strict=False, min_length=1, max_length=100)] = (
        Field(description="Its versions, from easier to harder.")
    )


class Item(Table):
    """One exercise of a block."""

    exercise: Id = Field(description="The id of the exercise.")
    sets: Annotated[int, Field(ge=1, le=100)] = Field(description="Its sets in this block.")
    ramp: Annotated[int, Field(ge=0, le=20)] = Field(
        default=0, description="Warm-up sets in front, lighter."
    )
    versions: Ids = Field(
        default=(), description="A version for each set; default: the working level."
    )


class Block(BlockKeys):
    """Exercises that take turns, or one alone."""

    do: Annotated[tuple[Item, ...], Field(strict=False, min_length=1, max_length=50)] = Field(
        description="The exercises: one alone, or several that take turns."
    )


class Session(Table):
    """One session of the plan."""

    id: SessionId = Field(description="Its id: A, B, long.")
    name: Text | None = Field(default=None, description="Its name.")
    minutes: Duration | None = Field(default=None, description='The time you have: "50:00".')
    warm_up: Duration = Field(default=0.0, description="Time for the warm-up; default none.")
    warm_up_moves: Texts = Field(default=(), description="What to do in it.")
    cool_down: Duration = Field(default=0.0, description="Time for the cool-down; default none.")
    cool_down_moves: Texts = Field(default=(), description="What to do in it.")
    block: Annotated[
        tuple[Block, ...], Field(strict=False, min_length=1, max_length=MOST_BLOCKS)
    ] = Field(description="Its blocks, in order.")


class Phase(Table):
    """Some weeks in a row in which every session differs from the plan."""

    weeks: Annotated[int, Field(ge=1, le=52)] = Field(description="How many weeks it lasts.")
    sets: SetsStep = Field(
        default=0, description='More or fewer sets of each exercise: "-1"; one stays.'
    )
    reserve: Annotated[int, Field(ge=0, le=10)] | None = Field(
        default=None, description="Repetitions in reserve aimed at; default the plan's."
    )


class Plan(Table):
    """A whole plan."""

    title: Text = Field(description="Title of the plan; the record files its sessions under it.")
    summary: Text | None = Field(default=None, description="What it is for, in a few sentences.")
    trial: bool = Field(default=False, description="true: the plan has its own record, trial.db.")
    cautions: Texts = Field(default=(), description="Cautions beside the general ones.")
    include: Texts = Field(
        default=(), description="Shelves from which the plan takes stations and exercises."
    )
    # Factories: an instance here would build its validator now, and Plan's builds it once more.
    timing: PlanTiming = Field(
        default_factory=PlanTiming.model_construct, description="Timing of every session."
    )
    effort: EffortKeys = Field(
        default_factory=EffortKeys.model_construct, description="Effort in every exercise."
    )
    week: Week = Field(default_factory=Week.model_construct, description="Aims of a week.")
    station: dict[Id, Station] = Field(
        default={}, description="Stations, by their id: [station.low-bar]."
    )
    exercise: Annotated[dict[Id, Exercise], Field(min_length=1, max_length=MOST_EXERCISES)] = Field(
        description="Exercises, by their id: [exercise.push-up]."
    )
    session: Annotated[tuple[Session, ...], Field(strict=False, min_length=1, max_length=50)] = (
        Field(description="Sessions, in the order in which they take turns.")
    )

    phase: Annotated[tuple[Phase, ...], Field(strict=False, max_length=52)] = Field(
        default=(),
        description="Phases, from the week of the first session; after the last the first again.",
    )

    def find_session(self, session_id: str) -> Session | None:
        """The session with that id, or None."""
        return next((session for session in self.session if session.id == session_id), None)
