"""The field for a count: the table of screens.md cell by cell, and what is typed in it."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from runner.screen.keys import Do, meaning
from runner.session import verb as cmd
from runner.session.count_field import (
    LONGEST_TYPED,
    AskedCount,
    EntryLine,
    Field,
    Kind,
    SavedCount,
    asked_of,
)
from runner.session.state import Phase
from runner.session.verb import Count, Enter, Fix
from tests.law.builders import exercise, part, workout
from tests.session.mat import GO, Mat, reps as counted

REPS = AskedCount("PRESS 2", "reps", suggestion=12, top=15, best=12)
HOLD = AskedCount("PLANK 1", "hold", suggestion=45, top=60, best=45)


def typed(keys: str, asked: AskedCount = REPS) -> EntryLine:
    line = EntryLine(asked)
    for key in keys:
        line = line.type(key)
    return line


def saved(line: EntryLine) -> SavedCount:
    after, done = line.save()
    assert done is not None, after.message
    assert (after.text, after.message) == (line.text, "")
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
    assert line.message == "This set has no sides: write one number, like 12."
    assert line.text == "12 14"


@pytest.mark.parametrize("text", ["45", "45s"])
def test_seconds_beside_a_hold(text: str) -> None:
    assert saved(typed(text, HOLD)).entry == Enter("hold", (Count(45.0),))


def test_seconds_for_repetitions() -> None:
    line, done = typed("45s").save()
    assert done is None
    assert line.message == "This set counts repetitions: write a number, like 12."


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


def test_a_doubtful_count_is_asked_about_and_saved_when_it_is_saved_again() -> None:
    line, done = typed("31").save()
    assert done is None
    assert line.message == "31? Press save again, or type another number."
    assert saved(line).entry == reps(31)
    assert typed("0").save()[1] is None
    assert typed("18").save()[1] is not None  # 1.5 times the best, not over it
    assert typed("19").save()[1] is None


def test_the_doubt_is_about_one_text_alone() -> None:
    line, _ = typed("25").save()
    other, done = line.backspace().type("6").save()
    assert done is None
    assert other.message.startswith("26? ")
    assert line.type("2").text == "2"  # another number, and no longer one
    assert line.later().save()[1] is None  # asked anew in the next rest


def test_an_opened_count_stepped_to_nothing_is_doubtful_too() -> None:
    line = EntryLine(replace(REPS, suggestion=1)).open().step(-1)
    assert line.save()[1] is None
    again, _ = line.save()
    assert again.step(1).save()[1] is not None


def test_a_number_goes_on_only_until_another_set_begins_or_ends() -> None:
    assert typed("1").type("2").text == "12"
    assert typed("12").later().type("9").text == "9"
    assert typed("12").later().type("/").type("2").text == "12/2"


def test_over_the_top_the_version_has_become_too_light() -> None:
    line = typed("17", replace(REPS, best=20))
    assert saved(line).remark == "Over 15: this level is too light."
    assert saved(typed("15")).remark == ""
    assert saved(typed("61", HOLD)).remark == "Over 60s: this level is too light."
    assert saved(typed("17", replace(REPS, ramp=True))).remark == ""


def test_backspace_takes_an_opened_value_as_a_whole() -> None:
    opened = EntryLine(replace(REPS, suggestion=10)).open()
    assert opened.backspace().touched is False
    assert opened.step(1).backspace().type("9").text == "9"  # and not 19


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


# -- The table of screens.md, written out once more ------------------------------------------------

CORRECTION = replace(REPS, was="1", entry=1)
LINES: dict[Kind, EntryLine | None] = {
    "none": None,
    "empty": EntryLine(REPS),
    "typed": typed("12"),
    "opened": EntryLine(REPS).open(),
    "stepped": EntryLine(REPS).open().step(1),
    "doubtful": typed("122"),
    "correction": typed("2", CORRECTION),
}
OUT: tuple[Phase, ...] = ("rest", "paused", "wrap-up")
KEYS = {
    "space": "space",
    "next": "pagedown",
    "opener": "full_stop",
    "back": "pageup",
    "enter": "enter",
}
TABLE: dict[tuple[Kind, str, Phase], tuple[str, ...]] = {
    **{(kind, key, phase): ("main",) for kind in ("none", "empty") for key in ("space", "next")
       for phase in (*OUT, "set")},
    **{("typed", key, phase): ("save",) for key in ("space", "next") for phase in OUT},
    **{(kind, "space", phase): ("save",) for kind in ("opened", "stepped") for phase in OUT},
    **{(kind, "next", phase): ("plus",) for kind in ("opened", "stepped") for phase in OUT},
    **{("doubtful", key, phase): ("save",) for key in ("space", "next") for phase in OUT},
    **{("correction", key, phase): ("enter",) for key in ("space", "next") for phase in OUT},
    **{("typed", key, "set"): ("main", "save") for key in ("space", "next")},
    **{(kind, key, "set"): ("main",) for kind in ("opened", "stepped")
       for key in ("space", "next")},
    **{("doubtful", key, "set"): ("main", "later") for key in ("space", "next")},
    **{("correction", key, "set"): ("main", "drop") for key in ("space", "next")},
    ("none", "opener", "rest"): ("pause",),
    ("none", "opener", "paused"): ("main",),
    ("none", "opener", "set"): (),
    ("none", "opener", "wrap-up"): (),
    ("empty", "opener", "rest"): ("open",),
    ("empty", "opener", "wrap-up"): ("open",),
    ("empty", "opener", "paused"): ("main",),
    ("empty", "opener", "set"): (),
    **{(kind, "opener", phase): ("save",) for kind in
       ("typed", "opened", "stepped", "doubtful", "correction") for phase in (*OUT, "set")},
    **{(kind, "back", phase): deed for kind, deed in {
        "none": ("undo",), "empty": ("undo",), "typed": ("clear",), "opened": ("minus",),
        "stepped": ("minus",), "doubtful": ("clear",), "correction": ("drop",)}.items()
       for phase in (*OUT, "set")},
    **{(kind, "enter", phase): ("name",) for kind in ("none", "empty") for phase in (*OUT, "set")},
    **{(kind, "enter", phase): ("save",) for kind in
       ("typed", "opened", "stepped", "doubtful", "correction") for phase in (*OUT, "set")},
}  # fmt: skip


def does(key: str, phase: Phase, line: EntryLine | None) -> tuple[str, ...]:
    """What a key does, by name: a verb, and what then becomes of the field."""
    known = meaning(key, phase, line)
    if isinstance(known, Do):
        return (known.verb, known.then) if known.then else (known.verb,)
    return (known.doing,) if known else ()


@pytest.mark.parametrize(("cell", "done"), TABLE.items(), ids=map("-".join, TABLE))
def test_every_cell(cell: tuple[Kind, str, Phase], done: tuple[str, ...]) -> None:
    kind, press, phase = cell
    line = LINES[kind]
    assert line is None or line.kind == kind
    assert does(KEYS[press], phase, line) == done


def test_no_cell_of_enter_starts_or_ends_a_set() -> None:
    phases: tuple[Phase, ...] = (*OUT, "set", "ready", "warm-up", "closed")
    for line in LINES.values():
        for phase in phases:
            assert "main" not in does("enter", phase, line)


# -- The field through a session -------------------------------------------------------------------


def three() -> Mat:
    press = exercise("press", measure="reps", rep_range=(8.0, 15.0))
    return Mat(workout([part(press, 3)])).begin().set()


def follow(field: Field, mat: Mat) -> Field:
    return field.follow(mat.state, mat.latest)


def text_of(field: Field) -> tuple[str, str]:
    assert field.line is not None
    return field.line.asked.label, field.line.text


def test_the_field_stands_for_the_oldest_set_without_a_count() -> None:
    mat = three()
    field = follow(Field(), mat)
    assert text_of(field) == ("PRESS 1", "")
    assert field.line is not None
    field = field.show(field.line.type("1").type("2"))
    mat.start()
    field = follow(field, mat)
    assert text_of(field) == ("PRESS 1", "12")
    mat.do(GO, after=20.0)
    field = follow(field, mat)
    assert field.line is not None
    assert text_of(field) == ("PRESS 1", "12")
    assert field.line.type("9").text == "9"  # and not 129
    mat.do(counted(12))
    field = follow(field, mat)
    assert text_of(field) == ("PRESS 2", "")
    assert field.line is not None
    assert field.line.asked.suggestion == 12


def test_what_is_typed_for_a_set_waits_while_an_older_count_is_taken_back() -> None:
    mat = three().set()
    field = follow(Field(), mat)
    for number, value in (("12", 12), ("9", 9)):
        assert field.line is not None
        field = field.show(field.line.type(number))
        if value == 12:
            field = follow(field, mat.do(counted(12)))
    assert text_of(field) == ("PRESS 2", "9")
    field = follow(field, mat.do(cmd.Undo()))
    assert text_of(field) == ("PRESS 1", "12")  # as it was typed
    field = follow(field, mat.do(counted(12)))
    assert text_of(field) == ("PRESS 2", "9")


def test_a_set_that_never_ended_takes_its_number_with_it() -> None:
    mat = three()
    field = follow(Field(), mat)
    assert field.line is not None
    field = field.show(field.line.type("12"))
    mat.do(cmd.Undo())
    field = follow(field, mat)
    assert field == Field()
    mat.do(GO, after=5.0)
    assert text_of(follow(field, mat)) == ("PRESS 1", "")


def test_with_none_missing_a_digit_corrects_the_last_count() -> None:
    mat = three()
    assert follow(Field(), mat).corrected(mat.state) is None  # it is missing
    mat.do(counted(1))
    field = follow(Field(), mat).corrected(mat.state)
    assert field is not None
    assert field.line is not None
    assert field.line.asked.was == "1"
    assert saved(field.line.type("2")).entry == Fix(1, "reps", Count(2.0))
    assert field.line.type("120").save()[1] is None  # doubtful as well
    assert Field().corrected(Mat(workout([part(exercise("press"))])).begin().state) is None
    field = field.show(field.line.type("2"))
    assert field.typed == {}  # it is no number that waits for a missing count


def test_a_correction_is_of_one_side_also_where_two_numbers_are_pasted() -> None:
    mat = Mat(workout([part(exercise("row", sides="left first", measure="reps"), 1)]))
    mat.begin().set().do(counted(4))
    field = follow(Field(), mat).corrected(mat.state)
    assert field is not None
    assert field.line is not None
    after, done = field.line.type("5 6").save()
    assert done is None
    assert after.message == "A correction is for one side: write one number, like 12."


def test_a_set_that_was_not_counted_is_corrected_from_no_count() -> None:
    mat = three().do(cmd.NoCount())
    field = follow(Field(), mat).corrected(mat.state)
    assert field is not None
    assert field.line is not None
    assert field.line.asked.was == "not counted"
    assert saved(field.line.type("9")).entry == Fix(1, "reps", Count(9.0))


def test_a_correction_is_left_as_soon_as_a_set_begins() -> None:
    mat = three().do(counted(1))
    field = follow(Field(), mat).corrected(mat.state)
    assert field is not None
    assert follow(field, mat).line is not None
    mat.start()
    assert follow(field, mat).line is None


def test_of_two_sides_the_one_done_first_is_asked_for() -> None:
    row = exercise("row", sides="right first", measure="reps")
    mat = Mat(workout([part(row, 1), part(exercise("press", measure="reps"), 1)]))
    mat.begin().set().set()
    assert text_of(follow(Field(), mat)) == ("ROW R 1", "")
    mat.do(counted(4))
    assert text_of(follow(Field(), mat)) == ("ROW L 1", "")
    assert asked_of(mat.state, mat.rows[1]).suggestion == 4


@given(st.lists(st.text(max_size=6), max_size=12))
def test_whatever_is_typed_only_saving_makes_a_count(pieces: list[str]) -> None:
    line = EntryLine(REPS)
    for piece in pieces:
        line = line.type(piece)
        assert len(line.text) <= LONGEST_TYPED
    after, done = line.save()
    if done is not None:
        assert isinstance(done.entry, Enter)
        assert all(0 <= count.value <= 999 for count in done.entry.counts)
    elif line.touched:
        assert after.message
        assert after.text == line.text
