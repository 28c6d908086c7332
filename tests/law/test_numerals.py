"""Numbers and units as people say them, against a general library's number words."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st
from num2words import num2words

from runner.law.number_words import cardinal, number, quantity, seconds, spoken


@given(st.integers(0, 999_999))
def test_whole_numbers_are_those_of_a_general_library(value: int) -> None:
    assert cardinal(value) == num2words(value, lang="en_GB")


def test_every_number_up_to_a_thousand() -> None:
    assert [cardinal(n) for n in range(1001)] == [num2words(n, lang="en_GB") for n in range(1001)]


@given(st.integers(0, 500), st.integers(1, 99).filter(lambda c: c % 10))
def test_decimals_are_those_of_a_general_library(whole: int, hundredths: int) -> None:
    text = f"{whole}.{hundredths:02}"
    assert number(text) == num2words(text, lang="en_GB")


def test_a_half_after_a_whole_number_is_that_of_a_general_library() -> None:
    for whole in range(1, 100):
        assert number(f"{whole}.5") == num2words(f"{whole}.5", lang="en_GB")
    assert number("0.5") == "a half"


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (12, "kg", "twelve kilos"),
        (1, "kg", "one kilo"),
        (1.0, "kg", "one kilo"),
        (7.5, "kg", "seven point five kilos"),
        (1.5, "kg", "one point five kilos"),
        (0.5, "kg", "half a kilo"),
        (0.5, "in", "half an inch"),
        (1.25, "kg", "one point two five kilos"),
        (0, "kg", "zero kilos"),
        (60, "cm", "sixty centimetres"),
        (112, "cm", "one hundred and twelve centimetres"),
        (1, "cm", "one centimetre"),
        (3, "notches", "three notches"),
        (3, "", "three"),
    ],
)
def test_measures(value: float, unit: str, said: str) -> None:
    assert quantity(value, unit) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (90, "one minute thirty"),
        (60, "one minute"),
        (120, "two minutes"),
        (125, "two minutes five"),
        (34.7, "thirty-four seconds"),
        (1, "one second"),
        (0, "zero seconds"),
    ],
)
def test_times(value: float, said: str) -> None:
    assert seconds(value) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("60 cm", "sixty centimetres"),
        ("60cm", "sixty centimetres"),
        ("Plank 1:30", "Plank one minute thirty"),
        ("band 2, 1.5 m away", "band two, one point five metres away"),
        ("30°", "thirty degrees"),
        ("3 min", "three minutes"),
        ("2 months", "two months"),
        ("4-0-2", "four-zero-two"),
        ("Row (left)", "Row left"),
        ("Knee raise", "Knee raise"),
        ("élevé", "élevé"),
        ("no\nline\tends", "no line ends"),
        ("$(touch x) `id` ; rm", "touch x id ; rm"),
        ("[[slnc 9000]] <break/>", "slnc nine thousand break"),
        ("   ", ""),
    ],
)
def test_texts_of_plans(text: str, said: str) -> None:
    assert spoken(text) == said


@given(st.text(max_size=60))
def test_what_is_said_is_one_line_without_figures_or_signs_of_command(text: str) -> None:
    got = spoken(text)
    assert got.isprintable()
    assert not set(got) & set('0123456789[]<>{}()$`\\|&*/"_')
    assert spoken(got) == got


@given(st.integers(1_000_000, 10**12))
def test_beyond_a_million_every_figure_is_said_by_itself(value: int) -> None:
    assert cardinal(value) == " ".join(num2words(int(figure)) for figure in str(value))
