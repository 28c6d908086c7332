"""An app without a terminal, whose pilot waits until the app is done, not until time has passed.

Textual's own pilot sleeps 20 ms and more at a time, several times a key, until the process seems
idle by its CPU time: that was most of what these tests took, and no proof on a loaded machine.
Here a key is done when nothing is left to run: each widget waits for its next message.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from time import monotonic
from typing import Any
from unittest.mock import patch

from textual.app import App
from textual.pilot import Pilot

SOON = 0.002  # seconds; what an app puts off for an instant is still waited for
MOST = 10.0  # seconds; what is not done then shows in what the test looks at


@asynccontextmanager
async def piloted(app: App[Any], size: tuple[int, int] = (80, 24)) -> AsyncIterator[Pilot[Any]]:
    """Run an app, and be its pilot."""
    wait = partial(settled, app)
    with patch("textual.app.wait_for_idle", wait), patch("textual.pilot.wait_for_idle", wait):
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            yield pilot


async def settled(app: App[Any], *seconds: float) -> None:
    """Wait until nothing is left to run; `seconds` are the waits that Textual would take."""
    del seconds
    loop: Any = asyncio.get_running_loop()
    end = monotonic() + MOST
    await asyncio.sleep(SOON)
    while monotonic() < end:
        working = not all(worker.is_finished for worker in app.workers)
        if working or app._resize_event is not None:  # which Textual puts off for 8 ms
            await asyncio.sleep(SOON)
        elif loop._ready:
            await asyncio.sleep(0)
        else:
            return
