"""What a person reads, and what they may take, before a session begins.

Offers change nothing unless the person takes them. Where nobody can answer they are only printed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from msgspec import Struct

from runner.law.workout import Workout
from runner.live.history import Past, past_of
from runner.progress.adjust import Adjustment, Baseline, Offer
from runner.progress.advice import RULES, Rule
from runner.progress.answers import LIGHTER
from runner.progress.deload import (
    CAUTION,
    FIRST_SESSIONS,
    Deload,
    TrainingSoFar,
    deload,
    exercise_deload,
    gaps,
)
from runner.progress.history import PastSession, iso_week
from runner.progress.layoff import away, layoff_of, layoff_text, not_back_yet
from runner.progress.level_finding import LEAVE, goes_on_at, unfinished_trial, wants_level_finding
from runner.progress.pain import lately, pains_of, too_often
from runner.progress.week_aims import usual_sets, warnings
from runner.progress.weeks import counts_for_week, last_trained, weeks_of
from runner.record.past import DecisionRow
from runner.record.record import Record

LIGHTER_WORD, LEVEL_FINDING_WORD = "lighter", "place"
# Why an exercise needs level finding.
NO_VERSION, NOT_FOUND = "no working level yet", "level finding is not finished"
LONG_AGO = "after a long layoff"


class BeforeSession(Struct, frozen=True):
    """What a person should know and may take before a session."""

    offers: tuple[Offer, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Facts:
    """What is known before a session of a trainee."""

    record: Record
    trainee: str
    workout: Workout
    baseline: Baseline
    now: datetime  # aware, local
    past: Past
    done: frozenset[str]  # sessions of the past in which a work set was done

    @property
    def away(self) -> tuple[int | None, int | None]:
        """Local days since the last session, and between the two before; None without one."""
        days = [s.local_date for s in self.past.sessions if s.session_id in self.done]
        return gaps(days, self.now.date())

    @property
    def days_away(self) -> int | None:
        """Local days since the last session."""
        return self.away[0]

    @cached_property
    def decided(self) -> Mapping[str, DecisionRow]:
        """The last decision about the level of an exercise's sets."""
        changes = self.record.level_decisions(self.trainee)
        return {one.exercise: one for one in changes if not one.group}

    @property
    def of_plan(self) -> int:
        """Closed sessions of the plan in which something was done; old ones count as they are.

        More than `FIRST_SESSIONS` makes no difference, so no old session is read then.
        """
        new = sum(
            one.plan == self.workout.plan and one.session_id in self.done
            for one in self.past.sessions
        )
        if new >= FIRST_SESSIONS:
            return new
        recent = {s.session_id for s in self.past.sessions}
        return sum(
            one.status == "closed" and (one.session_id in self.done or one.session_id not in recent)
            for one in self.record.sessions(trainee=self.trainee, plan=self.workout.plan)
        )


def before_session(
    record: Record,
    trainee: str,
    workout: Workout,
    baseline: Baseline,
    now: datetime,
    *,
    past: Past | None = None,
) -> BeforeSession:
    """Offers and warnings for a session at an aware local time.

    `past` is what was done up to its day, where it has been read already.
    """
    past = past or past_of(record, trainee, now.date())
    done = frozenset(row.session_id for row in past.rows if counts_for_week(row))
    known = _Facts(record, trainee, workout, baseline, now, past, done)
    coming = [m for name in _names(workout) for m in workout.exercises[name].prime]
    today = sum(s.local_date == now.date() and s.session_id in done for s in past.sessions)
    return BeforeSession(
        (*_lighter(known), *_level_finding(known)),
        (*warnings(coming, last_trained(past.rows), now, today), *_waits(known)),
    )


def _waits(known: _Facts) -> Iterator[str]:
    """Recent pain, with place and date; and that a layoff rules out steps up."""
    today = known.now.date()
    pains = pains_of(known.past.rows)
    for pain in lately(pains, today):
        often = too_often(pain.exercise, pains, today)
        yield f"{pain.name}: pain, {often or pain.text}."
    trained = [s.local_date for s in known.past.sessions if s.session_id in known.done]
    away_for = layoff_of(trained, today)
    if away_for is None:
        return
    for name in _names(known.workout):
        exercise = known.workout.exercises[name]
        past = _sessions(known.past, name)
        why = not_back_yet(away_for, past, exercise.rep_range[0]) if past else ""
        if why:
            yield f"{layoff_text(away_for)}."
            return


def _names(workout: Workout) -> list[str]:
    """The exercises of a session, each once."""
    return list(dict.fromkeys(i.exercise for b in workout.blocks for i in b.items))


def _lighter(known: _Facts) -> Iterator[Offer]:
    if any(change.kind == "no count" and not change.exercise for change in known.baseline.changes):
        return  # a lighter week is on already
    workout = known.workout
    weeks, iso = weeks_of(known.past.rows), iso_week(known.now.date())
    planned = sum(item.sets for block in workout.blocks for item in block.items)
    found = deload(
        TrainingSoFar(
            sessions_of_plan=known.of_plan,
            days_away=known.away[0],
            days_away_before=known.away[1],
            week_sets=planned + sum(w.sets for w in weeks if w.iso_week == iso),
            usual_sets=usual_sets(weeks, iso),
        )
    )
    if found:
        yield _whole(found)
        return
    short = {name: exercise_deload(_sessions(known.past, name)) for name in _names(workout)}
    new = [name for name, reason in short.items() if reason]
    if new:
        alike: dict[str, list[str]] = {}
        for name in new:
            alike.setdefault(short[name], []).append(workout.exercises[name].name)
        reasons = tuple(f"{', '.join(names)}: {reason}" for reason, names in alike.items())
        changes = [Adjustment(one.kind, name, number=one.number) for name in new for one in LIGHTER]
        text = "those with a third fewer sets, two more in reserve, no count to beat"
        yield Offer(LIGHTER_WORD, text, reasons, tuple(changes), CAUTION)


def _sessions(past: Past, name: str) -> list[PastSession]:
    """Sessions in which an exercise had a count, at any version, the oldest first."""
    found = [s for (e, _), of in past.by_exercise.items() if e == name for s in of if s.counted]
    return sorted(found, key=lambda s: datetime.fromisoformat(s.start))


def _whole(found: Deload) -> Offer:
    easier = (Adjustment("easier", number=1.0),) if found.easier else ()
    text = "a third fewer sets, two more in reserve, no count to beat"
    if found.easier:
        text += ", one level easier"
    return Offer(LIGHTER_WORD, text, found.reasons, (*LIGHTER, *easier), found.caution)


def _level_finding(known: _Facts) -> Iterator[Offer]:
    """Level finding: where a level is missing or unfinished, or a layoff was long."""
    workout = known.workout
    wanted = {name: why for name in _names(workout) if (why := _why_placed(known, name))}
    if not wanted:
        return
    alike: dict[str, list[str]] = {}
    for name, why in wanted.items():
        alike.setdefault(why, []).append(workout.exercises[name].name)
    low, high = LEAVE
    yield Offer(
        LEVEL_FINDING_WORD,
        f"level finding. Start with the easiest version; stop each set with {low} or {high} in "
        "reserve, at the top of the rep range at the latest",
        tuple(f"{why}: {', '.join(names)}" for why, names in alike.items()),
        tuple(
            Adjustment(
                "placing",
                name,
                number=float(low),
                index=0
                if why == LONG_AGO
                else goes_on_at(workout.exercises[name], known.past.of(name, "")),
            )
            for name, why in wanted.items()
        ),
    )


def _why_placed(known: _Facts, name: str) -> str:
    """Why an exercise needs level finding; empty where it does not.

    Sessions take turns, so a layoff is over for an exercise only when its own session comes.
    """
    exercise, past = known.workout.exercises[name], known.past.of(name, "")
    if len(exercise.progression) < 2 or not _by_itself(known.workout, name):
        return ""
    working = known.baseline.working_levels.get((name, ""))
    decision = known.decided.get(name)
    on = [s.on for s in _sessions(known.past, name)]
    on += [] if decision is None else [decision.local_date]
    gone = None if working is None or not on else (known.now.date() - max(on)).days
    if away(known.days_away).level_finding or away(gone).level_finding:
        return LONG_AGO
    if exercise.begins is None and wants_level_finding(past, working):
        return NO_VERSION
    last = next((s.start for s in reversed(past) if s.counted), None)
    decided_since = (
        decision is not None
        and last is not None
        and datetime.fromisoformat(decision.since) >= datetime.fromisoformat(last)
    )
    return NOT_FOUND if unfinished_trial(exercise, past) is not None and not decided_since else ""


def _by_itself(workout: Workout, name: str) -> bool:
    """Whether the plan leaves the version of an exercise's sets to the working level."""
    items: Sequence[bool] = [
        not item.versions for b in workout.blocks for item in b.items if item.exercise == name
    ]
    return all(items)


def offer_lines(offer: Offer) -> Iterator[str]:
    """An offer in words: why, what, and the source of the rule."""
    reasons = "; ".join(offer.reasons)
    yield f"{reasons[:1].upper()}{reasons[1:]}. On offer: {offer.text} ({_rule(offer).source})."


def offer_text(offer: Offer, workout: Workout) -> str:
    """An offer in a line: what it changes, and in which exercises if not in all."""
    names = dict.fromkeys(one.exercise for one in offer.adjustments if one.exercise)
    shorts = [workout.exercises[name].short for name in names]
    which = "all exercises" if set(names) == set(_names(workout)) else ", ".join(shorts)
    if offer.kind == LEVEL_FINDING_WORD:
        why = "; ".join(reason.partition(":")[0] for reason in offer.reasons)
        return f"find your levels: {which} · {why}"
    effects = dict.fromkeys(one.text for one in offer.adjustments if one.kind != "no count")
    return f"lighter {which if names else 'session'}: {', '.join(effects)}"


def offer_reason(offer: Offer) -> str:
    """Why it is offered, and the source of the rule."""
    return f"{'; '.join(offer.reasons)} ({_rule(offer).source})"


def _rule(offer: Offer) -> Rule:
    return RULES["level finding" if offer.kind == LEVEL_FINDING_WORD else "lighter session"]
