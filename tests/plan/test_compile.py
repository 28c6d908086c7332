"""From a plan to what the core runs."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from runner.errors import Exit, MatsideError
from runner.law.workout import Exercise, Item, Level, Station, Timing
from runner.plan.compile import compile_session, short_name
from tests.plan.plans import SMALL, plan


def exercise(*changes: tuple[str, str], name: str = "press") -> Exercise:
    return compile_session(plan(*changes), "A").exercises[name]


def test_every_key_of_a_session_arrives() -> None:
    workout = compile_session(plan(), "A")
    assert (workout.plan, workout.session, workout.name) == ("Kestrel Hut, morning", "A", "Morning")
    assert workout.summary == "Band, rucksack, low bar and bench."
    assert workout.trial
    assert workout.lead_in == 2
    assert (workout.warm_up, workout.cool_down) == (3, 2)
    assert workout.warm_up_moves == ("Arm circles", "Easy rows without the rucksack")
    assert workout.cool_down_moves == ("Walk a round of the hut",)
    assert workout.cautions == ("Clear the floor two steps around the post.",)
    assert workout.stations == {
        "bar": Station(
            id="bar",
            name="Low bar",
            change=2,
            bears_body_weight=True,
            check="Hang from it with your full weight before the first set.",
        )
    }
    (block,) = workout.blocks
    assert block.items == (Item("press", 2), Item("row", 2, 0, ("slow", "light")))
    assert (block.starts_by_key, block.reach) == (False, 0)


def test_every_key_of_an_exercise_arrives() -> None:
    row = exercise(name="row")
    assert (row.id, row.name, row.short) == ("row", "Rucksack row", "ROW")
    assert row.pattern == "horizontal pull"
    assert (row.prime, row.assist, row.both_sides) == (("upper-back",), ("biceps",), ("low-back",))
    assert (row.sides, row.side_order) == ("left first", ("left", "right"))
    assert (row.measure, row.rep_range, row.reserve, row.rep_limit) == ("reps", (8, 30), 2, 40)
    assert (row.station, row.load_on) == ("bar", "hands")
    assert row.way_out == "Set the rucksack down between your feet."
    press = exercise()
    assert press.cues == ("Ribs down", "Elbows at forty-five degrees")
    assert press.caution == "Look the band over for cracks before every session."
    assert (press.priority, row.priority) == (1, 2)
    assert press.instead == ("bench-push-up",)


def test_a_range_of_a_set_up_makes_as_many_positions() -> None:
    assert exercise().progression == (
        Level("mark-1", "one stride from the post", (("anchor", "100 cm"),)),
        *(
            Level(
                "mark-2",
                "stepping out",
                (("anchor", f"{cm} cm"),),
                tempo="2-0-1",
                seconds_a_rep=3,
            )
            for cm in (120, 140, 160, 180, 200)
        ),
    )


def test_a_range_of_loads_makes_as_many_positions() -> None:
    progression = exercise(name="row").progression
    loads = [(level.version, level.load) for level in progression]
    light = [("light", kg) for kg in (4, 6, 8, 10, 12, 14, 16, 18, 20)]
    assert loads == light + [("slow", kg) for kg in (8, 10, 12, 14, 16, 18, 20)]
    assert {level.load_step for level in progression} == {2}
    assert {level.body_share for level in progression if level.version == "slow"} == {0}
    assert progression[-1].source == "none: the load is the rucksack alone"


def test_a_falling_range_keeps_its_order_and_its_step_is_a_size() -> None:
    change = ("load = { from = 4, to = 20, by = 2 }", "load = { from = 1.3, to = 1, by = -0.1 }")
    progression = exercise(change, name="row").progression[:4]
    assert [level.load for level in progression] == [1.3, 1.2, 1.1, 1.0]
    assert {level.load_step for level in progression} == {0.1}


def test_a_load_without_a_range_has_no_step() -> None:
    change = ("load = { from = 4, to = 20, by = 2 }", "load = 4")
    level = exercise(change, name="row").progression[0]
    assert (level.load, level.load_step) == (4, None)


def test_a_range_beside_fixed_values_of_a_set_up() -> None:
    old = 'setup = { anchor = { from = "120 cm", to = "200 cm", by = "20 cm" } }'
    new = 'setup = { hook = "top", anchor = { from = 3, to = 1, by = 2 }, hole = 2.5 }'
    setups = [level.setup for level in exercise((old, new)).progression[1:]]
    assert setups == [
        (("hook", "top"), ("anchor", "3"), ("hole", "2.5")),
        (("hook", "top"), ("anchor", "1"), ("hole", "2.5")),
    ]


def test_effort_of_the_exercise_beats_that_of_the_plan() -> None:
    own = "reserve = 1\nreps = [5, 9]\nhard_ceiling = 20\nseconds_a_rep = 4\n"
    own += 'advance = "two for two"\n'
    press = exercise(('position = "1s"\n', own))
    assert (press.rep_range, press.reserve, press.rep_limit) == ((5, 9), 1, 20)
    assert press.advance == "two for two"
    assert [level.seconds_a_rep for level in press.progression] == [4, 3, 3, 3, 3, 3]
    other = exercise(('position = "1s"\n', own), name="row")
    assert (other.rep_range, other.reserve, other.rep_limit) == ((8, 30), 2, 40)


def test_the_plans_effort_and_the_defaults() -> None:
    assert exercise(("reps = [8, 30]", "reps = [6, 12]")).rep_range == (6, 12)
    small = compile_session(plan(text=SMALL), "A").exercises["row"]
    assert (small.rep_range, small.reserve, small.rep_limit) == ((8, 30), 2, 40)
    assert small.progression == (Level("one", "rucksack", seconds_a_rep=2),)
    hold = ('prime = ["upper-back"]', 'prime = ["upper-back"]\nmeasure = "hold"')
    assert compile_session(plan(hold, text=SMALL), "A").exercises["row"].rep_range == (10, 60)


def test_timing_of_exercise_block_and_plan() -> None:
    (block,) = compile_session(plan(), "A").blocks
    common = Timing(8, 7, 6, 2, 3, 4, 1, 5, 0)
    assert block.timing["bench-push-up"] == common
    assert block.timing["press"].position == 1
    changes = [
        ("do = [", 'recovery = "16s"\nposition = "2s"\nset_starts = "key"\nreach = "3s"\ndo = ['),
        ('breather = "0s"\nstation', 'breather = "6s"\nrecovery = 4\nstation'),
    ]
    (block,) = compile_session(plan(*changes), "A").blocks
    assert block.timing["bench-push-up"] == Timing(16, 14, 12, 2, 3, 4, 1, 2, 0)
    assert block.timing["press"] == Timing(16, 14, 12, 2, 3, 4, 1, 1, 0)
    assert block.timing["row"] == Timing(4, 3.5, 3, 2, 3, 4, 1, 2, 6)
    assert (block.starts_by_key, block.reach) == (True, 3)


def test_starts_and_reach_of_the_plan_hold_in_its_blocks() -> None:
    changes = [('set_starts = "clock"', 'set_starts = "key"'), ('reach = "0s"', 'reach = "2s"')]
    (block,) = compile_session(plan(*changes), "A").blocks
    assert (block.starts_by_key, block.reach) == (True, 2)
    changes.append(("do = [", 'set_starts = "clock"\nreach = 0\ndo = ['))
    (block,) = compile_session(plan(*changes), "A").blocks
    assert (block.starts_by_key, block.reach) == (False, 0)


def test_timing_is_possible_also_for_exercises_that_never_come() -> None:
    changes = [
        ('instead = ["bench-push-up"]', "instead = []"),
        ('short = "BENCH"', 'short = "BENCH"\nrecovery_least = "1:00"\nrecovery_cross = "2:00"'),
    ]
    (block,) = compile_session(plan(*changes), "A").blocks
    timing = block.timing["bench-push-up"]
    assert (timing.recovery, timing.recovery_least, timing.recovery_cross) == (8, 8, 8)


def test_an_unknown_session_is_named_with_the_near_one() -> None:
    with pytest.raises(MatsideError) as refused:
        compile_session(plan(), "a")
    assert refused.value.lines == ('unknown session "a"; did you mean "A"?',)
    assert refused.value.code is Exit.NO_INPUT


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("row", "ROW"),
        ("push-up", "PUSH-UP"),
        ("bench-push-up", "BENCH"),
        ("overhead-press", "OVERHEA"),
        ("a-b-c-d-e", "A-B-C-D"),
    ],
)
def test_a_short_name_from_an_id(name: str, short: str) -> None:
    assert short_name(name) == short


@given(st.from_regex(r"[a-z0-9]{1,9}(-[a-z0-9]{1,9}){0,4}", fullmatch=True))
def test_a_short_name_has_at_most_seven_letters(name: str) -> None:
    short = short_name(name)
    assert 1 <= len(short) <= 7
    assert name.upper().startswith(short)


def test_a_short_name_is_derived_where_none_stands() -> None:
    assert exercise(('short = "BENCH"\n', ""), name="bench-push-up").short == "BENCH"
    assert exercise(('short = "PRESS"', 'short = "press"')).short == "PRESS"


def test_the_pacer_is_off_unless_the_plan_or_the_exercise_asks() -> None:
    def paced(*changes: tuple[str, str]) -> dict[str, bool]:
        exercises = compile_session(plan(*changes), "A").exercises
        return {name: exercise.pacer for name, exercise in exercises.items()}

    everywhere = ("pacer = false", "pacer = true")
    assert set(paced().values()) == set(paced(("pacer = false", "")).values()) == {False}
    assert set(paced(everywhere).values()) == {True}
    own = paced(everywhere, ('short = "ROW"', 'short = "ROW"\npacer = false'))
    assert [name for name, on in own.items() if not on] == ["row"]
