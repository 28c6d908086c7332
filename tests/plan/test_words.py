from __future__ import annotations

import sys
import unicodedata

import pytest
from hypothesis import given, strategies as st

from runner.plan.faults import (
    BadValueError,
    did_you_mean,
    listed,
    near,
    near_all,
    one_line,
    quoted,
)
from runner.text import escaped, is_control
from tests.plan.plans import SMALL, text_rows


@given(st.text())
def test_what_is_shown_has_no_control_character(text: str) -> None:
    assert not any(is_control(c) for c in escaped(text))
    assert not any(is_control(c) for c in quoted(text))


@given(st.text())
def test_a_clean_text_is_one_line_without_control_characters(text: str) -> None:
    try:
        cleaned = one_line(text)
    except BadValueError:
        return
    assert cleaned == text.strip()
    assert not any(unicodedata.category(c) in {"Cc", "Zl", "Zp"} for c in cleaned)


@pytest.mark.parametrize(
    "character", ["\x00", "\t", "\n", "\r", "\x1b", "\x7f", "\x9b", "\u2028", "\u202e", "\u2066"]
)
def test_a_text_with_a_control_character_is_refused(character: str) -> None:
    with pytest.raises(BadValueError, match="holds the control character") as refused:
        one_line(f"a{character}b")
    assert f"\\u{ord(character):04x}" in str(refused.value)


@pytest.mark.parametrize("text", ["[bold]Row[/]", "Klimmzüge", "הרמה", "懸垂", "👩\u200d🚀 row"])
def test_markup_and_any_script_are_kept_as_they_are(text: str) -> None:
    assert one_line(text) == text


def test_what_is_no_text() -> None:
    with pytest.raises(BadValueError, match="the text is empty"):
        one_line("  ")
    with pytest.raises(BadValueError, match="is not a text"):
        one_line(3)
    with pytest.raises(BadValueError, match="a text of 501 characters"):
        one_line("x" * 501)


def test_values_as_they_are_quoted() -> None:
    assert quoted("a\x1b[2J") == '"a\\u001b[2J"'
    assert quoted("x" * 100) == '"' + "x" * 47 + '…"'
    assert [quoted(v) for v in (True, False, {}, [], 3, 2.5, 10**9999)] == [
        "true",
        "false",
        "a table",
        "a list",
        "3",
        "2.5",
        "a huge number",
    ]
    assert quoted(b"x" * 100).endswith("…")


def test_near_words() -> None:
    assert near("Upper_Back", ["lats", "upper-back"]) == "upper-back"
    assert near("zebra", ["lats", "upper-back"]) is None
    assert near_all("kestrl", ["kestrel-hut", "kestrel", "demo"]) == ["kestrel", "kestrel-hut"]
    assert did_you_mean("qqq", ["a", "b"]) == "write one of a, b"
    assert did_you_mean(3, []) == "the plan has none yet"
    assert listed("abc", at_most=2) == "a, b and 1 more"


def test_what_is_printable_controls_nothing() -> None:
    printable = [chr(n) for n in range(sys.maxunicode + 1) if chr(n).isprintable()]
    assert len(printable) > 100_000
    assert not any(map(is_control, printable))


@pytest.mark.parametrize(
    ("header", "meant"),
    [
        ("[exercise.push up]", "[exercise.push-up]"),
        ("[exercise push up]  # with hands", "[exercise.push-up]"),
        ("[[exercise.push up.version]]", "[[exercise.push-up.version]]"),
        ("[[exercise.row.version x]]", "[[exercise.row.version]]"),
        ("[[session block]]", "[[session.block]]"),
        ("[week muscles]", "[week.muscles]"),
    ],
)
def test_a_header_with_spaces_says_so(header: str, meant: str) -> None:
    found = text_rows(SMALL.replace("[exercise.row]", header, 1))
    assert found == [f"a space in a header; write {meant}: a name has no spaces"]


@pytest.mark.parametrize(
    ("prime", "pattern", "remedy"),
    [
        ("upper-back", "vertical press", 'did you mean "vertical pull"?'),
        ("chest", "vertical press", "write one of horizontal push, other"),
        ("lats", "pull", 'did you mean "horizontal pull" or "vertical pull"?'),
        ("chest", "push", 'did you mean "horizontal push"?'),
        ("neck", "push", "write one of other"),
    ],
)
def test_a_pattern_is_judged_against_the_main_muscles(
    prime: str, pattern: str, remedy: str
) -> None:
    text = SMALL.replace("upper-back", prime).replace("horizontal pull", pattern)
    (row,) = text_rows(text)
    assert row == f'exercise.row.pattern: "{pattern}" is not known here; {remedy}'


def test_a_word_that_is_a_part_of_several_names_them_all() -> None:
    (row,) = text_rows(SMALL.replace('prime = ["upper-back"]', 'prime = ["back"]'))
    assert row.endswith('did you mean "upper-back" or "low-back"?')
