"""What a review shows: one trainee's period, read from the record once.

Sets of open sessions count too, for they were done. Everything goes by the local date on which a
session began.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from statistics import fmean

from msgspec import Struct
from msgspec.structs import replace

from runner.law.weekly_sets import AIM
from runner.law.workout import Workout
from runner.live.history import as_it_was
from runner.planning.forecast import session_steps, total
from runner.progress.adjust import Adjustment, Baseline, adjusted
from runner.progress.history import PastSession, SetRow, Use, iso_week, monday_of, sessions_of
from runner.progress.pain import Pain, pains_of
from runner.progress.session_stats import (
    Length,
    PairedAgainstStraight,
    RecoveryHad,
    numbers_of,
    paired_against_straight,
    recovery_had,
    values_of,
)
from runner.progress.week_aims import MuscleWeek, against_targets
from runner.progress.weeks import (
    SidesApart,
    TrainedMuscle,
    Week,
    counts_for_week,
    last_trained,
    sides_apart,
    weeks_between,
)
from runner.record.past import Planned, SessionRow
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.tables import PlansAsTheyWere, weeks_of_record
from runner.session.events import Opened

WEEKS = 12  # weeks shown where no period is asked for; our choice
IN_FULL = 3  # sessions; our choice
DUE_WITHIN = timedelta(days=60)  # a muscle not trained for longer is not listed; our choice


class Point(Struct, frozen=True):
    """One session of one exercise."""

    past: PastSession
    plan: str
    values: tuple[float, ...]  # of each set with a count; of one-sided work the mean of both sides
    numbers: tuple[int, ...]  # which work set each value is of, from 1
    new: bool  # version, set-up, load or tempo differ from the session before

    @property
    def mean(self) -> float:
        """Counts a set; 0 where no set has one."""
        return fmean(self.values) if self.values else 0.0


class Trend(Struct, frozen=True):
    """An exercise over its sessions, oldest first."""

    exercise: str
    name: str  # as it was called last
    earlier: tuple[str, ...]  # what else it was called
    hold: bool
    pattern: str
    gone: bool  # the plan of the newest session lacks it
    points: tuple[Point, ...]


class WeekReview(Struct, frozen=True):
    """One week, also one in which nothing was done."""

    week: Week
    planned: Planned
    sessions: tuple[SessionRow, ...]
    done: Mapping[str, int]  # exercise name -> work sets
    partly: bool  # the period holds a part of it alone

    @property
    def muscles(self) -> list[MuscleWeek]:
        """Each muscle's sets against what was aimed at; also those that the plan would train."""
        plan = self.planned
        return against_targets(self.week, plan.targets, plan.all_muscles, plan.muscles)

    def runs(self, day: date) -> bool:
        """Whether a day is in this week, so that more may be done in it."""
        return self.week.monday == monday_of(day)


class WeekSpan(Struct, frozen=True):
    """One week of the period, or several in a row in which no work set was done."""

    first: date  # Monday
    last: date  # Monday of the last week; of a single week the same
    review: WeekReview  # of several weeks the last one

    @property
    def name(self) -> str:
        """2026-W48, or 2026-W48 to 2027-W02."""
        first, last = iso_week(self.first), iso_week(self.last)
        same_year = first[:4] == last[:4]
        return first if first == last else f"{first} to {last[5:] if same_year else last}"

    def sets(self, muscle: str) -> float:
        """Sets of a muscle in that week, or in each of these weeks."""
        return self.review.week.by_muscle.get(muscle, 0.0)

    def band(self, muscle: str) -> tuple[float, float]:
        """Sets aimed at: the plan's, else the published ones."""
        return self.review.planned.target(muscle) or AIM


class SessionReview(Struct, frozen=True):
    """One session in full."""

    row: SessionRow
    exercises: tuple[tuple[str, PastSession], ...]  # name and what was done, in order
    length: Length | None
    recovery: RecoveryHad | None


class Best(Struct, frozen=True):
    """The best of one exercise at one version, set-up, load and tempo, by plain counts.

    Work sets that were done, with a number and without pain. The best set is one side's; a
    session's total has both sides.
    """

    exercise: str
    use: Use
    value: float
    on: date  # of the first time
    total: float
    total_on: date


class Past(Struct, frozen=True):
    """Everything that the pages show."""

    trainee: str
    since: date
    until: date
    asked: bool  # the period was asked for
    sessions: tuple[SessionRow, ...]
    trends: tuple[Trend, ...]
    weeks: tuple[WeekReview, ...]
    last: tuple[SessionReview, ...]  # newest first
    bests: tuple[Best, ...]  # of the whole record to the end of the period
    names: Mapping[str, str]  # exercise id -> name, also of those in bests alone
    trained: Mapping[str, TrainedMuscle]
    apart: tuple[SidesApart, ...]
    paired: tuple[PairedAgainstStraight, ...]
    pains: tuple[Pain, ...]  # sessions in which an exercise hurt

    @property
    def week_runs(self) -> list[WeekSpan]:
        """Every week of the period, oldest first; weeks without a work set in a row as one."""
        runs: list[WeekSpan] = []
        if not self.weeks:
            return runs

        def add(first: date, last: date, review: WeekReview) -> None:
            if runs and not review.week.sets and not runs[-1].review.week.sets:
                first = runs.pop().first
            runs.append(WeekSpan(first, last, review))

        one = timedelta(weeks=1)
        begin, end = monday_of(self.since), monday_of(self.until)
        known, newest = self.weeks[0].week.monday, self.weeks[-1].week.monday
        if begin < known:
            add(begin, known - one, _empty(known - one, self.weeks[0].planned))
        for review in self.weeks:
            add(review.week.monday, review.week.monday, review)
        if newest < end:
            add(newest + one, end, _empty(end, self.weeks[-1].planned))
        return runs


def _empty(monday: date, planned: Planned) -> WeekReview:
    return WeekReview(Week(iso_week(monday), 0, 0, {}, {}), planned, (), {}, partly=False)


def look_back(
    record: Record,
    trainee: str,
    *,
    since: date | None = None,
    until: date | None = None,
) -> Past | None:
    """A trainee's past; None where nothing was done in that time.

    Without a period: the `WEEKS` weeks that end with the newest session. The last `IN_FULL`
    sessions are given in full.
    """
    newest = record.last_trained(trainee)
    if newest is None:
        return None
    end = until or monday_of(newest) + timedelta(days=6)
    begin = since or monday_of(end) - timedelta(weeks=WEEKS - 1)
    period = Period(since=begin, until=end)
    sessions = record.sessions(trainee=trainee, **period)
    rows = list(record.period(trainee, **period))
    if not rows:
        return None
    plans = PlansAsTheyWere(record)
    found, names = _bests(record, trainee, end)
    recent = record.period(trainee, since=end - DUE_WITHIN, until=end)
    return Past(
        trainee,
        begin,
        end,
        since is not None or until is not None,
        tuple(sessions),
        tuple(_trends(rows, sessions, plans)),
        tuple(_weeks(record, trainee, period, sessions, rows)),
        tuple(_in_full(record, rows, sessions)),
        tuple(found),
        names,
        last_trained(recent),
        tuple(sides_apart(rows)),
        tuple(_paired(rows)),
        tuple(pains_of(rows)),
    )


def _trends(
    rows: Sequence[SetRow], sessions: Sequence[SessionRow], plans: PlansAsTheyWere
) -> Iterator[Trend]:
    """Exercises in the order of their patterns and names; those with a set done."""
    newest = plans[sessions[-1].plan_hash]
    hashes = {s.session_id: s.plan_hash for s in sessions}
    called: dict[str, list[str]] = {}
    for row in rows:
        called.setdefault(row.exercise, []).append(row.exercise_name)
    found = []
    for (exercise, _), past in sessions_of(rows).items():
        points = tuple(_points(past))
        if points:
            names = list(dict.fromkeys(reversed(called[exercise])))
            pattern = plans[hashes[past[-1].session_id]].patterns.get(exercise, "")
            gone = bool(newest.patterns) and exercise not in newest.patterns
            hold = past[-1].measure == "hold"
            trend = Trend(exercise, names[0], tuple(names[1:]), hold, pattern, gone, points)
            found.append(trend)
    yield from sorted(found, key=lambda t: (t.gone, t.pattern, t.name.casefold()))


def _points(past: Sequence[PastSession]) -> Iterator[Point]:
    before: Use | None = None
    for session in past:
        use = session.use
        if use is not None:
            new = before is not None and use != before
            values = tuple(values_of(session))
            yield Point(session, session.plan, values, numbers_of(session), new)
            before = use


def _weeks(
    record: Record,
    trainee: str,
    period: Period,
    sessions: Sequence[SessionRow],
    rows: Sequence[SetRow],
) -> Iterator[WeekReview]:
    known = {week.iso_week: (week, plan) for week, plan in weeks_of_record(record, trainee, period)}
    done: dict[str, dict[tuple[str, str, int], str]] = {}
    for row in rows:
        if counts_for_week(row):
            key = (row.session_id, row.exercise, row.set)
            done.setdefault(row.iso_week, {})[key] = row.exercise_name
    if not known:
        return
    planned = Planned()
    for name in weeks_between(min(known), max(known)):
        week, planned = known.get(name, (Week(name, 0, 0, {}, {}), planned))
        names = list(done.get(name, {}).values())
        since, until = period.get("since"), period.get("until")
        partly = (since is not None and week.monday < since) or (
            until is not None and until < week.monday + timedelta(days=6)
        )
        yield WeekReview(
            week,
            planned,
            tuple(s for s in sessions if s.iso_week == name),
            {n: names.count(n) for n in dict.fromkeys(names)},
            partly,
        )


def _in_full(
    record: Record, rows: Sequence[SetRow], sessions: Sequence[SessionRow]
) -> Iterator[SessionReview]:
    by_session: dict[str, list[SetRow]] = {}
    for row in rows:
        by_session.setdefault(row.session_id, []).append(row)
    shown = [s for s in reversed(sessions) if s.session_id in by_session][:IN_FULL]
    changes = record.adjustments(shown[0].trainee) if shown else {}
    for session in shown:
        of_session = by_session[session.session_id]
        names = {row.exercise: row.exercise_name for row in of_session}
        changed = changes.get(session.session_id, ())
        text = record.plan_text(session.plan_hash)
        workout = as_it_was(text, session.plan, session.session)
        past = sessions_of(of_session)
        yield SessionReview(
            session,
            tuple((names[exercise], done[0]) for (exercise, _), done in past.items()),
            _length(record, session, workout, changed),
            _recovery(of_session, None if workout is None else adjusted(workout, {}, changed)[0]),
        )


def _length(
    record: Record, session: SessionRow, workout: Workout | None, changed: Sequence[Adjustment]
) -> Length | None:
    """Against the forecast from what was known and agreed when it was opened."""
    if workout is None or session.length_s is None or session.complete != "yes":
        return None
    events = record.events(session.session_id)
    opened = next((e for e in events if isinstance(e, Opened)), None)
    baseline = Baseline() if opened is None else Baseline.from_data(opened.history)
    baseline = replace(baseline, changes=tuple(changed))
    return Length(total(session_steps(workout, baseline)), session.length_s)


def _recovery(rows: Sequence[SetRow], workout: Workout | None) -> RecoveryHad | None:
    sets = []
    for row in rows:
        if workout is not None and 1 <= row.block <= len(workout.blocks):
            law = workout.blocks[row.block - 1].timing.get(row.exercise)
            if law is not None:
                sets.append((row.recovery_s, law.recovery, law.recovery_least))
    return recovery_had(sets)


def _bests(record: Record, trainee: str, until: date) -> tuple[list[Best], dict[str, str]]:
    """Bests of the whole record, in the order in which each use first came; the latest names."""
    names: dict[str, str] = {}
    found: dict[tuple[str, Use], Best] = {}
    for one in record.uses(trainee, until=until):
        names[one.exercise] = one.exercise_name
        key = (one.exercise, Use(one.version, one.setup, one.load_kg, one.tempo))
        today = Best(*key, one.best, one.local_date, one.total, one.local_date)
        best = found.setdefault(key, today)
        if today.value > best.value:
            best = replace(best, value=today.value, on=today.on)
        if today.total > best.total:
            best = replace(best, total=today.total, total_on=today.on)
        found[key] = best
    return list(found.values()), names


def _paired(rows: Sequence[SetRow]) -> list[PairedAgainstStraight]:
    """Exercises done both in pairs and alone, by the blocks as they were really done."""
    together: dict[tuple[str, int], set[str]] = {}
    for row in rows:
        if counts_for_week(row):
            together.setdefault((row.session_id, row.block), set()).add(row.exercise)
    paired = [r for r in rows if len(together.get((r.session_id, r.block), ())) > 1]
    straight = [r for r in rows if len(together.get((r.session_id, r.block), ())) == 1]
    both = (sessions_of(some).values() for some in (paired, straight))
    ways = [[session for sessions in way for session in sessions] for way in both]
    # Of several versions and loads of an exercise the one that both ways know best.
    found = sorted(paired_against_straight(*ways), key=lambda way: min(way.sessions))
    return list({way.exercise: way for way in found}.values())
