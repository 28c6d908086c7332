"""Every benchmark works, in little time; its figures are looked at, not tested."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from importlib.util import cache_from_source
from math import isfinite
from pathlib import Path

import pytest

from tests.benchmarks.__main__ import compile_all, names
from tests.benchmarks.aids.terminal import glyphs
from tests.benchmarks.drift import lateness
from tests.benchmarks.frame import (
    Row,
    above,
    at_most,
    in_turn,
    machine,
    markdown,
    ratio,
    seconds,
    table,
)


@pytest.mark.skipif(sys.platform == "win32", reason="they measure in terminals")
@pytest.mark.parametrize("name", names())
def test_every_benchmark_measures(name: str) -> None:
    rows = importlib.import_module(f"tests.benchmarks.{name}").rows(quick=True)
    assert rows
    assert all(row.what and isfinite(row.value) for row in rows)
    assert all((row.met is None) == (not row.aim) for row in rows)


def test_what_is_measured_has_its_bytecode_as_when_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    module = tmp_path / "room" / "module.py"
    module.parent.mkdir()
    module.write_text("ONE = 1\n")
    compile_all(tmp_path)
    assert Path(cache_from_source(str(module))).exists()


def test_drift_is_the_last_redraws_against_the_first() -> None:
    redrawn = [100.0 + n + 0.010 + 0.0002 * n for n in range(600)]  # 0.2 ms a second too slow
    first, last = lateness(redrawn, begun=100.0, part_s=61)
    assert first == pytest.approx(10 + 0.2 * 30)
    assert last == pytest.approx(10 + 0.2 * 569)


def test_a_table_tells_what_was_aimed_at() -> None:
    rows = [
        ("walk", Row("one round", 1.23456, "ms")),
        ("walk", at_most("index", 1.5, "", 2)),
        ("walk", at_most("whole", 2.5, "s", 2)),
        ("walk", ratio("beside", 3, 2, "ms", 1.5)),
        ("walk", above("above", 3, 1, "ms", 1)),
    ]
    assert table(rows) == [
        "benchmark  figure     value    baseline  compared  aim",
        "walk       one round  1.23 ms",
        "walk       index      1.5                          at most 2      met",
        "walk       whole      2.5 s                        at most 2 s    not met",
        "walk       beside     3 ms     2 ms      1.50 x    at most 1.5 x  met",
        "walk       above      3 ms     1 ms      +2 ms     at most +1 ms  not met",
    ]
    assert markdown(rows)[:3] == [
        "| benchmark | figure | value | baseline | compared | aim |  |",
        "| --- | --- | --- | --- | --- | --- | --- |",
        "| walk | one round | 1.23 ms |  |  |  |  |",
    ]


def test_each_has_its_turn_and_the_first_rounds_do_not_count() -> None:
    order: list[str] = []
    slow, quick = iter((9.0, 1.0, 2.0, 3.0)), iter((7.0, 4.0, 4.0, 5.0))

    def of(name: str, values: Iterator[float]) -> float:
        order.append(name)
        return next(values)

    works = (lambda: of("slow", slow), lambda: of("quick", quick))
    assert in_turn(works, times=3, warm_up=1) == [2.0, 4.0]
    assert order == ["slow", "quick"] * 4


def test_control_is_not_to_be_seen() -> None:
    assert glyphs(b"\x1b[?1049h\x1b[2J \r\n\x1b]0;title\x07\x1b(B\x1b=\x1bP+q\x1b\\") == b""
    assert glyphs(b"\x1b[1;31mHUT\x1b[0m \x1b[38;5;") == b"HUT"


def test_calls_to_warm_up_come_before_those_that_count() -> None:
    calls: list[int] = []
    assert seconds(lambda: calls.append(1), times=3, warm_up=2) >= 0
    assert len(calls) == 5
    assert "Python" in machine()[1]
