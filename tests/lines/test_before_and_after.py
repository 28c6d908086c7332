"""What is offered before a session and said after it, in line mode on manual time."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.output import record_path
from runner.record.record import Record
from tests.lines.manual import Desk, Ran, Typist, run, script
from tests.lines.process import ROOT

EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"


def counting(first: tuple[str, ...], count: str, last: tuple[str, ...]) -> Typist:
    """Goes on through a whole session: words before it, a count after every set, words after."""
    before, after = iter(first), iter(last)

    def typist(desk: Desk) -> tuple[float, str | None]:
        at = desk.seconds + 0.5
        assert desk.live is not None
        state = desk.live.driver.state
        if state.phase == "ready":
            return at, next(before, "")
        if state.open_rows:
            return at, count
        if state.phase == "wrap-up":
            return at, next(after, "end")
        if state.phase in ("warm-up", "set"):
            return at + 2.0, ""
        return desk.seconds + 60.0, ""  # the rest ends by the clock

    return typist


def whole(
    tmp_path: Path, *first: str, count: str = "12", last: tuple[str, ...] = (), hour: int = 6
) -> Ran:
    return run(EVERY_KEY, tmp_path, counting(first, count, last), hour=hour)


def test_offers_are_said_and_nothing_changes_unless_they_are_taken(tmp_path: Path) -> None:
    ran = whole(tmp_path)
    assert "First session of this plan. On offer: a third fewer sets" in ran.err
    assert "Write lighter to take it." in ran.err
    assert "No working level yet: Standing band press." in ran.err
    assert [line.name for line in ran.lines].count("adjusted") == 0
    assert len(ran.events("started")) == 6  # two presses, two rows of two sides
    assert all("to_beat" not in line.pairs for line in ran.events("started"))


def test_a_lighter_session_by_a_word(tmp_path: Path) -> None:
    whole(tmp_path)
    ran = whole(tmp_path, "lighter", hour=10)
    (adjusted,) = ran.events("adjusted")
    assert (adjusted.pairs["taken"], adjusted.pairs["phase"]) == ("lighter", "ready")
    assert "For today: lighter session." in ran.err
    assert len(ran.events("started")) == 3  # one press, one row of two sides
    assert all("to_beat" not in line.pairs for line in ran.events("started"))
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        rows = list(record.rows())
        assert [r.reserve_aimed for r in rows[-3:]] == [4, 4, 4]


def test_as_planned_after_all(tmp_path: Path) -> None:
    ran = whole(tmp_path, "lighter", "planned")
    assert len(ran.events("adjusted")) == 2
    assert len(ran.events("started")) == 6


def test_a_version_is_found_and_held(tmp_path: Path) -> None:
    whole(tmp_path, "place", count="20/4")
    assert held(tmp_path)["press"] == ("mark-1", "placed")


def test_looking_for_a_version_goes_on_where_it_was_left(tmp_path: Path) -> None:
    ran = whole(tmp_path, "place", count="40/4")
    versions = [s.pairs["version"] for s in ran.events("started") if s.pairs["exercise"] == "press"]
    assert versions == ["mark-1", "mark-2"]
    assert "press" not in held(tmp_path)  # both were too light: nothing is found yet
    again = whole(tmp_path, "place", count="20/4", hour=10)
    first = next(s for s in again.events("started") if s.pairs["exercise"] == "press")
    assert first.pairs["version"] == "mark-2"
    assert held(tmp_path)["press"] == ("mark-2", "placed")


def held(tmp_path: Path) -> dict[str, tuple[str, str]]:
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        changes = record.level_decisions("Ada")
    return {h.exercise: (h.version, h.reason) for h in changes if not h.group}


def test_not_today(tmp_path: Path) -> None:
    ran = whole(tmp_path, "unwell")
    assert [line.name for line in ran.lines] == ["opened", "noted", "closed"]
    assert "call the emergency number" in ran.err
    assert (ran.code, ran.events("closed")[0].pairs["complete"]) == (0, "no")
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        assert record.acknowledged("Ada", "Kestrel Hut, morning") == set()


@pytest.mark.parametrize("word", ["place now", "lighter 2", "unwell a bit"])
def test_words_that_stand_alone(tmp_path: Path, word: str) -> None:
    ran = run(EVERY_KEY, tmp_path, script(word, "end"))
    assert "remove" in ran.err


def test_after_the_start_nothing_is_offered_any_more(tmp_path: Path) -> None:
    ran = run(EVERY_KEY, tmp_path, script("", "lighter", "unwell", "accept 1", "end"))
    assert ran.err.count("not used: offers can be taken only before the start") == 1
    assert "not used: the session has started" in ran.err
    assert "not used: advice comes after the last set" in ran.err


def test_the_same_day_and_the_same_muscles_are_said(tmp_path: Path) -> None:
    whole(tmp_path)
    ran = whole(tmp_path, hour=10)
    assert "Trained 3 h ago;" in ran.err
    assert "This is session 2 today." in ran.err
    assert "better after 48 h: chest, upper-back." in ran.err


def test_after_a_session_all_of_it_is_said_once(tmp_path: Path) -> None:
    whole(tmp_path)
    ran = whole(tmp_path, count="13", last=("rpe 7",), hour=10)
    after = ran.err[ran.err.index("Beaten: ") :]
    assert "Beaten: PRESS 2 of 2, ROW (slow) 2 of 2, ROW (light) 2 of 2" in after
    assert "Sets: Standing band press  13 13   2 beaten, total 26, beat 24" in after
    assert "Week: chest 4, upper-back 4 of 10-20" in after
    assert "session 2 of 3-4 this week" in after
    assert "Next: A, Morning: Saturday 28 November\n" in after  # a day of the plan
    assert "kept 100 % of the first set's count" in after
    assert re.search(r"session load \d+ \(RPE 7 times minutes, published\)", after)


def test_the_next_session_is_named_with_the_day_on_which_matside_calls_it_due(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run("demo", tmp_path, counting((), "4", ()))  # a week of one session, on a Wednesday
    assert "Next: demo, Two minutes: Wednesday 2 December\n" in ran.err
    assert main(["next", "demo", "--for", "Ada", "--data", str(tmp_path)]) == 0
    assert "Due Wednesday 2 December: session demo." in capsys.readouterr().out


def test_what_is_said_at_the_end_has_the_count_that_was_written_last(tmp_path: Path) -> None:
    entries = [e.pairs for e in whole(tmp_path).events("entered") if e.pairs["exercise"] == "press"]
    ran = whole(tmp_path, count="13", last=(f"fix {entries[-1]['entry']} 15",), hour=10)
    (line,) = (one for one in ran.err.splitlines() if one.startswith("Sets: Standing band press"))
    assert "13 15 " in line


def test_a_session_with_nothing_done_has_brought_nothing(tmp_path: Path) -> None:
    ran = run(EVERY_KEY, tmp_path, script("", "end"))
    assert "Week:" not in ran.err


def test_advice_is_answered_after_the_last_set(tmp_path: Path) -> None:
    ran = whole(
        tmp_path, count="41", last=("advice", "accept 9", "accept 1 2", "accept 1", "refuse 2")
    )
    assert "not used: write a number: accept 1 to 3" in ran.err
    assert "Standing band press: accepted, mark-2, anchor 120 cm" in ran.err
    assert "Rucksack row (slow): refused" in ran.err
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        told = [(a.exercise, a.accepted) for a in record.answers("Ada")]
        assert told == [("press", True), ("row", False)]
        held = [h for h in record.level_decisions("Ada") if h.exercise == "press"]
        assert (held[-1].version, held[-1].session_id is not None) == ("mark-2", True)
    assert run(EVERY_KEY, tmp_path, script("", "end")).live.driver.state.course.planned_sets[
        0
    ].level.version == ("mark-2")


def test_a_level_is_called_too_light_over_the_top_of_the_range_but_never_in_a_warm_up_set(
    tmp_path: Path,
) -> None:
    ran = run("kestrel-hut", tmp_path, counting((), "25", ()), yes=True)
    light = [line for line in ran.err.splitlines() if "too light" in line]
    # The first count is that of SQUAT 1, a warm-up set.
    assert light[0].startswith("PULL 1: over 20, the top of the rep range, so this level is too")
    assert all("harder takes the next one" in line for line in light)


def test_a_station_is_placed_in_words_and_not_as_the_record_writes_it(tmp_path: Path) -> None:
    ran = run("kestrel-hut", tmp_path, script("end"), yes=True)
    placed = [line for line in ran.err.splitlines() if line.startswith("Set up: ")]
    assert placed[1].startswith("Set up: Post with the band, hook top, anchor 60 cm. Pull the band")
    assert not any("=" in line or ";" in line for line in placed)
