"""When a level is ready for the next, how the step is made, and what is still missing."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from runner.law.workout import Advance, Exercise, Level
from runner.plan.compile import compile_session
from runner.plan.file import read_plan, read_shelf
from runner.progress.going_up import still_needs
from runner.progress.history import PastSession, Use
from runner.progress.progression import (
    LevelsDone,
    done_in,
    easier_than,
    expect,
    harder_than,
    no_easier,
    step_down,
    step_up,
)
from runner.progress.rules import Advice, CurrentLevel
from runner.resources import plans_dir
from runner.session.changes import level_text
from tests.law.builders import exercise
from tests.progress.past import PLANK, PUSH_UP, advice, loads, past, progression, session

# A load of the body and a rucksack: a step of 5 kg is 7 % of what is moved.
SQUAT = exercise(
    "squat", measure="reps", rep_range=(6.0, 15.0), progression=loads(5, 10, 15, share=0.886)
)
CURL = exercise(
    "curl", measure="reps", rep_range=(8.0, 15.0), progression=loads(4, 6, 8, share=None)
)


def needs(of: Exercise, sessions: list[PastSession], held: int = 0, **changes: object) -> str:
    return still_needs(replace(CurrentLevel(of, held, mass=75.0), **changes), sessions)  # type: ignore[arg-type]


def change(found: Advice) -> tuple[str, int] | None:
    return found.change and (found.change.kind, found.change.index or 0)


# -- a small step: the plan's `advance` -----------------------------------------------------------


@pytest.mark.parametrize(
    ("advance", "sessions", "goes_up"),
    [
        ("first set", [(15, 10, 6), (16, 9, 6)], True),
        ("first set", [(15, 10, 6), (16, 9, 5)], False),  # one under the bottom
        ("first set", [(15, 15, 15), (14, 15, 15)], False),
        ("first set", [(20, 20, 20)], False),  # once
        ("every set", [(15, 15, 15)], True),  # double progression: once is enough
        ("every set", [(18, 16, 14)], False),
        ("every set", [(16, None, 15)], False),  # of one set nobody knows
        ("two for two", [(17, 17, 17), (18, 17, 17)], True),
        ("two for two", [(20, 18, 16), (20, 18, 17)], False),
    ],
)
def test_a_small_step_goes_by_the_plan(
    advance: Advance,
    sessions: list[tuple[int, ...]],
    goes_up: bool,  # noqa: FBT001
) -> None:
    of = replace(SQUAT, advance=advance)
    found = advice(of, past(of, *sessions))
    assert (found.rule == "load") is goes_up
    assert (change(found) == ("move", 1)) is goes_up


def test_every_set_passes_over_a_set_that_had_too_little_recovery() -> None:
    of = replace(SQUAT, advance="every set")
    (done,) = past(of, (15, 15, 12))
    *first, last = done.sets
    short = replace(last, recovery=60.0, recovery_least=105.0)
    assert advice(of, [replace(done, sets=(*first, short))]).rule == "load"


@pytest.mark.parametrize(
    ("advance", "source"),
    [
        ("first set", "our choice"),
        ("every set", "common practice"),
        ("two for two", "published"),  # Baechle and Earle
    ],
)
def test_each_way_names_its_source(advance: Advance, source: str) -> None:
    of = replace(SQUAT, advance=advance)
    found = advice(of, past(of, (17, 17, 17), (17, 17, 17)))
    assert found.source == source
    assert found.line.startswith(f"load ({source}): ")


def test_twelve_sessions_over_the_range_do_not_stay_at_five_kilograms() -> None:
    # Range 6-15, first sets of 16 to 20: by the two-for-two rule always 5 kg.
    firsts = (16, 17, 16, 18, 17, 19, 18, 20, 19, 20, 20, 19)
    days = past(SQUAT, *((first, first - 2, first - 4) for first in firsts), every=2)
    ups = [advice(SQUAT, days[:n]).rule for n in range(1, 13)]
    assert ups == ["stay", *["load"] * 11]


def test_any_other_step_asks_for_the_mean_as_well() -> None:
    tops = (15, 10, 9)  # 11.3 on average, under 80 % of 15
    coarse = replace(SQUAT, progression=loads(10, 12, share=0.0))  # 20 %
    assert change(advice(SQUAT, past(SQUAT, tops, tops))) == ("move", 1)
    assert advice(coarse, past(coarse, tops, tops)).change is None
    well = (15, 12, 10)
    assert change(advice(coarse, past(coarse, well, well))) == ("move", 1)


# -- the counts that rules use --------------------------------------------------------------------


def test_the_top_credits_the_reserve_and_says_so() -> None:
    low = replace(SQUAT, rep_range=(6.0, 12.0))
    days = [session(low, (10, 9, 8), d, reserves=[4, 2, 2]) for d in (0, 3)]
    found = advice(low, days)
    assert change(found) == ("move", 1)
    assert "first sets 10 (12 with reserve) and 10 (12 with reserve)" in found.reason
    over = [session(low, (13, 9, 8), d, reserves=[0, 2, 2]) for d in (0, 3)]
    assert change(advice(low, over)) == ("move", 1)  # over 12 what is left counts for nothing


def test_the_bottom_and_a_drop_go_by_what_was_done() -> None:
    # 8 to the limit are 8, and 3 2 2 are first sets of 3, whatever was left.
    days = [session(PUSH_UP, (8, 6, 5), d, 2, reserves=[0, 0, 0]) for d in (0, 3)]
    assert advice(PUSH_UP, days, 2).rule == "stay"
    low = [session(PUSH_UP, (3, 2, 2), d, 2, reserves=[0, 0, 0]) for d in (0, 3)]
    found = advice(PUSH_UP, low, 2)
    assert (found.rule, found.reason.startswith("first sets of 3 and 3, under 8")) == (
        "easier",
        True,
    )
    left = session(PUSH_UP, (10, 9, 6), level=2, reserves=[6, 2, 0])  # 12 with reserve, and 4
    assert advice(PUSH_UP, [left], 2).rule == "stay"


# -- two sessions running -------------------------------------------------------------------------


def test_the_last_two_of_the_same_session_of_the_plan_are_running_too() -> None:
    top, tired = (15, 12, 10), (13, 11, 9)
    a, b, again = (
        session(SQUAT, counts, day, session=name)
        for counts, day, name in ((top, 0, "A"), (tired, 2, "B"), (top, 4, "A"))
    )
    assert change(advice(SQUAT, [a, b, again])) == ("move", 1)
    assert advice(SQUAT, [a, b, replace(again, session="B")]).change is None


def test_a_session_in_which_all_sets_were_left_out_is_none_of_the_exercise() -> None:
    days = past(SQUAT, (15, 12, 10), (15, 12, 10))
    (out,) = past(SQUAT, (None, None))
    left_out = replace(out, sets=tuple(replace(s, status="skipped") for s in out.sets))
    later = replace(left_out, on=days[-1].on)
    assert change(advice(SQUAT, [*days, later])) == ("move", 1)


def test_one_date_counts_once() -> None:
    top = (15, 12, 10)
    twice = [session(SQUAT, top), replace(session(SQUAT, top), session_id="evening")]
    assert advice(SQUAT, twice).change is None
    assert change(advice(SQUAT, [*twice, session(SQUAT, top, 1)])) == ("move", 1)


# -- how the step is made -------------------------------------------------------------------------


def test_the_median_is_shown_with_its_range_and_source() -> None:
    found = advice(SQUAT, past(SQUAT, (15, 13, 12), (15, 13, 12)))
    assert found.expected is not None
    # Epley by hand: 71.45 kg to 76.45 kg, 17 to failure: 30 ((1 + 17/30) 71.45/76.45 - 1) - 2.
    assert found.expected.low <= 11.9 <= found.expected.high
    assert "; expect 12 (" in found.line
    assert "published equations" in found.line


def test_a_hold_and_a_load_over_a_quarter_up_are_bridged() -> None:
    assert change(advice(PLANK, past(PLANK, (60, 55, 50), (60, 55, 50)))) == ("bridge", 1)
    top = (16, 15, 14)
    assert change(advice(CURL, past(CURL, top, top))) == ("bridge", 1)  # 4 to 6 kg
    fine = replace(CURL, progression=loads(8, 10, 12, share=None))
    assert change(advice(fine, past(fine, top, top))) == ("move", 1)  # 8 to 10 kg: a quarter


def test_a_step_that_was_taken_back_is_bridged_the_next_time() -> None:
    top, low = (15, 13, 12), (5, 5, 4)
    there = [session(SQUAT, low, day, 1) for day in (0, 2)]
    days = [*there, session(SQUAT, top, 4), session(SQUAT, top, 6)]
    assert change(advice(SQUAT, days)) == ("bridge", 1)
    assert change(advice(SQUAT, days[2:])) == ("move", 1)


def test_where_no_equation_reaches_the_bottom_the_count_that_would_do_is_named() -> None:
    # Five times the load: at 12 to failure O'Conner and Epley expect nothing, the rest no more.
    far = exercise(
        "far", measure="reps", rep_range=(8.0, 10.0), progression=loads(4, 20, share=0.0)
    )
    days = past(far, (10, 9, 9), (10, 9, 9))
    found = advice(far, days)
    assert found.change is None
    said = needs(far, days)
    assert said.startswith("first set 10 of ")
    assert said.endswith(", then 20 kg, to reach 8 there")
    assert said in found.reason
    count = int(said.removeprefix("first set 10 of ").partition(":")[0])
    assert 10 < count <= 41
    enough = past(far, (count, 10, 10), (count, 10, 10))
    assert change(advice(far, enough)) == ("bridge", 1)


# -- what is still missing ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("of", "sessions", "said"),
    [
        (CURL, [], "first set twice at 15, then 6 kg"),
        (CURL, [(14, 12), (13, 11)], "first set 14 13 of 15: twice at 15, then 6 kg"),
        (CURL, [(14, 12), (15, 11)], "first set 14 15 of 15: once more at 15, then 6 kg"),
        (CURL, [(15, 12)], "first set 15 of 15: once more at 15, then 6 kg"),
        (
            CURL,
            [(15, 12), (16, 7)],
            "first set 15 16 of 15 (a set of 7, under 8): twice at 15, then 6 kg",
        ),
        (CURL, [(15, 12), (16, 9)], ""),
        (
            replace(CURL, advance="every set"),
            [(15, 15, 13)],
            "lowest set 13 of 15: all sets once at 15, then 6 kg",
        ),
        (replace(CURL, advance="every set"), [], "all sets once at 15, then 6 kg"),
        (
            replace(CURL, advance="two for two"),
            [(20, 18, 16), (20, 18, 17)],
            "last set 16 17 of 17: once more at 17, then 6 kg",
        ),
        (
            replace(PUSH_UP, progression=progression(0.41, 0.49)),
            [(20, 15, 10), (21, 13, 11)],
            "first set 20 21 of 20 (15 on average, under 16): twice at 20, then v2",
        ),
    ],
)
def test_what_the_next_step_still_needs(
    of: Exercise, sessions: list[tuple[int, ...]], said: str
) -> None:
    assert needs(of, past(of, *sessions)) == said


def test_counts_with_more_than_a_number_have_commas_and_holds_their_unit() -> None:
    hold = past(PLANK, (30, 28), (33, 30))
    assert needs(PLANK, hold) == (
        "first set 30 s, 33 s of 60 s (31.5 s on average, under 48 s): twice at 60 s, then v2"
    )
    days = [session(CURL, (12, 11), day, reserves=[0, 0]) for day in (0, 3)]
    done = "12 (10 with reserve)"
    assert needs(CURL, days).startswith(f"first set {done}, {done} of 15: twice at 15")


def test_the_next_level_after_a_load_that_the_plan_has_not() -> None:
    """A vest worn once for band pulls that have no load: the next level is its anchor."""
    own = Level("band", "band", (("anchor", "120 cm"),), load=9.0)
    of = replace(PUSH_UP, progression=(own, Level("band", "band", (("anchor", "140 cm"),))))
    assert step_up(of, 0).kind == "set-up"
    assert needs(of, past(of, (20, 18))).endswith("then anchor 140 cm")


def test_a_bridge_under_way_needs_its_first_sets() -> None:
    assert needs(CURL, [], first_set=1) == (
        "first set of 8 with rucksack, 6 kg: twice at 8, then all sets"
    )
    days = [session(CURL, (9,), 0, 1), session(CURL, (8,), 3, 1)]
    assert needs(CURL, days[:1], first_set=1) == (
        "first set 9 of 8 with rucksack, 6 kg: once more at 8, then all sets"
    )
    assert needs(CURL, days, first_set=1) == ""


def test_at_the_hardest_level_nothing_is_missing() -> None:
    assert needs(CURL, past(CURL, (9, 9), level=2), 2) == ""


# -- easier and harder ----------------------------------------------------------------------------

SHIPPED = [
    compile_session(plan, plan.session[0].id)
    for plan in (read_shelf(path) or read_plan(path) for path in sorted(plans_dir().glob("*.toml")))
]
PROGRESSIONS = [(w.plan, of) for w in SHIPPED for of in w.exercises.values()]


def kg(of: Exercise, place: int) -> float:
    return of.progression[place].load or 0.0


@pytest.mark.parametrize("of", [of for _, of in PROGRESSIONS], ids=lambda of: of.id)
def test_no_level_of_the_shipped_plans_has_a_heavier_one_before_it(of: Exercise) -> None:
    for place in range(1, len(of.progression)):
        step = step_down(of, place, 75.0)
        if step.kind != "top":
            assert step.index < place
            assert kg(of, step.index) <= kg(of, place)
            assert step.ratio is None or step.ratio <= 1


@pytest.mark.parametrize(
    ("name", "here", "easier"),
    [
        ("band-press", "slow, hook chest, anchor 160 cm", "mark-2, hook chest, anchor 160 cm"),
        ("overhead-press", "slow, 8 kg", "rucksack, 8 kg"),
        ("side-raise", "slow, knot 3", "grip, knot 3"),
        ("push-down", "slow, hook top, anchor 60 cm", "stand, hook top, anchor 60 cm"),
        ("rucksack-row", "slow, 8 kg", "light, 8 kg"),
        ("curl", "slow, 6 kg", "straps, 6 kg"),
        ("squat", "slow, height 45 cm, 12 kg", "rucksack, height 45 cm, 12 kg"),
        ("hinge", "slow, 12 kg", "rucksack, 12 kg"),
    ],
)
def test_the_eight_progressions_that_fell_to_a_heavier_load(
    name: str, here: str, easier: str
) -> None:
    # They fell to the end of the quicker version's range: 16 kg from a slow curl with 6 kg.
    of = next(of for plan, of in PROGRESSIONS if (plan, of.id) == ("Kestrel Hut, winter", name))
    texts = [level_text(level) for level in of.progression]
    assert texts[step_down(of, texts.index(here)).index] == easier


CURLS = next(of for plan, of in PROGRESSIONS if (plan, of.id) == ("Kestrel Hut, winter", "curl"))


def at(version: str, load: float) -> int:
    return next(
        i for i, r in enumerate(CURLS.progression) if (r.version, r.load) == (version, load)
    )


@pytest.mark.parametrize(
    ("here", "last", "counts", "easier"),
    [
        (("slow", 6), None, {}, ("straps", 6)),  # not 16 kg
        (("slow", 6), ("straps", 16), {}, ("straps", 6)),  # where it was last, but heavier
        (("slow", 6), ("straps", 4), {}, ("straps", 4)),
        (("slow", 8), ("straps", 4), {}, ("slow", 6)),
        # The person's own counts: 9 at the quick 6 kg, 12 at the slow 6 kg
        (("slow", 6), None, {("slow", 6): 12, ("straps", 6): 9}, ("straps", 4)),
        (("slow", 6), None, {("slow", 6): 7, ("straps", 6): 14}, ("straps", 6)),
        (("straps", 4), None, {}, None),
    ],
)
def test_easier_goes_to_the_version_before_at_no_heavier_load(
    here: tuple[str, float],
    last: tuple[str, float] | None,
    counts: dict[tuple[str, float], float],
    easier: tuple[str, float] | None,
) -> None:
    known = LevelsDone(
        {} if last is None else {last[0]: at(*last)}, {at(*key): n for key, n in counts.items()}
    )
    step = step_down(CURLS, at(*here), None, known)
    found = CURLS.progression[step.index]
    assert (None if step.kind == "top" else (found.version, found.load)) == easier


def test_harder_past_the_heaviest_load_goes_where_the_next_version_was_last() -> None:
    assert step_up(CURLS, at("straps", 24)).index == at("slow", 6)
    known = LevelsDone({"slow": at("slow", 12)})
    assert step_up(CURLS, at("straps", 24), None, known).index == at("slow", 12)
    assert step_up(CURLS, at("straps", 14), None, known).index == at("straps", 16)


def test_a_load_off_the_range_goes_to_the_range_s_next_value() -> None:
    used = replace(CURLS.progression[at("straps", 8)], load=7.0)
    assert harder_than(CURLS, used).index == at("straps", 8)
    assert easier_than(CURLS, used).index == at("straps", 6)
    used = replace(used, load=9.5)
    assert easier_than(CURLS, used).index == at("straps", 8)


def test_a_share_that_calls_the_version_before_harder_is_passed_over() -> None:
    odd = exercise(
        "odd", measure="reps", rep_range=(8.0, 20.0), progression=progression(0.41, 0.7, 0.64)
    )
    assert step_down(odd, 2).index == 0
    low = replace(SQUAT, progression=(*loads(8, 10, share=None), *progression(None)))
    assert step_down(low, 2).kind == "top"  # from no load to 8 kg: nothing is easier


def test_where_nothing_is_easier_a_substitute_or_fewer_repetitions_will_do() -> None:
    slow = replace(CURL.progression[0], version="slow", load=2.0, tempo="3-0-1")
    of = replace(CURL, progression=(*CURL.progression, slow), instead=("band-curl",))
    found = advice(of, past(of, (5, 5), (5, 4), level=3), 3)
    assert (found.rule, found.change) == ("easier", None)
    assert "the plan has no easier level: do fewer repetitions" in found.reason
    assert [o.exercise for o in found.others] == ["band-curl"]
    assert no_easier(of, slow) == (
        "Curl at the hut has no easier level with 2 kg or less: swap it, or do fewer repetitions"
    )


def test_the_next_of_a_load_off_the_range_is_the_nearest_where_that_is_heavier() -> None:
    levels = CURL.progression
    for load, up, down in ((4.5, 6.0, 4.0), (5.5, 6.0, 4.0), (7.5, 8.0, 6.0)):
        off = replace(levels[0], load=load)
        assert levels[harder_than(CURL, off).index].load == up
        assert levels[easier_than(CURL, off).index].load == down


def test_easier_than_a_set_up_off_the_range_is_never_heavier() -> None:
    levels = tuple(
        Level("push", "push", (("height", f"{cm} cm"),), load=kg)
        for cm in (90, 60)
        for kg in (8.0, 12.0)
    )
    push = exercise("push", measure="reps", progression=levels)
    for load, index in ((12.5, 1), (11.0, 0), (9.0, 0)):
        used = replace(levels[0], setup=(("height", "80 cm"),), load=load)
        step = easier_than(push, used)
        assert (step.kind, step.index) == ("load", index)
        assert levels[index].load <= load  # type: ignore[operator]
    same = replace(levels[0], setup=(("height", "70 cm"),))
    assert (easier_than(push, same).index, harder_than(push, same).index) == (0, 2)
    assert {easier_than(push, same).kind, harder_than(push, same).kind} == {"set-up"}


def test_a_version_that_the_plan_no_longer_has_says_nothing_of_its_levels() -> None:
    gone = session(CURL, (9, 8), 3)
    gone = replace(gone, sets=tuple(replace(s, use=Use("band", "", None)) for s in gone.sets))
    known = past(CURL, (12, 10), level=1)
    assert (
        done_in(CURL, [*known, gone])
        == done_in(CURL, known)
        == LevelsDone({"rucksack": 1}, {1: 12})
    )


def test_a_version_that_the_plan_no_longer_has_counts_as_the_easiest_level() -> None:
    gone = replace(CURL.progression[2], version="gone")
    assert easier_than(CURL, gone).kind == "top"
    assert harder_than(CURL, gone) == step_up(CURL, 0)


def test_nothing_done_says_nothing_of_what_comes_after_a_step() -> None:
    step = step_up(SQUAT, 0, 75.0)
    assert step.ratio is not None
    assert expect(step, 0.0, 0.0, 2) is None
    assert expect(step, 1.0, 0.0, 2) is not None
