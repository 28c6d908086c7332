"""Rules that hold for every trainee, progression and plan; and two invented years, counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from hypothesis import given, settings, strategies as st
from msgspec.structs import replace

from runner.law.workout import Advance, Exercise, Level, Sides
from runner.progress.going_up import requirement, still_needs
from runner.progress.history import PastSession, PastSet, Use
from runner.progress.progression import MOST_STEP, Step, done_in, load_up, step_down, step_up
from runner.progress.rules import Advice, CurrentLevel, advise
from runner.progress.sessions_running import run_of
from tests.law.builders import exercise
from tests.progress.past import advice, loads, past, session
from tests.progress.people import Person

YEARS_FROM = date(2025, 1, 6)  # a Monday

# -- drawn plans ----------------------------------------------------------------------------------

SIDES: st.SearchStrategy[Sides] = st.sampled_from(["together", "left first"])
SHARES = st.sampled_from([None, 0.0, 0.3, 0.41, 0.64, 0.886])
ADVANCES: st.SearchStrategy[Advance] = st.sampled_from(["first set", "every set", "two for two"])
KG = st.sampled_from([1.0, 2.0, 2.5, 5.0])


@st.composite
def versions(draw: st.DrawFn, name: str) -> tuple[Level, ...]:
    """One version: a level, a range of loads, or a range of set-ups."""
    plain = Level(
        name,
        name,
        tempo=draw(st.sampled_from([None, "3-0-1"])),
        body_share=draw(SHARES),
        sides=draw(SIDES),
    )
    kind = draw(st.sampled_from(["level", "loads", "set-ups"]))
    if kind == "level":
        return (replace(plain, load=draw(st.none() | st.sampled_from([4.0, 10.0]))),)
    start, by, many = draw(st.integers(0, 8)), draw(KG), draw(st.integers(2, 5))
    if kind == "loads":
        return tuple(replace(plain, load=2.0 * start + by * n, load_step=by) for n in range(many))
    way = draw(st.sampled_from([20, -20]))
    return tuple(replace(plain, setup=(("anchor", f"{120 + way * n} cm"),)) for n in range(many))


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    """An exercise with a progression of one to three versions."""
    many = draw(st.integers(1, 3))
    levels = tuple(level for n in range(many) for level in draw(versions(f"v{n}")))
    hold = draw(st.integers(0, 5)) == 0
    low = draw(st.integers(4, 12))
    return exercise(
        "drawn",
        measure="hold" if hold else "reps",
        rep_range=(float(low), float(low + draw(st.integers(2, 14)))),
        progression=levels,
        instead=("other",),
        sides="left first" if levels[0].sides == "left first" else "together",
        reserve=draw(st.integers(0, 3)),
    )


# -- nobody stands above the top without a word ---------------------------------------------------


def at_side(of: Exercise, count: int) -> int | tuple[int, int]:
    return count if of.sides == "together" else (count, count)


@settings(max_examples=200)
@given(exercises(), st.data())
def test_nobody_stands_above_the_top_without_a_proposal_or_the_missing_count(
    of: Exercise, data: st.DataObject
) -> None:
    working = data.draw(st.integers(0, len(of.progression) - 1))
    counts = st.tuples(
        st.integers(int(of.rep_range[1]) + 1, int(of.rep_range[1]) + 12),
        *[st.integers(0, int(of.rep_range[1]) + 8)] * data.draw(st.integers(0, 3)),
    )
    days = [[at_side(of, n) for n in data.draw(counts)] for _ in range(3)]
    sessions = past(of, *days, level=working)
    found = advice(of, sessions, working)
    hardest = working == len(of.progression) - 1
    up = found.change is not None and found.change.index is not None
    missing = still_needs(CurrentLevel(of, working, mass=75.0), sessions)
    assert up or missing or hardest, found
    if up and found.change is not None and found.rule in ("load", "harder"):
        assert (found.change.index or 0) > working
        assert found.change.kind in ("move", "bridge")
    if missing:
        assert ", then " in missing


@settings(max_examples=40)
@given(exercises(), ADVANCES, st.integers(0, 10**6), st.floats(0, 0.02))
def test_a_trainee_who_follows_the_advice(
    of: Exercise, advance: Advance, seed: int, gain: float
) -> None:
    """Twenty sessions of a random trainee at a random progression; every proposal is accepted."""
    of = replace(of, advance=advance)
    person = Person("Aud", seed, level=0.5, gain=gain)
    person.meet({of.id: of})
    person.keeps[of.id] = 0.93
    working, first, above = 0, None, 0
    done: list[PastSession] = []
    for day in range(0, 60, 3):
        form = person.day()
        sets: list[PastSet] = []
        for nth in range(3):
            place = first if nth == 0 and first is not None else working
            value, named = person.do(of, place, nth, form, of.reserve)
            sets += [
                PastSet(nth + 1, Use.of(of.progression[place]), value, side, reserve=named)
                for side in of.side_order
            ]
        person.train(of.id, YEARS_FROM)
        on = YEARS_FROM + timedelta(days=day)
        done.append(PastSession(f"{on}", on, of.id, tuple(sets), measure=of.measure))
        current = CurrentLevel(of, working, "", first, 75.0)
        found, missing = advise(current, done), still_needs(current, done)
        over = first is None and (sets[0].value or 0.0) > of.rep_range[1]
        above = above + 1 if over else 0
        change = found.change if found.change and found.change.index is not None else None
        if advance == "first set" and above >= 3:
            assert change or missing or working == len(of.progression) - 1
        if change is None or change.index is None:
            continue
        here, there = of.progression[working], of.progression[change.index]
        if found.rule == "easier":
            assert (there.load or 0.0) <= (here.load or 0.0)
        if change.kind == "bridge":
            assert change.index > working
            first = change.index
        elif change.kind == "move":
            working, first = change.index, None


@settings(max_examples=200)
@given(
    st.lists(st.lists(st.integers(0, 26), min_size=1, max_size=5), min_size=1, max_size=4),
    st.sampled_from([1.02, 1.05, 1.1]),
    st.sampled_from([None, 1.11, 1.3, 2.0]),
)
def test_a_smaller_step_never_asks_for_more_than_a_larger_one(
    counts: Sequence[Sequence[int]], small: float, large: float | None
) -> None:
    of = exercise(
        "press", measure="reps", rep_range=(8.0, 20.0), progression=loads(10, 11, share=0.0)
    )
    current = CurrentLevel(of, 0)
    run = run_of(past(of, *counts), current.use, of.reserve)
    larger = Step("version" if large is None else "load", 1, large)
    if requirement(current, larger).is_met(run):
        assert requirement(current, Step("load", 1, small)).is_met(run)
        assert requirement(current, Step("set-up", 1, None)).is_met(run)


# -- easier is never heavier ----------------------------------------------------------------------


def cm(level: Level) -> int:
    return int(level.setup[0][1].removesuffix(" cm"))


def one_limb(level: Level, mass: float) -> float | None:
    """By hand: (share x body mass + load) / limbs."""
    if level.body_share is None:
        return None
    return (level.body_share * mass + (level.load or 0)) / (2 if level.sides == "together" else 1)


@settings(max_examples=300)
@given(exercises(), st.data())
def test_easier_is_never_heavier_nor_harder_by_share_or_by_the_person_s_own_counts(
    of: Exercise, data: st.DataObject
) -> None:
    places = st.integers(0, len(of.progression) - 1)
    working = data.draw(places)
    days = [
        session(of, [at_side(of, data.draw(st.integers(0, 25)))], day, data.draw(places))
        for day in range(data.draw(st.integers(0, 4)))
    ]
    known = done_in(of, days)
    step = step_down(of, working, 75.0, known)
    if step.kind == "top":
        return
    here, there = of.progression[working], of.progression[step.index]
    assert step.index < working
    assert (there.load or 0) <= (here.load or 0)
    mine, theirs = one_limb(here, 75.0), one_limb(there, 75.0)
    if mine and theirs:
        assert theirs <= mine + 1e-9
    if working in known.counts and step.index in known.counts:
        assert known.counts[step.index] >= known.counts[working]
    if here.setup and there.setup:  # no farther mark of another version either
        marks = [cm(r) for r in of.progression if r.version == there.version]
        way = 1 if marks[-1] > marks[0] else -1
        assert here.version == there.version or cm(there) * way <= cm(here) * way
    up = step_up(of, step.index, 75.0, known)
    assert up.kind == "top" or up.index > step.index


# -- two invented years ---------------------------------------------------------------------------

AWAY = {*range(200, 221), *range(355, 366), *range(560, 585)}  # days off, in three layoffs
LIFTS = {
    one.id: one
    for one in (
        exercise("squat", measure="reps", progression=loads(*range(4, 41, 2), share=0.886)),
        exercise("row", measure="reps", progression=loads(*range(4, 41, 2), share=0.0)),
        exercise("over", measure="reps", progression=loads(*range(4, 41, 2), share=0.0)),
        exercise("curl", measure="reps", progression=loads(*range(4, 41, 2), share=0.0)),
        exercise("hinge", measure="reps", progression=loads(*range(4, 61, 2), share=0.0)),
    )
}
TURNS = (("squat", "row", "curl"), ("hinge", "over", "row"), ("squat", "over", "curl", "hinge"))


@dataclass
class Years:
    """Five loaded lifts, two or three times a week, every piece of advice accepted."""

    advance: Advance
    seed: int
    told: Counter[str] = field(default_factory=Counter)
    came_true: Counter[str] = field(default_factory=Counter)
    sessions: int = 0
    above: int = 0  # the most sessions running with a first set above the top

    def run(self) -> Years:
        person = Person("Aud", self.seed, level=0.3, gain=0.003)
        lifts = {
            name: replace(of, rep_range=(8.0, 20.0), advance=self.advance)
            for name, of in LIFTS.items()
        }
        person.meet(lifts)
        working = {name: round(0.2 * len(of.progression)) for name, of in lifts.items()}
        bridge: dict[str, int] = {}
        done: dict[str, list[PastSession]] = {name: [] for name in lifts}
        running: Counter[str] = Counter()
        turn = 0
        for day in range(728):
            if day % 7 not in (0, 3, 5) or day in AWAY or (day % 7 == 5 and day // 7 % 4):
                continue
            for name in TURNS[turn % len(TURNS)]:
                of, on = lifts[name], YEARS_FROM + timedelta(days=day)
                done[name].append(self._sets(person, of, on, working[name], bridge.get(name)))
                person.train(name, on)
                self.sessions += 1
                first = done[name][-1].sets[0].value or 0.0
                running[name] = running[name] + 1 if first > of.rep_range[1] else 0
                self.above = max(self.above, running[name])
                current = CurrentLevel(of, working[name], "", bridge.get(name), person.mass)
                lately = done[name][-30:]
                found = advise(current, lately)
                self._count(current, lately, found)
                if found.change is None or found.change.index is None:
                    continue
                if found.change.kind == "bridge":
                    bridge[name] = found.change.index
                elif found.change.kind == "move":
                    working[name] = found.change.index
                    bridge.pop(name, None)
            turn += 1
        return self

    def _sets(
        self, person: Person, of: Exercise, on: date, index: int, first: int | None
    ) -> PastSession:
        form = person.day()
        sets = []
        for nth in range(3):
            place = first if nth == 0 and first is not None else index
            value, named = person.do(of, place, nth, form, of.reserve)
            sets.append(PastSet(nth + 1, Use.of(of.progression[place]), value, reserve=named))
        return PastSession(f"{on}", on, of.id, tuple(sets), session=f"{on:%a}")

    def _count(self, current: CurrentLevel, done: Sequence[PastSession], found: Advice) -> None:
        self.told[found.rule] += 1
        run = run_of(done, current.use, current.exercise.reserve)
        if not run or current.first_set is not None:
            return
        step = load_up(current.exercise, current.index, current.mass)
        for advance in ("first set", "every set", "two for two"):
            one = replace(current, exercise=replace(current.exercise, advance=advance))
            self.came_true[advance] += bool(requirement(one, replace(step, ratio=1.05)).is_met(run))
        self.came_true["version"] += bool(
            requirement(current, replace(step, ratio=2.0)).is_met(run)
        )


def test_two_invented_years() -> None:
    """How often each rule applies, on the same counts and for a trainee who follows it.

    Five loaded lifts, 716 exercise sessions. By two for two a load hardly ever goes up, although
    the first sets are far over the range.
    """
    ours, published = (Years(advance, 3).run() for advance in ("first set", "two for two"))
    for years in (ours, published):
        assert 600 <= years.sessions <= 760
        assert years.told["easier"] <= 4
    assert published.came_true["two for two"] <= 8
    assert published.came_true["first set"] >= 100
    assert published.above >= 30  # sessions running with a first set above the top
    assert 20 <= ours.told["load"] <= 60
    assert ours.came_true["first set"] <= ours.told["load"] + 5  # it is acted on when it is true
    assert ours.above <= 5


def test_steps_are_small_to_ten_percent() -> None:
    # ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708): 2 to 10 %
    assert MOST_STEP == 1.10
    assert Step("load", 1, 1.1).small
    assert not Step("load", 1, 1.11).small
    assert not Step("version", 1, 1.05).small
    assert Step("set-up", 1, None).small
