"""The oracle's rules one by one, on sessions worked out by hand (seconds)."""

from __future__ import annotations

import pytest

from .model import Act, Exercise, InexactError, Median, Outcome, Session
from .test_ticks import SECOND, exercise, recoveries, rests, run, settings
from .ticks import level, simulate

S = SECOND


def act(what: str, phase: str, bout: int, after: float, amount: float = 0, **other: object) -> Act:
    return Act(what, phase, bout, int(after * S), int(amount * S), **other)  # type: ignore[arg-type]


def pair(length: float = 40, sets: int = 3) -> tuple[Exercise, Exercise]:
    return exercise("a", sets, length), exercise("b", sets, length)


def done(outcome: Outcome) -> list[str]:
    return [f"{bout.planned_set.exercise.id}{bout.planned_set.round}" for bout in outcome.bouts]


def whys(outcome: Outcome) -> list[str]:
    return [bout.why for bout in outcome.bouts]


def test_level_counts_up_over_what_is_forced() -> None:
    assert level(100, [30, 30]) == 50
    assert level(100, [30, 60]) == 40
    assert level(100, [50, 60]) == 0
    with pytest.raises(InexactError):
        level(101, [30, 30])


def test_inexact_cross_recovery_is_refused() -> None:
    with pytest.raises(InexactError):
        _ = settings(T=120, L=105, A=0.25).cross_least


def test_prime_and_on_both_sides() -> None:
    one = exercise("a", 1, 40, sides="left first", prime=("glutes",), both_sides=("glutes",))
    assert set(one.loads("left")) == {
        ("glutes", "left", "prime"),
        ("glutes", "right", "synergist"),
    }
    # straight sets: left again at 120 after left, and 90 after it helped on the right
    again = exercise("a", 2, 40, sides="left first", prime=("glutes",), both_sides=("glutes",))
    assert rests(run((again,))) == [15, 90, 15]
    helper = exercise("a", 1, 40, sides="right first", assist=("back",), both_sides=("back",))
    assert set(helper.loads("right")) == {
        ("muscle of a", "right", "prime"),
        ("back", "right", "synergist"),
        ("back", "left", "synergist"),
    }
    with pytest.raises(ValueError, match="one-sided"):
        exercise("a", 1, 40, both_sides=("back",)).loads("both")


def test_first_side_waits_for_the_second() -> None:
    # left 10, right 60 expected: right, ended last, decides: due in 120 - (10 + 15)
    long = exercise("a", 2, 10, sides="left first", expected={"left": 40, "right": 240})
    assert rests(run((long,))) == [15, 95, 15]


def test_second_side_waits_for_its_least() -> None:
    # the first side takes 10 and not 40: 95 + 10 + 15 = 120 for the left, the right had 90 so far
    early = exercise("a", 2, 40, sides="left first", actual={(2, "left"): 10 * S})
    outcome = run((early,))
    assert rests(outcome) == [15, 65, 30]
    assert recoveries(outcome, "a", "right") == [None, 105]
    assert whys(outcome) == ["lead-in", "side", "recovery", "side"]


def test_sides_ask_nothing_of_each_other() -> None:
    one = exercise("a", 1, 40, sides="left first", prime=("back",), both_sides=("back",))
    assert rests(run((one,))) == [15]


def test_block_rest_and_recovery_across_blocks() -> None:
    chest = exercise("a", 1, 40, prime=("chest",))
    again = exercise("b", 1, 40, prime=("chest",))
    outcome = run((chest,), (exercise("c", 1, 10),), (again,))
    assert rests(outcome) == [60, 60]
    assert whys(outcome) == ["lead-in", "block", "block"]
    assert recoveries(outcome, "b") == [130]
    outcome = run((chest,), (again,))
    assert (rests(outcome), whys(outcome)) == ([120], ["lead-in", "recovery"])


def test_cross_roles_in_straight_sets_ask_for_the_whole() -> None:
    helped = exercise("b", 1, 10, assist=("muscle of a",))
    assert rests(run((exercise("a", 1, 40),), (helped,))) == [90]
    again = exercise("b", 1, 10, assist=("helper",))
    assert rests(run((exercise("a", 1, 40, assist=("helper",)),), (again,))) == [60]


def test_set_to_come_decides_its_recovery() -> None:
    a = exercise("a", 1, 40, prime=("chest",))
    b = exercise("b", 1, 40, prime=("chest",), settings=settings(T=160, L=140))
    assert rests(run((a,), (b,))) == [160]
    assert rests(run((b,), (a,))) == [120]


def test_why_takes_the_first_that_is_the_rest() -> None:
    a = exercise("a", 1, 40, settings=settings(breather=60))
    b = exercise("b", 1, 40, station="bar", setups=("high",), settings=settings(position=60))
    bar = {"bar": 60 * S}
    assert whys(run((a,), (b,), stations=bar, stood={"bar": "low"}))[1] == "station"
    assert whys(run((a,), (b,), stations=bar))[1] == "breather"
    plain = exercise("a", 1, 40)
    assert whys(run((plain,), (b,), stations=bar))[1] == "position"
    assert whys(run((plain, b), stations=bar))[1] == "position"


def test_changeover_over_its_ceiling_is_for_recovery() -> None:
    assert whys(run(pair(10)))[1:] == ["recovery"] * 5
    assert whys(run(pair(20)))[1:] == ["changeover"] * 5


def test_station_stays_as_it_was_left() -> None:
    free = settings(T=8, L=8, A=0, c1=0, c2=0, position=0)
    ways = ("low", None, "low", "high", "high")
    sets = exercise("a", 5, 10, settings=free, station="bar", setups=ways)
    assert rests(run((sets,), stations={"bar": 20 * S})) == [8, 8, 20, 8]


def test_share_knows_the_changes_of_the_round() -> None:
    def one(name: str, way: str) -> Exercise:
        return exercise(name, 2, 20, station="bar", setups=(way, way))

    outcome = run((one("a", "low"), one("b", "high")), stations={"bar": 40 * S})
    # W 40, need 100. Round 1: a finds it ready, f = 30 and 40; later rounds 40 and 40:
    # level 50 both times, over the ceiling of 45
    assert rests(outcome) == [45, 45, 45]
    long = run((one("a", "low"), one("b", "high")), stations={"bar": 70 * S})
    # f = 30 and 70, later 70 and 70: enough as it is, and the changes themselves take 70
    assert rests(long) == [70, 70, 70]
    assert [d.share for d in long.decisions[1:]] == [30 * S] * 3


def test_skip_in_a_rest() -> None:
    # b1 is skipped 10 s into the changeover: a2 comes, straight, due in 120 after a1
    outcome = run(pair(), acts=(act("skip", "rest", 1, 10),))
    assert done(outcome) == ["a1", "a2", "b2", "a3", "b3"]
    assert rests(outcome)[0] == 120
    # a2 is skipped at 35 of 40: b2 is due 80 + 40 after b1: straight after b1
    outcome = run(pair(), acts=(act("skip", "rest", 2, 35),))
    assert done(outcome) == ["a1", "b1", "b2", "a3", "b3"]
    assert rests(outcome)[:2] == [40, 120]


def test_skip_leaves_the_lead_in() -> None:
    circuit = (exercise("a", 2, 40), exercise("b", 2, 40), exercise("c", 2, 40))
    outcome = run(circuit, acts=(act("skip", "rest", 1, 25),))
    # round 1 without b: need 160 - 80, level 40
    assert (done(outcome)[:2], rests(outcome)[0]) == (["a1", "c1"], 40)
    # with d, need 160 - 120, share 30: skipped at 29, the lead-in of 10 decides
    longer = run((*circuit, exercise("d", 2, 40)), acts=(act("skip", "rest", 1, 29),))
    assert (rests(longer)[0], longer.bouts[1].why, longer.bouts[1].moved) == (39, "lead-in", True)


def test_skip_before_the_first_set() -> None:
    outcome = run(pair(), acts=(act("skip", "rest", 0, 4),))
    assert (done(outcome)[0], outcome.bouts[0].start) == ("b1", 14 * S)


def test_given_up_counts_to_that_instant_and_stays_in_its_round() -> None:
    outcome = run(pair(), acts=(act("skip", "set", 0, 10),))
    first = outcome.bouts[0]
    assert (first.end - first.start, first.status) == (10 * S, "given up")
    assert done(outcome) == ["a1", "b1", "a2", "b2", "a3", "b3"]
    # b1 in changeover after 40, ends 80 later; a2 is due 120 after a1: 40
    assert rests(outcome)[:2] == [40, 40]


@pytest.mark.parametrize(("whole", "sides"), [(True, 3), (False, 4)])
def test_given_up_side(*, whole: bool, sides: int) -> None:
    one = exercise("a", 2, 40, sides="left first")
    assert len(run((one,), acts=(act("skip", "set", 0, 10, whole=whole),)).bouts) == sides


def test_skip_in_the_gap_leaves_out_the_second_side() -> None:
    outcome = run((exercise("a", 2, 40, sides="left first"),), acts=(act("skip", "rest", 1, 5),))
    assert [bout.planned_set.side for bout in outcome.bouts] == ["left", "left", "right"]
    assert rests(outcome) == [120, 15]


def test_drop_leaves_the_partner_in_straight_sets() -> None:
    outcome = run(pair(), acts=(act("drop", "rest", 3, 10),))
    assert done(outcome) == ["a1", "b1", "a2", "a3"]
    assert rests(outcome) == [40, 40, 120]
    outcome = run(pair(), acts=(act("drop", "set", 1, 10),))
    assert done(outcome) == ["a1", "b1", "a2", "a3"]
    # b1 given up after 10 at 90 from a1's start: a2 is alone in its round, due at 160: 70
    assert rests(outcome) == [40, 70, 120]


def test_begun_set_of_a_dropped_exercise_belongs_to_its_round() -> None:
    # a is dropped in its first set: b1 still comes by the changeover, its round holds both
    outcome = run(pair(), acts=(act("drop", "set", 0, 10),))
    assert (done(outcome), rests(outcome)) == (["a1", "b1", "b2", "b3"], [40, 120, 120])
    assert whys(outcome)[1] == "changeover"


def test_drop_of_an_exercise_that_is_not_next() -> None:
    outcome = run(pair(), acts=(act("drop", "rest", 1, 10, exercise="a"),))
    assert (done(outcome), rests(outcome)) == (["a1", "b1", "b2", "b3"], [40, 120, 120])
    outcome = run(pair(), acts=(act("drop", "set", 0, 10, exercise="b"),))
    assert (done(outcome), outcome.bouts[0].status) == (["a1", "a2", "a3"], "done")


def test_pause_in_a_rest() -> None:
    short = run(pair(), acts=(act("pause", "rest", 1, 5, 10),))
    assert rests(short)[0] == 40  # return at 15, + 10 < 40
    late = run(pair(), acts=(act("pause", "rest", 1, 5, 30),))
    assert rests(late)[0] == 45
    assert recoveries(late, "a")[1] == 125
    lead = run(pair(), acts=(act("pause", "rest", 0, 5, 30),))
    assert lead.bouts[0].start == 45 * S


def test_pause_in_a_set_ends_it() -> None:
    outcome = run(pair(), acts=(act("pause", "set", 0, 20, 100),))
    assert (outcome.bouts[0].status, outcome.bouts[0].end) == ("paused", 30 * S)
    assert rests(outcome)[0] == 110
    assert done(outcome)[1] == "b1"
    # the body did not pause: a2 is due 120 after a1, long over when b1 ends
    assert rests(outcome)[1] == 40


def test_asked_for() -> None:
    longer = run(pair(), acts=(act("ask", "rest", 1, 5, 15), act("ask", "rest", 1, 6, 15)))
    assert (rests(longer)[0], longer.bouts[1].asked) == (70, True)
    assert rests(longer)[1] == 40  # this rest alone; a2 is due at 120, 40 after b1 at the least
    less = run(pair(), acts=(act("ask", "rest", 2, 5, -15),))
    assert (rests(less)[1], recoveries(less, "a")[1]) == (25, 105)
    at_once = run(pair(), acts=(act("ask", "rest", 1, 30, -15),))
    assert rests(at_once)[0] == 30
    assert rests(run(pair(), acts=(act("now", "rest", 2, 7),)))[1] == 7


def test_what_was_asked_for_is_forgotten_with_another_set() -> None:
    acts = (act("ask", "rest", 1, 5, 30), act("skip", "rest", 1, 6))
    outcome = run(pair(), acts=acts)
    assert (rests(outcome)[0], outcome.bouts[1].asked) == (120, False)


def test_act_too_late_does_not_happen() -> None:
    outcome = run(pair(), acts=(act("skip", "rest", 1, 40), act("skip", "set", 1, 40)))
    assert (outcome.happened, len(outcome.bouts)) == ((), 6)
    paused = (act("pause", "rest", 1, 5, 10), act("skip", "rest", 1, 14.75))
    happened = run(pair(), acts=paused).happened
    assert [one.planned_set.exercise.id for one in happened] == [
        "b",
        "a",
    ]  # after the pause, in the next
    with pytest.raises(ValueError, match="tick"):
        simulate(Session((pair(),), 0, acts=(Act("skip", "rest", 0, 0),)))
    with pytest.raises(ValueError, match="asked"):
        simulate(Session((pair(),), 0, acts=(Act("now", "set", 0, 4),)))


def test_median_of_the_last_three() -> None:
    learnt = exercise("a", 3, 40, ramp=1, expected_ramp={"both": 80}, history={"both": (40, 200)})
    expect = Median()
    assert expect(learnt, "ramp", "both", ()) == 80
    assert expect(learnt, "work", "both", ()) == 120
    past = simulate(Session(((learnt,),), 0)).bouts  # 80 (ramp), 160, 160
    assert past[0].end == 80
    assert expect(learnt, "work", "both", past[:1]) == 120
    assert expect(learnt, "work", "both", past[:2]) == 160
    given_up = simulate(Session(((learnt,),), 0, acts=(Act("skip", "set", 1, 9),))).bouts
    assert expect(learnt, "work", "both", given_up[:2]) == 120
    assert Median(("done", "given up"))(learnt, "work", "both", given_up[:2]) == 40
    with pytest.raises(InexactError):
        expect(exercise("a", 1, 1, history={"both": (1, 2)}), "work", "both", ())
    assert expect(exercise("a", 1, 1), "work", "both", ()) == S


def test_each_side_is_expected_for_itself() -> None:
    sided = exercise("a", 1, 10, sides="right first", history={"left": (80,)})
    assert Median()(sided, "work", "left", ()) == 80
    assert Median()(sided, "work", "right", ()) == 40


def test_expected_lengths_only_shape_the_share() -> None:
    # both are expected at 20 and take 60: the share 45 is asked for, and all are recovered by then
    slow = {(n, "both"): 60 * S for n in (1, 2, 3)}
    block = (exercise("a", 3, 20, actual=slow), exercise("b", 3, 20, actual=slow))
    assert rests(run(block)) == [45] * 5
    learning = run(block, expect=Median())
    # before b1, a is known at 60 and b at 20: W 80, need 100, level 50, ceiling 45;
    # from a2 on both are known: W 120, need 60: 30; a2 is due 45 + 60 + 15 after a1
    assert rests(learning) == [45, 30, 30, 30, 30]


def test_straight_sets_hold_the_changeover_and_blocks_do_not() -> None:
    quick = settings(T=8, L=8, A=0, block_rest=0)
    one = exercise("a", 2, 40, settings=quick)
    assert rests(run((one,))) == [30]
    assert rests(run((exercise("a", 1, 40),), (exercise("b", 1, 40, settings=quick),))) == [5]


def test_share_leaves_the_others_what_a_long_position_does_not_need() -> None:
    # W 60, need 90: 60 before b, so 30 before a and no 45
    b = exercise("b", 3, 30, settings=settings(position=60))
    assert [d.share for d in run((exercise("a", 3, 30), b)).decisions[1:]] == [30 * S] * 5


def test_changes_of_a_round_are_walked_from_its_beginning() -> None:
    def one(name: str, way: str) -> Exercise:
        return exercise(name, 2, 30, station="bar", setups=(way, way))

    # W 60, need 90. Round 1: f = 30 and 50, level 40; round 2, also before b2: 50 and 50
    outcome = run((one("a", "low"), one("b", "high")), stations={"bar": 50 * S})
    assert [d.share for d in outcome.decisions[1:]] == [40 * S, 30 * S, 30 * S]


def test_recovery_is_the_least_of_the_prime_movers() -> None:
    chest, calves = exercise("a", 1, 40, prime=("chest",)), exercise("b", 1, 40, prime=("calves",))
    both = exercise("c", 1, 40, prime=("chest", "calves"))
    assert recoveries(run((chest,), (calves,), (both,)), "c") == [120]


def test_median_forgets_what_is_older() -> None:
    assert Median()(exercise("a", 1, 1, history={"both": (2, 2, 9, 9)}), "work", "both", ()) == 9
    assert Median()(exercise("a", 1, 1, history={"both": (8, 8, 2, 9, 4)}), "work", "both", ()) == 4
