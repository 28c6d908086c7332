"""Lines that go on below their own text."""

from __future__ import annotations

from hypothesis import given, strategies as st

from runner.text import hanging

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
