"""The working level out of sets done and decisions made, worked through by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime
from itertools import permutations

import pytest
from hypothesis import given, strategies as st

from runner.law.course import with_level
from runner.law.workout import Level
from runner.progress.adjust import Baseline
from runner.progress.history import Use
from runner.progress.levels import (
    Decision,
    TrainedSession,
    WorkingLevel,
    carries,
    in_progressions,
    is_later,
    level_of_version,
    session_level,
    trained,
    working_level,
)
from tests.law.builders import exercise, part, workout
from tests.rows import row

PROGRESSION = (
    Level("knees", "on the knees"),
    *(Level("sack", "with the rucksack", load=float(kg), load_step=4.0) for kg in (8, 12, 16)),
    Level("one", "one arm"),
)
PUSH_UP = exercise("push-up", measure="reps", rep_range=(6, 15), progression=PROGRESSION)
KNEES, ONE = Use("knees"), Use("one")
KG = {kg: Use("sack", "", float(kg)) for kg in (8, 10, 12, 16)}


def did(day: int, *sets: tuple[Use, float], **how: object) -> TrainedSession:
    """A session at 6 o'clock UTC on a day of November."""
    start = datetime(2026, 11, day, 6, tzinfo=UTC)
    usual = TrainedSession(f"s{day}", start, start.date(), sets)
    return TrainedSession(**{f: how.get(f, getattr(usual, f)) for f in usual.__struct_fields__})


def said(day: int, use: Use, *, known_from: int | None = None, imported: bool = False) -> Decision:
    known = None if known_from is None else datetime(2026, 11, known_from, 6, tzinfo=UTC)
    on = date(2026, 11, day)
    return Decision(use, on, "set by hand", f"d{day}", f"{on}T18:00", known, imported)


def level(
    *sessions: TrainedSession, decisions: tuple[Decision, ...] = (), since: bool = False
) -> WorkingLevel:
    newest_first = sorted(sessions, key=lambda s: s.start, reverse=True)
    found = working_level(PUSH_UP, "", newest_first, decisions, since=since)
    assert found is not None
    return found


# -- of one session ---------------------------


@pytest.mark.parametrize(
    ("sets", "planned", "found"),
    [
        ([(KG[8], 9), (KG[12], 8), (KG[12], 7)], KG[8], KG[12]),  # most sets
        ([(KG[8], 9), (KG[8], 8), (KG[12], 7)], KG[8], KG[8]),
        ([(KG[8], 9), (KG[12], 6)], KG[8], KG[12]),  # a tie: the harder, it reached 6
        ([(KG[8], 9), (KG[12], 5)], KG[8], KG[8]),
        ([(KG[12], 5), (KG[12], 4)], KG[8], None),  # never reached the bottom
        ([(KG[8], 5), (KG[12], 4), (KG[12], 3)], KG[8], KG[8]),
        ([(KG[12], 5), (KG[12], 6)], KG[8], KG[12]),  # one of them reached it
        ([(KG[8], 5), (KG[8], 4)], KG[12], KG[8]),  # easier than planned: kept
        ([(KG[12], 5), (KG[12], 4)], KG[12], KG[12]),  # as planned: kept
        ([(KG[8], 5), (KNEES, 4)], KG[12], KNEES),  # a tie in which none reached it
        ([(Use("gone"), 9), (Use("gone"), 9), (KG[8], 9)], KG[8], KG[8]),
        ([(Use("gone"), 9)], KG[8], None),
    ],
)
def test_the_level_of_a_session(
    sets: list[tuple[Use, float]], planned: Use, found: Use | None
) -> None:
    assert session_level(PUSH_UP, sets, planned) == found
    for other in permutations(sets):
        assert session_level(PUSH_UP, other, planned) == found


@pytest.mark.parametrize(
    "change",
    [
        {"deload": "yes"},
        {"pain": "yes"},
        {"swapped_for": "press"},
        {"today_only": "yes"},
        {"level_finding": "yes"},
        {"kind": "ramp"},
        {"status": "broken"},
        {"reps": None},
    ],
)
def test_what_is_not_carried_forward(change: dict[str, object]) -> None:
    assert carries(row())
    assert not carries(row(**change))
    assert trained([row(**change)]) is None


def test_two_sides_are_one_set_and_its_count_that_of_the_weaker() -> None:
    sides = [row(side="left", reps=9), row(side="right", reps=5), row(set=2, reps=7)]
    found = trained(sides)
    assert found is not None
    assert found.sets == ((Use("v1"), 5.0), (Use("v1"), 7.0))
    assert (found.timed, found.on) == (True, date(2026, 11, 25))
    paper = trained([row(set_start=None)])
    assert paper is not None
    assert not paper.timed


# -- of all of them ---------------------------


def test_whoever_trains_at_twelve_starts_at_twelve() -> None:
    sessions = [did(day, (KG[12], 8), (KG[12], 7)) for day in (10, 12)]
    assert level(did(3, (KG[8], 9)), *sessions).use == KG[12]
    found = level(did(3, (KG[8], 9)), *sessions, since=True)
    assert (found.on, found.reason, found.source) == (date(2026, 11, 10), "used", "s10")


def test_a_session_without_a_level_leaves_the_one_before() -> None:
    assert level(did(3, (KG[8], 9)), did(5, (KG[16], 2))).use == KG[8]


def test_nothing_known_is_no_level() -> None:
    assert working_level(PUSH_UP, "", [], []) is None
    # Whoever never reached the bottom of a harder one still begins at the easiest.
    assert working_level(PUSH_UP, "", [did(3, (ONE, 2))], []) is None


def test_the_coachs_decision_survives_a_session_that_did_not_know_it() -> None:
    monday = did(23, (KG[8], 9))
    sunday = said(22, KG[12])
    assert level(monday, decisions=(sunday,)).use == KG[12]
    wednesday = did(25, (KG[8], 9))
    assert level(monday, wednesday, decisions=(said(22, KG[12], known_from=25),)).use == KG[8]


def test_paper_and_what_was_imported_alone_go_by_the_local_date() -> None:
    decision = said(22, KG[12], known_from=27)
    for how in ({"timed": False}, {"imported": True}):
        assert not is_later(did(22, (KG[8], 9), **how), decision)
        assert is_later(did(23, (KG[8], 9), **how), decision)
    both = said(22, KG[12], known_from=27, imported=True)
    assert not is_later(did(23, (KG[8], 9), imported=True), both)
    assert is_later(did(27, (KG[8], 9), imported=True), both)
    assert not is_later(did(27, (KG[8], 9)), said(22, KG[12]))  # known to no session yet


def test_the_newest_decision_is_that_of_the_latest_date_not_the_last_typed() -> None:
    found = level(decisions=(said(20, KG[12]), said(10, KG[8])))
    assert (found.use, found.on, found.reason) == (KG[12], date(2026, 11, 20), "set by hand")


def test_a_level_that_was_decided_on_is_since_that_day() -> None:
    found = level(did(25, (KG[12], 8)), decisions=(said(22, KG[12], known_from=25),), since=True)
    assert (found.on, found.reason, found.source) == (date(2026, 11, 22), "set by hand", "d22")


def test_a_group_without_a_level_takes_the_newest_and_of_a_named_version_that_versions() -> None:
    done = {"": [did(9, (KG[8], 9))], "sack": [did(12, (KG[12], 9)), did(3, (KNEES, 9))]}
    decisions = {"one": [said(10, ONE, known_from=12)]}
    assert level_of_version(PUSH_UP, "", done, {}) == WorkingLevel(
        KG[12], date(2026, 11, 12), source="s12"
    )
    knees = level_of_version(PUSH_UP, "knees", done, decisions)
    assert knees is not None
    assert (knees.use, knees.on) == (KNEES, date(2026, 11, 3))
    assert level_of_version(PUSH_UP, "gone", done, decisions) is None


# -- off the range ---------------------------


def test_a_load_off_the_range_stands_between_its_neighbours() -> None:
    made, places = in_progressions(
        {"push-up": PUSH_UP}, {("push-up", ""): WorkingLevel(KG[10], date.min)}
    )
    assert [r.load for r in made["push-up"].progression] == [None, 8, 10, 12, 16, None]
    assert places == {("push-up", ""): 2}
    assert made["push-up"].progression[2].load_step == 4.0
    assert (
        in_progressions(made, {("push-up", ""): WorkingLevel(KG[10], date.min)})[0] == made
    )  # once is enough


def test_a_range_that_goes_down_and_set_ups() -> None:
    downward = tuple(Level("band", "b", (("anchor", f"{cm} cm"),)) for cm in (160, 140, 120))
    pull = exercise("pull", progression=downward)
    more = with_level(pull, Level("band", "", (("anchor", "130 cm"),)))
    assert [r.setup[0][1] for r in more.progression] == ["160 cm", "140 cm", "130 cm", "120 cm"]
    for strange in (Level("gone", ""), Level("band", "", (("hook", "3"),)), Level("band", "")):
        assert with_level(pull, strange) == pull


def test_the_memory_keeps_what_is_off_the_range() -> None:
    baseline = Baseline(
        working_levels={("push-up", ""): 2},
        off_range=(("push-up", "sack", "", 10.0),),
        news=("d1",),
    )
    assert Baseline.from_data(baseline.as_data()) == baseline
    session = baseline.with_off_range(workout([part(PUSH_UP)]))
    assert session.exercises["push-up"].progression[2].load == 10.0
    assert baseline.with_off_range(session) == session


def test_what_the_plan_no_longer_has_changes_nothing() -> None:
    away = WorkingLevel(Use("sack", "", 10.0), date(2026, 11, 2))
    known = {"push-up": PUSH_UP}
    assert in_progressions(known, {("dip", ""): away}) == (known, {})
    session = workout([part(PUSH_UP)])
    assert Baseline(off_range=(("dip", "sack", "", 10.0),)).with_off_range(session) == session


USES = st.sampled_from([KNEES, ONE, *KG.values()])
SETS = st.lists(st.tuples(USES, st.integers(1, 20).map(float)), min_size=1, max_size=4)


@given(st.lists(SETS, max_size=8), st.lists(st.tuples(st.integers(1, 8), USES), max_size=3))
def test_reading_no_further_back_than_is_needed_gives_the_same_level(
    done: list[list[tuple[Use, float]]], decided: list[tuple[int, Use]]
) -> None:
    sessions = [did(day, *sets) for day, sets in enumerate(done, 1)][::-1]
    decisions = [said(day, use, known_from=day) for day, use in decided]
    short = working_level(PUSH_UP, "", sessions, decisions)
    whole = working_level(PUSH_UP, "", sessions, decisions, since=True)
    assert (short and short.use) == (whole and whole.use)


@given(st.lists(SETS, min_size=1, max_size=8))
def test_a_level_is_since_the_first_day_of_its_run(done: list[list[tuple[Use, float]]]) -> None:
    """Against the levels after each session, worked out one by one."""
    sessions = [did(day, *sets) for day, sets in enumerate(done, 1)]
    after = [
        working_level(PUSH_UP, "", sessions[:many][::-1], []) for many in range(1, len(done) + 1)
    ]
    last, first = after[-1], None
    for session, found in zip(sessions[::-1], after[::-1], strict=True):
        if last is None or found is None or found.use != last.use:
            break
        first = session.on
    whole = working_level(PUSH_UP, "", sessions[::-1], [], since=True)
    assert (whole and whole.on) == first
