"""Pain: what it rules out, for how long, and when it is too often."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from msgspec.structs import replace

from runner.law.workout import Exercise, VersionKeys
from runner.progress.pain import lately, no_step_up, pains_of, substitutes, too_often
from tests.law.builders import exercise

BEGIN = datetime.fromisoformat("2026-11-02T06:30:00+01:00")  # a Monday
PRIME = {"push-up": "chest;triceps", "press": "chest", "row": "upper-back", "curl": "biceps"}


def did(name: str, day: int, side: str = "both", **changes: Any) -> SimpleNamespace:
    """A set of an exercise, so many days after the first Monday."""
    start = (BEGIN + timedelta(days=day)).isoformat()
    usual = {
        "session_id": f"day {day}",
        "session_start": start,
        "exercise": name,
        "exercise_name": name.capitalize(),
        "prime_movers": PRIME[name],
        "kind": "work",
        "side": side,
        "status": "done",
        "pain": None,
        "pain_where": "",
        "note": "",
    }
    return SimpleNamespace(**(usual | changes))


def hurt(name: str, day: int, where: str = "left shoulder", side: str = "both") -> SimpleNamespace:
    return did(name, day, side, pain="yes", pain_where=where)


def waits(name: str, rows: Iterable[Any], day: int) -> str:
    one = exercise(name, prime=tuple(PRIME[name].split(";")))
    return no_step_up(one, pains_of(rows), on(day))


def on(day: int) -> date:
    return (BEGIN + timedelta(days=day)).date()


def test_it_waits_for_two_sessions_without_pain_or_28_days() -> None:
    rows = [did("push-up", 0), hurt("push-up", 7), did("push-up", 9), did("push-up", 11)]
    line = (
        "left shoulder, 9 Nov: no harder level until 2 sessions without pain; see a doctor or "
        "physiotherapist if it stays"
    )
    assert waits("push-up", rows[:2], 7) == line
    assert "without pain (1 so far)" in waits("push-up", rows[:3], 9)
    assert waits("push-up", rows, 11) == ""
    assert waits("push-up", rows[:2], 35) == line
    assert waits("push-up", rows[:2], 36) == ""
    lighter = [did("push-up", 9, kind="ramp"), did("push-up", 11, status="skipped")]
    assert waits("push-up", [*rows[:2], *lighter], 12) == line  # neither was a session of it


def test_others_wait_that_share_a_main_muscle_on_a_side_that_worked() -> None:
    rows = [hurt("push-up", 7), did("press", 9), did("press", 11)]
    assert waits("press", rows, 11) == (
        "Push-up hurt (left shoulder, 9 Nov), which works the chest too: no harder level until 2 "
        "sessions of it without pain, or 28 days"
    )
    assert waits("row", rows, 11) == ""
    assert waits("press", [*rows, did("push-up", 12), did("push-up", 14)], 14) == ""
    # of one-sided work the side that was done; others work both
    (pain,) = pains_of([hurt("press", 7, side="left")])
    assert pain.sites == {("chest", "left")}


def test_three_painful_sessions_within_28_days_are_too_many() -> None:
    rows = [hurt("push-up", day) for day in (0, 14, 28)]
    line = (
        "3 sessions within 28 days (left shoulder): 2 Nov, 16 Nov, 30 Nov: leave it out, and see "
        "a physiotherapist"
    )
    assert waits("push-up", rows, 28) == line
    assert "3 sessions" not in waits("push-up", rows[:2], 14)
    assert "3 sessions" not in waits("push-up", [hurt("push-up", -1), *rows[1:]], 28)
    # one session without pain does not make them forgotten
    assert waits("push-up", [*rows, did("push-up", 30)], 30) == line
    # nor do two, while all three are of the last 28 days
    close = [*(hurt("push-up", day) for day in (0, 5, 10)), did("push-up", 15), did("push-up", 18)]
    assert waits("push-up", close, 28).startswith("3 sessions within 28 days")
    assert waits("push-up", close, 29) == ""
    between = [hurt("push-up", 6), did("push-up", 8), hurt("push-up", 10), did("push-up", 12)]
    again = [*between, hurt("push-up", 14), did("push-up", 16)]
    assert waits("push-up", again, 16).startswith("3 sessions within 28 days")


def test_three_times_at_one_place_are_too_many_whatever_was_done() -> None:
    rows = [hurt("push-up", 0), hurt("row", 2, "Left Shoulder"), hurt("curl", 4)]
    for name in ("push-up", "row", "curl"):
        assert too_often(name, pains_of(rows), on(4)).startswith("3 sessions within 28 days")
    assert too_often("press", pains_of(rows), on(4)) == ""  # it did not hurt
    elsewhere = [*rows[:2], hurt("curl", 4, "elbow")]
    assert not any(too_often(n, pains_of(elsewhere), on(4)) for n in ("push-up", "row", "curl"))
    nowhere = [hurt(name, day, "") for day, name in enumerate(("push-up", "row", "curl"))]
    assert too_often("push-up", pains_of(nowhere), on(4)) == ""


def test_the_place_comes_from_its_column_or_from_an_older_records_note() -> None:
    old = did("row", 0, pain="yes", note="slow today\npain: low back")
    (pain,) = pains_of([did("row", 0), old])
    assert (pain.where, pain.text) == ("low back", "low back, 2 Nov")
    before = did("row", 0, status="skipped", pain="yes")  # it hurt before the set
    assert [p.text for p in pains_of([before])] == ["no place given, 2 Nov"]


@pytest.mark.parametrize(("day", "named"), [(2, 1), (16, 1), (17, 0)])
def test_the_next_start_names_the_last_two_weeks(day: int, named: int) -> None:
    pains = pains_of([hurt("row", 0), hurt("row", 2, "elbow")])
    assert [p.where for p in lately(pains, on(day))] == ["elbow"] * named
    assert not list(lately([replace(p, on=on(20)) for p in pains], on(day)))


# What may be offered in the place of an exercise, by what both state that they stress.


def _stressing(name: str, *of: tuple[str, ...] | None, instead: tuple[str, ...] = ()) -> Exercise:
    """An exercise whose versions stress these; one stress alone is the exercise's own."""
    made = exercise(name, instead=instead, stress=of[0])
    keys = VersionKeys("together", "reps", (8.0, 20.0), None, None, ())
    versions = tuple((f"v{n}", replace(keys, stress=one)) for n, one in enumerate(of))
    return made if len(of) == 1 else replace(made, versions=versions)


@pytest.mark.parametrize(
    ("mine", "theirs", "hurt", "offered"),
    [
        (("knee deep",), (("wrist extended",),), {"a"}, True),
        (("knee deep",), ((),), {"a"}, True),  # nothing in particular, and that is stated
        (("knee deep",), (("wrist extended", "Knee deep"),), {"a"}, False),
        (("knee deep",), (None,), {"a"}, False),
        (None, (("wrist extended",),), {"a"}, False),
        (("knee deep",), (("wrist extended",), ("knee deep",)), {"a"}, False),  # in any version
        (("knee deep",), (("wrist extended",), None), {"a"}, False),
        (("knee deep",), (("wrist extended",),), {"a", "b"}, False),  # it hurt itself
        (None, (None,), set(), True),  # nothing hurt
        (None, (None,), {"b"}, False),
    ],
)
def test_a_substitute_stresses_nothing_that_the_one_that_hurt_does(
    mine: tuple[str, ...] | None,
    theirs: tuple[tuple[str, ...] | None, ...],
    hurt: set[str],
    offered: bool,  # noqa: FBT001 - what the table says
) -> None:
    one, other = _stressing("a", mine, instead=("b", "gone")), _stressing("b", *theirs)
    found = substitutes(one, {"a": one, "b": other}, hurt)
    assert found == (("b",) if offered else ())
