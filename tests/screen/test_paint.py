"""Painted screens: golden mock-ups, exact sizes, and text that no terminal obeys."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from rich.cells import cell_len

from runner.screen import glyphs
from runner.screen.info import wrapped
from runner.screen.paint import SHAPES, as_text, fitted, paint, rule
from runner.screen.view import View, clock, count, label, word
from runner.session.count_field import EntryLine
from runner.text import Line, Role
from tests.screen.golden_text import same
from tests.screen.scenes import ASKED, BASE, FIRST, OPEN, PLANK, PRESS, REST, ROW, SCENES

LARGE = ("ready", "warm-up", "rest-typed", "set", "hold-past-mark", "paused", "wrap-up")


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


@pytest.mark.parametrize("name", ["ready", "rest-typed", "rest-refused", "set", "paused"])
def test_at_a_tiny_size(name: str) -> None:
    same(f"{name}-20x5", as_text(paint(SCENES[name], 20, 5)))


@pytest.mark.parametrize("name", SCENES)
def test_every_size_is_filled_exactly(name: str) -> None:
    for cols in (1, 2, 9, 10, 17, 20, 33, 44, 60, 79, 80, 81, 120, 160, 200):
        for rows in (1, 2, 3, 4, 5, 8, 11, 12, 16, 24, 40, 45, 60):
            painted = paint(SCENES[name], cols, rows)
            assert len(painted) == rows
            assert {sum(cell_len(text) for text, _ in line) for line in painted} == {cols}


def test_a_set_needs_time_phase_and_count() -> None:
    view = SCENES["set"]
    assert shows_large(view, "0:23", 7)
    assert shows_large(view, "SET", 3)
    assert shows_large(view, "12", 3)
    assert not shows_large(view, "REST", 3)


def test_a_rest_needs_time_phase_name_and_side() -> None:
    view = SCENES["rest"]
    assert shows_large(view, "0:35", 7)
    assert shows_large(view, "REST", 3)
    assert shows_large(view, "ROW LEFT", 3)


def test_the_mat_sees_a_value_only_once_it_is_one() -> None:
    assert count(SCENES["rest"]) == ""
    assert count(SCENES["rest-typed"]) == "14"
    assert count(SCENES["rest-remote"]) == "13"
    assert count(SCENES["rest-refused"]) == ""
    assert shows_large(SCENES["rest-remote"], "13", 3)


@pytest.mark.parametrize(
    ("view", "shown"),
    [
        (SCENES["set"], ("SET", "12", "to beat")),
        (SCENES["set-first"], ("SET", "8+", "at least")),
        (SCENES["hold"], ("HOLD", "45", "seconds to beat")),
        (SCENES["hold-past-mark"], ("HOLD", "+7", "seconds past the target")),
        (SCENES["rest-waits"], ("GO?", "", "")),
        (SCENES["tryout"], ("SET", "8+", "at least")),
        (replace(BASE, phase="set"), ("SET", "", "")),
    ],
)
def test_word_count_and_label(view: View, shown: tuple[str, str, str]) -> None:
    assert (word(view), count(view), label(view)) == shown


def test_a_side_shrinks_before_a_name_goes() -> None:
    assert shows_large(SCENES["rest"], "ROW LEFT", 3, cols=60)
    assert shows_large(SCENES["rest"], "ROW L", 3, cols=44)


def test_a_name_that_cannot_be_drawn_is_written() -> None:
    view = replace(REST, bout=replace(ROW, short="ТЯГА", name="Тяга рюкзака"))
    assert "Тяга рюкзака left" in screen(view)


def test_a_suggestion_does_not_look_like_a_value() -> None:
    assert roles(SCENES["rest"], "(12)") == {"suggestion"}
    assert roles(SCENES["rest-typed"], "14/2") == {"typed"}
    assert "(12)" not in screen(SCENES["rest-typed"])


def test_a_reason_stands_beside_what_was_refused() -> None:
    shown = screen(SCENES["rest-refused"])
    assert "1e9▏" in shown
    assert "`1e9` is not a number: write digits 0 to 9, such as 12." in shown
    assert roles(SCENES["rest-refused"], "is not a number") == {"refusal"}
    assert roles(SCENES["rest-doubted"], "Press save again") == {"caution"}
    for cols, rows in ((80, 8), (80, 3)):
        assert "`1e9` is not a number" in screen(SCENES["rest-refused"], cols, rows)


def test_a_lasting_trouble_stays_on_the_screen() -> None:
    for cols, rows in ((80, 24), (80, 12), (60, 8)):
        assert "Not kept" in screen(SCENES["not-kept"], cols, rows)
    assert roles(SCENES["not-kept"], "Not kept") == {"caution"}


def test_what_has_to_be_set_differently_outlives_the_cues() -> None:
    assert "load 10 kg to 12 kg" in screen(SCENES["rest"], 80, 16)
    assert "Elbow along the ribs" not in screen(SCENES["rest"], 80, 16)


def test_a_rest_tells_recovery_and_the_sets_so_far() -> None:
    shown = screen(SCENES["rest"])
    assert "upper back left 1:25 now, 2:00 at the start" in shown
    assert "PRESS 14, 13 · ROW 12/11" in shown
    assert "3 of 18 sets · 24:10 left" in shown


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
        gear=HOSTILE,
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
            done=((HOSTILE, HOSTILE),),
            moves=(HOSTILE,),
            sheet=(line, (*line, *line)),
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


def test_a_sheet_scrolls_and_says_how_much_is_left() -> None:
    sheet = tuple(((f"line {n}", "ink"),) for n in range(40))
    view = replace(BASE, phase="ready", sheet=sheet)
    assert "line 0" in screen(view)
    assert "more lines: down" in screen(view)
    scrolled = screen(replace(view, scroll=5))
    assert "line 4\n" not in scrolled
    assert "line 5\n" in scrolled
    end = screen(replace(view, scroll=999))
    assert "line 39" in end
    assert "more lines" not in end


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


def test_a_first_set_says_at_least_and_one_with_a_count_names_it() -> None:
    assert "12 to beat · 8 to 30, stop with 2 in reserve" in screen(SCENES["set"])
    assert "to beat" not in screen(replace(BASE, phase="set", bout=FIRST))
    assert "45 s to beat" in screen(replace(BASE, phase="set", bout=PLANK))


def test_an_entry_from_an_earlier_set_waits_during_the_next() -> None:
    view = replace(SCENES["set"], entry=OPEN)
    assert "PRESS 2  (12)" in screen(view)
    assert count(view) == "12"
    assert label(view) == "to beat"


def test_of_counts_that_do_not_fit_the_newest_stay_and_the_cut_is_marked() -> None:
    done = tuple((f"MOVE{n}", "12 12 12 12") for n in range(9))
    for height in (24, 40):
        shown = screen(replace(SCENES["rest"], done=done), 80, height)
        so_far = shown[shown.index("So far") :]
        assert so_far.startswith("So far    MOVE0 12 12 12 12 · MOVE1")
        assert ("MOVE8" in so_far) != ("…" in so_far)
