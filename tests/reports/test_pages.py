"""The pages as text: what stands on them, at 80 columns, whatever people have written."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

import pytest

from runner.record.record import Record
from runner.reports import pages
from runner.reports.pages import lines
from runner.reports.past import Past, look_back
from runner.reports.roster import person
from runner.session import verb as cmd
from runner.text import Line

from .winter import PLAN, START, some_weeks
from .year import BERLIN, Person, Run

NOW = datetime(2026, 10, 2, 18, 30, tzinfo=BERLIN)


def text(page: object) -> list[str]:
    found: list[Line] = list(page)  # type: ignore[call-overload]
    return ["".join(part for part, _ in line) for line in found]


def test_the_whole_look_back_fits_80_columns(past: Past) -> None:
    found = list(lines(past, past.trends, NOW, whole=True))
    assert max(map(len, found)) <= 80
    assert found[0].startswith("Ada   2026-07-13 to 2026-10-04, 8 sessions, ")
    for title in ("Sets in 2026-W40", "Weeks, the newest first", "The last sessions in full"):
        assert any(line.startswith(title) for line in found), title


def test_of_one_exercise_alone_nothing_else_is_told(past: Past) -> None:
    push = next(t for t in past.trends if t.exercise == "push-up")
    found = "\n".join(lines(past, (push,), NOW, whole=False))
    assert "Push-up" in found
    assert "Plank" not in found
    assert "Sets in" not in found


def test_an_exercise_tells_its_change_its_best_and_every_set(past: Past) -> None:
    push = next(t for t in past.trends if t.exercise == "push-up")
    found = text(pages.exercise(past, push, 78))
    (changed,) = (line for line in found if "now floor" in line)
    assert changed.split()[0] == "2026-09-21"
    assert any(line.startswith("  best set ") for line in found)
    rows = [line for line in found if line.startswith("  2026-")]
    assert len(rows) == 8
    newest = push.points[-1]
    assert rows[0].split()[:3] == ["2026-10-01", *(f"{v:g}" for v in newest.values)]
    shorter = text(pages.exercise(past, push, 78, most=3))
    assert shorter[-1] == "  and 5 sessions before"


def test_left_and_right_stand_side_by_side(past: Past) -> None:
    row = next(t for t in past.trends if t.exercise == "sack-row")
    first = row.points[0].past
    left, right = ([s.value for s in first.counted if s.side == side] for side in ("left", "right"))
    wanted = " ".join(f"{a:g}|{b:g}" for a, b in zip(left, right, strict=True))
    assert pages.counts(first) == wanted


def test_a_muscle_is_due_48_hours_after_its_last_set(past: Past) -> None:
    found = "\n".join(text(pages.due(past, NOW)))
    assert "(published)" in found
    chest = next(line for line in found.splitlines() if line.startswith("  chest"))
    assert "36 h ago" in chest
    assert "Sat 2026-10-03 06:3" in chest
    (later,) = (line for line in text(pages.due(past, NOW + timedelta(days=20))) if "chest" in line)
    assert later.split() == ["chest", "21", "days", "ago", "now"]


def test_weeks_say_how_often_and_what_was_too_little(past: Past) -> None:
    found = text(pages.weeks(past, 78, NOW))
    assert found[0] == "2026-W40   from 2026-09-28, so far   2 sessions (as the plan's 2 to 3)"
    assert "  14 sets: Rucksack row 5, Push-up 5, Plank by the stove 2, Calf raise 2" in found
    assert any(line.startswith("  too little: ") for line in found)


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (1, "1 session (fewer than the plan's 2 to 3)"),
        (3, "3 sessions (as the plan's 2 to 3)"),
        (4, "4 sessions (more than the plan's 2 to 3)"),
    ],
)
def test_sessions_of_a_week_against_from_and_to(number: int, said: str) -> None:
    with Record.in_memory() as record:
        person = Person(record, "Ada", seed=1)
        for day in range(number):
            person.train(PLAN, "A", START + timedelta(days=day))
        found = look_back(record, "Ada")
    assert found is not None
    (week,) = (line for line in text(pages.weeks(found, 78, NOW)) if "session" in line)
    assert week.endswith(said)


def test_no_word_of_praise_or_scores(past: Past) -> None:
    found = "\n".join(lines(past, past.trends, NOW, whole=True)).casefold()
    for word in ("streak", "score", "trophy", "badge", "congrat", "well done"):
        assert word not in found


def test_texts_of_plans_are_neither_markup_nor_control(record: Record) -> None:
    plan = PLAN.replace('name = "Push-up"', 'name = "Push [bold]up[/] \\\\u202e"')
    with Record.in_memory() as other:
        Person(other, "A[red]da", seed=1).train(plan, "A", START)
        found = look_back(other, "A[red]da")
    assert found is not None
    shown = list(lines(found, found.trends, NOW, whole=True))
    assert any("Push [bold]up[/]" in line for line in shown)
    assert all(line.isprintable() for line in shown)


def test_sets_left_out_given_up_and_not_counted_have_their_signs() -> None:
    with Record.in_memory() as record:
        person = Person(record, "Ada", seed=1)
        person.train(PLAN, "B", START, act=_unusual)
        found = look_back(record, "Ada")
    assert found is not None
    (push, _, calf) = (pages.counts(done) for _, done in found.last[0].exercises)
    assert push.endswith(" x")
    assert calf.startswith("-")


def test_a_session_over_midnight_or_a_clock_change_says_so() -> None:
    starts = (
        datetime(2026, 7, 5, 23, 57, tzinfo=BERLIN),
        datetime(2026, 10, 25, 2, 57, tzinfo=BERLIN),
    )
    with Record.in_memory() as record:
        for start in starts:
            Person(record, "Ada", seed=1).train(PLAN, "A", start)
        found = look_back(record, "Ada", since=date(2026, 7, 1))
    assert found is not None
    changed, late = (text(pages.session(back, 78)) for back in found.last)
    assert any("ended 2026-07-06 00:0" in line and "for 2026-07-05" in line for line in late)
    assert any("the clocks were changed meanwhile" in line for line in changed)


def test_counts_of_nothing_are_shown_and_divide_nothing() -> None:
    def nothing(run: Run) -> None:
        while run.state.coming is not None:
            run.set(1.0, 0.0)

    with Record.in_memory() as record:
        Person(record, "Ada", seed=1).train(PLAN, "B", START, act=nothing)
        found = look_back(record, "Ada")
    assert found is not None
    push = next(t for t in found.trends if t.exercise == "push-up")
    told = text(pages.exercise(found, push, 78))
    assert any(line.split() == ["2026-09-07", "0", "0", "0.0"] for line in told)


def test_where_the_first_set_was_left_out_the_second_stays_the_second() -> None:
    def without_the_first(run: Run) -> None:
        coming = run.state.coming
        if coming is not None and (coming[0].exercise, coming[0].number) == ("push-up", 1):
            run.do(cmd.Skip())

    with Record.in_memory() as record:
        Person(record, "Ada", seed=1).train(PLAN, "B", START, act=without_the_first)
        found = look_back(record, "Ada")
    assert found is not None
    push = next(t for t in found.trends if t.exercise == "push-up")
    assert push.points[0].numbers == (2,)
    assert pages.counts(push.points[0].past).startswith("x ")
    told = text(pages.exercise(found, push, 78))
    assert sum("│" in line for line in told) == 1  # one set, one dot
    assert not any(line.rstrip().endswith("%") for line in told)  # nothing kept of no first set


def _unusual(run: Run) -> None:
    """Leaves out the second push-up, and does not count the first calf raise."""
    while (coming := run.state.coming) is not None:
        planned_set, _ = coming
        if (planned_set.exercise, planned_set.number) == ("push-up", 2):
            run.do(cmd.Skip())
        elif (planned_set.exercise, planned_set.number) == ("calf", 1):
            run.set(20.0, None)
            run.do(cmd.NoCount())
        else:
            return


def test_the_seconds_of_a_hold_have_their_unit(past: Past) -> None:
    back = next(back for back in past.last if any("Plank" in name for name, _ in back.exercises))
    rows = text(pages.session(back, 78))
    (plank,) = (line for line in rows if line.startswith("  Plank by the stove"))
    (push,) = (line for line in rows if line.startswith("  Push-up"))
    assert re.match(r"  Plank by the stove  [\d. ]*\d s ", plank)
    assert not re.search(r"\d s\b", push)


def test_a_session_that_was_ended_before_its_first_set_is_none() -> None:
    def at_once(run: Run) -> None:
        run.do(cmd.End())

    with Record.in_memory() as record:
        person = Person(record, "Ada", seed=1)
        person.train(PLAN, "B", START)
        person.train(PLAN, "A", START + timedelta(days=2), act=at_once)
        found = look_back(record, "Ada")
    assert found is not None
    (head,) = text([pages.head(found)])
    assert head.endswith(", 1 session, 6 sets")


def test_what_needs_a_look_comes_first_and_fits_a_screen() -> None:
    with Record.in_memory() as record:
        some_weeks(record, "Ada", weeks=13)
        past = look_back(record, "Ada")
        about = person(record, "Ada", NOW)
    assert past is not None
    assert about is not None
    hurt = about._replace(
        due=date(2026, 11, 29), session="B", stalled=(("plank", 5),), advice=2,
        pain=(("left shoulder", date(2026, 11, 20)), ("", date(2026, 11, 18))),
    )  # fmt: skip
    now = datetime(2026, 12, 7, 6, 0, tzinfo=BERLIN)
    told = list(pages.lines(past, past.trends, now, whole=True, person=hurt, short=True))
    assert max(map(len, told)) <= 80
    assert len(told) < 24
    labels = [line[:12].strip() for line in told if line[:1].islower() and line[:12].strip()]
    assert labels[:5] == ["due", "stalled", "hurting", "too little", "waiting"]
    whole = "\n".join(told)
    assert "session B, since Sunday 29 November" in whole
    assert "Plank by the stove (5 weeks)" in whole
    assert "left shoulder, 20 Nov; no place given, 18 Nov" in whole
    stalled_first = next(n for n, line in enumerate(told) if line.startswith("exercise")) + 1
    assert told[stalled_first].startswith("Plank by the stove")


def test_what_hurts_is_named_with_its_exercise() -> None:
    hurt: list[str] = []

    def shoulder(run: Run) -> None:
        if run.state.rows and not hurt:  # the first set, a push-up, is over
            run.do(cmd.Hurt("left shoulder"))
            hurt.append("push-up")

    with Record.in_memory() as record:
        some_weeks(record, "Ada").train(PLAN, "A", START + timedelta(days=25), act=shoulder)
        past, about = look_back(record, "Ada"), person(record, "Ada", NOW)
    assert past is not None
    told = text(pages.look(past, about, 80, NOW))
    assert "hurting     left shoulder, Push-up, 2 Oct" in told


def test_a_session_is_held_against_the_twelve_weeks_before_it() -> None:
    """By hand: the mean of the means a set of those sessions at the same level."""
    with Record.in_memory() as record:
        some_weeks(record, "Ada", weeks=16)
        past = look_back(record, "Ada", since=date(2026, 8, 1), until=date(2027, 1, 1))
    assert past is not None
    row = next(t for t in past.trends if t.exercise == "sack-row")
    newest = row.points[-1]
    earlier = [
        sum(point.values) / len(point.values)
        for point in row.points[:-1]
        if 0 < (newest.past.on - point.past.on).days < 84
    ]
    assert 0 < len(earlier) < len(row.points) - 1
    usual, last = sum(earlier) / len(earlier), sum(newest.values) / len(newest.values)
    line = next(
        one for one in text(pages.exercises(past, None, 78, None)) if one.startswith("Rucksack row")
    )
    assert line.split()[-3:] == [f"{last:.1f}", f"{usual:.1f}", f"{last - usual:+.1f}"]


def test_more_exercises_than_a_screen_are_counted() -> None:
    with Record.in_memory() as record:
        some_weeks(record, "Ada")
        past = look_back(record, "Ada")
    assert past is not None
    *_, last = text(pages.exercises(past, None, 78, 3))
    assert last == "and 1 exercise more"
