"""The entry line: a suggestion is no value, nonsense is refused in place, doubts are asked once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, strategies as st

from runner.core.session.commands import Count, Enter
from runner.screen.entry import LONGEST_TYPED, Asked, EntryLine, Saved

REPS = Asked("PRESS, set 2", "reps", suggestion=12, to_beat=12, ceiling=30)
HOLD = Asked("PLANK, set 1", "hold", suggestion=45, to_beat=45, ceiling=60)


def typed(keys: str, asked: Asked = REPS) -> EntryLine:
    line = EntryLine(asked)
    for key in keys:
        line = line.type(key)
    return line


def saved(line: EntryLine) -> Saved:
    after, done = line.save()
    assert done is not None, after.message
    assert after == EntryLine(line.asked)
    return done


def reps(*values: int, reserve: int | None = None) -> Enter:
    return Enter("reps", tuple(Count(value, reserve) for value in values))


def test_what_nobody_has_touched_saves_nothing() -> None:
    line = EntryLine(REPS)
    assert line.save() == (line, None)
    assert not line.touched


def test_the_first_digit_replaces_the_suggestion() -> None:
    line = typed("1")
    assert line.text == "1"
    assert line.touched
    assert saved(line.type("4")).entry == reps(14)


def test_reserve() -> None:
    assert saved(typed("12/2")).entry == reps(12, reserve=2)


def test_left_and_right_of_a_one_sided_set() -> None:
    sided = replace(REPS, one_sided=True)
    assert saved(typed("12 14", sided)).entry == reps(12, 14)


def test_two_numbers_for_a_set_without_sides() -> None:
    line, done = typed("12 14").save()
    assert done is None
    assert line.message == "This set had no sides: write one number, such as 12."
    assert line.text == "12 14"


@pytest.mark.parametrize("text", ["45", "45s"])
def test_seconds_beside_a_hold(text: str) -> None:
    assert saved(typed(text, HOLD)).entry == Enter("hold", (Count(45.0),))


def test_seconds_for_repetitions() -> None:
    line, done = typed("45s").save()
    assert done is None
    assert line.message == "This was no hold: write the repetitions, such as 12."


@pytest.mark.parametrize("text", ["-1", "1e9", "١٢", "x", "1000", "12/", "12.5", "/2"])
def test_nonsense_is_refused_in_place_with_the_reason(text: str) -> None:
    line, done = EntryLine(REPS).type(text).save()
    assert done is None
    assert line.text == text
    assert line.message.endswith(".")
    assert line.message.isprintable()


def test_going_on_typing_clears_the_reason() -> None:
    line, _ = typed("1e").save()
    assert line.message
    better = line.backspace()
    assert better.message == ""
    assert saved(better.type("3")).entry == reps(13)


def test_over_twice_the_count_to_beat_is_asked_once_more() -> None:
    line, done = typed("25").save()
    assert done is None
    assert line.message == "25 is more than twice the 12 to beat: save again if it is right."
    assert saved(line).entry == reps(25)


def test_twice_is_not_over_twice() -> None:
    assert saved(typed("24")).entry == reps(24)


def test_the_doubt_is_about_one_text_alone() -> None:
    line, _ = typed("25").save()
    other, done = line.backspace().type("6").save()
    assert done is None
    assert other.message.startswith("26 is more than twice")


def test_without_a_count_to_beat_there_is_no_doubt() -> None:
    assert saved(typed("29", replace(REPS, to_beat=None))).remark == ""


def test_over_the_ceiling_the_version_has_become_too_light() -> None:
    line = typed("31", replace(REPS, to_beat=20))
    assert saved(line).remark == "Over 30: this version is getting too light."
    assert saved(typed("30", replace(REPS, to_beat=20))).remark == ""
    assert saved(typed("61", HOLD)).remark == "Over 60s: this version is getting too light."
    assert saved(typed("99", replace(REPS, to_beat=None, ceiling=None))).remark == ""


def test_backspace_to_the_end_brings_the_suggestion_back() -> None:
    assert typed("12").backspace().backspace() == EntryLine(REPS)
    assert EntryLine(REPS).backspace() == EntryLine(REPS)


def test_the_remote_opens_steps_and_saves() -> None:
    line = EntryLine(REPS).open()
    assert (line.text, line.touched) == ("12", True)
    assert saved(line.step(1).step(1).step(-1)).entry == reps(13)


def test_the_remote_beside_a_hold() -> None:
    assert saved(EntryLine(HOLD).open().step(1)).entry == Enter("hold", (Count(46.0),))


def test_steps_stay_within_what_can_be_entered() -> None:
    assert EntryLine(replace(REPS, suggestion=0)).open().step(-1).text == "0"
    assert EntryLine(replace(REPS, suggestion=999)).open().step(1).text == "999"
    assert EntryLine(replace(HOLD, suggestion=3600)).open().step(1).text == "3600"


def test_steps_do_nothing_to_what_was_typed_or_not_touched() -> None:
    assert typed("14").step(1) == typed("14")
    assert EntryLine(REPS).step(1) == EntryLine(REPS)


def test_a_digit_replaces_an_opened_value() -> None:
    line = EntryLine(REPS).open().type("9")
    assert (line.text, line.mode) == ("9", "typed")


def test_a_pasted_line_end_is_no_fault_and_no_control_character_stays() -> None:
    assert saved(EntryLine(REPS).type("12\n")).entry == reps(12)
    assert EntryLine(REPS).type("1\x1b[31m").text.isprintable()


def test_blank_input_touches_nothing() -> None:
    assert EntryLine(REPS).type(" ") == EntryLine(REPS)
    assert EntryLine(REPS).type("\n") == EntryLine(REPS)


@given(st.lists(st.text(max_size=6), max_size=12))
def test_whatever_is_typed_only_saving_makes_a_count(pieces: list[str]) -> None:
    line = EntryLine(REPS)
    for piece in pieces:
        line = line.type(piece)
        assert len(line.text) <= LONGEST_TYPED
    after, done = line.save()
    if done is not None:
        assert all(0 <= count.value <= 999 for count in done.entry.counts)
    elif line.touched:
        assert after.message
        assert after.text == line.text
