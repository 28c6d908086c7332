"""The sets of a session, the versions they are done at, stations, what comes next."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from runner.law.course import (
    find_level,
    list_planned_sets,
    ramp_level,
    station_setups,
    working_index,
)
from runner.law.timing import Bout, Ledger, loads
from runner.law.workout import Level, Setup, Station
from runner.planning.forecast import begin_course, remaining_steps, session_steps
from runner.progress.adjust import Baseline
from tests.law.builders import exercise, pair, part, timing, workout

SACK = (
    *(Level("light", "sack", load=kg, load_step=2.0) for kg in (4.0, 6.0, 8.0, 10.0)),
    *(Level("slow", "sack", load=kg, load_step=2.0, tempo="3-0-3") for kg in (8.0, 10.0)),
)


def at(height: int) -> Setup:
    return (("height", f"{height} cm"),)


def test_sets_go_round_the_block_ramp_sets_in_front() -> None:
    parts = [part(exercise("press"), 2, ramp=1), part(exercise("row"), 2)]
    planned_sets = list_planned_sets(workout(parts, [part(exercise("press"), 1)]), {})
    assert [(s.block, s.round, s.exercise, s.number, s.kind) for s in planned_sets] == [
        (1, 1, "press", 1, "ramp"),
        (1, 1, "row", 1, "work"),
        (1, 2, "press", 2, "work"),
        (1, 2, "row", 2, "work"),
        (1, 3, "press", 3, "work"),
        (2, 1, "press", 4, "work"),
    ]


def test_who_holds_no_version_begins_at_the_first() -> None:
    sack = exercise("sack", progression=SACK)
    item = part(sack, 2, versions=("slow", "light"))
    plain = part(exercise("press", progression=SACK), 1)
    planned_sets = list_planned_sets(workout([item, plain]), {})
    assert [(s.level.version, s.level.load, s.group) for s in planned_sets] == [
        ("slow", 8.0, "slow"), ("light", 4.0, ""), ("light", 4.0, "light"),
    ]  # fmt: skip
    working = {("sack", "slow"): 5, ("press", ""): 2}
    planned_sets = list_planned_sets(workout([item, plain]), working)
    assert [s.level.load for s in planned_sets] == [10.0, 8.0, 4.0]
    with pytest.raises(KeyError):
        sack.first_level("mark-9")


@pytest.mark.parametrize(
    ("load", "step", "half"),
    [(8, 2, 4), (10, 2, 4), (6, 2, 2), (4, 2, 2), (2, 2, 0), (7.5, 2.5, 2.5), (1.1, 0.1, 0.5),
     (9, None, 4), (7.5, None, 3), (0, None, 0)],
)  # fmt: skip
def test_a_ramp_set_has_half_the_load_rounded_down(
    load: float, step: float | None, half: float
) -> None:
    work = Level("v", "v", load=load, load_step=step)
    assert ramp_level(exercise("sack", progression=(work,)), work) == replace(work, load=half)


def test_a_ramp_set_without_a_load_has_the_version_before() -> None:
    progression = tuple(Level(name, name, at(cm)) for name, cm in (("a", 1), ("a", 2), ("b", 3)))
    done = exercise("row", progression=progression)
    assert ramp_level(done, progression[2]) == progression[0]
    assert ramp_level(done, progression[2], {("row", "a"): 1}) == progression[1]
    assert ramp_level(done, progression[1]) == progression[1]
    assert working_index(done, "b", {}) == 2


def test_a_level_off_the_progression_is_found_by_the_nearest() -> None:
    sack = exercise("sack", progression=SACK)
    assert find_level(sack, SACK[3]) == 3
    assert find_level(sack, replace(SACK[0], load=7.2)) == 2
    assert find_level(sack, replace(SACK[4], load=30.0)) == 5
    assert find_level(sack, Level("gone", "gone")) == 0
    marks = tuple(Level("v", "v", at(cm)) for cm in (60, 70, 80))
    assert find_level(exercise("row", progression=marks), Level("v", "other", at(70))) == 1


def test_expected_lengths() -> None:
    twelve = Level("v", "v", seconds_a_rep=3.0)
    press = exercise("press", measure="reps", rep_range=(8.0, 12.0), progression=(twelve,))
    plank = exercise("plank", rep_range=(20.0, 60.0))
    parts = [part(press, 1, ramp=1), part(plank, 1, ramp=1)]
    course = begin_course(workout(parts))
    assert [course.expected(planned_set, "both") for planned_set in course.planned_sets] == [
        24,
        20,
        30,
        40,
    ]
    assert [s.seconds for s in session_steps(workout(parts)) if s.kind == "set"] == [24, 20, 30, 40]
    known = begin_course(
        workout(parts), Baseline(lengths={("press", "v", "", "both"): (50.0, 10.0, 20.0, 40.0)})
    )
    assert [known.expected(planned_set, "both") for planned_set in known.planned_sets] == [
        24,
        20,
        20,
        40,
    ]


def test_each_side_is_expected_for_itself() -> None:
    baseline = Baseline(
        lengths={("row", "plain", "", "left"): (30.0,), ("row", "plain", "", "right"): (50.0,)}
    )
    course = begin_course(workout([part(exercise("row", sides="left first"))]), baseline)
    assert [bout.expected for bout in course.timed(0).bouts] == [30.0, 50.0]
    assert course.timed(0).work == 95.0


def test_stations_as_they_have_to_stand_before_the_session() -> None:
    high, free = (Level("h", "h", at(90)),), (Level("f", "f"),)
    parts = [
        part(exercise("press", station="bench", progression=free), 1),
        part(exercise("row", station="bar", progression=free), 1),
        part(exercise("pull", station="bar", progression=high), 1),
        part(exercise("dip", station="bar", progression=(Level("l", "l", at(60)),)), 1),
    ]
    session = workout(parts, stations=[Station("bar", "Low bar", change=50.0)])
    planned_sets = list_planned_sets(session, {})
    assert station_setups(planned_sets, session) == {"bench": (), "bar": at(90)}
    course = begin_course(session)
    assert [course.change(index) for index in range(4)] == [0, 0, 0, 0]
    # going round: the first that names a set-up finds it ready, the next one changes it
    assert [one.change for one in course.round_of(0)] == [0, 0, 0, 50]


def test_a_setup_is_a_whole_whatever_the_order_of_its_values() -> None:
    one = (("height", "60 cm"), ("width", "40 cm"))
    progression = (Level("a", "a", one), Level("b", "b", one[::-1]), Level("c", "c", one[:1]))
    row = exercise("row", station="bar", progression=progression)
    item = part(row, 3, versions=("a", "b", "c"))
    session = workout([item], stations=[Station("bar", "Low bar", change=200.0)])
    changes = [s.timed.change for s in session_steps(session) if s.timed is not None]
    assert changes == [0.0, 0.0, 200.0]


def test_what_a_course_cannot_do() -> None:
    course = begin_course(workout())
    assert (course.next, course.recovered(0.0)) == (None, None)
    with pytest.raises(ValueError, match="no set remains"):
        course.rest()
    with pytest.raises(ValueError, match="no set remains"):
        course.begin()
    with pytest.raises(ValueError, match="no set is running"):
        begin_course(pair()).finish(1.0, 1.0)


def test_a_bout_without_length_is_no_step() -> None:
    def no_time(_planned_set: object, _bout: object) -> float:
        return 0.0

    (rest,) = remaining_steps(begin_course(pair(sets=1, lead_in=0.0)), 0.0, no_time)
    # 0 is what is known of the press, 40 expected of the row: L needs 145 - 40 of two changeovers
    assert (rest.kind, rest.seconds) == ("rest", 52.5)


def test_loads_by_side_and_role() -> None:
    prime, synergist = loads(["chest"], ["triceps"], [], "both")
    assert sorted(prime) == [("chest", "left"), ("chest", "right")]
    assert sorted(synergist) == [("triceps", "left"), ("triceps", "right")]
    prime, synergist = loads(["glutes"], ["calves"], ["glutes", "low-back"], "left")
    assert sorted(prime) == [("glutes", "left")]
    assert sorted(synergist) == [
        ("calves", "left"), ("glutes", "right"), ("low-back", "left"), ("low-back", "right"),
    ]  # fmt: skip


def test_the_ledger_knows_roles_and_sides() -> None:
    left = Bout("left", frozenset({("lats", "left")}), frozenset({("back", "left")}), 20.0)
    right = Bout("right", frozenset({("lats", "right")}), frozenset({("back", "left")}), 20.0)
    empty = Ledger()
    assert empty.due(left, 120.0, 90.0) == float("-inf")
    assert empty.recovered(left, 5.0) is None
    after = empty.after(left, 100.0)
    assert (after.prime, after.synergist) == ({("lats", "left"): 100.0}, {("back", "left"): 100.0})
    assert after.due(right, 120.0, 90.0) == float("-inf")  # synergist after synergist asks nothing
    assert after.due(left, 120.0, 90.0) == 220.0
    assert after.recovered(left, 160.0) == 60.0
    back = Bout("left", frozenset({("back", "left")}), frozenset({("lats", "left")}), 20.0)
    assert after.due(back, 120.0, 90.0) == 190.0
    assert timing().cross_least == 78.75


def test_the_nearest_level_has_the_nearest_set_up_then_the_nearest_load() -> None:
    def push(cm: int, kg: float) -> Level:
        return Level("push", "push", (("height", f"{cm} cm"),), load=kg)

    levels = (Level("knees", "knees"), push(90, 4.0), push(90, 8.0), push(60, 12.0))
    done = exercise("push", progression=levels)
    for index, level in enumerate(levels):
        assert find_level(done, level) == index
    assert find_level(done, push(80, 11.0)) == 2  # though 12 kg is nearer
    assert find_level(done, push(70, 4.0)) == 3
    assert find_level(done, push(75, 5.0)) == 1  # as far from 60 cm as from 90
    assert find_level(done, Level("gone", "gone", load=12.0)) == 0
