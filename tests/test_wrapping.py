"""Lines that go on below their own text."""

from __future__ import annotations

import textwrap

from hypothesis import given, strategies as st
from rich.cells import cell_len

from runner.text import hanging, wrapped

KEYS = f"{'p . b':<28}Pause the rehearsal; this key or the main key resumes it."


def test_what_is_explained_has_a_column_of_its_own() -> None:
    assert hanging(KEYS, 66) == [
        "p . b                       Pause the rehearsal; this key or the",
        f"{' ' * 28}main key resumes it.",
    ]
    assert hanging(" 1  Push-up: hands-60   since Monday", 22) == [
        " 1  Push-up: hands-60",
        "    since Monday",
    ]


def test_an_indented_line_stays_indented() -> None:
    assert hanging("      stay: add repetitions", 20) == ["      stay: add", "      repetitions"]
    assert hanging("", 20) == [""]


@given(
    st.sampled_from([KEYS, "no columns at all", "  two  words"]),
    st.integers(1, 100),
)
def test_no_width_loses_a_word_or_is_run_over(line: str, width: int) -> None:
    lines = hanging(line, width)
    assert max(map(len, lines)) <= width
    assert "".join("".join(lines).split()) == "".join(line.split())


def test_a_number_and_its_unit_stay_together_and_a_wide_sign_takes_two_columns() -> None:
    assert wrapped("hold 45 s with 12 kg", 9, "") == ["hold 45 s", "with", "12 kg"]
    assert wrapped("腕立て伏せ 腕立て", 6, "", columns=cell_len) == ["腕立て", "伏せ", "腕立て"]
    assert wrapped("ab", 1, "  ") == ["a", "  b"]


@given(st.text(" abcé-/", max_size=80), st.integers(10, 40), st.sampled_from(["", "  "]))
def test_lines_end_where_the_standard_library_ends_them(text: str, width: int, indent: str) -> None:
    if max(map(len, text.split()), default=0) > width - len(indent):
        return  # it fills a line up with a part of a word that is longer than one
    said = textwrap.wrap(text, width, subsequent_indent=indent, break_on_hyphens=False)
    assert wrapped(text, width, indent) == (said or [""])
