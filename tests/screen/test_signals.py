"""Signals end a full screen where the system has them, and are no fault where it has not."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys

import pytest

from runner.screen import signals
from runner.screen.signals import on_signals
from tests.plain.process import DEADLINE, ROOT, environment

STUCK = """
import asyncio, threading
from runner.screen.signals import on_signals

async def main():
    on_signals(lambda code: None, grace=0.1)
    print("stuck", flush=True)
    lock = threading.Lock()
    lock.acquire()
    lock.acquire()  # as a loop waits for a screen that nobody reads any more

asyncio.run(main())
"""


async def test_a_signal_leaves_with_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    late: list[int] = []
    monkeypatch.setattr(signals, "_end_in_any_case", lambda code, _: late.append(code))
    left: list[int] = []
    loop = asyncio.get_running_loop()
    try:
        on_signals(left.append)
        os.kill(os.getpid(), signal.SIGTERM)
        for _ in range(100):
            await asyncio.sleep(0)
            if left:
                break
    finally:
        for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
            loop.remove_signal_handler(number)
    assert (left, late) == ([143], [143])


@pytest.mark.parametrize(("number", "code"), [(signal.SIGHUP, 129), (signal.SIGTERM, 143)])
def test_a_loop_that_waits_for_ever_is_ended_all_the_same(
    number: signal.Signals, code: int
) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", STUCK], stdout=subprocess.PIPE, env=environment(), cwd=ROOT
    )
    assert process.stdout is not None
    with process, process.stdout:
        assert process.stdout.readline() == b"stuck\n"
        process.send_signal(number)
        assert process.wait(DEADLINE) == code


async def test_a_loop_without_signals(monkeypatch: pytest.MonkeyPatch) -> None:
    def cannot(*given: object) -> None:
        raise NotImplementedError

    monkeypatch.setattr(asyncio.get_running_loop(), "add_signal_handler", cannot)
    on_signals(int)
