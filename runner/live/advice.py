"""A trainee's working levels, the advice for each exercise, and the answers to it.

`matside next` and the screens after a session use it. Nothing changes before the trainee accepts
it; an answer and what it changes are kept in one transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import FIRST, LATER, GroupKey, working_index
from runner.law.workout import Exercise, Level, Workout
from runner.live.driver import Store
from runner.live.history import Past, past_of
from runner.plan.compile import compile_plan
from runner.plan.models import Plan
from runner.progress.adjust import Adjustment, adjusted
from runner.progress.advice import counted, load_lines, rule_text, with_free_substitutes
from runner.progress.answers import (
    AS_PLANNED,
    BY_HAND,
    Answer,
    accepted,
    in_force,
    is_answered,
    left_out,
    left_out_line,
    lighter_until,
    positions,
    refused,
)
from runner.progress.going_up import still_needs
from runner.progress.history import PastSession
from runner.progress.layoff import LighterWeek, layoff_of, lighter_week, needs_after
from runner.progress.levels import USED, WorkingLevel, in_progressions
from runner.progress.pain import no_step_up, pains_of, substitutes
from runner.progress.rules import (
    Advice,
    Change,
    CurrentLevel,
    advise,
    is_new,
    remarks,
    said_lately,
    shows_again,
)
from runner.progress.week_aims import under_aim
from runner.progress.weeks import counts_for_week
from runner.record.decisions import LevelDecision
from runner.record.past import DecisionRow
from runner.record.record import Record
from runner.session.apply import Refused
from runner.session.changes import level_text
from runner.text import long_day

LIGHTER_WEEK: Final = "lighter week"
MORE_SETS: Final = 2  # exercises of a session that may get one set more; our choice
PAIN_SHOWN: Final = timedelta(days=28)  # days for which it may hold advice back; our choice
QUIET: Final = timedelta(days=21)  # days after an answer to a lighter week; our choice


class ExerciseAdvice(Struct, frozen=True):
    """One exercise and group of sets: its working level, and the advice."""

    current: CurrentLevel
    working: WorkingLevel | None  # since when, and why; None: no level yet
    advice: Advice
    answered: bool  # answered, and nothing new done since
    parts: tuple[tuple[str, Level], ...]  # "first" and "later" sets with a level of their own
    adjustments: tuple[Adjustment, ...]
    left_out: tuple[str, ...] = ()  # swaps that were accepted and are not in force, in lines
    gone: str = ""  # the version of the last working level, if the plan no longer has it
    load: tuple[str, ...] = ()  # what is known of the load, in lines
    needs: str = ""  # what the next step up still needs, in counts
    remarks: tuple[Advice, ...] = ()  # remarks beside the advice
    lately: tuple[Advice, ...] = ()  # remarks that are still true, and were made lately
    pain: tuple[tuple[str, date], ...] = ()  # recent pain: where ("" unknown) and when
    lighter: date | None = None  # the last day of its lighter week, while that runs

    @property
    def exercise(self) -> Exercise:
        """The exercise."""
        return self.current.exercise

    @property
    def name(self) -> str:
        """The exercise's name, with the group of sets if the plan names one."""
        group = self.current.group
        return f"{self.exercise.name} ({group})" if group else self.exercise.name

    @property
    def id(self) -> str:
        """Its name on the command line: press, or press/slow."""
        group = self.current.group
        return f"{self.exercise.id}/{group}" if group else self.exercise.id

    @property
    def level(self) -> Level:
        """The working level."""
        return self.exercise.progression[self.current.index]

    @property
    def changes(self) -> tuple[Change, ...]:
        """What may be accepted, the proposed change first."""
        first = () if self.advice.change is None else (self.advice.change,)
        return (*first, *self.advice.others)

    @property
    def open(self) -> bool:
        """Whether there is advice to answer."""
        return bool(self.changes) and not self.answered

    @property
    def tells(self) -> bool:
        """Whether the advice is a message that is due and asks for no answer."""
        lasts = self.advice.lately or self.advice.rule in ("stay", "pain", "layoff")
        return not self.changes and not lasts

    @property
    def proposes(self) -> bool:
        """Whether a change is advised now; "stay" may still name an alternative."""
        return self.open and self.advice.rule != "stay" and not self.advice.lately


class Advisor:
    """A trainee's levels and advice in some sessions of a plan; reads again after each answer."""

    def __init__(
        self,
        record: Record,
        trainee: str,
        workouts: Sequence[Workout],
        now: datetime,
        *,
        session_id: str | None = None,
        past: Past | None = None,
        plan: Plan | None = None,
        week: Sequence[Workout] | None = None,
        on: date | None = None,
        write: Callable[[Callable[[Store], None]], None] | None = None,
        brief: bool = False,
    ) -> None:
        """`session_id` is the session just done, after which the answers are given.

        `past` is what was done, where it has been read already. `plan` says what a week aims at,
        and which sessions it has; without it, its sessions are `workouts`. `week` has them where
        they are compiled already. Answers are of the local date `on`, by default that of `now`.
        `write` takes them to another store's thread; without it they are kept here, and the record
        is read again after each. `brief`: levels and advice alone, for a roster; a level's day is
        then not its first.
        """
        self._write = write
        self._brief = brief
        self._on = on or now.date()
        self._record, self.trainee = record, trainee
        self._workouts, self._now = workouts, now
        self._session = session_id
        self._plan = plan
        if week is None:
            week = workouts if plan is None else compile_plan(plan)
        self._week = self._week_now = list(week)
        self._names = {e.id: e.name for w in workouts for e in w.exercises.values()}
        self.past: Past = past or past_of(record, trainee, now.date(), running=session_id)
        self._today = now.date()
        self.pains = pains_of(self.past.rows)
        self._hurt = {pain.exercise for pain in self.pains if pain.rests(self._today)}
        done = {row.session_id for row in self.past.rows if counts_for_week(row)}
        trained = [s.local_date for s in self.past.sessions if s.session_id in done]
        self.layoff = layoff_of(trained, self._today)
        self._answers: list[Answer] = []
        self._working_levels: dict[GroupKey, int] = {}
        self._levels: dict[GroupKey, WorkingLevel] = {}
        self._exercises: dict[str, Exercise] = {}
        self.items: list[ExerciseAdvice] = []
        self.again()

    def again(self) -> None:
        """Read again after an answer."""
        self._answers = self._record.answers(self.trainee)
        known = {e.id: e for w in self._workouts for e in w.exercises.values()}
        self._levels = self._record.levels(self.trainee, self._workouts, since=not self._brief)
        self._exercises, self._working_levels = in_progressions(known, self._levels)
        self.items = list(self._all())

    @property
    def lighter(self) -> Advice | None:
        """A lighter week, where two exercises fall back; None where one was answered lately.

        A whole lighter week taken for a flat exercise counts too. After a layoff everybody is
        weaker for a while, so only sessions since then count. A lighter week must be over, and a
        session done after it, before there is another.
        """
        today = self._now.date()
        given_on = [
            one.on
            for one in self._answers
            if one.rule == LIGHTER_WEEK
            or (one.accepted and one.change.get("kind") == LIGHTER_WEEK and _whole(one))
        ]
        if given_on and today - max(given_on) < QUIET:
            return None
        found = self._falling_back(today)
        if found is None:
            return None
        change = Change("lighter week", "a lighter week, from today")
        return Advice("", "", LIGHTER_WEEK, found.text, change)

    def _falling_back(self, until: date) -> LighterWeek | None:
        """The exercises that fall back by the sessions up to a date, since the last layoff."""
        since = None if self.layoff is None else self.layoff.back
        recent = {
            key: [s for s in sessions if (since is None or s.on >= since) and s.on <= until]
            for key, sessions in self.past.by_exercise.items()
        }
        aims = {s.exercise.id: s.exercise.reserve for s in self.items}
        return lighter_week(recent, aims, self._names)

    @property
    def lighter_until(self) -> date | None:
        """The last day of a lighter week of every exercise, while it runs."""
        return lighter_until(self._answers, self._today)

    def shows(self, item: ExerciseAdvice) -> bool:
        """Whether the end of a session shows the proposal in full: it is new, or old enough."""
        return is_new(item.current, self.past.of(item.exercise.id, item.current.group))

    @property
    def shows_lighter(self) -> bool:
        """The same for a lighter week, by the days with a session."""
        all_of = (s.on for sessions in self.past.by_exercise.values() for s in sessions if s.begun)
        *before, _ = sorted(set(all_of)) or [self._today]
        return shows_again(self._falling_back(on) is not None for on in reversed(before))

    def _all(self) -> Iterator[ExerciseAdvice]:
        decided = {(d.exercise, d.group): d for d in self._record.level_decisions(self.trainee)}
        known = self._record.body_mass(self.trainee)
        each = [in_force(self._answers, workout=one) for one in self._week]
        self._week_now = [adjusted(w, {}, a)[0] for w, a in zip(self._week, each, strict=True)]
        agreed = tuple(dict.fromkeys(one for some in each for one in some))
        under = self._under_aim()
        room = _Room(self._week, agreed)
        for exercise, group in _keys(self._workouts):
            wanted = not under.isdisjoint(exercise.prime) and room.has(exercise.id)
            mass = None if known is None else known[0]
            gone = self._gone(exercise, group, decided.get((exercise.id, group)))
            used = self._exercises[exercise.id]
            item = self._item(used, group, gone, mass, agreed, room=wanted)
            if item.advice.rule == "one set more":
                room.take(exercise.id)
            yield item

    def _gone(self, exercise: Exercise, group: str, decision: DecisionRow | None) -> str:
        """The version last trained or decided on, if the plan no longer has it."""
        past = reversed(self.past.of(exercise.id, group))
        used = next(([(one.on, one.use.version)] for one in past if one.use), [])
        decided = [] if decision is None else [(decision.local_date, decision.version)]
        last = max((*used, *decided), default=None)
        versions = {level.version for level in exercise.progression}
        return last[1] if last is not None and last[1] not in versions else ""

    def _pain(self, exercise: str) -> tuple[tuple[str, date], ...]:
        """Where an exercise hurt recently, and when, the newest first."""
        since = self._now.date() - PAIN_SHOWN
        found = {
            (done.pain_where, session.on)
            for (name, _), sessions in self.past.by_exercise.items()
            for session in sessions
            for done in session.sets
            if name == exercise and done.pain and session.on >= since
        }
        return tuple(sorted(found, key=lambda one: (one[1], one[0]), reverse=True))

    def _with_free(self, exercise: Exercise, agreed: Sequence[Adjustment]) -> Exercise:
        """The exercise with the substitutes that this week's sessions leave free.

        No advice brings back an exercise that was given up for another: two that are each other's
        substitutes would change places for ever.
        """
        given_up = {one.exercise for one in agreed if one.kind == "swap"}
        free = with_free_substitutes(exercise, self._week_now)
        return replace(free, instead=tuple(n for n in free.instead if n not in given_up))

    def _under_aim(self) -> frozenset[str]:
        """Muscles with too few sets in the planned week, adjustments included."""
        if self._plan is None:
            return under_aim(self._week_now, None, {})
        week = self._plan.week
        targets = {str(name): (float(a), float(b)) for name, (a, b) in week.muscles.items()}
        every = None if week.sets is None else (float(week.sets[0]), float(week.sets[1]))
        return under_aim(self._week_now, week.sessions, targets, every)

    def _item(
        self,
        exercise: Exercise,
        group: str,
        gone: str,
        mass: float | None,
        agreed: Sequence[Adjustment],
        *,
        room: bool,
    ) -> ExerciseAdvice:
        index = working_index(exercise, group, self._working_levels)
        first = self._working_levels.get((exercise.id, FIRST + group))
        later = self._working_levels.get((exercise.id, LATER + group))
        refusals = refused(self._answers, exercise.id, group)
        bridge = first if first is not None and first != index else None
        since, tried = accepted(self._answers, exercise.id, group)
        here = self._with_free(exercise, agreed).at(exercise.progression[index].version)
        offered = substitutes(here, self._exercises, self._hurt)
        current = CurrentLevel(
            replace(here, instead=offered),
            index,
            group,
            bridge,
            mass,
            refusals,
            since,
            tried,
            room,
            no_step_up(exercise, self.pains, self._today),
            self.layoff,
            offered if exercise.id in self._hurt else (),
        )
        past = self.past.of(exercise.id, group)
        advice = self._by_name(advise(current, past))
        parts = [("first", bridge), ("later", later if later != index else None)]
        return ExerciseAdvice(
            current,
            self._levels.get((exercise.id, group)),
            advice,
            is_answered(advice, self._answers, past[-1].on if past else None),
            tuple((name, exercise.progression[at]) for name, at in parts if at is not None),
            tuple(one for one in agreed if one.exercise == exercise.id),
            tuple(self._left_out(exercise, agreed)),
            gone,
            *(() if self._brief else self._beside(current, past, advice)),
        )

    def _left_out(self, exercise: Exercise, agreed: Sequence[Adjustment]) -> Iterable[str]:
        """The swaps of an exercise that no session can have."""
        return dict.fromkeys(
            left_out_line(one, workout)
            for workout in self._week
            for one in left_out(self._answers, workout)
            if one.exercise == exercise.id and one not in agreed
        )

    def _beside(
        self, current: CurrentLevel, past: Sequence[PastSession], advice: Advice
    ) -> tuple[Any, ...]:
        """What `next` says beside the advice."""
        return (
            tuple(load_lines(current, past)),
            _needs_of(current, past, advice),
            tuple(remarks(current, past)),
            tuple(said_lately(current, past)),
            self._pain(current.exercise.id),
            lighter_until(self._answers, self._today, current.exercise.id),
        )

    def _by_name(self, advice: Advice) -> Advice:
        """Substitutes by their names; the rules know only ids."""
        change = None if advice.change is None else self._instead(advice.change)
        return replace(advice, change=change, others=tuple(map(self._instead, advice.others)))

    def _instead(self, change: Change) -> Change:
        if change.kind != "swap" or change.exercise is None:
            return change
        return replace(change, text=f"{self._names.get(change.exercise, change.exercise)} instead")

    # Answers. All raise Unwritable if the record cannot be written.

    def accept(self, item: ExerciseAdvice, choice: int = 1) -> Change:
        """Accept an advised change: the proposed one, or another by its number.

        Raises Refused if no change is advised, or none has that number.
        """
        if not item.changes:
            why = f": {item.advice.reason}" if item.advice.rule in ("pain", "layoff") else ""
            raise Refused(f"{item.name}: no change is advised{why}")
        if not item.open:
            raise Refused(f"{item.name}: you answered this; do a session first")
        if not 1 <= choice <= len(item.changes):
            raise Refused(f"{item.name}: the choices are 1 to {len(item.changes)}")
        change = item.changes[choice - 1]
        advice = item.advice
        reason = f"{rule_text(advice.rule)} ({advice.source}): {advice.reason}"
        answer = Answer.to(_with(advice, change), self._on, accepted=True)
        progression = item.exercise.progression
        decisions = [
            LevelDecision(item.exercise.id, group, progression[index], reason)
            for group, index in positions(item.current, change, self._working_levels)
        ]
        self._keep(answer, decisions)
        return change

    def refuse(self, item: ExerciseAdvice) -> None:
        """Refuse the advice; it pauses until something new is done. Raises Refused."""
        if not item.open:
            raise Refused(f"{item.name}: no change is advised")
        self._keep(Answer.to(item.advice, self._on, accepted=False), [])

    def answer_lighter(self, advice: Advice, *, accepted: bool) -> None:
        """Accept or refuse a lighter week."""
        self._keep(Answer.to(advice, self._on, accepted=accepted), [])

    def set_by_hand(self, item: ExerciseAdvice, index: int) -> None:
        """Decide on a level of the progression, for all sets of the group."""
        move = Change("move", level_text(item.exercise.progression[index]), index)
        decisions = [
            LevelDecision(item.exercise.id, group, item.exercise.progression[at], BY_HAND)
            for group, at in positions(item.current, move, self._working_levels)
        ]
        self._keep(None, decisions)

    def decided(self, name: str, wanted: Level) -> str:
        """What setting a level by hand did: the level of a later session stays in force."""
        text = level_text(wanted)
        level = self.find(name).working
        if level is None or level.reason != USED or level.on <= self._on:
            return f"{text} from now on"
        stays = level_text(self.find(name).level)
        on = long_day(level.on)
        return f"{text} on {self._on}, but a session on {on} came later; its {stays} stays in force"

    def as_planned(self, item: ExerciseAdvice) -> None:
        """End the adjustments beside the level: recovery, sets, substitutes. Raises Refused."""
        if not (item.adjustments or item.left_out) and item.lighter is None:
            raise Refused(f"{item.name}: everything is as planned")
        exercise, group = item.exercise.id, item.current.group
        self._keep(Answer(exercise, group, AS_PLANNED, "", {}, accepted=True, on=self._on), [])

    def _keep(self, answer: Answer | None, decisions: Iterable[LevelDecision]) -> None:
        decisions = tuple(decisions)

        def keep(store: Store) -> None:
            store.agree(self.trainee, answer, decisions, self._now, self._session, on=self._on)

        if self._write is not None:
            self._write(keep)
            return
        keep(self._record)
        self.again()

    def find(self, name: str) -> ExerciseAdvice:
        """The entry called `press` or `press/slow`. Raises Refused with what there is."""
        for item in self.items:
            if name == item.id:
                return item
        ids = ", ".join(item.id for item in self.items)
        raise Refused(f"unknown exercise {name!r}; the plan has {ids}")


class _Room:
    """Which exercises may get one set more: two of a session at most, with those that have it."""

    def __init__(self, week: Sequence[Workout], agreed: Iterable[Adjustment]) -> None:
        self._sessions = [{i.exercise for b in one.blocks for i in b.items} for one in week]
        self._more = {one.exercise for one in agreed if one.kind == "sets" and one.number > 0}

    def has(self, exercise: str) -> bool:
        """Whether none of its sessions has two others with one set more."""
        return all(
            len((self._more - {exercise}) & session) < MORE_SETS
            for session in self._sessions
            if exercise in session
        )

    def take(self, exercise: str) -> None:
        """One set more is proposed for it."""
        self._more.add(exercise)


def _whole(answer: Answer) -> bool:
    """Whether a lighter week is one of every exercise."""
    return not answer.change.get("exercise")


def _with(advice: Advice, change: Change) -> Advice:
    return Advice(advice.exercise, advice.group, advice.rule, advice.reason, change)


def _keys(workouts: Sequence[Workout]) -> Iterator[tuple[Exercise, str]]:
    """Every exercise and group of sets of some sessions, once, in their order."""
    seen: set[GroupKey] = set()
    for workout in workouts:
        for block in workout.blocks:
            for item in block.items:
                for group in item.versions or ("",):
                    if (item.exercise, group) not in seen:
                        seen.add((item.exercise, group))
                        yield workout.exercises[item.exercise], group


def _needs_of(current: CurrentLevel, past: Sequence[PastSession], advice: Advice) -> str:
    """What the next step up still needs; after a layoff what has to come before that."""
    if not past or advice.rule == "pain":
        return ""
    needs = still_needs(current, past)
    if advice.rule != "layoff" or current.layoff is None:
        return needs
    bottom = current.exercise.rep_range[0]
    back = needs_after(current.layoff, past, counted(current, bottom), bottom)
    return f"{back}, then {needs}" if needs else back


def open_ones(items: Sequence[ExerciseAdvice]) -> list[tuple[int, ExerciseAdvice]]:
    """The exercises with a change advised, with their numbers."""
    return [(number, item) for number, item in enumerate(items, 1) if item.proposes]
