"""The benchmarks can be started; their figures are looked at, not tested."""

from __future__ import annotations

import importlib

import pytest

from tests.benchmarks.__main__ import names
from tests.benchmarks.frame import Row, at_most, machine, seconds, table


@pytest.mark.parametrize("name", names())
def test_every_benchmark_has_rows(name: str) -> None:
    assert callable(importlib.import_module(f"tests.benchmarks.{name}").rows)


def test_a_table_tells_what_was_aimed_at() -> None:
    rows = [
        ("walk", Row("one round", 1.23456, "ms")),
        ("walk", at_most("ratio", 1.5, "", 2)),
        ("walk", at_most("whole", 2.5, "s", 2)),
    ]
    assert table(rows) == [
        "benchmark  figure     value    aim",
        "walk       one round  1.23 ms",
        "walk       ratio      1.5      at most 2    met",
        "walk       whole      2.5 s    at most 2 s  not met",
    ]


def test_calls_to_warm_up_come_before_those_that_count() -> None:
    calls: list[int] = []
    assert seconds(lambda: calls.append(1), times=3, warm_up=2) >= 0
    assert len(calls) == 5
    assert "Python" in machine()[1]
