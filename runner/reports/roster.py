"""The roster: one line for each person, those who need a look first.

A line says of advice, levels and pain what `matside next` says of the plan that the person ran
last, by the last twelve weeks. Nothing is scored, and nobody is compared with anybody.

When the next session is due is our choice: counted from the last day trained, with the days of a
week shared evenly among its sessions (three a week: two days later), or the next of the plan's own
days.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise, zip_longest
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from runner.errors import MatsideError
from runner.law.course import level_order
from runner.law.workout import Level, Workout, parse_setup
from runner.live.advice import PAIN_SHOWN, Advisor, ExerciseAdvice
from runner.live.history import Past, past_of
from runner.live.session_setup import due_on, due_session, planned_a_week
from runner.plan.compile import compile_plan
from runner.plan.file import parse_plan
from runner.plan.models import Plan
from runner.progress.history import PastSession, SetRow, Use, iso_week
from runner.progress.sessions_running import falling, flat, run_of
from runner.progress.weeks import counts_for_week
from runner.record.past import SessionRow
from runner.record.record import Record
from runner.text import KEPT, how_many, shown, wrapped

CHANGES: Final = timedelta(days=28)  # level changes are counted over this many days
NO_PLANS: Final[Mapping[str, Plan]] = MappingProxyType({})
AWAY: Final = 7  # days without a session that ask for a look; our choice
# Half of what `next` reads, so that fifty people take two seconds. The rules judge the last weeks
# at one level, so the proposal is the same; only the size of a step may depend on more.
BACK: Final = timedelta(weeks=12)


MOST_PLANS: Final = 64  # kept in mind at once; our choice
PersonalPlans = Callable[[str, str], Plan | None]  # of a trainee's name and a plan's title


class Person(NamedTuple):
    """One trainee. Dates are local; None and "" where nothing is known."""

    trainee: str
    last: date | None  # a work set was done on it
    due: date | None
    session: str  # the plan's session that is due
    done: int  # sessions of this ISO week in which a work set was done
    planned: int | None  # sessions a week
    up: int  # changes to a harder level in 28 days, over all exercises
    down: int
    stalled: tuple[tuple[str, int], ...]  # exercise (or exercise/version) and weeks at its level
    pain: tuple[tuple[str, date], ...]  # place ("" unknown) and day, the newest first, 28 days
    advice: int  # changes proposed and not answered
    days_away: int | None  # since the last day trained

    @property
    def needs(self) -> tuple[bool, bool, bool, bool, str]:
        """What the roster is sorted by."""
        away = self.days_away is not None and self.days_away >= AWAY
        return not self.pain, not away, not self.stalled, not self.advice, self.trainee

    @property
    def as_data(self) -> dict[str, Any]:
        """As plain data, the columns of the CSV by their names."""
        return self._asdict() | {
            "last": None if self.last is None else self.last.isoformat(),
            "due": None if self.due is None else self.due.isoformat(),
            "stalled": [{"exercise": name, "weeks": weeks} for name, weeks in self.stalled],
            "pain": [{"where": where, "on": on.isoformat()} for where, on in self.pain],
        }


class Row(NamedTuple):
    """A line of the CSV; several values of a field have `;` between them."""

    trainee: str
    last: date | None
    due: date | None
    session: str
    done: int
    planned: int | None
    up: int
    down: int
    stalled: str  # exercises
    pain: str  # `place date`
    advice: int
    days_away: int | None


def columns(people: Iterable[Person]) -> Iterator[Row]:
    """The roster as lines of a CSV."""
    for one in people:
        pain = ";".join(f"{where} {on}".strip() for where, on in one.pain)
        stalled = ";".join(name for name, _ in one.stalled)
        yield Row(*one[:8], stalled, pain, *one[10:])


def roster(
    record: Record,
    now: datetime,
    plans: Sequence[Plan] = (),
    personal: PersonalPlans = lambda *_: None,
) -> list[Person]:
    """Everybody in the record, or who ran one of `plans` last; those who need a look first.

    `personal` gives the plan of a title with a trainee's overlay; None without one.
    """
    wanted = {plan.title: plan for plan in plans}
    found = (person(record, name, now, wanted, personal) for name in record.trainees())
    return sorted((one for one in found if one is not None), key=lambda one: one.needs)


def person(
    record: Record,
    name: str,
    now: datetime,
    wanted: Mapping[str, Plan] = NO_PLANS,
    personal: PersonalPlans = lambda *_: None,
) -> Person | None:
    """One of them; None for a person who ran none of the plans `wanted` last, if any are given."""
    today = now.date()
    past = past_of(record, name, today, back=BACK)
    done = {row.session_id for row in past.rows if counts_for_week(row)}
    trained = [one for one in past.sessions if one.session_id in done]
    newest = past.sessions[-1] if past.sessions else None
    title = "" if newest is None else newest.plan
    if wanted and title not in wanted:
        return None
    plan = personal(name, title) or wanted.get(title)
    plan = plan or stored_plan(record, past.sessions, title)
    last = max((one.local_date for one in trained), default=None)
    away = None if last is None else (today - last).days
    week = sum(one.iso_week == iso_week(today) for one in trained)
    pain = _pain([row for row in past.rows if row.pain], today)
    if plan is None:
        return Person(name, last, None, "", week, None, 0, 0, (), pain, 0, away)
    due = None if last is None else due_on(plan, last)
    sessions = _week_of(plan)
    advisor = Advisor(record, name, sessions, now, past=past, plan=plan, week=sessions, brief=True)
    steps = [step for item in advisor.items for step in _steps(item, past, today)]
    stalled = tuple(
        (one.id, _weeks(one, past, today)) for one in advisor.items if is_stalled(one, past)
    )
    advice = sum(one.proposes for one in advisor.items) + (advisor.lighter is not None)
    return Person(
        *(name, last, due, due_session(plan, record, name), week, planned_a_week(plan)),
        *(steps.count(1), steps.count(-1), stalled, pain, advice, away),
    )


def stored_plan(record: Record, sessions: Sequence[SessionRow], title: str) -> Plan | None:
    """The plan of that title as the newest of `sessions` that can be read was run from it."""
    texts = (record.plan_text(one.plan_hash) for one in reversed(sessions) if one.plan == title)
    return next((plan for text in texts if (plan := _stored(text, title)) is not None), None)


_compiled: dict[int, tuple[Plan, list[Workout]]] = {}  # with its plan, so that no other has its id


def _week_of(plan: Plan) -> list[Workout]:
    """The sessions of a plan: made once, for many run the same one."""
    if id(plan) not in _compiled:
        if len(_compiled) >= MOST_PLANS:
            _compiled.clear()
        _compiled[id(plan)] = (plan, compile_plan(plan))
    return _compiled[id(plan)][1]


@lru_cache(maxsize=MOST_PLANS)
def _stored(text: str, title: str) -> Plan | None:
    """A stored plan; None for an imported session, and where it can no longer be read."""
    try:
        return parse_plan(text, title) if text else None
    except MatsideError:
        return None


def _pain(rows: Iterable[SetRow], today: date) -> tuple[tuple[str, date], ...]:
    """Where it hurt of late and when, each place once, the newest first."""
    newest: dict[str, date] = {}
    for row in rows:
        on = date.fromisoformat(row.session_start[:10])
        if on >= today - PAIN_SHOWN:
            newest[row.pain_where] = max(on, newest.get(row.pain_where, on))
    return tuple(sorted(newest.items(), key=lambda one: (-one[1].toordinal(), one[0])))


def _steps(item: ExerciseAdvice, past: Past, today: date) -> Iterator[int]:
    """1 for each change to a harder level in 28 days, -1 to an easier one.

    From session to session, and at last to the working level, which a decision may have changed.
    Lighter sessions and level finding are passed over: their levels are not carried forward.
    """
    exercise, orders = item.exercise, dict[Use, tuple[float, ...] | None]()

    def order_of(use: Use | None) -> tuple[float, ...] | None:
        if use is not None and use not in orders:
            orders[use] = level_order(
                exercise, Level(use.version, "", parse_setup(use.setup), use.load)
            )
        return None if use is None else orders[use]

    used: list[tuple[date, tuple[float, ...]]] = []  # the newest first
    if item.working is not None and (order := order_of(item.working.use)):
        used.append((today, order))
    for one in reversed(past.of(exercise.id, item.current.group)):
        if not one.level_finding and not one.deload and (order := order_of(_use(one))):
            used.append((one.on, order))
            if one.on <= today - CHANGES:
                break  # what came before it is no change of late
    for (on, after), (_, before) in pairwise(used):
        if on > today - CHANGES and after != before:
            yield 1 if after > before else -1


def _use(session: PastSession) -> Use | None:
    """What most of a session's sets used, of several the later; sets that hurt give nothing."""
    if not session.pain:
        return session.use
    uses = [done.use for done in session.counted if not done.pain]
    return max(reversed(uses), key=uses.count) if uses else None


def is_stalled(item: ExerciseAdvice, past: Past) -> bool:
    """Flat or falling at the working level, whatever else is advised; False during a layoff."""
    current = item.current
    if current.layoff is not None and current.layoff.back is None:
        return False
    done = past.of(item.exercise.id, current.group)
    run = run_of(done, current.use, item.exercise.reserve, current.since_layoff)
    return bool(flat(run) or falling(run))


def _weeks(item: ExerciseAdvice, past: Past, today: date) -> int:
    """Whole weeks since the first of the latest sessions at one level; twelve at most."""
    first = today
    use = None
    for one in reversed(past.of(item.exercise.id, item.current.group)):
        if one.use is not None and use not in (None, one.use):
            break
        use = one.use or use
        first = one.on
    return (today - first).days // 7


# As text.

_HEAD = ("who", "last", "due", "week", "working levels", "stalled", "pain", "waiting")
_NOTHING = "-"
_WIDEST, _GAP = 80, 2  # columns
# Columns of the table, and how narrow each may become: the first gives way first.
_NARROW = {4: 7, 2: 8, 5: 10, 0: 8, 6: 13, 7: 13}
_MONTH = timedelta(days=28)  # up to here a day alone says which month it is of


def table(people: Sequence[Person], today: date) -> list[str]:
    """The roster as lines of text: a head, and one line a person; where it is too wide, more."""
    rows = [_HEAD, *(_cells(one, today) for one in people)]
    wide = [max(len(row[at]) for row in rows) for at in range(len(_HEAD))]
    for at, least in _NARROW.items():
        over = sum(wide) + _GAP * (len(wide) - 1) - _WIDEST
        wide[at] -= max(min(over, wide[at] - least), 0)
    while sum(wide) + _GAP * (len(wide) - 1) > _WIDEST:
        wide[wide.index(max(wide[:-1]))] -= 1  # all but the last: `212 days away` stays whole
    cut = ([wrapped(cell, size, "") for cell, size in zip(row, wide, strict=True)] for row in rows)
    return [
        (" " * _GAP).join(map(str.ljust, line, wide)).rstrip()
        for row in cut
        for line in zip_longest(*row, fillvalue="")
    ]


def _cells(one: Person, today: date) -> tuple[str, ...]:
    steps = ((one.up, "up"), (one.down, "down"))
    levels = [f"{count}{KEPT}{way}" for count, way in steps if count]
    stalled = [f"{shown(name)} {weeks}{KEPT}wk" for name, weeks in one.stalled]
    pain = [" ".join(filter(None, (shown(at), f"{on.day}{KEPT}{on:%b}"))) for at, on in one.pain]
    away = one.days_away is not None and one.days_away >= AWAY
    waiting = [f"{one.advice}{KEPT}advice"] if one.advice else []
    waiting += [f"{how_many(one.days_away or 0, 'day')} away".replace(" ", KEPT)] if away else []
    week = f"{one.done}/{_NOTHING if one.planned is None else one.planned}"
    texts = (shown(one.trainee), _day(one.last, today), _due(one.due, today), week)
    joined = (" ".join(levels), ", ".join(stalled), ", ".join(pain), " ".join(waiting))
    return tuple(text or _NOTHING for text in (*texts, *joined))


def _day(on: date | None, today: date) -> str:
    if on is None:
        return ""
    return f"{on.day}{KEPT}{on:%b}" if today - on > _MONTH else f"{on:%a} {on.day}"


def _due(on: date | None, today: date) -> str:
    if on is None or on > today:
        return _day(on, today)
    if on == today:
        return "today"
    return f"since {_day(on, today)}" if today - on > _MONTH else f"since {on.day}"
