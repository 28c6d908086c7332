"""Adjustments that a trainee agreed to, applied to a session; and the baseline.

`Baseline` is what is known of a trainee when a session is opened: working levels, lengths, counts
to beat. It is read once from the record and kept in the session's first event, so that a replay
needs nothing else. `as_data` and `from_data` turn it into plain lists for that event.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Literal

from msgspec import Struct, field
from msgspec.structs import asdict, replace

from runner.law.course import (
    Course,
    LengthKey,
    WorkingLevels,
    list_planned_sets,
    with_level,
    working_index,
)
from runner.law.workout import (
    Block,
    Exercise,
    Item,
    Level,
    Side,
    Timing,
    Workout,
    load_text,
    parse_setup,
    setup_text,
)
from runner.progress.progression import NOTHING_DONE, LevelsDone, step_down

Kind = Literal[
    "recovery",  # `number` seconds more for each muscle
    "sets",  # `number` sets more, or fewer where it is negative
    "share",  # that share of the sets, at least one
    "reserve",  # `number` repetitions more in reserve
    "no count",  # nothing to beat
    "easier",  # `number` levels easier than the working level
    "placing",  # level finding from the easiest version up, `number` in reserve
    "swap",  # the exercise `to` in its place
]
MOST_SETS = 20  # of an exercise in a block; our choice


class Adjustment(Struct, frozen=True):
    """One difference from the plan."""

    kind: Kind
    exercise: str = ""  # "" for all
    group: str = ""  # of sets; of `sets` alone
    number: float = 0.0
    to: str = ""
    index: int = 0  # of `placing`: where in the progression it goes on
    block: int = 0  # of `sets`: the one block that is meant, from 1; 0 for all

    def as_data(self) -> dict[str, Any]:
        """Plain data, without empty fields."""
        return {name: value for name, value in asdict(self).items() if value not in ("", 0)}

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Adjustment:
        """The adjustment again."""
        return cls(**data)

    @property
    def text(self) -> str:
        """In a few words, without the exercise."""
        more = "more" if self.number > 0 else "fewer"
        size = f"{abs(self.number):g}"
        return {
            "recovery": f"{size} s more recovery",
            "sets": f"{size} set{'' if size == '1' else 's'} {more}",
            "share": "a third fewer sets",
            "reserve": f"{size} more in reserve",
            "no count": "no count to beat",
            "easier": f"{size} level{'' if size == '1' else 's'} easier",
            "placing": "level finding, from the easiest version up",
            "swap": f"{self.to} instead",
        }[self.kind]


class Offer(Struct, frozen=True):
    """Something that a person may take before a session begins; nothing changes unless they do."""

    kind: str  # the word that takes it
    text: str  # what it is, in a few words
    reasons: tuple[str, ...]
    adjustments: tuple[Adjustment, ...]
    caution: str = ""

    def as_data(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "kind": self.kind,
            "text": self.text,
            "reasons": list(self.reasons),
            "adjustments": [one.as_data() for one in self.adjustments],
            "caution": self.caution,
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Offer:
        """The offer again."""
        return cls(
            data["kind"],
            data["text"],
            tuple(data["reasons"]),
            tuple(map(Adjustment.from_data, data["adjustments"])),
            data.get("caution", ""),
        )


def adjusted(
    workout: Workout,
    working: WorkingLevels,
    adjustments: Iterable[Adjustment],
    done: Callable[[Exercise], LevelsDone] = lambda _: NOTHING_DONE,
    mass: float | None = None,
) -> tuple[Workout, WorkingLevels]:
    """The session with all that is different, and the levels that it begins with.

    `done` is what is known of an exercise's levels, `mass` the body's in kg: they decide which
    level is the easier one.
    """
    for one in adjustments:
        if one.kind == "easier":
            working = _easier(workout, working, one, done, mass)
        else:
            workout = _WORKOUT[one.kind](workout, one)
            working = _to_try(working, one) if one.kind == "placing" else working
    return workout, working


def _concerns(one: Adjustment, exercise: str) -> bool:
    return one.exercise in ("", exercise)


def _with_items(workout: Workout, change: Callable[[Item, Block], Item]) -> Workout:
    blocks = tuple(
        replace(block, items=tuple(change(item, block) for item in block.items))
        for block in workout.blocks
    )
    return replace(workout, blocks=blocks)


def _with_exercises(
    workout: Workout, one: Adjustment, change: Callable[[Exercise], Exercise]
) -> Workout:
    exercises = {
        name: change(exercise) if _concerns(one, name) else exercise
        for name, exercise in workout.exercises.items()
    }
    return replace(workout, exercises=exercises)


def _named(workout: Workout, one: Adjustment) -> frozenset[str]:
    return frozenset(name for name in workout.exercises if _concerns(one, name))


def _recovery(workout: Workout, one: Adjustment) -> Workout:
    def longer(law: Timing) -> Timing:
        """All recovery settings in proportion, so that least and cross keep their ratio."""
        share = (law.recovery + one.number) / law.recovery
        return replace(
            law,
            recovery=law.recovery * share,
            recovery_least=law.recovery_least * share,
            recovery_cross=law.recovery_cross * share,
        )

    blocks = tuple(
        replace(
            block,
            timing={
                name: longer(law) if _concerns(one, name) else law
                for name, law in block.timing.items()
            },
        )
        for block in workout.blocks
    )
    return replace(workout, blocks=blocks)


def _resized(item: Item, sets: int, group: str = "") -> Item:
    """The item with `sets` work sets; if it names versions, the last of a group comes or goes.

    At least one set stays.
    """
    sets = min(max(sets, 1), MOST_SETS)
    versions = list(item.versions)
    while versions and len(versions) > sets:
        index = len(versions) - 1 - versions[::-1].index(group) if group in versions else -1
        versions.pop(index)
    while versions and len(versions) < sets:
        versions.append(group or versions[-1])
    return replace(item, sets=sets, versions=tuple(versions))


def _sets(workout: Workout, one: Adjustment) -> Workout:
    def change(item: Item, block: Block) -> Item:
        elsewhere = one.block and block is not workout.blocks[one.block - 1]
        if elsewhere or not _concerns(one, item.exercise):
            return item
        return _resized(item, item.sets + int(one.number), one.group)

    return _with_items(workout, change)


def _share(workout: Workout, one: Adjustment) -> Workout:
    def change(item: Item, _: Block) -> Item:
        if not _concerns(one, item.exercise):
            return item
        return _resized(item, max(1, round(item.sets * one.number)))

    return _with_items(workout, change)


def _reserve(workout: Workout, one: Adjustment) -> Workout:
    more = int(one.number)
    return _with_exercises(workout, one, lambda e: replace(e, reserve=e.reserve + more))


def _no_count(workout: Workout, one: Adjustment) -> Workout:
    return replace(workout, nothing_to_beat=workout.nothing_to_beat | _named(workout, one))


def _level_finding(workout: Workout, one: Adjustment) -> Workout:
    names = _named(workout, one)
    reserve = int(one.number)
    workout = _with_exercises(workout, one, lambda e: replace(e, reserve=reserve))
    return replace(
        workout,
        level_finding=workout.level_finding | names,
        nothing_to_beat=workout.nothing_to_beat | names,
    )


def _to_try(working: WorkingLevels, one: Adjustment) -> WorkingLevels:
    """All sets of the exercise, also parts of a group, start where level finding goes on."""
    others = {key: at for key, at in working.items() if key[0] != one.exercise}
    return {**others, (one.exercise, ""): one.index}


def _swap(workout: Workout, one: Adjustment) -> Workout:
    def change(item: Item, block: Block) -> Item:
        items = any(other.exercise == one.to for other in block.items)
        if item.exercise != one.exercise or items or one.to not in workout.exercises:
            return item
        return replace(item, exercise=one.to, versions=())

    return _with_items(workout, change)


def _easier(
    workout: Workout,
    working: WorkingLevels,
    one: Adjustment,
    done: Callable[[Exercise], LevelsDone],
    mass: float | None,
) -> WorkingLevels:
    """That many levels easier, of all groups of sets that the session has."""
    lower = dict(working)
    groups = {
        (item.exercise, group)
        for block in workout.blocks
        for item in block.items
        for group in item.versions or ("",)
    }
    for name, group in groups | set(working):
        if name in workout.exercises and _concerns(one, name):
            exercise = workout.exercises[name]
            index = working_index(exercise, group, working)
            for _ in range(int(one.number)):
                index = step_down(exercise, index, mass, done(exercise)).index
            lower[name, group] = index
    return lower


_WORKOUT: Mapping[str, Callable[[Workout, Adjustment], Workout]] = {
    "recovery": _recovery,
    "sets": _sets,
    "share": _share,
    "reserve": _reserve,
    "no count": _no_count,
    "placing": _level_finding,
    "swap": _swap,
}


# What is known of a trainee before a session.

# exercise, version, set-up, load, tempo, set number, side
BeatKey = tuple[str, str, str, str, str, int, Side]
LevelKey = tuple[str, str, str, str, str]  # exercise, version, set-up, load, tempo


class Baseline(Struct, frozen=True):
    """Working levels, lengths of past bouts, counts to beat, bests by level.

    A level is its index in the exercise's progression. `changes` is what was agreed beyond one
    session, `offers` what may be taken for this one. `last_used` has the level at which a version
    was done last, by exercise and version. `off_range` are levels that the plan's ranges do not
    have: exercise, version, set-up, load; all indices are those of the progressions with them, see
    `with_off_range`. `news` are the ids of decisions about these exercises that no session before
    has known. `unread`: nothing is known, for the record could not be read before the session
    began.
    """

    working_levels: WorkingLevels = field(default_factory=dict)
    lengths: Mapping[LengthKey, tuple[float, ...]] = field(default_factory=dict)
    to_beat: Mapping[BeatKey, float] = field(default_factory=dict)
    changes: tuple[Adjustment, ...] = ()
    offers: tuple[Offer, ...] = ()
    best: Mapping[LevelKey, float] = field(default_factory=dict)
    last_used: Mapping[tuple[str, str], int] = field(default_factory=dict)
    mass: float | None = None  # of the body, kg
    off_range: tuple[tuple[str, str, str, float | None], ...] = ()
    news: tuple[str, ...] = ()
    unread: bool = False

    def done(self, exercise: Exercise) -> LevelsDone:
        """What is known of the levels of an exercise, for `easier` and `harder`."""
        progression = exercise.progression
        indexes = {level_key(exercise.id, r): i for i, r in enumerate(progression)}
        firsts: dict[int, list[tuple[int, float]]] = {}
        for key, count in self.to_beat.items():
            index = indexes.get(key[:5])
            if index is not None:
                firsts.setdefault(index, []).append((key[5], count))  # of two sides the weaker
        last = {version: i for (name, version), i in self.last_used.items() if name == exercise.id}
        return LevelsDone(last, {index: min(found)[1] for index, found in firsts.items()})

    def with_off_range(self, workout: Workout) -> Workout:
        """The session with the levels off its ranges in its progressions; once is enough."""
        if not self.off_range and not any(one.versions for one in workout.exercises.values()):
            return workout
        exercises = dict(workout.exercises)
        for name, version, setup, load in self.off_range:
            if name in exercises:
                level = Level(version, "", parse_setup(setup), load)
                exercises[name] = with_level(exercises[name], level)
        exercises = {name: self._at_level(one) for name, one in exercises.items()}
        return replace(workout, exercises=exercises)

    def _at_level(self, exercise: Exercise) -> Exercise:
        """The exercise in the version that it is worked at, for whoever has no set in hand."""
        if not exercise.versions:
            return exercise
        index = working_index(exercise, "", self.working_levels)
        return exercise.at(exercise.progression[index].version)

    def as_data(self) -> dict[str, Any]:
        """Plain lists and numbers."""
        data: dict[str, Any] = {
            "held": [[*key, index] for key, index in self.working_levels.items()],
            "lengths": [[*key, list(values)] for key, values in self.lengths.items()],
            "to_beat": [[*key, value] for key, value in self.to_beat.items()],
        }
        if self.changes:
            data["changes"] = [one.as_data() for one in self.changes]
        if self.offers:
            data["offers"] = [one.as_data() for one in self.offers]
        if self.best:
            data["best"] = [[*key, value] for key, value in self.best.items()]
        if self.last_used:
            data["last_used"] = [[*key, index] for key, index in self.last_used.items()]
        if self.mass is not None:
            data["mass"] = self.mass
        if self.off_range:
            data["off_range"] = [list(one) for one in self.off_range]
        if self.news:
            data["news"] = list(self.news)
        if self.unread:
            data["unread"] = True
        return data

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Baseline:
        """The baseline again; what is missing counts as empty."""
        return cls(
            {(e, g): i for e, g, i in data.get("held", ())},
            {(e, v, t, s): tuple(w) for e, v, t, s, w in data.get("lengths", ())},
            {(e, v, u, ld, t, n, s): b for e, v, u, ld, t, n, s, b in data.get("to_beat", ())},
            tuple(map(Adjustment.from_data, data.get("changes", ()))),
            tuple(map(Offer.from_data, data.get("offers", ()))),
            {(e, v, u, ld, t): b for e, v, u, ld, t, b in data.get("best", ())},
            {(e, v): i for e, v, i in data.get("last_used", ())},
            data.get("mass"),
            tuple((e, v, u, ld) for e, v, u, ld in data.get("off_range", ())),
            tuple(data.get("news", ())),
            bool(data.get("unread", False)),
        )


def level_key(exercise: str, level: Level) -> LevelKey:
    """Under what the best at a level is known."""
    setup, load = setup_text(level.setup), load_text(level.load)
    return (exercise, level.version, setup, load, level.tempo or "")


def beat_key(exercise: str, level: Level, number: int, side: Side) -> BeatKey:
    """Under what a count is compared with the last time."""
    return (*level_key(exercise, level), number, side)


def begin_course(workout: Workout, baseline: Baseline | None = None) -> Course:
    """The course of a session before its first set, with the agreed changes."""
    known = baseline or Baseline()
    fitted = known.with_off_range(workout)
    workout, working = adjusted(fitted, known.working_levels, known.changes, known.done, known.mass)
    return Course(workout, list_planned_sets(workout, working), known.lengths)
