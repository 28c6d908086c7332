"""What is known of a trainee when a session is opened, and what it gives to beat.

Read once from the record and kept in the session's first event, so that a replay needs
nothing else. `as_data` and `from_data` turn it into plain lists for that event.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from runner.core.adjust import Adjustment, Offer, adjusted
from runner.core.course import Course, HeldKey, LengthKey, plan_slots, with_level
from runner.core.progress.ladder import Done
from runner.core.values import load_text, parse_setup, setup_text
from runner.core.workout import Exercise, Rung, Side, Workout

# exercise, version, set-up, load, tempo, set number, side
BeatKey = tuple[str, str, str, str, str, int, Side]
LevelKey = tuple[str, str, str, str, str]  # exercise, version, set-up, load, tempo


@dataclass(frozen=True, slots=True)
class Memory:
    """Working levels (index in the ladder), lengths of past bouts, counts to beat, bests by level.

    `changes` is what was agreed beyond one session, `offers` what may be taken for this one.
    `last_used` has the level (index in the ladder) at which a version was done last, by exercise
    and version. `off_range` are levels that the plan's ranges do not have: exercise, version,
    set-up, load. All indices are those of the ladders with them: `fitted`. `news` are the ids of
    decisions about these exercises that no session before has known. `unread`: nothing is known,
    for the record could not be read before the session began.
    """

    held: Mapping[HeldKey, int] = field(default_factory=dict)
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

    def done(self, exercise: Exercise) -> Done:
        """What is known of the levels of an exercise, for `easier` and `harder`."""
        ladder = exercise.ladder
        places = {level_key(exercise.id, r): i for i, r in enumerate(ladder)}
        firsts: dict[int, list[tuple[int, float]]] = {}
        for key, count in self.to_beat.items():
            place = places.get(key[:5])
            if place is not None:
                firsts.setdefault(place, []).append((key[5], count))  # of two sides the weaker
        last = {version: i for (name, version), i in self.last_used.items() if name == exercise.id}
        return Done(last, {place: min(found)[1] for place, found in firsts.items()})

    def fitted(self, workout: Workout) -> Workout:
        """The session with the levels off its ranges in its ladders; once is enough."""
        exercises = dict(workout.exercises)
        for name, version, setup, load in self.off_range:
            if name in exercises:
                level = Rung(version, "", parse_setup(setup), load)
                exercises[name] = with_level(exercises[name], level)
        return replace(workout, exercises=exercises) if self.off_range else workout

    def as_data(self) -> dict[str, Any]:
        """Plain lists and numbers."""
        data: dict[str, Any] = {
            "held": [[*key, index] for key, index in self.held.items()],
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
    def from_data(cls, data: Mapping[str, Any]) -> Memory:
        """The memory again; what is missing counts as empty."""
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


def level_key(exercise: str, rung: Rung) -> LevelKey:
    """Under what the best at a level is known."""
    setup, load = setup_text(rung.setup), load_text(rung.load)
    return (exercise, rung.version, setup, load, rung.tempo or "")


def beat_key(exercise: str, rung: Rung, number: int, side: Side) -> BeatKey:
    """Under what a count is held against the last time."""
    return (*level_key(exercise, rung), number, side)


def begin_course(workout: Workout, memory: Memory | None = None) -> Course:
    """The course of a session of which nothing is done, with what was agreed to change."""
    known = memory or Memory()
    fitted = known.fitted(workout)
    workout, held = adjusted(fitted, known.held, known.changes, known.done, known.mass)
    return Course(workout, plan_slots(workout, held), known.lengths)
