"""Six winters at Kestrel Hut, twelve weeks each, by the rules alone: `python -m` prints them.

    python -m tests.progress.stories

Every piece of advice is accepted when it comes. Read it as a coach would.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

from msgspec.structs import replace

from runner.law.course import GroupKey, PlannedSet, list_planned_sets
from runner.law.weekly_sets import Sets, sets_by_muscle
from runner.law.workout import Exercise, Workout
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.models import Plan
from runner.progress.adjust import Adjustment, adjusted
from runner.progress.advice import with_free_substitutes
from runner.progress.deload import Deload, TrainingSoFar, deload, exercise_deload, gaps
from runner.progress.history import PastSession, PastSet, Use
from runner.progress.layoff import BEFORE_THE_START, away, layoff_of, lighter_week
from runner.progress.level_finding import (
    LEAVE,
    Trial,
    goes_on_at,
    next_trial,
    stop_at,
    wants_level_finding,
)
from runner.progress.pain import Pain, no_step_up
from runner.progress.progression import done_in, step_down
from runner.progress.reps import judge
from runner.progress.rules import Advice, ChangeKind, CurrentLevel, advise, remarks
from runner.progress.week_aims import under_aim, usual_sets
from runner.progress.weeks import Week
from tests.progress.past import facing
from tests.progress.people import Person

PLAN = Path(__file__).parents[2] / "plans" / "kestrel-hut.toml"
LOADS = Path(__file__).parents[1] / "data" / "loads-only.toml"
START = date(2026, 10, 5)  # a Monday
WEEKS = 12
Say = Callable[[str], None]


@dataclass
class Story:
    """One trainee's winter, and all that the program knows of it."""

    person: Person
    days: tuple[int, ...]  # sessions, in days after the start
    hurts: Mapping[int, str] = field(default_factory=dict)  # day -> exercise that hurts
    unwell: frozenset[int] = frozenset()  # days on which the question is answered with yes
    where: str = ""  # it hurts
    left_out: tuple[int, int, str] = (0, 0, "")  # from one day up to another, an exercise
    typed_in: int = 0  # after so many weeks; 0: at once
    file: Path = PLAN
    written: Plan = field(init=False)
    plan: list[Workout] = field(init=False)
    working: dict[GroupKey, int] = field(default_factory=dict)
    first_set: dict[GroupKey, int] = field(default_factory=dict)
    past: dict[GroupKey, list[PastSession]] = field(default_factory=dict)
    more: dict[str, int] = field(default_factory=dict)  # sets more or fewer
    since: dict[GroupKey, date] = field(default_factory=dict)  # advice accepted
    tried: dict[GroupKey, set[ChangeKind]] = field(default_factory=dict)
    sets_done: dict[str, list[tuple[Exercise, int]]] = field(default_factory=dict)  # by ISO week
    trained: list[date] = field(default_factory=list)
    lighter: dict[str, date] = field(default_factory=dict)  # until when, "" for all
    told: list[tuple[date, Advice]] = field(default_factory=list)  # all but "stay"
    beaten: int = 0

    def __post_init__(self) -> None:
        self.written = read_plan(self.file)
        self.plan = [compile_session(self.written, one.id) for one in self.written.session]

    def run(self, say: Say) -> Story:
        """Go through the winter."""
        self.person.meet(self.plan[0].exercises)
        say(f"# {self.person.name}")
        week = 0
        for day in self.days:
            on = START + timedelta(days=day)
            if day // 7 + 1 != week:
                self._close_week(say, week)
                week = day // 7 + 1
                say(f"\n## week {week}")
            if day in self.unwell:
                say(f"{on:%a %d %b}: not started. {BEFORE_THE_START.answer[0]}")
                continue
            self._session(on, day, say)
        self._close_week(say, week)
        return self

    # -- one session -------------------------------------------------------------------------

    def _session(self, on: date, day: int, say: Say) -> None:
        workout = self.plan[len(self.trained) % len(self.plan)]
        gap = (on - self.trained[-1]).days if self.trained else None
        if gap is not None:
            self.person.rest(gap)
        gone = away(gap)
        if gone.level_finding:
            self.working.clear()
        back = self._hold_back(on, workout)
        if gone.easier:
            self._easier()
        say(f"{on:%a %d %b}, session {workout.session}" + _why(back))
        done = self._sets(on, workout, back, self.hurts.get(day))
        self.trained.append(on)
        self._after(on, done, say)

    def _hold_back(self, on: date, workout: Workout) -> Deload:
        weeks = [_week(iso, sets) for iso, sets in self.sets_done.items()]
        iso = _iso(on)
        planned = sum(planned_set.kind == "work" for planned_set in list_planned_sets(workout, {}))
        so_far = sum(n for _, n in self.sets_done.get(iso, []))
        last, before = gaps(self.trained, on)
        usual = usual_sets(weeks, iso)
        found = deload(TrainingSoFar(len(self.trained), last, before, so_far + planned, usual))
        if on < self.lighter.get("", on):
            return Deload((*found.reasons, "lighter week"))
        return found

    def _easier(self) -> None:
        exercises = self.plan[0].exercises
        for key, index in self.working.items():
            done = done_in(exercises[key[0]], self.past.get(key, []))
            self.working[key] = step_down(exercises[key[0]], index, done=done).index
        self.first_set.clear()

    def _sets(
        self, on: date, workout: Workout, back: Deload, hurts: str | None
    ) -> list[tuple[GroupKey, PastSession]]:
        by_key: dict[GroupKey, list[PlannedSet]] = {}
        for planned_set in list_planned_sets(workout, {}):
            if planned_set.kind == "work":
                by_key.setdefault((planned_set.exercise, planned_set.group), []).append(planned_set)
        found = []
        for key, planned_sets in by_key.items():
            exercise = workout.exercises[key[0]]
            first, last, name = self.left_out
            if name == key[0] and first <= (on - START).days < last:
                continue
            number = len(planned_sets) + self.more.get(key[0], 0)
            session = self._exercise(on, key, exercise, number, back, key[0] == hurts)
            self.past.setdefault(key, []).append(session)
            self.sets_done.setdefault(_iso(on), []).append((exercise, len(session.counted)))
            self.person.train(key[0], on)
            found.append((key, session))
        return found

    def _exercise(
        self,
        on: date,
        key: GroupKey,
        exercise: Exercise,
        number: int,
        back: Deload,
        hurts: bool,  # noqa: FBT001
    ) -> PastSession:
        before = self.past.get(key, [])
        form = self.person.day()
        if wants_level_finding(before, self.working.get(key)) or key not in self.working:
            return self._level_finding(on, key, exercise, fewer(number), form)
        week = on < self.lighter.get(exercise.id, on)
        short = bool(back) or week or bool(exercise_deload(before))
        aimed = exercise.reserve + (2 if short else 0)
        number = fewer(number) if short else number
        sets = []
        for nth in range(number):
            index = self.first_set.get(key, self.working[key]) if nth == 0 else self.working[key]
            sets += self._both_sides(exercise, index, nth, form, aimed)
            if hurts and nth == 1:
                sets[-1] = replace(sets[-1], pain=True)
                break
        return _past(on, exercise, key, sets, deload=short)

    def _level_finding(
        self, on: date, key: GroupKey, exercise: Exercise, number: int, form: float
    ) -> PastSession:
        trials: list[Trial] = []
        found = next_trial(exercise, trials, goes_on_at(exercise, self.past.get(key, [])))
        sets = []
        for nth in range(number):
            both = self._both_sides(exercise, found.index, nth, form, LEAVE[0], stop_at(exercise))
            weaker = min(both, key=lambda s: s.value or 0.0)
            sets += both
            if not found.settled:
                trials.append(Trial(found.index, weaker.value or 0.0, weaker.reserve))
                found = next_trial(exercise, trials)
        if found.settled:
            self.working[key] = found.index
        return _past(on, exercise, key, sets, level_finding=True)

    def _both_sides(
        self,
        exercise: Exercise,
        index: int,
        nth: int,
        form: float,
        aimed: int,
        most: float | None = None,
    ) -> list[PastSet]:
        sets = []
        for side in exercise.side_order:
            value, named = self.person.do(exercise, index, nth, form, aimed, most)
            use = Use.of(exercise.progression[index])
            sets.append(PastSet(nth + 1, use, value, side, reserve=named, reserve_aimed=aimed))
        return sets

    # -- after it ----------------------------------------------------------------------------

    def _after(self, on: date, done: Iterable[tuple[GroupKey, PastSession]], say: Say) -> None:
        beaten, stays, waits = 0, 0, Counter[str]()
        for key, session in done:
            exercise = self.plan[0].exercises[key[0]]
            if not (session.deload or session.level_finding):
                beaten += judge(facing(session, *self.past[key][:-1]), ()).beaten
            if key not in self.working:
                say(f"  {exercise.name}: placing goes on")
                continue
            if session.level_finding:
                named = Use.of(exercise.progression[self.working[key]]).text
                say(f"  {exercise.name}: {_counts(session)}: placed at {named}")
                continue
            current = CurrentLevel(
                with_free_substitutes(exercise, self.plan),
                self.working[key],
                key[1],
                self.first_set.get(key),
                self.person.mass,
                since=self.since.get(key),
                tried=frozenset(self.tried.get(key, ())),
                room=self._room(exercise),
                pain=no_step_up(exercise, self.pains(), on),
                layoff=layoff_of(self.trained, on),
            )
            if self._on_paper(on):
                continue  # nobody has typed it in, so nobody says anything yet
            for beside in remarks(current, self.past[key]):
                say(f"  {exercise.name}: {_counts(session)}: {beside.line}")
                self.told.append((on, beside))
            given = advise(current, self.past[key])
            quiet = given.rule == "stay" or given.lately
            if quiet or (given.rule in ("pain", "layoff") and not session.pain):
                stays += quiet
                waits[given.rule] += not quiet
                continue
            say(f"  {exercise.name}: {_counts(session)}: {given.line}")
            self.told.append((on, given))
            self._accept(key, given, on)
        held_up = "".join(f"; {n} wait: {rule}" for rule, n in waits.items() if n)
        say(f"  ({stays} stay{held_up}; {beaten} beaten)")
        self.beaten += beaten
        if not self._on_paper(on):
            self._offer_lighter_week(on, say)

    def _on_paper(self, on: date) -> bool:
        """Whether this session lies on paper until a later one of the month is typed in."""
        if not self.typed_in:
            return False
        weeks = (on - START).days // 7 + 1
        return not (weeks % self.typed_in == 0 and on.isoweekday() == 5)

    def _accept(self, key: GroupKey, given: Advice, on: date) -> None:
        change = given.change
        if change is None:
            return
        self.since[key] = on
        self.tried.setdefault(key, set()).add(change.kind)
        if change.kind == "move":
            self.tried[key] &= {"fewer sets"}
        if change.kind == "move" and change.index is not None:
            self.working[key] = change.index
            self.first_set.pop(key, None)
        elif change.kind == "bridge" and change.index is not None:
            self.first_set[key] = change.index
        elif change.kind == "recovery":
            self.person.keeps[key[0]] = min(self.person.keeps[key[0]] + 0.03, 0.97)
        elif change.kind == "more sets":
            self.more[key[0]] = self.more.get(key[0], 0) + 1
        elif change.kind == "lighter week":
            self.lighter[change.exercise or ""] = on + timedelta(days=8)

    def _room(self, exercise: Exercise) -> bool:
        """Whether the planned week of a main muscle is under its aim, and two may still get one."""
        changes = [Adjustment("sets", name, number=n) for name, n in self.more.items()]
        workouts = [adjusted(one, {}, changes)[0] for one in self.plan]
        week = self.written.week
        targets = {str(name): aim for name, aim in week.muscles.items()}
        under = under_aim(workouts, week.sessions, targets, week.sets)
        others = self.more.keys() - {exercise.id}
        return not under.isdisjoint(exercise.prime) and all(
            len(others & _names(workout)) < 2
            for workout in self.plan
            if exercise.id in _names(workout)
        )

    def pains(self) -> list[Pain]:
        """Every session in which an exercise hurt."""
        found = []
        for (name, _), past in self.past.items():
            exercise = self.plan[0].exercises[name]
            sites = frozenset((m, side) for m in exercise.prime for side in ("left", "right"))
            for nth, one in enumerate(past):
                if one.pain:
                    clean = sum(bool(s.counted) and not s.pain for s in past[nth:])
                    found.append(Pain(one.on, name, exercise.name, self.where, sites, clean))
        return sorted(found, key=lambda p: p.on)

    def _offer_lighter_week(self, on: date, say: Say) -> None:
        if "" in self.lighter and on < self.lighter[""] + timedelta(days=14):
            return
        offered = lighter_week(self.past)
        if offered is not None:
            say(f"  offered: {offered.text}")
            self.lighter[""] = on + timedelta(days=8)

    def _close_week(self, say: Say, week: int) -> None:
        if not week:
            return
        sets = self.sets_done.get(_iso(START + timedelta(weeks=week - 1)), [])
        by_muscle = sets_by_muscle(Sets(e.prime, (*e.assist, *e.both_sides), n) for e, n in sets)
        total = sum(n for _, n in sets)
        say(
            f"  week {week}: {total} sets; " + ", ".join(f"{m} {n:g}" for m, n in by_muscle.items())
        )


def _past(
    on: date,
    exercise: Exercise,
    key: GroupKey,
    sets: list[PastSet],
    *,
    level_finding: bool = False,
    deload: bool = False,
) -> PastSession:
    return PastSession(
        f"{on:%Y%m%d}",
        on,
        exercise.id,
        tuple(sets),
        key[1],
        exercise.measure,
        level_finding=level_finding,
        deload=deload,
    )


def fewer(planned: int) -> int:
    """A third fewer sets, at least one."""
    return max(1, round(planned * 2 / 3))


def _names(workout: Workout) -> set[str]:
    return {item.exercise for block in workout.blocks for item in block.items}


def _week(iso: str, sets: list[tuple[Exercise, int]]) -> Week:
    return Week(iso, 1, sum(n for _, n in sets), {}, {})


def _iso(on: date) -> str:
    year, week, _ = on.isocalendar()
    return f"{year}-W{week:02}"


def _why(back: Deload) -> str:
    return f", holding back: {'; '.join(back.reasons)}" if back else ""


def _counts(session: PastSession) -> str:
    return " ".join(
        f"{s.value:g}" + ("" if s.reserve is None else f"/{s.reserve}") for s in session.sets
    )


def days_of(weeks: Iterable[int], pattern: tuple[int, ...] = (0, 2, 4)) -> tuple[int, ...]:
    """Monday, Wednesday and Friday of these weeks, from 0."""
    return tuple(week * 7 + day for week in weeks for day in pattern)


def steady() -> Story:
    """Three sessions a week, and a little stronger each time."""
    return Story(Person("Signe, steady", 7, level=0.35, gain=0.006), days_of(range(WEEKS)))


def plateau() -> Story:
    """Gains for four weeks, and then none."""
    until = START + timedelta(weeks=4)
    person = Person("Tore, who plateaus", 11, level=0.5, gain=0.005, gains_until=until)
    return Story(person, days_of(range(WEEKS)))


def bad_back() -> Story:
    """The back hurts in week 4; a break of five weeks; then from further down again."""
    days = (*days_of(range(3)), 21, 23, *days_of(range(8, WEEKS)))
    person = Person("Ylva, a bad back and a break", 3, level=0.4, gain=0.005)
    return Story(person, days, hurts={21: "squat"}, unwell=frozenset({23}), where="the low back")


def loads_only() -> Story:
    """A rucksack and nothing else: every step is a load."""
    person = Person("Ebbe, the rucksack alone", 5, level=0.3, gain=0.006)
    return Story(person, days_of(range(WEEKS)), file=LOADS)


def pain_again() -> Story:
    """The left shoulder hurts in push-ups, and again, and again; then it is left out for weeks."""
    hurts = dict.fromkeys((7, 11, 14), "push-up")
    person = Person("Runa, a shoulder that hurts again", 13, level=0.4, gain=0.006)
    days = days_of(range(WEEKS))
    return Story(person, days, hurts, where="left shoulder", left_out=(18, 46, "push-up"))


def month_on_paper() -> Story:
    """Counts on paper, typed in when the month is over: advice comes three times in all."""
    person = Person("Odd, who types in at the end of the month", 17, level=0.35, gain=0.006)
    return Story(person, days_of(range(WEEKS)), typed_in=4, file=LOADS)


STORIES = (steady, plateau, bad_back, loads_only, pain_again, month_on_paper)

if __name__ == "__main__":
    for made in STORIES:
        made().run(print)
        print()  # noqa: T201
