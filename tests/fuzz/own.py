"""A small coverage-guided loop, for where there is no fuzzer: inputs that reach new lines stay."""

from __future__ import annotations

import random
import sys
import types
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

INTERESTING = (
    b"\x00",
    b"\xff",
    b"\n",
    b"\t",
    b'"',
    b"=",
    b"[",
    b"]",
    b"{",
    b"}",
    b",",
    b";",
    b"-1",
)
INTERESTING += (b"\x1b[2J", b"\xe2\x80\xae", b"9" * 20, b"1e999", b"../../x", b"=1+1", b"''", b"#")


def mutated(data: bytes, corpus: list[bytes], dice: random.Random, longest: int) -> bytes:
    """The input changed in one to four places."""
    out = bytearray(data)
    for _ in range(dice.randint(1, 4)):
        at, length = dice.randint(0, len(out)), dice.randint(1, 1 + len(out) // 8)
        match dice.randrange(7):
            case 0 if out:
                out[at % len(out)] ^= 1 << dice.randrange(8)
            case 1 if out:
                out[at % len(out)] = dice.randrange(256)
            case 2:
                out[at:at] = dice.choice(INTERESTING)
            case 3:
                del out[at : at + length]
            case 4:
                out[at:at] = out[at : at + length] * dice.randint(1, 5)
            case 5:
                other = dice.choice(corpus)
                begin = dice.randint(0, len(other))
                out[at : at + length] = other[begin : begin + length]
            case _:
                out[at : at + 1] = bytes([dice.randrange(256)])
    return bytes(out[:longest])


def fuzz(
    run: Callable[[bytes], None],
    seeds: list[bytes],
    *,
    go_on: Callable[[], bool],
    seed: int = 0,
    package: str = "runner",
    longest: int = 65_536,
) -> None:
    """Run inputs while `go_on()`; `run` keeps what it finds to itself."""
    dice, corpus, seen = random.Random(seed), list(seeds) or [b""], set[tuple[str, int]]()
    with lines_of(package) as reached:
        for data in corpus:
            run(data)
        seen |= reached
        while go_on():
            data = mutated(dice.choice(corpus), corpus, dice, longest)
            reached.clear()
            run(data)
            if not reached <= seen:
                seen |= reached
                corpus.append(data)


@contextmanager
def lines_of(package: str) -> Iterator[set[tuple[str, int]]]:
    """The lines that are run in a package or file meanwhile, each perhaps once alone."""
    reached: set[tuple[str, int]] = set()
    inside = f"{Path(__file__).parents[2] / package}"
    watch = _by_monitoring if sys.version_info >= (3, 12) else _by_tracing
    with watch(inside, reached):
        yield reached


@contextmanager
def _by_monitoring(inside: str, reached: set[tuple[str, int]]) -> Iterator[None]:
    """Python 3.12 and newer: each line tells once, and costs nothing afterwards."""
    monitoring: Any = sys.monitoring  # type: ignore[attr-defined, unused-ignore]
    tool = monitoring.COVERAGE_ID

    def line(code: types.CodeType, number: int) -> object:
        if code.co_filename.startswith(inside):
            reached.add((code.co_filename, number))
        return monitoring.DISABLE

    monitoring.use_tool_id(tool, "matside-fuzz")
    monitoring.register_callback(tool, monitoring.events.LINE, line)
    monitoring.restart_events()
    monitoring.set_events(tool, monitoring.events.LINE)
    try:
        yield
    finally:
        monitoring.set_events(tool, 0)
        monitoring.free_tool_id(tool)


@contextmanager
def _by_tracing(inside: str, reached: set[tuple[str, int]]) -> Iterator[None]:
    def trace(frame: types.FrameType, event: str, argument: object) -> Any:
        if not frame.f_code.co_filename.startswith(inside):
            return None
        reached.add((frame.f_code.co_filename, frame.f_lineno))
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        yield
    finally:
        sys.settrace(before)
