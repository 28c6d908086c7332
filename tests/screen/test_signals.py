"""Signals end a full screen where the system has them, and are no fault where it has not."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import threading

import pytest

from runner.screen.full_screen import GRACE, on_signals, run
from tests.lines.process import DEADLINE, ROOT, environment

STUCK = """
import asyncio, threading
from runner.screen.full_screen import on_signals, run

class Stuck:
    grace = None

    def leave(self, code):
        pass

    def run(self):
        asyncio.run(self.wait())

    async def wait(self):
        on_signals(self)
        print("stuck", flush=True)
        lock = threading.Lock()
        lock.acquire()
        lock.acquire()  # as a loop waits for a screen that nobody reads any more

run(Stuck(), grace=0.1)
"""


class Screen:
    """What signals need of a full screen."""

    def __init__(self) -> None:
        self.grace: float | None = None
        self.left: list[int] = []

    def leave(self, code: int, /) -> None:
        self.left.append(code)

    def run(self) -> int | None:
        return 7 if self.grace == GRACE else None


async def test_a_signal_leaves_with_its_number_and_ends_no_process_of_others() -> None:
    screen = Screen()
    loop = asyncio.get_running_loop()
    threads = threading.active_count()
    try:
        on_signals(screen)
        os.kill(os.getpid(), signal.SIGTERM)
        for _ in range(100):
            await asyncio.sleep(0)
            if screen.left:
                break
    finally:
        for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
            loop.remove_signal_handler(number)
    assert screen.left == [143]
    assert threading.active_count() == threads  # nothing waits to end this process


def test_only_a_screen_with_a_process_of_its_own_has_a_limit() -> None:
    assert run(Screen()) == 7


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
    on_signals(Screen())
