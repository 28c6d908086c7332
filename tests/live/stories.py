"""Six winters at Kestrel Hut, twelve weeks each, through real sessions on manual time.

    python -m tests.live.stories            the shipped plan: about two minutes
    python -m tests.live.stories --short    a plan of three exercises

Every session is prepared, driven and kept as a person's is; what is offered before it is taken,
and every piece of advice is accepted when it comes. Read it as a coach would.
"""

from __future__ import annotations

import io
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from runner.law.course import find_level
from runner.law.workout import Exercise
from runner.lines.paper import Talk, write_up
from runner.live.advice import Advisor, ExerciseAdvice
from runner.live.advice_lines import exercise_lines
from runner.live.offers import offer_lines
from runner.live.paper import Paper, open_paper
from runner.live.session_setup import Live, Opening, prepare
from runner.live.session_summary import SessionComparison
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.progress.level_finding import LEAVE, stop_at
from runner.record.record import Record
from runner.session import verb as cmd
from runner.session.state import Row
from runner.testing import ManualClock
from tests.plans import USUAL, loads, plan
from tests.progress import stories as by_rules
from tests.progress.people import Person

SHORT = plan(
    "Kestrel Hut, three exercises",
    {
        "push-up": {
            "version": [
                {"id": name, "name": text, "body_share": share, "source": "Ebben et al. 2011"}
                for name, text, share in (
                    ("hands-60", "hands on the bench", 0.41),
                    ("knees", "on the knees", 0.49),
                    ("flat", "on the floor", 0.64),
                    ("feet-60", "feet on the bench", 0.74),
                )
            ]
        },
        "rucksack-row": {
            **USUAL["row"],
            "short": "ROW",
            "sides": "left first",
            "version": [{"id": "light", "name": "rucksack", "load": loads(4, 20, 2)}],
        },
        "squat": {
            "short": "SQUAT",
            "version": [{"id": "rucksack", "name": "rucksack", "load": loads(4, 24, 2)}],
        },
    },
    [{"push-up": 3, "rucksack-row": 3}, {"squat": 3}],
    effort={"reps": [8, 20]},
    week={"sessions": [3, 3], "sets": [6, 12]},
)
MORNING = datetime(2026, 10, 5, 6, 30, tzinfo=ZoneInfo("Europe/Berlin"))  # a Monday
STEPS_ASIDE = 3.0  # seconds from the end of a set to its count
Say = Callable[[str], None]


class Quiet:
    """Plays nothing."""

    def play(self, name: str, late_s: float = 0.0) -> None:
        del name, late_s


@dataclass
class Winter:
    """One trainee's sessions: the same person and days as in the story by the rules alone."""

    person: Person
    days: tuple[int, ...]
    hurts: dict[int, str]
    unwell: frozenset[int]
    data: Path
    plan: str = "kestrel-hut"
    where: str = "the low back"  # it hurts
    left_out: tuple[int, int, str] = (0, 0, "")  # from one day up to another, an exercise
    typed_in: int = 0  # after so many weeks, from paper; 0: at once
    own: dict[str, int] = field(default_factory=dict)  # levels chosen on paper
    trained: list[int] = field(default_factory=list)
    accepted: list[tuple[int, str, str, str]] = field(default_factory=list)  # day, id, rule, kind
    offers: list[tuple[int, str]] = field(default_factory=list)  # day, word taken

    @classmethod
    def of(cls, story: by_rules.Story, data: Path, *, short: bool = False) -> Winter:
        plan = "kestrel-hut" if story.file == by_rules.PLAN else str(story.file)
        if short and plan == "kestrel-hut":
            path = data / "plans" / "three.toml"
            path.parent.mkdir(parents=True)
            path.write_text(SHORT, encoding="utf-8")
            plan = "three"
        hurts, where = dict(story.hurts), story.where or "the low back"
        found = cls(story.person, story.days, hurts, story.unwell, data, plan, where)
        found.left_out, found.typed_in = story.left_out, story.typed_in
        return found

    def run(self, say: Say) -> Winter:
        """Go through the winter."""
        plan = read_plan(find_plan(self.plan, self.data))
        self.person.meet(compile_session(plan, plan.session[0].id).exercises)
        say(f"# {self.person.name}")
        week = 0
        for day in self.days:
            if day // 7 + 1 != week:
                week = day // 7 + 1
                say(f"\n## week {week}")
            if not self.typed_in:
                self._session(day, say)
            elif day + 3 >= week * 7 and week % self.typed_in == 0:
                self._type_in([d for d in self.days if week - self.typed_in <= d // 7 < week], say)
        return self

    def _type_in(self, days: Sequence[int], say: Say) -> None:
        """Write up a month of sessions from paper, then answer what is advised."""
        clock = ManualClock(MORNING + timedelta(days=days[-1], hours=12))
        for day in days:
            on = (MORNING + timedelta(days=day)).date()
            paper = open_paper(
                self.plan, data=self.data, trainee=self.person.name, clock=clock, on=on
            )
            with paper.record:
                lines = iter([*self._on_paper(paper, on), "", "y"])
                talk = Talk(lines, io.StringIO(), io.StringIO(), terminal=False)
                assert write_up(paper, talk, yes=False) == 0
            self.trained.append(day)
            say(f"{on:%a %d %b}, on paper")
        plan = read_plan(find_plan(self.plan, self.data))
        workouts = [compile_session(plan, one.id) for one in plan.session]
        with Record.open(record_path(self.data, trial=False)) as record:
            advisor = Advisor(record, self.person.name, workouts, clock.local(), plan=plan)
            for number, item in enumerate(advisor.items, 1):
                for line in exercise_lines(number, item):
                    say(f"  {line}")
            for item in list(advisor.items):
                if item.open and item.advice.change is not None:
                    change = advisor.accept(item)
                    self._note(days[-1], item, change.kind)
                    if change.kind == "move" and change.index is not None:
                        self.own[item.exercise.id] = change.index

    def _on_paper(self, paper: Paper, on: date) -> Iterator[str]:
        """The lines of a session: the load really used where it is another, and the counts."""
        for page in paper.pages:
            exercise, form = page.exercise, self.person.day()
            index = self.own.setdefault(exercise.id, self._chosen(exercise))
            if find_level(exercise, page.level) != index:
                yield f"load {exercise.progression[index].load:g}"
            sets = []
            for nth in range(len(page.planned_sets)):
                sides = [
                    self.person.do(exercise, index, nth, form, exercise.reserve)[0]
                    for _ in exercise.side_order
                ]
                sets.append(" ".join(f"{count:g}" for count in sides))
            yield ", ".join(sets)
            self.person.train(exercise.id, on)

    def _chosen(self, exercise: Exercise) -> int:
        """Where the person reaches ten or more with the aim in reserve: by feel, as on paper."""
        able = [self.person.able(exercise, i, 0, 1.0) for i in range(len(exercise.progression))]
        return max((i for i, n in enumerate(able) if n >= 10 + exercise.reserve), default=0)

    def _session(self, day: int, say: Say) -> None:
        clock = ManualClock(MORNING + timedelta(days=day))
        opening = prepare(self.plan, data=self.data, trainee=self.person.name, clock=clock)
        connection = opening.record._connection
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("PRAGMA journal_mode = MEMORY")
        try:
            self._whole(day, opening, clock, say)
        finally:
            opening.record.close()

    def _whole(self, day: int, opening: Opening, clock: ManualClock, say: Say) -> None:
        live = opening.begin(Quiet())
        driver = live.driver
        driver.open()
        say(f"{clock.local():%a %d %b}, session {opening.workout.session}")
        for line in opening.warnings:
            say(f"  ! {line}")
        if day in self.unwell:
            driver.send(cmd.Unwell())
            say("  not started: ill, or a new pain")
            return
        for offer in opening.baseline.offers:
            driver.send(cmd.Take(offer.kind))
            self.offers.append((day, offer.kind))
            for line in offer_lines(offer):
                say(f"  taken: {line}")
        if self.trained:
            self.person.rest(day - self.trained[-1])
        driver.send(cmd.Weigh(self.person.mass))
        driver.send(cmd.Proceed())
        first, last, name = self.left_out
        if first <= day < last:
            planned_sets = driver.state.course.planned_sets
            none = tuple((s.exercise, s.number) for s in planned_sets if s.exercise == name)
            driver.send(cmd.LeaveOut(none, "it hurts"))
        self._sets(day, live, clock)
        self.trained.append(day)
        self._after(day, opening, live, say)

    def _sets(self, day: int, live: Live, clock: ManualClock) -> None:
        """Do every set when its time comes, and enter its count a little later."""
        driver, nth = live.driver, dict[str, int]()
        form = {name: self.person.day() for name in live.driver.state.workout.exercises}
        while driver.state.phase != "wrap-up":
            state = driver.state
            if state.phase == "warm-up":
                clock.advance(state.workout.warm_up)
                driver.send(cmd.Proceed())
                continue
            wait = driver.seconds_to_wake()
            row = state.running
            if row is None:
                clock.advance(max(wait or 0.0, 0.001))
                driver.tick()
                continue
            number = nth.setdefault(row.planned_set.exercise, 0)
            count = self._count(live, row, number, form[row.planned_set.exercise])
            exercise = state.exercise(row)
            hold = exercise.measure == "hold"
            clock.advance(
                max(count.value if hold else count.value * row.planned_set.level.seconds_a_rep, 3)
            )
            driver.send(cmd.Proceed())
            if row.side in ("both", exercise.side_order[-1]) and row.planned_set.kind == "work":
                nth[row.planned_set.exercise] = number + 1
            if not hold:
                clock.advance(STEPS_ASIDE)
                driver.send(cmd.Enter("reps", (count,)))
            if self.hurts.get(day) == row.planned_set.exercise and number == 1:
                driver.send(cmd.Hurt(self.where))

    def _count(self, live: Live, row: Row, nth: int, form: float) -> cmd.Count:
        state = live.driver.state
        exercise = state.exercise(row)
        index = find_level(exercise, row.planned_set.level)
        level_finding = exercise.id in state.workout.level_finding
        most = stop_at(exercise) if level_finding else None
        aimed = LEAVE[0] if level_finding else exercise.reserve
        if row.planned_set.kind == "ramp":
            return cmd.Count(5)
        value, named = self.person.do(exercise, index, nth, form, aimed, most)
        return cmd.Count(value, named)

    def _after(self, day: int, opening: Opening, live: Live, say: Say) -> None:
        driver = live.driver
        driver.send(cmd.Rate(7))
        driver.send(cmd.Proceed())
        for name in dict.fromkeys(row.planned_set.exercise for row in driver.state.rows):
            self.person.train(name, opening.clock.local().date())
        after = SessionComparison(opening, live)
        for section in after.sections():
            for line in section.lines:
                say(f"  {section.title}: {line}")
        self._accept(day, after, live, say)

    def _accept(self, day: int, after: SessionComparison, live: Live, say: Say) -> None:
        advisor = after.advisor()
        done = {row.planned_set.exercise for row in live.driver.state.rows}
        for item in list(advisor.items):
            if item.open and item.exercise.id in done and item.advice.change is not None:
                change = advisor.accept(item)
                self._note(day, item, change.kind)
                if change.kind == "recovery":
                    keeps = self.person.keeps
                    keeps[item.exercise.id] = min(keeps[item.exercise.id] + 0.03, 0.97)
        lighter = advisor.lighter
        if lighter is not None:
            advisor.answer_lighter(lighter, accepted=True)
            self.accepted.append((day, "", "lighter week", "lighter week"))
            say(f"  accepted: {lighter.line}")

    def _note(self, day: int, item: ExerciseAdvice, kind: str) -> None:
        self.accepted.append((day, item.id, item.advice.rule, kind))


def winters(folder: Path, *, short: bool = False) -> Iterator[Winter]:
    """All of them, each with a record of their own."""
    for made in by_rules.STORIES:
        yield Winter.of(made(), folder / made.__name__, short=short)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as where:
        for winter in winters(Path(where), short="--short" in sys.argv):
            winter.run(lambda line: print(line, file=sys.stdout))  # noqa: T201
            print()  # noqa: T201
