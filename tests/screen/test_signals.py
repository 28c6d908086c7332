"""Signals end a full screen where the system has them, and are no fault where it has not."""

from __future__ import annotations

import asyncio
import os
import signal

import pytest

from runner.screen.signals import on_signals


async def test_a_signal_leaves_with_its_number() -> None:
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
    assert left == [143]


async def test_a_loop_without_signals(monkeypatch: pytest.MonkeyPatch) -> None:
    def cannot(*given: object) -> None:
        raise NotImplementedError

    monkeypatch.setattr(asyncio.get_running_loop(), "add_signal_handler", cannot)
    on_signals(lambda _: None)
