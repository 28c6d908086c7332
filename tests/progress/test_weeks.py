"""Weeks of the record: what counts, where a week begins, when a muscle is due, left and right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from runner.law.workout import Measure, SetKind, Side
from runner.progress import weeks
from runner.progress.history import SetRow
from runner.progress.weeks import last_trained, sides_apart, weeks_between, weeks_of

BERLIN = ZoneInfo("Europe/Berlin")
MONDAY = datetime(2026, 11, 23, 6, 30, tzinfo=BERLIN)


@dataclass(frozen=True)
class Done:
    """A row with the fields that weeks are made from."""

    session_start: str
    iso_week: str
    set: int
    exercise: str = "row"
    prime_movers: str = "upper-back"
    synergists: str = "biceps;low-back"
    kind: SetKind = "work"
    side: Side = "both"
    status: str = "done"
    measure: Measure = "reps"
    reps: int | None = 10
    work_s: float | None = 30.0
    pain: str | None = None

    @property
    def session_id(self) -> str:
        return self.session_start

    @property
    def set_start(self) -> str | None:
        return self.session_start if self.status == "done" else None


def done(at: datetime, number: int = 1, **other: object) -> SetRow:
    year, week, _ = at.date().isocalendar()
    return Done(at.isoformat(), f"{year}-W{week:02}", number, **other)  # type: ignore[arg-type]


def test_left_and_right_of_one_set_are_one_and_only_work_done_counts() -> None:
    rows = [
        done(MONDAY, 1, kind="ramp"),
        *(done(MONDAY, n, side=side) for n in (2, 3) for side in ("left", "right")),
        done(MONDAY, 4, side="left"),
        done(MONDAY, 4, side="right", status="skipped"),
        done(MONDAY, 5, status="broken"),
        done(MONDAY, 1, exercise="press", prime_movers="chest", synergists="triceps;biceps"),
        done(MONDAY, 2, exercise="press", prime_movers="chest", synergists="", reps=None),
    ]
    (week,) = weeks_of(rows, lambda _, exercise: {"row": "horizontal pull"}.get(exercise, ""))
    assert week.iso_week == "2026-W48"
    assert (week.sessions, week.sets) == (1, 5)
    assert week.by_muscle == {
        "chest": 2.0,
        "upper-back": 3.0,
        "biceps": 2.0,
        "triceps": 0.5,
        "low-back": 1.5,
    }
    assert week.by_pattern == {"horizontal pull": 3}


def test_six_sets_directly_and_four_assisting_are_eight() -> None:
    # Pelland et al. 2025: a prime mover counts 1, a synergist a half.
    rows = [done(MONDAY, n, prime_movers="biceps", synergists="") for n in range(6)]
    rows += [done(MONDAY, n, exercise="other") for n in range(4)]
    assert weeks_of(rows)[0].by_muscle["biceps"] == 8.0


@pytest.mark.parametrize(
    ("day", "name"),
    [  # ISO 8601
        (date(2021, 1, 3), "2020-W53"),
        (date(2026, 1, 1), "2026-W01"),
        (date(2027, 1, 3), "2026-W53"),
        (date(2027, 1, 4), "2027-W01"),
    ],
)
def test_a_week_goes_by_the_local_date_of_the_session(day: date, name: str) -> None:
    at = datetime(day.year, day.month, day.day, 0, 10, tzinfo=BERLIN)
    assert at.astimezone(UTC).date() < day
    (week,) = weeks_of([done(at)])
    assert week.iso_week == name
    assert week.monday <= day <= week.monday + timedelta(days=6)


def test_a_year_of_53_weeks_has_them_all() -> None:
    names = weeks_between("2026-W52", "2027-W02")
    assert names == ["2026-W52", "2026-W53", "2027-W01", "2027-W02"]
    assert weeks_between("2026-W48", "2026-W47") == []


def test_two_sessions_on_one_day_are_two() -> None:
    rows = [done(MONDAY), done(MONDAY + timedelta(hours=11)), done(MONDAY + timedelta(days=1))]
    (week,) = weeks_of(rows)
    assert (week.sessions, week.sets) == (3, 3)


@pytest.mark.parametrize(
    ("before", "hours"),
    [  # Berlin's weeks with a clock change have 167 and 169 hours
        (datetime(2026, 3, 23, 6, 30, tzinfo=BERLIN), 167),
        (datetime(2026, 10, 19, 6, 30, tzinfo=BERLIN), 169),
        (datetime(2026, 11, 16, 6, 30, tzinfo=BERLIN), 168),
    ],
)
def test_hours_since_a_muscle_was_trained_are_real_ones(before: datetime, hours: int) -> None:
    trained = last_trained([done(before, work_s=0.0)])["upper-back"]
    assert trained.hours_since(before + timedelta(days=7)) == hours
    assert trained.due - trained.ended == timedelta(hours=48)


def test_a_muscle_counts_as_trained_where_it_was_a_prime_mover_to_the_end_of_the_set() -> None:
    later = MONDAY + timedelta(hours=5)
    rows = [done(later, status="skipped"), done(MONDAY), done(MONDAY - timedelta(days=1))]
    found = last_trained(rows)
    assert list(found) == ["upper-back"]
    assert found["upper-back"].ended == MONDAY + timedelta(seconds=30)
    assert list(last_trained([done(MONDAY, prime_movers="lats;chest")])) == ["chest", "lats"]


@dataclass(frozen=True)
class Late(Done):
    """A set that began so many minutes after its session; None where that is unknown."""

    minutes: int | None = 50

    @property
    def set_start(self) -> str | None:
        if self.minutes is None:
            return None
        start = datetime.fromisoformat(self.session_start)
        return (start + timedelta(minutes=self.minutes)).isoformat()


def test_a_muscle_rests_from_its_set_and_one_from_paper_from_its_session() -> None:
    start = MONDAY.isoformat()
    trained = last_trained([Late(start, "2026-W48", 1)])["upper-back"]
    assert trained.ended == MONDAY + timedelta(minutes=50, seconds=30)
    paper = Late(start, "2026-W48", 1, work_s=None, minutes=None)
    assert last_trained([paper])["upper-back"].ended == MONDAY


def both(at: datetime, left: int, right: int, **other: object) -> list[SetRow]:
    pair: tuple[tuple[Side, int], ...] = (("left", left), ("right", right))
    return [
        done(at, number, side=side, reps=reps, **other) for number in (1, 2) for side, reps in pair
    ]


@pytest.mark.parametrize(
    ("gaps", "stronger"),
    [
        ([(12, 9), (13, 9)], "left"),
        ([(9, 12), (8, 11)], "right"),
        ([(12, 9)], None),
        ([(12, 9), (9, 12)], None),
        ([(12, 9), (12, 10)], None),  # a sixth
        ([(4, 3), (4, 3)], None),  # one repetition
        ([(10, 10), (12, 9), (12, 9)], "left"),
    ],
)
def test_sides_apart_are_named_after_two_sessions(
    gaps: list[tuple[int, int]], stronger: Side | None
) -> None:
    rows = [row for n, gap in enumerate(gaps) for row in both(MONDAY + timedelta(days=2 * n), *gap)]
    found = sides_apart(reversed(rows))
    assert [one.stronger for one in found] == ([] if stronger is None else [stronger])


def test_pain_and_holds_say_nothing_of_the_sides() -> None:
    days = [MONDAY + timedelta(days=n) for n in range(3)]
    assert sides_apart([r for d in days for r in both(d, 12, 8, pain="yes")]) == []
    assert sides_apart([r for d in days for r in both(d, 12, 8, measure="hold")]) == []
    assert weeks.sides_apart([r for d in days for r in both(d, 12, 8)])[0].by == (4, 4)
