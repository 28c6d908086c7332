"""Typed entries: every form that is understood, and a reason for every one that is not."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from runner.law.workout import Measure
from runner.session.verb import Count, Enter
from runner.session.words import Refusal, amount_text, read_entry


@pytest.mark.parametrize(
    ("text", "measure", "values"),
    [
        ("12", "reps", [(12, None)]),
        ("0", "reps", [(0, None)]),
        ("007", "reps", [(7, None)]),
        ("999", "reps", [(999, None)]),
        ("12/2", "reps", [(12, 2)]),
        ("12/0", "reps", [(12, 0)]),
        ("12/20", "reps", [(12, 20)]),
        ("12 14", "reps", [(12, None), (14, None)]),
        ("12|14", "reps", [(12, None), (14, None)]),
        ("12/2 | 14/1", "reps", [(12, 2), (14, 1)]),
        ("  12   14 ", "reps", [(12, None), (14, None)]),
        ("12/2 14/1", "reps", [(12, 2), (14, 1)]),
        ("12/2 14", "reps", [(12, 2), (14, None)]),
        ("45s", "hold", [(45.0, None)]),
        ("45.5s", "hold", [(45.5, None)]),
        ("45s/2", "hold", [(45.0, 2)]),
        ("40s 35s", "hold", [(40.0, None), (35.0, None)]),
        ("3600s", "hold", [(3600.0, None)]),
    ],
)
def test_forms(text: str, measure: Measure, values: list[tuple[float, int | None]]) -> None:
    assert read_entry(text) == Enter(measure, tuple(Count(*value) for value in values))


@pytest.mark.parametrize("text", ["45", "45.0", "45s"])
def test_beside_a_hold_a_bare_number_is_seconds(text: str) -> None:
    assert read_entry(text, bare="hold") == Enter("hold", (Count(45.0),))


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "No count typed: write the repetitions, like 12."),
        ("   ", "No count typed"),
        ("-1", "`-1` is less than 0"),
        ("-4s", "less than 0"),
        ("1e9", "`1e9` is not a number"),
        ("١٢", "write digits 0 to 9, like 12."),
        ("１２", "write digits 0 to 9, like 12."),  # noqa: RUF001 - full-width digits on purpose
        ("²", "not a number"),
        ("1_0", "not a number"),
        ("+5", "not a number"),
        ("abc", "not a number"),
        ("0x1f", "not a number"),
        ("12\n", "not a number"),
        ("nan", "not a number"),
        ("12.5", "not a whole number"),
        ("1000", "Repetitions go from 0 to 999."),
        ("9" * 60, "Repetitions go from 0 to 999."),
        ("0" * 1_000_000 + "x", "too long for a count"),
        ("12/21", "Repetitions in reserve go from 0 to 20."),
        ("12/" + "9" * 60, "Repetitions in reserve go from 0 to 20."),
        ("12/", "after the slash"),
        ("12/-1", "after the slash"),
        ("12/2/3", "after the slash"),
        ("12 /2", "`/2` is not a number"),
        ("3601s", "Seconds go from 0 to 3600."),
        ("3600.1s", "Seconds go from 0 to 3600."),
        ("45.55s", "one at most"),
        ("12 45s", "One number is seconds and one is not"),
        ("1 2 3", "More than two numbers"),
    ],
)
def test_refused_with_the_reason(text: str, reason: str) -> None:
    refused = read_entry(text)
    assert isinstance(refused, Refusal)
    assert reason in refused.reason


def test_a_refusal_quotes_nothing_that_a_terminal_would_obey() -> None:
    refused = read_entry("\x1b[31m\x07" + "x" * 400)
    assert isinstance(refused, Refusal)
    assert refused.reason.isprintable()
    assert len(refused.reason) < 120


@given(st.text(max_size=20))
def test_every_text_is_a_count_in_bounds_or_a_printable_sentence(text: str) -> None:
    read = read_entry(text)
    if isinstance(read, Refusal):
        assert read.reason.isprintable()
        assert read.reason.endswith(".")
        return
    assert len(read.counts) in (1, 2)
    for count in read.counts:
        assert 0 <= count.value <= (999 if read.measure == "reps" else 3600)
        assert count.reserve is None or 0 <= count.reserve <= 20


@given(st.integers(0, 999), st.one_of(st.none(), st.integers(0, 20)))
def test_repetitions_come_back_as_typed(reps: int, reserve: int | None) -> None:
    text = amount_text(reps, "reps") + ("" if reserve is None else f"/{reserve}")
    assert read_entry(text) == Enter("reps", (Count(reps, reserve),))


@given(st.integers(0, 36000))
def test_seconds_come_back_to_the_tenth(tenths: int) -> None:
    assert read_entry(amount_text(tenths / 10, "hold")) == Enter("hold", (Count(tenths / 10),))
