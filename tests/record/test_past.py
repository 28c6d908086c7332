"""What a trainee's past gives to the session to come."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec.structs import replace

from runner.law.workout import Item, Level, Workout
from runner.progress.adjust import Baseline, BeatKey, LevelKey
from runner.record import query
from runner.record.decisions import LevelDecision
from runner.record.record import Record
from runner.session import verb as cmd
from runner.session.apply import replay
from runner.session.events import Opened

from .hut import EXERCISES, MONDAY, TITLE, Sitting, later, morning

PRESS_ONLY = morning((Item("press", 2),))
FIRST: BeatKey = ("press", "mark-1", "anchor=100 cm", "", "", 1, "both")
SECOND: BeatKey = (*FIRST[:5], 2, "both")


def to_beat(record: Record, trainee: str = "Runa") -> dict[BeatKey, float]:
    return dict(record.baseline(trainee, PRESS_ONLY).to_beat)


def test_nobody_has_anything_to_beat_at_first(record: Record) -> None:
    assert record.baseline("Runa", morning()) == Baseline()


def test_the_last_closed_session_gives_the_count_to_beat_complete_or_not(record: Record) -> None:
    Sitting(record, PRESS_ONLY).whole([12, 11])
    assert to_beat(record) == {FIRST: 12, SECOND: 11}
    Sitting(record, PRESS_ONLY, at=later(1)).begin().set(9).close()  # one set left
    assert to_beat(record) == {FIRST: 9, SECOND: 11}
    assert to_beat(record, "Odd") == {}


def test_each_version_s_last_level_and_the_mass_are_known(record: Record) -> None:
    Sitting(record, PRESS_ONLY).whole([12, 11])
    known = record.baseline("Runa", PRESS_ONLY)
    assert (known.last_used, known.mass) == ({("press", "mark-1"): 0}, None)
    sitting = Sitting(record, PRESS_ONLY, at=later(1)).begin()
    sitting.do(cmd.Step(1), cmd.Step(1)).set(13).set(9).do(cmd.Weigh(74.5)).close()
    known = record.baseline("Runa", PRESS_ONLY)
    press = PRESS_ONLY.exercises["press"]
    place = known.last_used["press", "mark-2"]
    assert press.progression[place].version == "mark-2"
    assert known.mass == 74.5
    assert known.done(press).counts == {0: 13, place: 9}
    assert Baseline.from_data(known.as_data()) == known


def test_an_open_session_gives_nothing_until_it_is_closed(record: Record) -> None:
    Sitting(record, PRESS_ONLY).whole([12, 11])
    sitting = Sitting(record, PRESS_ONLY, at=later(1)).begin().set(20)
    assert to_beat(record)[FIRST] == 12
    sitting.close()
    assert to_beat(record)[FIRST] == 20


@pytest.mark.parametrize("why", ["pain", "not counted", "open", "broken", "skipped"])
def test_what_is_no_count_leaves_the_one_before(record: Record, why: str) -> None:
    Sitting(record, PRESS_ONLY).whole([12, 11])
    sitting = Sitting(record, PRESS_ONLY, at=later(1))
    if why == "skipped":
        sitting.do(cmd.Proceed(), cmd.Skip())
    elif why == "broken":
        sitting.begin().do(cmd.Skip(), after=5)
    else:
        sitting.begin().set(30 if why == "pain" else None, on=False)
    if why == "pain":
        sitting.do(cmd.Hurt("elbow"))
    if why == "not counted":
        sitting.do(cmd.NoCount())
    sitting.close()
    assert sitting.rows[0].status == (why if why in ("broken", "skipped") else "done")
    assert to_beat(record) == {FIRST: 12, SECOND: 11}


def test_the_best_at_a_level_is_the_most_of_all_its_sets(record: Record) -> None:
    def best() -> dict[LevelKey, float]:
        return dict(record.baseline("Runa", PRESS_ONLY).best)

    assert best() == {}
    Sitting(record, PRESS_ONLY).whole([9, 14])
    Sitting(record, PRESS_ONLY, at=later(1)).whole([12, 11])
    assert best() == {FIRST[:5]: 14}
    Sitting(record, PRESS_ONLY, at=later(2)).begin().do(cmd.Use(load=2.5)).set(8).close()
    assert best() == {FIRST[:5]: 14, (*FIRST[:3], "2.5", ""): 8}
    assert record.baseline("Odd", PRESS_ONLY).best == {}


def test_a_corrected_count_is_the_one_to_beat(record: Record) -> None:
    Sitting(record, PRESS_ONLY).begin().set(12).do(cmd.Fix(1, "reps", cmd.Count(14))).close()
    assert to_beat(record) == {FIRST: 14}


def test_another_setup_load_version_or_tempo_is_another_count(record: Record) -> None:
    Sitting(record, PRESS_ONLY).whole([12, 11])
    used = Sitting(record, PRESS_ONLY, at=later(1)).begin()
    used.do(cmd.Use(load=2.5)).set(8).do(cmd.Use(setup=(("anchor", "110 cm"),))).set(7).close()
    harder = Sitting(record, PRESS_ONLY, at=later(2)).do(cmd.Proceed(), cmd.Step(1)).wait()
    harder.set(6).close()
    assert to_beat(record) == {
        FIRST: 12,
        SECOND: 11,
        ("press", "mark-1", "anchor=100 cm", "2.5", "", 1, "both"): 8,
        ("press", "mark-1", "anchor=110 cm", "2.5", "", 2, "both"): 7,
        ("press", "mark-2", "anchor=120 cm", "", "2-0-1", 1, "both"): 6,
    }


def test_sides_and_holds_have_counts_of_their_own_and_ramp_sets_none(record: Record) -> None:
    workout = morning((Item("row", 1, ramp=1),), (Item("plank", 1),))
    sitting = Sitting(record, workout).whole([20, 20, 9, 8, 31.26])
    assert [(r.kind, r.set, r.load_kg) for r in sitting.rows[1:3]] == [
        ("ramp", 1, 2.0),
        ("work", 2, 4.0),
    ]
    baseline = record.baseline("Runa", workout)
    assert dict(baseline.to_beat) == {
        ("row", "light", "", "4", "", 2, "left"): 9,
        ("row", "light", "", "4", "", 2, "right"): 8,
        ("plank", "floor", "", "", "", 1, "both"): 31.3,
    }
    again = Sitting(record, workout, at=later()).whole([1, 1, 10, 8, 32])
    assert [(r.to_beat, r.beaten) for r in again.rows] == [
        (None, None),
        (None, None),
        (9, "yes"),
        (8, "no"),
        (31.3, "yes"),
    ]


def test_a_substitute_has_its_past_too(record: Record) -> None:
    sitting = Sitting(record, PRESS_ONLY).do(cmd.Proceed(), cmd.Swap()).wait()
    assert sitting.state.coming is not None
    assert sitting.state.coming[0].exercise == "bench"
    sitting.set(15).close()
    assert to_beat(record) == {("bench", "60", "height=60 cm", "", "", 1, "both"): 15}
    # A session that cannot come to it does not carry it along.
    assert record.baseline("Runa", morning((Item("plank", 1),))).to_beat == {}


def test_lengths_are_those_of_the_last_three_work_sets_newest_last(record: Record) -> None:
    workout = morning((Item("row", 2, ramp=1),))
    for week, seconds in enumerate((20, 30, 40)):
        sitting = Sitting(record, workout, at=later(7 * week)).begin()
        for add in range(6):
            sitting.set(5, seconds + add)
    sitting.do(cmd.End())
    key = ("row", "light", "")
    lengths = record.baseline("Runa", workout).lengths
    assert lengths == {(*key, "left"): (34.0, 42.0, 44.0), (*key, "right"): (35.0, 43.0, 45.0)}


def test_more_of_them_can_be_asked_for(record: Record) -> None:
    workout = morning((Item("press", 4),))
    sitting = Sitting(record, workout).begin()
    for seconds in (20, 30, 40, 50):
        sitting.set(5, seconds)
    sitting.close()
    key = ("press", "mark-1", "", "both")
    assert record.lengths("Runa", workout, 20) == {key: (20.0, 30.0, 40.0, 50.0)}
    assert record.lengths("Runa", workout, 2) == {key: (40.0, 50.0)}
    assert record.lengths("Odd", workout, 20) == {}


def test_a_set_given_up_or_cut_off_has_no_length(record: Record) -> None:
    sitting = Sitting(record, PRESS_ONLY).begin().do(cmd.Return(), after=60)
    sitting.wait().do(cmd.Skip(), after=5).close()
    assert [r.status for r in sitting.rows] == ["done", "broken"]
    assert record.baseline("Runa", PRESS_ONLY).lengths == {}


def test_what_a_session_used_is_where_the_next_starts(record: Record) -> None:
    Sitting(record, PRESS_ONLY).whole()
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 0}
    second = Sitting(record, PRESS_ONLY, at=later(1)).do(cmd.Proceed(), cmd.Step(1)).wait()
    second.set(9).set(9).close()
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 1}
    assert record.baseline("Odd", PRESS_ONLY).working_levels == {}
    assert record.level_decisions() == []  # nothing of it is kept twice
    third = Sitting(record, PRESS_ONLY, at=later(2)).begin()
    assert third.state.course.planned_sets[0].level.version == "mark-2"
    third.do(cmd.Step(1)).set(8).set(8).close()
    # One set of each, both in the range: the harder one.
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 2}


def test_a_level_of_today_only_leaves_the_one_before(record: Record) -> None:
    Sitting(record, PRESS_ONLY).whole()
    second = Sitting(record, PRESS_ONLY, at=later(1)).do(cmd.Proceed(), cmd.Step(1)).wait()
    second.set(9).set(9).do(cmd.Keep(today_only=True)).close()
    assert [r.today_only for r in second.rows] == ["yes", "yes"]
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 0}
    second.do(cmd.Keep())  # said after it was closed
    assert [r.today_only for r in second.rows] == [None, None]
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 1}


def test_a_session_that_was_cut_off_gives_levels(record: Record) -> None:
    Sitting(record, PRESS_ONLY).do(cmd.Proceed(), cmd.Step(1)).wait().set(9)
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 1}
    assert record.baseline("Runa", PRESS_ONLY).to_beat == {}


def test_a_decision_counts_until_a_session_that_knew_it_used_something_else(
    record: Record,
) -> None:
    Sitting(record, PRESS_ONLY).whole()
    unknowing = Sitting(record, PRESS_ONLY, at=later(1))  # opened before the coach decides
    harder = LevelDecision("press", "", EXERCISES["press"].progression[2], "set by hand")
    record.agree("Runa", None, [harder], later(-1))  # dated before it all
    unknowing.whole()
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 2}
    (decision,) = record.level_decisions("Runa")
    assert (decision.local_date, decision.known_from) == (later(-1).date(), "")
    knowing = Sitting(record, PRESS_ONLY, at=later(2))
    assert record.level_decisions("Runa")[0].known_from == knowing.info.id
    assert knowing.state.course.planned_sets[0].level.setup == (("anchor", "140 cm"),)
    knowing.do(cmd.Proceed(), cmd.Step(-1)).wait().set(9).set(9).close()
    assert record.baseline("Runa", PRESS_ONLY).working_levels == {("press", ""): 1}


def test_groups_of_sets_are_held_apart(record: Record) -> None:
    workout = morning((Item("row", 2, versions=("slow", "light")),))
    Sitting(record, workout).whole()
    assert record.baseline("Runa", workout).working_levels == {
        ("row", "slow"): 3,
        ("row", "light"): 0,
    }


def test_a_load_off_the_range_is_kept_and_the_next_step_is_the_ranges(record: Record) -> None:
    workout = morning((Item("row", 1),))
    Sitting(record, workout).begin().do(cmd.Use(load=7.5)).set(9).set(9).close()
    following = Sitting(record, workout, at=later(1))
    assert [s.level.load for s in following.state.course.planned_sets] == [7.5]
    kept = record.events(following.info.id)[0]
    assert isinstance(kept, Opened)
    again = replay(workout, Baseline.from_data(kept.history), following.events)
    assert again == following.state
    following.do(cmd.Proceed(), cmd.Step(1))
    assert [s.level.load for s in following.state.course.planned_sets] == [8.0]
    following.do(cmd.Step(-1), cmd.Step(-1))
    assert [s.level.load for s in following.state.course.planned_sets] == [6.0]


def test_a_version_that_the_plan_no_longer_has_is_held_no_more(record: Record) -> None:
    workout = morning((Item("row", 2, versions=("slow", "light")),))
    Sitting(record, workout).whole()
    changed = replace(
        EXERCISES["row"], progression=(Level("new", "new"), *EXERCISES["row"].progression[:3])
    )
    later_plan = replace(workout, exercises={**EXERCISES, "row": changed})
    assert record.baseline("Runa", later_plan).working_levels == {("row", "light"): 1}


def test_a_group_without_a_level_of_its_own_takes_the_newest(record: Record) -> None:
    named = morning((Item("row", 3, versions=("slow", "light", "light")),))
    sitting = Sitting(record, named).begin().set(9).set(9).do(cmd.Use(load=6))
    sitting.set(9).set(9).set(9).set(9).close()
    free, light = morning((Item("row", 1),)), morning((Item("row", 1, versions=("light",)),))
    assert record.baseline("Runa", light).working_levels["row", "light"] == 1
    assert record.baseline("Runa", free).working_levels["row", ""] == 1


def test_the_session_due_is_the_one_after_the_last_closed(record: Record) -> None:
    ids = ["A", "B", "C"]
    assert record.next_session("Runa", TITLE, ids) == "A"
    Sitting(record, morning(session="A")).whole()
    Sitting(record, morning(session="C"), at=later(1))  # stays open
    assert record.next_session("Runa", TITLE, ids) == "B"
    Sitting(record, morning(session="B"), at=later(2)).close()  # nothing was done
    assert record.next_session("Runa", TITLE, ids) == "B"
    Sitting(record, morning(session="C"), at=later(3)).whole()
    assert record.next_session("Runa", TITLE, ids) == "A"
    assert record.next_session("Runa", TITLE, ["A", "B"]) == "B"
    assert record.next_session("Runa", "another plan", ids) == "A"
    assert record.next_session("Odd", TITLE, ids) == "A"


def test_last_time_is_the_last_closed_session_in_which_something_was_done(record: Record) -> None:
    assert record.last_time("Runa", TITLE, "A") == []
    first = Sitting(record).whole()
    Sitting(record, morning(session="B"), at=later(1)).whole()
    Sitting(record, at=later(2)).begin().set(3)
    Sitting(record, at=later(3)).close()
    assert record.last_time("Runa", TITLE, "A") == first.rows
    assert len(first.rows) == 7


def test_who_is_known_and_who_is_meant(record: Record) -> None:
    for name in ("Runa", "Odd", "Åse Vik"):
        Sitting(record, trainee=name)
    assert record.trainees() == ["Odd", "Runa", "Åse Vik"]
    assert record.plans() == [TITLE]
    assert record.similar("runa") == ["Runa"]
    assert record.similar("Aase Vik") == ["Åse Vik"]
    assert record.similar("Runa") == []
    assert record.similar("Zebulon") == []


def test_cautions_are_acknowledged_once_for_each_trainee_and_plan(record: Record) -> None:
    record.acknowledge("Runa", TITLE, ["Clear the floor.", "Check the band."], MONDAY)
    record.acknowledge("Runa", TITLE, ["Clear the floor."], later())
    assert record.acknowledged("Runa", TITLE) == {"Clear the floor.", "Check the band."}
    assert record.acknowledged("Odd", TITLE) == set()
    assert record.acknowledged("Runa", "another plan") == set()
    utc = record._connection.execute("SELECT DISTINCT utc FROM acknowledged").fetchall()
    assert utc == [("2026-11-23T05:30:00.000Z",)]


def test_the_trial_record_is_another_file(kept: Record, path: Path) -> None:
    trial = morning((Item("press", 2),), trial=True)
    with Record.open(path.with_name("trial.db")) as other:
        Sitting(other, trial).whole([12, 11])
        assert other.baseline("Runa", trial).to_beat == {FIRST: 12, SECOND: 11}
        assert to_beat(kept) == {}
        assert list(kept.rows()) == []


def steps_of(connection: sqlite3.Connection, work: Callable[[], object]) -> int:
    """How many instructions SQLite's machine runs for a piece of work, to the nearest ten."""
    count = 0

    def tick() -> int:
        nonlocal count
        count += 10
        return 0

    connection.set_progress_handler(tick, 10)
    work()
    connection.set_progress_handler(None, 0)
    return count


def multiply(connection: sqlite3.Connection, times: int) -> None:
    """The same sessions so many times more, each a week after the one before."""
    names = [name for _, name, *_ in connection.execute("PRAGMA table_info(set_row)")]
    (sessions,) = connection.execute("SELECT max(key) FROM session").fetchone()
    for week in range(1, times):
        moved = {"session": f"session + {week * sessions}", "place": f"place + {week * 604800000}"}
        values = ", ".join(moved.get(name, f'"{name}"') for name in names)
        connection.execute(
            f"""INSERT INTO session SELECT key + {week * sessions}, id || {week}, plan, plan_hash,
            session, trainee, started_utc, session_start, offset_s, zone, local_date, iso_week,
            version, trial, ended_utc, ended_offset_s, ended_local_date, status, complete,
            mass_kg, rpe, note, adjusted FROM session WHERE key <= {sessions}"""
        )
        connection.execute(f"INSERT INTO set_row SELECT {values} FROM set_row LIMIT {7 * sessions}")


def test_a_long_past_costs_no_more_than_a_short_one(record: Record) -> None:
    """Counted in SQLite's own steps: a look-up passes over the past, it does not read it."""
    Sitting(record).whole()
    connection = record._connection
    look_ups = {
        "memory": lambda: record.baseline("Runa", morning()),
        "last time": lambda: record.last_time("Runa", TITLE, "A"),
    }
    before = {name: steps_of(connection, work) for name, work in look_ups.items()}
    short = record.baseline("Runa", morning())
    multiply(connection, 300)
    assert len(list(record.rows())) == 2100
    after = {name: steps_of(connection, work) for name, work in look_ups.items()}
    assert record.baseline("Runa", morning()).to_beat == short.to_beat
    # The best at a level reads so many counts of each key and no more, some steps for each.
    bests = 16 * query.MOST_OF * len(short.to_beat)
    assert after["memory"] <= before["memory"] * 1.5 + bests
    assert after["last time"] <= before["last time"] * 1.5


def test_every_exercise_of_a_session_is_reachable_with_its_substitutes() -> None:
    def chained() -> Workout:
        bench = replace(EXERCISES["bench"], instead=("plank", "press"))
        return replace(PRESS_ONLY, exercises={**EXERCISES, "bench": bench})

    assert [e.id for e in query.reachable(chained())] == ["press", "bench", "plank"]
