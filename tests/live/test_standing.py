"""Working levels, advice, and what an answer changes; by sessions written up from paper."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from runner.law.workout import Workout
from runner.lines.paper import Talk, write_up
from runner.lines.session import answer, answering
from runner.live.advice import Advisor
from runner.live.advice_lines import exercise_lines, position
from runner.live.offers import before_session
from runner.live.paper import open_paper
from runner.live.session_setup import prepare
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.progress.answers import Answer
from runner.record.record import Record
from runner.session.apply import Refused
from runner.testing import ManualClock
from tests.plans import loads, plan

NOW = datetime(2026, 11, 25, 6, 30, tzinfo=ZoneInfo("Europe/Berlin"))
PLAN = plan(
    "Kestrel Hut, one morning",
    {
        "press": {
            "instead": ["push-up"],
            "version": [
                {"id": "mark-1", "name": "near"},
                {
                    "id": "mark-2",
                    "name": "far",
                    "setup": {"anchor": {"from": "120 cm", "to": "160 cm", "by": "20 cm"}},
                },
            ],
        },
        "push-up": {"version": [{"id": "floor", "name": "on the floor"}]},
        "row": {"version": [{"id": "light", "name": "rucksack", "load": loads(4, 12, 2)}]},
    },
    [{"press": 3, "row": 3}],
    effort={"reps": [8, 20]},
)


@pytest.fixture
def hut(tmp_path: Path) -> Path:
    path = tmp_path / "one.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@pytest.fixture
def record(hut: Path) -> Iterator[Record]:
    with Record.open(record_path(hut.parent, trial=False)) as opened:
        opened._connection.execute("PRAGMA synchronous = OFF")
        yield opened


def did(hut: Path, on: date, press: str, row: str) -> None:
    paper = open_paper(str(hut), data=hut.parent, trainee="Ada", clock=ManualClock(NOW), on=on)
    with paper.record:
        lines = iter([press, row, "", "y"])
        said = Talk(lines, io.StringIO(), io.StringIO(), terminal=False)
        assert write_up(paper, said, yes=False) == 0


def workout() -> Workout:
    return compile_session(parse_plan(PLAN, "one.toml"), "A")


def advisor(record: Record, now: datetime = NOW) -> Advisor:
    return Advisor(record, "Ada", [workout()], now)


def twice(hut: Path, press: str, row: str = "12 12 12") -> None:
    for day in (20, 23):
        did(hut, date(2026, 11, day), press, row)


def test_nothing_done_nothing_advised(record: Record) -> None:
    items = advisor(record).items
    assert [(s.id, s.working, s.open) for s in items] == [
        ("press", None, False),
        ("row", None, False),
    ]
    assert "no working level yet" in next(exercise_lines(1, items[0]))


def test_accepting_holds_the_version_with_its_reason(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    one = advisor(record)
    item = one.find("press")
    assert (item.advice.rule, item.open) == ("harder", True)
    assert item.advice.change is not None
    assert item.advice.change.kind == "bridge"  # of a band nobody knows
    one.accept(item, 2)
    after = one.find("press")
    assert (after.level.version, after.open) == ("mark-2", False)
    (held,) = record.level_decisions("Ada")
    assert held.exercise == "press"
    assert held.reason.startswith("harder (our choice): first sets 22")
    assert record.baseline("Ada", workout()).working_levels["press", ""] == 1
    with pytest.raises(Refused, match="no change is advised"):
        one.accept(after)


def test_nothing_changes_before_it_is_accepted(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    before = record.level_decisions("Ada")
    advisor(record)
    assert record.level_decisions("Ada") == before
    assert record.baseline("Ada", workout()).working_levels["press", ""] == 0


def test_a_bridge_stands_beside_what_is_held_and_is_crossed(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    one = advisor(record)
    item = one.find("press")
    bridge = next(n for n, c in enumerate(item.changes, 1) if c.kind == "bridge")
    one.accept(item, bridge)
    after = one.find("press")
    assert (after.level.version, [(n, r.version) for n, r in after.parts]) == (
        "mark-1", [("first", "mark-2")],
    )  # fmt: skip
    assert "first set: mark-2, anchor 120 cm" in "\n".join(exercise_lines(1, after))
    for day in (24, 25):
        paper = open_paper(
            str(hut), data=hut.parent, trainee="Ada", clock=ManualClock(NOW + timedelta(days=5)),
            on=date(2026, 11, day + 2),
        )  # fmt: skip
        with paper.record:
            # Its first set is asked for by itself: it stands elsewhere.
            assert [p.level.version for p in paper.pages] == ["mark-2", "mark-1", "light"]
            lines = iter(["10", "20 19", "12 12 12", "", "y"])
            said = Talk(lines, io.StringIO(), io.StringIO(), terminal=False)
            assert write_up(paper, said, yes=False) == 0
    crossed = advisor(record, NOW + timedelta(days=5))
    item = crossed.find("press")
    assert (item.advice.rule, item.advice.change and item.advice.change.kind) == (
        "bridge", "move",
    )  # fmt: skip
    crossed.accept(item)
    assert (crossed.find("press").level.version, crossed.find("press").parts) == ("mark-2", ())


def test_a_refusal_rests_and_is_kept(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    one = advisor(record)
    one.refuse(one.find("press"))
    assert not one.find("press").open
    (said,) = record.answers("Ada")
    assert (said.exercise, said.rule, said.accepted) == ("press", "harder", False)
    assert advisor(record).find("press").level.version == "mark-1"


def test_what_else_is_accepted_is_different_from_the_plan(hut: Path, record: Record) -> None:
    twice(hut, "18 12 6")
    one = advisor(record)
    item = one.find("press")
    assert [c.kind for c in item.changes][:2] == ["recovery", "fewer sets"]
    one.accept(item, 2)
    assert [a.text for a in one.find("press").adjustments] == ["1 set fewer"]
    assert any("different from the plan: 1 set fewer" in t for t in exercise_lines(1, one.items[0]))
    paper = open_paper(
        str(hut), data=hut.parent, trainee="Ada", clock=ManualClock(NOW), on=NOW.date()
    )
    with paper.record:
        assert [len(page.planned_sets) for page in paper.pages] == [2, 3]
    one.as_planned(one.find("press"))
    assert one.find("press").adjustments == ()
    with pytest.raises(Refused, match="everything is as planned"):
        one.as_planned(one.find("press"))


def test_set_by_hand_as_people_write_it(record: Record) -> None:
    one = advisor(record)
    assert answer(one, "set press=mark-2:140cm").endswith("mark-2, anchor 140 cm from now on")
    assert one.find("press").level.setup == (("anchor", "140 cm"),)
    answer(one, "set row = light:8 kg")
    assert one.find("row").level.load == 8.0
    held = {(h.exercise, h.reason) for h in record.level_decisions("Ada")}
    assert held == {("press", "set by hand"), ("row", "set by hand")}


@pytest.mark.parametrize(
    ("text", "index"),
    [("mark-1", 0), ("mark-2", 1), ("mark-2:120 cm", 1), ("mark-2:160cm", 3)],
)
def test_positions_by_name(text: str, index: int) -> None:
    assert position(workout().exercises["press"], text) == index


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("accept", "write a number: accept 1 to 2"),
        ("accept 9", "write a number"),
        ("accept press", "write a number"),
        ("accept 1", "no change is advised"),
        ("refuse 2", "no change is advised"),
        ("set press", "write exercise and version"),
        ("set pull=mark-1", "unknown exercise 'pull'; the plan has press, row"),
        ("set press=mark-3", "it has mark-1, mark-2"),
        ("set press=mark-2:130cm", "it has mark-2, anchor 120 cm"),
        ("planned press", "everything is as planned"),
        ("refuse week", "no lighter week"),
        ("do it", "is unknown"),
    ],
)
def test_answers_that_cannot_be_used(record: Record, line: str, said: str) -> None:
    with pytest.raises(Refused, match=said.replace("(", "\\(")):
        answer(advisor(record), line)
    assert record.level_decisions("Ada") == []


def test_answers_line_by_line(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    say = io.StringIO()
    one = advisor(record)
    lines = iter(["accept 7", "accept 1 2", "set row=light:6", ""])
    answering(one, Talk(lines, io.StringIO(), say, terminal=True))
    assert "not used: write a number" in say.getvalue()
    assert (one.find("press").level.version, one.find("row").level.load) == ("mark-2", 6.0)


def test_a_version_that_the_plan_no_longer_has_is_said(hut: Path, record: Record) -> None:
    twice(hut, "12 12 12")
    one = advisor(record)
    one.set_by_hand(one.find("press"), 2)
    without = PLAN.replace('id = "mark-2"', 'id = "mark-9"')
    changed = compile_session(parse_plan(without, "one.toml"), "A")
    item = Advisor(record, "Ada", [changed], NOW).find("press")
    assert (item.gone, item.level.version) == ("mark-2", "mark-1")
    assert any("last time it was 'mark-2'" in line for line in exercise_lines(1, item))


def test_an_exercise_renamed_begins_anew_and_the_old_rows_stay(hut: Path, record: Record) -> None:
    """The id names an exercise: a new id makes another exercise, a new name alone does not."""
    twice(hut, "12 12 12")
    renamed = PLAN.replace("Press at the post", "Press at the hut")
    item = Advisor(record, "Ada", [compile_session(parse_plan(renamed, "x"), "A")], NOW).find(
        "press"
    )
    assert (item.name, item.working is not None) == ("Press at the hut", True)
    other = PLAN.replace("exercise.press", "exercise.pushing").replace('"press"', '"pushing"')
    moved = Advisor(record, "Ada", [compile_session(parse_plan(other, "x"), "A")], NOW)
    assert moved.find("pushing").working is None
    assert {r.exercise for r in record.rows()} == {"press", "row"}


def test_a_correction_changes_the_advice(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    assert advisor(record).find("press").advice.rule == "harder"
    from runner.live.corrections import open_correction  # noqa: PLC0415
    from runner.session import verb as cmd  # noqa: PLC0415 - beside its one use

    correction = open_correction(record, "Ada", date(2026, 11, 23), None)
    correction.fix(cmd.Fix(1, "reps", cmd.Count(12)), NOW)
    correction.keep()
    assert advisor(record).find("press").advice.rule == "stay"


def test_holding_back_and_placing_are_no_ground_for_advice(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    key = record._connection.execute("SELECT max(key) FROM session").fetchone()
    record._connection.execute(
        """UPDATE session SET adjusted = '[{"kind":"no count"}]' WHERE key = ?""", key
    )
    assert "was lighter" in advisor(record).find("press").advice.reason


def test_the_counts_that_the_next_step_still_needs(hut: Path, record: Record) -> None:
    twice(hut, "12 12 12", "18/2 16 15")
    *_, last = exercise_lines(2, advisor(record).find("row"))
    assert last.strip() == (
        "no change (common practice): first set 18 18 of 20: twice at 20, then 6 kg"
    )


def test_the_first_two_sessions_after_a_break_are_offered_lighter(
    hut: Path, record: Record
) -> None:
    def offered(on: date) -> tuple[str, ...]:
        now = NOW.replace(year=on.year, month=on.month, day=on.day)
        baseline = record.baseline("Ada", workout())
        return tuple(
            r
            for o in before_session(record, "Ada", workout(), baseline, now).offers
            for r in o.reasons
        )

    for day in (1, 3, 5):
        did(hut, date(2026, 10, day), "12 12 12", "12 12 12")
    assert offered(date(2026, 10, 7)) == ()
    assert offered(date(2026, 11, 23)) == ("49 days away",)
    did(hut, date(2026, 11, 23), "12 12", "12 12")
    assert offered(date(2026, 11, 25)) == ("second session after 49 days away",)
    did(hut, date(2026, 11, 25), "12 12", "12 12")
    assert offered(date(2026, 11, 27)) == ()


def falling(hut: Path, first: date) -> None:
    """Both exercises worse in each of two sessions than in the one before."""
    for day, count in ((0, 14), (2, 12), (4, 10)):
        counts = f"{count} {count} {count}"
        did(hut, first + timedelta(days=day), counts, counts)


def test_a_lighter_week_is_offered_once_and_is_on_for_a_week(hut: Path, record: Record) -> None:
    falling(hut, date(2026, 11, 20))
    one = advisor(record)
    advice = one.lighter
    assert advice is not None
    assert "Press at the post and Rucksack row got worse two sessions running" in advice.line
    assert answer(one, "accept week") == "A lighter week, from today."
    assert one.lighter is None
    assert one.lighter_until == NOW.date() + timedelta(days=6)
    assert advisor(record, NOW + timedelta(days=7)).lighter_until is None
    assert advisor(record, NOW + timedelta(days=20)).lighter is None
    opening = prepare(str(hut), data=hut.parent, trainee="Ada", clock=ManualClock(NOW))
    with opening.record:
        assert [one.kind for one in opening.baseline.changes] == ["share", "reserve", "no count"]
        assert "lighter" not in [offer.kind for offer in opening.baseline.offers]


def test_a_lighter_week_of_one_exercise_is_named_until_it_is_over_or_ended(
    hut: Path, record: Record
) -> None:
    did(hut, date(2026, 11, 20), "12 12 12", "12 12 12")
    week = {"kind": "lighter week", "text": "a lighter week", "exercise": "press"}
    said = Answer("press", "", "falling", "", week, accepted=True, on=NOW.date())
    record.agree("Ada", said, [], NOW)
    one, last = advisor(record), NOW.date() + timedelta(days=6)
    line = f"      a lighter week until {last.day} {last:%B}"
    assert line in list(exercise_lines(1, one.find("press")))
    assert one.find("row").lighter is None
    assert advisor(record, NOW + timedelta(days=7)).find("press").lighter is None
    assert answer(one, "planned press") == "Press at the post: as planned again"
    assert one.find("press").lighter is None


def test_what_a_break_has_cost_is_no_falling_back(hut: Path, record: Record) -> None:
    did(hut, date(2026, 9, 1), "20 20 20", "20 20 20")
    did(hut, date(2026, 11, 20), "14 14 14", "14 14 14")
    did(hut, date(2026, 11, 23), "12 12 12", "12 12 12")
    assert advisor(record).lighter is None


def test_pain_is_answered_by_no_change(hut: Path, record: Record) -> None:
    twice(hut, "22 20 19")
    paper = open_paper(
        str(hut), data=hut.parent, trainee="Ada", clock=ManualClock(NOW), on=date(2026, 11, 24)
    )
    with paper.record:
        lines = iter(["pain left elbow", "22 20", "12 12 12", "", "y"])
        assert (
            write_up(paper, Talk(lines, io.StringIO(), io.StringIO(), terminal=False), yes=False)
            == 0
        )
    item = advisor(record).find("press")
    assert (item.advice.rule, item.changes) == ("pain", ())  # no substitute either
    assert item.advice.reason.startswith("left elbow, 24 Nov: no harder level until 2 sessions")
    assert not item.proposes
    with pytest.raises(Refused, match="no change is advised: left elbow, 24 Nov"):
        advisor(record).accept(item)


def test_a_substitute_is_called_by_its_name(hut: Path, record: Record) -> None:
    for day in (16, 18):
        did(hut, date(2026, 11, day), "5 5 5", "12 12 12")
    advice = advisor(record).find("press").advice
    assert [one.text for one in advice.others] == ["Push-up instead"]
    assert [one.exercise for one in advice.others] == ["push-up"]


def test_exercises_that_are_new_for_the_same_reason_are_named_together(
    hut: Path, record: Record
) -> None:
    for day in (16, 18, 20):
        did(hut, date(2026, 11, day), "20 20 20", "20 20 20")
    other = PLAN.replace("[exercise.press]", "[exercise.dip]").replace(
        "[exercise.row]", "[exercise.pull]"
    )
    other = other.replace('"press"', '"dip"').replace('"row"', '"pull"')
    other = other.replace("exercise.press", "exercise.dip").replace("exercise.row", "exercise.pull")
    made = compile_session(parse_plan(other, "one.toml"), "A")
    found = before_session(record, "Ada", made, record.baseline("Ada", made), NOW).offers
    reasons = [reason for offer in found if offer.kind == "lighter" for reason in offer.reasons]
    assert reasons == [
        "Press at the post, Rucksack row: new exercise: stop well short of your limit"
    ]


def test_where_the_advice_speaks_of_something_else_the_missing_counts_stand_below(
    hut: Path, record: Record
) -> None:
    twice(hut, "12 12 12", "18 10 8")
    item = advisor(record).find("row")
    assert item.advice.rule == "drop"
    lines = [line.strip() for line in exercise_lines(2, item)]
    assert "next step: first set 18 18 of 20: twice at 20, then 6 kg" in lines
