"""Painted screens: golden mock-ups, exact sizes, and text that no terminal obeys."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from rich.cells import cell_len

from runner.screen import glyphs
from runner.screen.info import wrapped
from runner.screen.paint import SHAPES, as_text, fitted, paint, rule
from runner.screen.view import RoomyExtras, Section, View, clock, labels, large, small, word
from runner.session.count_field import EntryLine
from runner.text import Line, Role
from tests.screen.golden_text import same
from tests.screen.scenes import ASKED, BASE, BEYOND, OPEN, PRESS, REST, ROW, SCENES

LARGE = (
    "ready", "ready-cautions", "rest", "rest-typed", "set", "set-first", "set-side", "hold",
    "hold-past-mark", "paused", "warm-up", "wrap-up", "closed",
)  # fmt: skip


def screen(view: View, cols: int = 80, rows: int = 24) -> str:
    return "\n".join(as_text(paint(view, cols, rows)))


def shows_large(view: View, text: str, height: int, cols: int = 80, rows: int = 24) -> bool:
    """Whether these glyphs stand somewhere on the screen, line under line."""
    drawn = [line.rstrip() for line in glyphs.render(text, height)]
    lines = as_text(paint(view, cols, rows))
    for y in range(len(lines) - height + 1):
        at = lines[y].find(drawn[0])
        while at >= 0:
            if all(lines[y + n][at:].startswith(drawn[n]) for n in range(height)):
                return True
            at = lines[y].find(drawn[0], at + 1)
    return False


def roles(view: View, text: str) -> set[Role]:
    return {role for line in paint(view, 80, 24) for part, role in line if text in part}


@pytest.mark.parametrize("name", SCENES)
def test_at_the_design_size(name: str) -> None:
    same(f"{name}-80x24", as_text(paint(SCENES[name], 80, 24)))


@pytest.mark.parametrize("name", LARGE)
def test_at_a_larger_size(name: str) -> None:
    same(f"{name}-120x40", as_text(paint(SCENES[name], 120, 40)))


@pytest.mark.parametrize(
    ("name", "cols", "rows"),
    [
        *((name, 20, 5) for name in ("ready", "rest", "rest-typed", "rest-refused", "set", "hold")),
        *((name, 60, 20) for name in ("rest-typed", "rest-ten-minutes", "set", "set-side")),
        *((name, 100, 30) for name in ("rest-typed", "set", "hold")),
        *((name, 200, 60) for name in ("rest-typed", "set")),
    ],
)
def test_at_other_sizes(name: str, cols: int, rows: int) -> None:
    same(f"{name}-{cols}x{rows}", as_text(paint(SCENES[name], cols, rows)))


@pytest.mark.parametrize("name", SCENES)
def test_every_size_is_filled_exactly(name: str) -> None:
    for cols in (1, 2, 9, 10, 17, 20, 33, 44, 60, 79, 80, 81, 120, 160, 200):
        for rows in (1, 2, 3, 4, 5, 8, 11, 12, 16, 24, 40, 45, 60):
            painted = paint(SCENES[name], cols, rows)
            assert len(painted) == rows
            assert {sum(cell_len(text) for text, _ in line) for line in painted} == {cols}


def test_the_number_to_beat_is_the_largest_of_a_set() -> None:
    assert shows_large(SCENES["set"], "12", 7)
    assert shows_large(SCENES["set-first"], "8+", 7)
    for piece in ("SET", "0:23", "PRESS"):
        assert shows_large(SCENES["set"], piece, 3)
    assert not shows_large(SCENES["set"], "REST", 3)
    row_below_the_bar = as_text(paint(SCENES["set"], 80, 24))[2]
    assert row_below_the_bar == ""


def test_a_warm_up_shows_its_time_its_word_and_every_move() -> None:
    view = replace(SCENES["warm-up"], moves=("Walk round the hut",) * 6)
    assert shows_large(view, "2:40", 7)
    assert shows_large(view, "WARM-UP", 3)
    assert screen(view).count("Walk round") == 6
    word_at = next(n for n, row in enumerate(as_text(paint(view, 80, 24))) if "█   █ ▄▀▀▀▄" in row)
    assert as_text(paint(view, 80, 24))[word_at - 1] == ""


def test_in_a_hold_time_and_target_change_places() -> None:
    assert shows_large(SCENES["hold"], "0:30", 7)
    assert shows_large(SCENES["hold"], "45", 3)
    assert shows_large(SCENES["hold-past-mark"], "+7", 3)


def test_a_rest_shows_time_word_name_side_and_the_next_number() -> None:
    view = SCENES["rest"]
    assert shows_large(view, "0:35", 7)
    for piece in ("REST", "ROW L", "11"):
        assert shows_large(view, piece, 3)


def test_from_ten_minutes_on_the_time_is_narrow() -> None:
    drawn = [line.rstrip() for line in glyphs.render("10:30", 7, "narrow")]
    shown = as_text(paint(SCENES["rest-ten-minutes"], 80, 24))
    assert [row[2:] for row in shown[3:10] if row[2:].startswith(drawn[0])]
    assert all(row[2:].startswith(line) for row, line in zip(shown[3:10], drawn, strict=True))


def test_the_count_stands_in_a_frame_with_its_sets_name() -> None:
    shown = screen(SCENES["rest-typed"])
    assert "┌ PRESS 2: how many? ─────┐" in shown
    assert shows_large(SCENES["rest-typed"], "14", 3)
    assert " /2" in shown  # a reserve is small
    assert "how many?" not in screen(SCENES["rest-asks-nothing"])
    longest = replace(OPEN, asked=replace(ASKED, label="SPLITTT R 12"))
    assert "┌ SPLITTT R 12: how many? ┐" in screen(replace(REST, entry=longest))
    held = replace(OPEN, asked=replace(ASKED, label="PLANK 1", measure="hold"))
    assert "PLANK 1: how long?" in screen(replace(REST, entry=held))


def test_the_frame_stands_apart_from_what_comes_next() -> None:
    rows = as_text(paint(SCENES["rest-typed"], 80, 24))
    end = next(n for n, row in enumerate(rows) if "└" in row)
    label = next(n for n, row in enumerate(rows) if "next, beat" in row)
    assert end < label


def test_the_mat_sees_a_value_only_once_it_is_one() -> None:
    assert shows_large(SCENES["rest-remote"], "13", 3)
    assert not shows_large(SCENES["rest"], "12", 3)  # the suggestion is ordinary text
    assert "│ (12) " in screen(SCENES["rest"])
    assert "│  1e9▏ " in screen(SCENES["rest-refused"])


def test_a_correction_says_what_changes() -> None:
    shown = screen(SCENES["rest-correction"])
    assert "PRESS 2 was 12 → 13▏ enter changes it" in shown
    assert "┌ PRESS 2: was 12" in shown


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("set", ("SET", "12", "0:23", ("now", "time"))),
        ("set-first", ("SET", "8+", "0:05", ("now", "time"))),
        ("hold", ("HOLD", "0:30", "45", ("now", "seconds to beat"))),
        ("hold-past-mark", ("HOLD", "0:52", "+7", ("now", "seconds past the target"))),
        ("rest", ("REST", "0:35", "11", ("next", "next, beat"))),
        ("rest-waits", ("GO?", "0:00", "11", ("next", "next, beat"))),
        ("paused", ("PAUSED", "1:15", "11", ("next", "next, beat"))),
        ("tryout", ("SET", "8+", "0:03", ("now", "time"))),
    ],
)
def test_words_numbers_and_their_labels(
    name: str, shown: tuple[str, str, str, tuple[str, str]]
) -> None:
    view = SCENES[name]
    assert (word(view), large(view), small(view), labels(view)) == shown


def test_what_the_large_number_is_stands_beside_it_or_above_the_name() -> None:
    assert "to beat" in screen(SCENES["set"])
    assert "at least" in screen(SCENES["set-first"])
    assert "to beat · now" in screen(
        replace(SCENES["set"], bout=replace(PRESS, to_beat="112")), 56, 20
    )


def test_a_side_is_one_letter_and_a_long_name_keeps_it() -> None:
    assert shows_large(SCENES["rest"], "ROW L", 3)
    assert shows_large(SCENES["set-side"], "PUSH-UP L", 3)
    long = replace(SCENES["rest"], bout=replace(ROW, short="WWWWWWW", side="right"))
    assert shows_large(long, "WWWWWWW R", 3)
    assert shows_large(long, "11", 3)  # which moves to the edge
    assert shows_large(long, "WWWWWWW R", 3, cols=60)
    assert not shows_large(long, "11", 3, cols=60)  # there the number is ordinary text
    assert "next · beat 11" in screen(long, 60)


def test_a_name_that_cannot_be_drawn_is_written() -> None:
    view = replace(REST, bout=replace(ROW, short="ТЯГА", name="Тяга рюкзака"))
    assert "Тяга рюкзака left" in screen(view)


def test_a_suggestion_does_not_look_like_a_value() -> None:
    assert roles(SCENES["rest"], "(12)") == {"suggestion"}
    assert "(12)" not in screen(SCENES["rest-typed"])
    lines = as_text(paint(SCENES["rest"], 44, 16))
    assert any("PRESS 2  (12)" in line for line in lines)  # where there is no frame


def test_a_reason_stands_beside_what_was_refused() -> None:
    shown = screen(SCENES["rest-refused"])
    assert "1e9▏" in shown
    assert "`1e9` is not a number: write digits 0 to 9, like 12." in shown
    assert roles(SCENES["rest-refused"], "is not a number") == {"refusal"}
    assert roles(SCENES["rest-doubted"], "Press save again") == {"caution"}
    for cols, rows in ((80, 8), (80, 4)):
        assert "`1e9` is not a number" in screen(SCENES["rest-refused"], cols, rows)


def test_a_lasting_trouble_stays_on_the_screen() -> None:
    for cols, rows in ((80, 24), (80, 12), (60, 8)):
        assert "Not kept" in screen(SCENES["not-kept"], cols, rows)
    assert roles(SCENES["not-kept"], "Not kept") == {"caution"}


def test_what_has_to_be_set_differently_stands_with_the_set_up() -> None:
    for rows in (24, 20, 17):
        assert "change: load 10 kg to 12 kg" in screen(SCENES["rest"], 80, rows)
    assert roles(SCENES["rest"], "change: load") == {"mark"}
    assert "change:" not in screen(SCENES["set"])


def test_a_caution_stands_before_the_first_set_of_its_exercise() -> None:
    first = replace(SCENES["rest"], bout=replace(ROW, number=1))
    assert "Care      Set the rucksack down between your feet." in screen(first)
    assert "Set the rucksack down" not in screen(SCENES["rest"])


def test_each_phase_has_a_shape_of_its_own() -> None:
    drawn = {phase: rule(replace(BASE, phase=phase), 24) for phase in SHAPES}
    assert len(set(drawn.values())) == len(SHAPES)
    assert {len(shape) for shape in drawn.values()} == {24}


def test_the_shape_of_a_rest_runs_out() -> None:
    lengths = [len(rule(replace(REST, seconds=left), 76).rstrip()) for left in range(4, 46)]
    assert lengths == sorted(lengths)
    assert lengths[-1] >= 75
    thirds = [rule(replace(REST, seconds=left), 75).split() for left in (3, 2, 1)]
    assert [len(blocks) for blocks in thirds] == [3, 2, 1]


def test_the_shape_of_a_hold_fills_up_to_its_mark() -> None:
    half = rule(replace(SCENES["hold"], seconds=20, span_s=40), 40)
    assert half == "█" * 20 + "▄" * 20
    assert rule(SCENES["hold-past-mark"], 40) == "█" * 40


HOSTILE = "\x1b[2J\x1b]0;x\x07\u202eevil\r\n[red]red[/red]"


def test_no_text_reaches_the_terminal_as_a_command() -> None:
    bout = replace(
        PRESS,
        name=HOSTILE,
        short=HOSTILE,
        setup_line=HOSTILE,
        change=HOSTILE,
        aim=HOSTILE,
        to_beat=HOSTILE,
        cues=(HOSTILE,),
        caution=HOSTILE,
    )
    entry = EntryLine(replace(ASKED, label=HOSTILE)).type(HOSTILE).save()[0]
    line: Line = ((HOSTILE, "ink"),)
    for view in SCENES.values():
        hostile = replace(
            view,
            bout=bout,
            plan=HOSTILE,
            session=HOSTILE,
            trainee=HOSTILE,
            moves=(HOSTILE,),
            page=(Section(HOSTILE, (line, (*line, *line))), Section("", (line,), "table", 9)),
            cautions=(HOSTILE,) if view.cautions else (),
            roomy_extras=RoomyExtras(((HOSTILE, HOSTILE),), ((HOSTILE, HOSTILE),)),
            entry=entry,
            message=HOSTILE,
            notice=HOSTILE,
        )
        for cols, rows in ((80, 24), (20, 5), (200, 60)):
            painted = paint(hostile, cols, rows)
            text = "".join(part for row in painted for part, _ in row)
            assert "\x1b" not in text
            assert "\u202e" not in text
            assert not any(ord(char) < 32 or 127 <= ord(char) < 160 for char in text)
            assert {sum(cell_len(part) for part, _ in row) for row in painted} == {cols}
    assert "[red]" in screen(replace(BASE, phase="set", bout=replace(PRESS, name="[red]")))


def test_wide_characters_are_cut_by_cells() -> None:
    line: Line = (("日本語の運動", "ink"),)
    assert sum(cell_len(text) for text, _ in fitted(line, 7)) == 7
    assert as_text([fitted(line, 7)]) == ["日本語…"]
    assert as_text([fitted((("abc", "ink"),), 3)]) == ["abc"]
    assert as_text([fitted((("abcd", "ink"),), 3)]) == ["ab…"]
    assert fitted(line, 0) == ()


def test_wrapping_breaks_at_spaces_and_cuts_what_has_none() -> None:
    assert wrapped("one two three", 7) == ["one two", "three"]
    assert wrapped("abcdefghij k", 4) == ["abcd", "efgh", "ij k"]
    assert wrapped("日本語の", 5) == ["日本", "語の"]
    assert wrapped("", 5) == [""]


def numbered(lines: int, *, scrolls: bool = False, spare: bool = False) -> Section:
    of = tuple(((f"line {n}.", "ink"),) for n in range(lines))
    return Section("LIST", of, label=9, scrolls=scrolls, spare=spare)


def test_a_page_scrolls_and_says_how_much_is_left() -> None:
    view = replace(BASE, phase="ready", page=(numbered(40),))
    assert "line 0." in screen(view)
    assert "more: arrow down" in screen(view)
    scrolled = screen(replace(view, scroll=5))
    assert "line 4." not in scrolled
    assert "arrow" in scrolled
    end = screen(replace(view, scroll=999))
    assert "line 39." in end
    assert "arrow down" not in end


def test_the_list_of_a_page_scrolls_by_itself() -> None:
    care = Section("CARE", ((("c  before you start: 6 points", "ink"),),), label=9)
    view = replace(BASE, phase="ready", page=(numbered(30, scrolls=True), care))
    for scroll in (0, 5, 999):
        assert "before you start: 6 points" in screen(replace(view, scroll=scroll))
    assert "… 12 more: arrow down" in screen(view)
    assert "line 29." in screen(replace(view, scroll=999))


def test_what_can_be_spared_goes_before_anything_scrolls() -> None:
    view = replace(BASE, phase="ready", page=(numbered(15), numbered(10, spare=True)))
    assert "more:" not in screen(view)
    assert screen(view).count("line 0.") == 1
    assert screen(view, 80, 40).count("line 0.") == 2


def test_cautions_come_in_pages_and_space_turns_them() -> None:
    view = SCENES["ready-cautions"]
    seen = ""
    for turned in range(2):
        shown = screen(replace(view, turned=turned))
        assert shown.count("\n· ") == 0
        lines = [row for row in shown.split("\n")[2:-2] if row.strip()]
        assert len(lines) <= 1 + 16
        assert f"next page ({turned + 1} of 3)" in shown
        assert "start" not in shown.split("\n")[-1]
        seen += shown
    assert all(caution.split(":")[0] + ": Clear" in seen for caution in view.cautions)
    assert "next page" not in screen(replace(view, cautions=()))


@pytest.mark.parametrize(
    ("seconds", "shown"), [(0, "0:00"), (7, "0:07"), (750, "12:30"), (6000, "100:00")]
)
def test_clock(seconds: int, shown: str) -> None:
    assert clock(seconds) == shown


def test_hints_that_do_not_fit_are_left_out_whole() -> None:
    for cols in range(20, 121):
        last = as_text(paint(SCENES["rest"], cols, 24))[-1].strip()
        assert last.endswith("? help")
        assert "…" not in last


def test_an_entry_from_an_earlier_set_waits_during_the_next() -> None:
    assert "PRESS 2: how many?" in screen(SCENES["set-count-open"])
    assert large(SCENES["set-count-open"]) == "11"


def test_a_large_terminal_shows_three_things_more_and_nothing_else() -> None:
    for name in ("rest", "set"):
        view = SCENES[name]
        assert "Last times" not in screen(view, 99, 40)
        assert "Last times" not in screen(view, 120, 29)
        for cols, rows in ((100, 30), (120, 40), (200, 60)):
            shown = screen(view, cols, rows)
            for piece in ("0:35  PRESS 4", "1:00  PLANK 1", "0:40  PLANK 2", "22 Nov  11|11 10|10"):
                assert piece in shown, (cols, rows, piece)
            assert "chest           █████▄▄▄ 1:27 of 2:00" in shown
            assert "upper-back left ████████ rested" in shown
            assert "lats            ████████ rested" in shown


def test_of_a_list_that_is_cut_the_newest_stay_and_the_cut_is_marked() -> None:
    lately = tuple((f"{day} Nov", f"{day}") for day in range(1, 10))
    view = replace(SCENES["rest"], roomy_extras=replace(BEYOND, lately=lately))
    shown = screen(view, 100, 30)
    assert "9 Nov  9" in shown
    assert "1 Nov  1" not in shown
    assert "…" in shown


def test_the_newest_message_stays_where_rows_are_few() -> None:
    view = replace(SCENES["rest-typed"], message="PRESS 1: 14 saved · u takes it back")
    assert "PRESS 2" in screen(view, 20, 5)
    assert "14 saved" in screen(view)


@pytest.mark.parametrize("name", ["rest-typed", "rest-doubted", "rest-refused", "rest-correction"])
def test_in_five_rows_what_is_said_leaves_time_and_count(name: str) -> None:
    view = SCENES[name]
    assert view.entry is not None
    *time, counted, last = as_text(paint(view, 20, 5))
    assert time == glyphs.render("0:35", 3, "slim")
    assert view.entry.text in counted
    said = view.entry.message
    assert last.startswith(said[:15] if said else ("space", "enter"))
    told = as_text(paint(replace(view, message="ROW dropped, 4 sets"), 20, 5))
    assert told[3] == counted
    assert told[4] == (last if said else "ROW dropped, 4 sets")


def test_in_five_rows_it_stands_for_the_status_where_no_count_is_asked_for() -> None:
    view = SCENES["set"]
    assert as_text(paint(view, 20, 5))[3:] == ["SET · PRESS 3 of 4", "space end set"]
    told = replace(view, message="Paused")
    assert as_text(paint(told, 20, 5))[3:] == ["Paused", "space end set"]
