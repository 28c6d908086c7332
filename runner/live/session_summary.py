"""What a session brought: beaten or not, advice, the week so far, the next session, measures.

One screen for a person, the same on the full screen and in line mode. Everything is read from the
record and computed by the rules; nothing here decides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from datetime import datetime
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from runner.errors import MatsideError
from runner.law.course import GroupKey
from runner.live.advice import Advisor, open_ones
from runner.live.driver import Store
from runner.live.history import Past, deload, past_of
from runner.live.session_setup import Live, Opening, due_on, due_session
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.plan.models import Plan
from runner.planning.forecast import session_steps, total
from runner.progress.history import PastSession, SessionFacts, sessions_of
from runner.progress.pain import pain_advice
from runner.progress.reps import Judgement, SetVerdict, judge
from runner.progress.session_stats import RecoveryHad, recovery_had, retention_of, session_load
from runner.progress.week_aims import against_targets, often
from runner.progress.weeks import HOURS_BETWEEN, last_trained, weeks_of
from runner.session.entries import set_name
from runner.session.events import Corrected, Entered, Event
from runner.session.state import Row, State
from runner.text import clock, long_day


class Section(Struct, frozen=True):
    """A few lines under one heading."""

    title: str
    lines: tuple[str, ...]
    names: tuple[str, ...] = ()  # of the exercises with a change advised


UNKNOWN = "unknown: the record could not be read before the session began"


class SessionComparison:
    """One session against what was before it."""

    def __init__(self, opening: Opening, live: Live) -> None:
        self._opening, self._live = opening, live
        self._read: tuple[tuple[int, str], Past] | None = None
        with suppress(MatsideError):  # read now, so that nobody waits for it at the first count
            _ = self._before

    @property
    def _state(self) -> State:
        return self._live.driver.state

    @property
    def _now(self) -> datetime:
        return self._opening.clock.local()

    @cached_property
    def _before(self) -> Past:
        """The past without this session."""
        past, day = self._opening.past, self._live.info.local_date
        if past is None or day != self._opening.clock.local().date():
            past = past_of(self._opening.record, self._opening.trainee, day)
        own = self._live.info.id
        others = {
            key: [s for s in sessions if s.session_id != own]
            for key, sessions in past.by_exercise.items()
        }
        return replace(past, by_exercise=others)

    def _with_this(self) -> Past:
        """The past with this session, read anew where something has happened."""
        key = (len(self._state.log), self._state.phase)
        if self._read is None or self._read[0] != key:
            info = self._live.info
            past = past_of(
                self._opening.record, self._opening.trainee, info.local_date, running=info.id
            )
            self._read = (key, past)
        return self._read[1]

    def _today(self) -> Mapping[GroupKey, list[PastSession]]:
        state, own = self._state, self._live.info.id
        facts = SessionFacts(
            {own: state.workout},
            level_finding=[(own, name) for name in state.workout.level_finding],
            deload=list(deload(own, state.adjustments)),
        )
        return sessions_of(self._live.rows(), facts)

    def judgements(self) -> Iterator[tuple[GroupKey, Judgement]]:
        """How each exercise and group of sets did today, where it can be judged."""
        if self._opening.record.unread:
            return
        for key, (today, *_) in self._today().items():
            if today.counted and not today.level_finding and not today.deload:
                yield key, judge(today, self._before.of(*key))

    def verdict(self, row: Row) -> SetVerdict | None:
        """How one entry compares; None where there is nothing to say."""
        return self._of(row)[1]

    def new_count(self, row: Row) -> str:
        """Why a row has no count to beat although its exercise was done before, if so."""
        judged, _ = self._of(row)
        known = judged is not None and not judged.new_count.startswith("first time")
        return judged.new_count if judged is not None and known else ""

    def _of(self, row: Row) -> tuple[Judgement | None, SetVerdict | None]:
        """The judgement that an entry is part of, and what it says of it."""
        for (name, _), judged in self.judgements():
            for one in judged.sets if name == row.planned_set.exercise else ():
                if (one.number, one.side) == (row.planned_set.number, row.side):
                    return judged, one
        return None, None

    def advisor(self, write: Callable[[Callable[[Store], None]], None] | None = None) -> Advisor:
        """The working levels and the advice now, in the exercises of this session.

        `write` takes answers to the thread that writes.
        """
        return Advisor(
            self._opening.record,
            self._opening.trainee,
            [self._state.planned or self._state.workout],
            self._now,
            session_id=self._live.info.id,
            past=self._with_this(),
            plan=self._plan,
            on=self._live.info.local_date,
            write=write,
        )

    # In words

    def sections(self) -> list[Section]:
        """The whole screen; without a past that could be read, what this session knows alone."""
        own = (
            Section("Session", tuple(self._measures())),
            Section("Sets", tuple(self._sets())),
        )
        if self._opening.record.unread:
            return [Section("Past", (UNKNOWN,)), *(one for one in own if one.lines)]
        return [
            one
            for one in (
                Section("Beaten", tuple(self._beaten())),
                Section("To beat", tuple(self._to_beat())),
                Section("Advice", tuple(self._advice()), tuple(self._advised())),
                Section("Next", tuple(self._next())),
                Section("Week", tuple(self._week())),
                Section("Stay", tuple(self._stay())),
                *own,
            )
            if one.lines
        ]

    def _beaten(self) -> Iterator[str]:
        """Every exercise in a word or two: sets beaten, and the total where not all were."""
        compared, alike = [], []
        for (name, group), judged in self.judgements():
            short, said = self._short(name, group), beaten_text(judged)
            if judged.total_to_beat is None:
                continue
            if judged.beaten or judged.total != judged.total_to_beat or judged.unjudged:
                compared.append(f"{short} {said}")
            else:
                alike.append(short)
        if compared:
            yield ", ".join(compared)
        if alike:
            yield f"as last time: {', '.join(alike)}"

    def _to_beat(self) -> Iterator[str]:
        """Counts without one to beat: next time they are the ones to beat."""
        anew: dict[str, list[str]] = {}
        for (name, group), judged in self.judgements():
            if judged.total_to_beat is None:
                anew.setdefault(beaten_text(judged), []).append(self._short(name, group))
        for said, names in anew.items():
            yield f"{said}: {', '.join(names)}"

    def _short(self, name: str, group: str) -> str:
        """What an exercise is called in a list, with the group of sets where the plan names one."""
        short = self._state.workout.exercises[name].short
        return f"{short} ({group})" if group else short

    def _sets(self) -> Iterator[str]:
        judged = dict(self.judgements())
        for (name, group), (today, *_) in self._today().items():
            if today.counted:
                exercise = self._state.workout.exercises[name].name
                called = f"{exercise} ({group})" if group else exercise
                text = judged.get((name, group))
                said = "" if text is None else judged_text(text)
                yield f"{called}  {counts_text(today)}{said and f'   {said}'}"

    def _advice(self) -> Iterator[str]:
        """What is proposed, and then why."""
        advisor = self.advisor()
        done = {name for name, _ in self._today()}
        hurt = {row.planned_set.exercise for row in self._state.rows if row.pain}
        older = []
        for number, item in open_ones(advisor.items):
            if item.exercise.id not in done - hurt:
                continue
            if not advisor.shows(item):
                older.append(item.name)
                continue
            rule, _, proposed = item.advice.line.partition(" -> ")
            to = f" -> {proposed}" if proposed else ""
            yield f"{number} {item.name}{to}; {rule}"
        if older:
            yield f"still open from before: {', '.join(older)}"
        for item in advisor.items:
            if item.exercise.id in hurt or (item.exercise.id in done and item.tells):
                yield f"{item.name}: {item.advice.line}"
            if item.exercise.id in hurt:
                pains = [one for one in advisor.pains if one.exercise == item.exercise.id]
                yield from (pain_advice(one, advisor.trainee) for one in pains[-1:])
            for remark in item.remarks if item.exercise.id in done else ():
                yield f"{item.name}: {remark.line}"
        lighter = advisor.lighter
        if lighter is not None and advisor.shows_lighter:
            yield lighter.line

    def _advised(self) -> Iterator[str]:
        """The exercises of today with a change advised, only those that show in full."""
        done, advisor = {name for name, _ in self._today()}, self.advisor()
        for _, item in open_ones(advisor.items):
            if item.exercise.id in done and advisor.shows(item):
                yield item.name

    def _stay(self) -> Iterator[str]:
        done = {name for name, _ in self._today()}
        stay = [
            s.exercise.short
            for s in self.advisor().items
            if s.exercise.id in done and not s.proposes
        ]
        if stay:
            yield ", ".join(stay)

    @cached_property
    def _plan(self) -> Plan:
        return parse_plan(self._opening.text, self._opening.workout.plan)

    def _week(self) -> Iterator[str]:
        plan, info = self._plan.week, self._live.info
        past = self._with_this()
        week = next((w for w in weeks_of(past.rows) if w.iso_week == info.iso_week), None)
        if week is None:
            return
        trained = {m for r in self._live.rows() for m in r.prime_movers.split(";")}
        targets = {str(name): (float(a), float(b)) for name, (a, b) in plan.muscles.items()}
        every = None if plan.sets is None else (float(plan.sets[0]), float(plan.sets[1]))
        by_target: dict[str, list[str]] = {}
        for one in against_targets(week, targets, every):
            if one.muscle in trained:
                aim = "" if one.target is None else f" of {one.target[0]:g}-{one.target[1]:g}"
                by_target.setdefault(aim, []).append(f"{one.muscle} {one.sets:g}")
        yield "; ".join(f"{', '.join(found)}{aim}" for aim, found in by_target.items())
        how = often(week.sessions, plan.sessions)
        aimed = "" if plan.sessions is None else f" of {_span(plan.sessions)}"
        more = " (more than aimed at)" if how == "more" else ""
        yield f"session {week.sessions}{aimed} this week{more}"

    def _next(self) -> Iterator[str]:
        """The session after this one: the day that it is due, once its muscles have had rest."""
        opening = self._opening
        session = due_session(self._plan, opening.record, opening.trainee)
        if self._state.phase != "closed":  # the record has yet to learn that this one is done
            ids = [one.id for one in self._plan.session]
            session = ids[(ids.index(self._state.workout.session) + 1) % len(ids)]
        coming = compile_session(self._plan, session)
        last = last_trained(self._with_this().rows)
        muscles = {
            m for b in coming.blocks for i in b.items for m in coming.exercises[i.exercise].prime
        }
        due = max(((last[m].due, m) for m in muscles if m in last), default=None)
        name = session if coming.name == session else f"{session}, {coming.name}"
        if due is None:
            yield name
            return
        when = due[0].astimezone(self._now.tzinfo)
        on = due_on(self._plan, self._live.info.local_date)
        if on > when.date():
            yield f"{name}: {on:%A} {long_day(on)}"
            return
        at = f"{when:%A} {long_day(when.date())}, from {when:%H:%M}"
        yield f"{name}: {at} ({due[1]}: {HOURS_BETWEEN:g} h)"

    def _measures(self) -> Iterator[str]:
        state = self._state
        # From the start, as the forecast: the sheet before it may be read for as long as one likes.
        actual = state.lasted
        base = state.planned or state.workout
        forecast = total(session_steps(base, replace(state.baseline, changes=state.adjustments)))
        parts = [f"{clock(actual)} long, forecast {clock(forecast)}"]
        load = session_load(state.rpe, actual / 60)
        if load is not None:
            parts.append(f"session load {load:.0f} (RPE {state.rpe:g} times minutes, published)")
        yield ", ".join(parts)
        had = self._recovery()
        if had is not None:
            under = f", {had.under_least} under the least" if had.under_least else ""
            yield f"recovery {clock(had.had)} on average, aimed at {clock(had.aimed)}{under}"
        kept = [
            r.total
            for (_, _), (today, *_) in self._today().items()
            if (r := retention_of(today)) is not None
        ]
        if kept:
            share = 100 * sum(kept) / len(kept)
            yield f"kept {share:.0f} % of the first set's count, on average over all sets"

    def _recovery(self) -> RecoveryHad | None:
        state = self._state
        laws = (
            (row, state.block_of(row.planned_set).timing[row.planned_set.exercise])
            for row in state.rows
            if row.status == "done"
        )
        return recovery_had((row.recovery, law.recovery, law.recovery_least) for row, law in laws)


def beaten_text(judged: Judgement) -> str:
    """`2 of 3`, and by how much in total where not every set was beaten."""
    if judged.total_to_beat is None:
        return "first counts" if judged.new_count.startswith("first time") else "new counts"
    compared = sum(s.to_beat is not None for s in judged.sets)
    more = judged.total - judged.total_to_beat
    notes = [judged.unjudged] if judged.unjudged else []
    if judged.beaten < compared:
        way = f"{abs(more):g} {'more' if more > 0 else 'less'}" if more else "the same"
        notes.insert(0, f"total {way}")
    return f"{judged.beaten} of {compared}" + (f" ({'; '.join(notes)})" if notes else "")


def judged_text(judged: Judgement) -> str:
    """What was beaten, in a few words; a better first set makes up for later ones."""
    if judged.total_to_beat is None:
        return judged.new_count
    said = {
        "beaten": f"total {judged.total:g}, beat {judged.total_to_beat:g}",
        "level": f"total {judged.total:g}, as last time",
        "carried": f"total {judged.total:g}, as last time",
        "missed": f"total {judged.total:g} of {judged.total_to_beat:g}",
    }.get(judged.total_verdict, "")
    parts = [f"{judged.beaten} beaten" if judged.beaten else "", said, judged.unjudged]
    return ", ".join(part for part in parts if part)


def counts_text(session: PastSession) -> str:
    """The counts of a session's sets: `12 11 9`, one-sided `12|14 11|13`, holds `45 40 s`."""
    sets: dict[int, list[str]] = {}
    for done in session.counted:
        text = f"{done.value or 0:g}" + ("" if done.reserve is None else f"/{done.reserve}")
        sets.setdefault(done.number, []).append(text)
    unit = " s" if session.measure == "hold" else ""
    return " ".join("|".join(sides) for sides in sets.values()) + unit


def verdict_text(verdict: SetVerdict | None, new_count: str = "") -> str:
    """How one count compares, in a few words, without the count itself."""
    if verdict is None:
        return ""
    beat = "" if verdict.to_beat is None else f"{verdict.to_beat:g}"
    was = f"beaten (it was {beat})" if verdict.beaten else f"{beat} to beat"
    return {
        "beaten": f"beaten (it was {beat}).",
        "level": f"as last time, {beat} to beat stays.",
        "carried": f"{beat} last time; the sets before made up for it.",
        "missed": f"{beat} to beat stays.",
        "not judged": f"{was}; not judged: {verdict.why}.",
        "no count": f"{new_count}." if new_count else "",
    }[verdict.verdict]


def _span(pair: tuple[int, int]) -> str:
    low, high = pair
    return f"{low}" if low == high else f"{low}-{high}"


class SessionSummary:
    """Asks the rules, and remembers the answer until something has happened.

    A record that cannot be read costs no session: then there is nothing to say.
    """

    def __init__(self, opening: Opening, live: Live) -> None:
        self._live = live
        self._comparison = SessionComparison(opening, live)
        self._known: tuple[tuple[int, str], tuple[Section, ...]] | None = None

    def became(self, event: Event, state: State, *, back: str) -> str:
        """How a count that a person entered or corrected compares; "" for other events.

        It names its set, for the screen may show another one by then. `back` is the key that takes
        it back, if any.
        """
        if not isinstance(event, Entered) or event.by != "person":
            return ""
        row = state.rows[event.entry - 1]
        said = f"{set_name(state, row)}: {self._became(event, state)}"
        return f"{said} · {back} takes it back" if back else said

    def _became(self, event: Entered, state: State) -> str:
        before = _count_before(event, state) if isinstance(event, Corrected) else ""
        if before:
            return f"{entered_text(event)} instead of {before}"
        if event.counted == "no":
            return "not counted"
        row = state.rows[event.entry - 1]
        try:
            said = verdict_text(self._comparison.verdict(row), self._comparison.new_count(row))
        except MatsideError:
            said = ""
        return f"{entered_text(event)} saved{f', {said}'.removesuffix('.') if said else ''}"

    def sections(self, state: State, *, settled: bool = True) -> tuple[Section, ...]:
        """All that the session has brought, as it stands now; `settled`: it can be read back."""
        key = (len(state.log), state.phase)
        if not settled:  # the record may be locked: nobody waits for it here
            return () if self._known is None else self._known[1]
        if self._known is None or self._known[0] != key:
            try:
                self._known = (key, tuple(self._comparison.sections()))
            except MatsideError:
                self._known = (key, ())
        return self._known[1]

    def advisor(self, write: Callable[[Callable[[Store], None]], None] | None = None) -> Advisor:
        """Working levels and advice; `write` takes answers to the thread that writes.

        Raises MatsideError where the record cannot be read.
        """
        return self._comparison.advisor(write)

    def forget(self) -> None:
        """An answer was given: compute anew."""
        self._known = None


def entered_text(event: Entered) -> str:
    """A count as it was entered: `12`, `12 with 2 in reserve`, `31 s`, `not counted`."""
    if event.counted == "no":
        return "not counted"
    value = event.reps if event.hold_s is None else f"{event.hold_s:g} s"
    return f"{value}" if event.reserve is None else f"{value} with {event.reserve} in reserve"


def _count_before(event: Corrected, state: State) -> str:
    """What stood there before the correction; nothing for a count that was missing."""
    entered = [e for e in state.log if isinstance(e, Entered) and e.entry == event.entry]
    earlier = entered[: entered.index(event)]
    return entered_text(earlier[-1]) if earlier else ""
