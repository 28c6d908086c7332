"""Makes the README's pictures: the live screen in a rest, a chart, and a trend.

    python tests/pictures/make.py [FOLDER]

Run it after a change of the screen's look; a test checks that the picture is today's.
"""

from __future__ import annotations

import asyncio
import os
import re
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from runner.live.session_setup import prepare
from runner.live.sound_controls import SoundOptions
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import find_plan
from runner.planning.forecast import session_steps
from runner.record.record import Record
from runner.reports.past import look_back
from runner.reports.pictures import trend_picture
from runner.reports.svg import picture as chart
from runner.screen.app import LiveApp
from runner.session import verb as cmd
from runner.testing import ManualClock
from tests.reports.winter import some_weeks

HERE = Path(__file__).parent
SIZE = (80, 24)
COUNTS = (14.0, 12.0, 13.0)


def rehearsal() -> str:
    """The chart of the shipped plan's first session, for somebody new, as SVG."""
    with TemporaryDirectory() as data:
        workout = compile_session(read_plan(find_plan("kestrel-hut", Path(data))), "A")
    return chart(workout, session_steps(workout))


def review() -> str:
    """The trend of one exercise over some weeks of somebody made up, as SVG."""
    with Record.in_memory() as record:
        some_weeks(record, weeks=8)
        past = look_back(record, "Ada")
    if past is None:
        raise RuntimeError("nothing is on file")
    push_up = next(trend for trend in past.trends if trend.exercise == "push-up")
    return trend_picture(past, push_up)


async def picture() -> str:
    """The screen in a rest, with a count being typed and an hour's session behind it, as SVG."""
    with TemporaryDirectory() as data:
        clock = ManualClock()
        opening = prepare("kestrel-hut", data=Path(data), trainee="Ada", clock=clock, session="A")
        # What the terminal here lacks in colours is none of the picture's business.
        with patch.dict(os.environ, TERM="xterm-256color", COLORTERM="truecolor", NO_COLOR=""):
            app = LiveApp(opening, resume=None, yes=True, wanted=SoundOptions(mute=True))
        # Else it would depend on how long this takes whether the sound's news are in the picture.
        with opening.record, patch("runner.screen.app.SOUND_LOOK", 3600.0):
            return _without_fonts(await _in_a_rest(app, clock))


async def _in_a_rest(app: LiveApp, clock: ManualClock) -> str:
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        _train(app, clock)
        app.refresh_view()
        await pilot.press("1", "2")
        await pilot.pause()
        return app.export_screenshot(title="matside")


def _train(app: LiveApp, clock: ManualClock) -> None:
    """Through the warm-up and three sets, and on into the rest after a fourth."""
    if app.controller.live is None:
        raise RuntimeError("the session is not open")
    driver = app.controller.live.driver
    driver.send(cmd.Proceed())
    driver.send(cmd.Proceed())
    for done in range(4):
        clock.advance(driver.seconds_to_wake() or 0.0)
        while driver.state.running is None:
            driver.tick()
            clock.advance(driver.seconds_to_wake() or 0.0)
        clock.advance(31.0 + done)
        driver.send(cmd.Proceed())
        if done < len(COUNTS) and driver.state.open_rows:
            driver.send(cmd.Enter("reps", (cmd.Count(COUNTS[done]),)))
    clock.advance(9.4)
    app.controller.message = ""


def _without_fonts(svg: str) -> str:
    """The picture without fonts from elsewhere, and with the same names every time."""
    svg = re.sub(r"<!--.*?-->\s*", "", svg)
    svg = re.sub(r"@font-face\s*\{[^}]*\}", "", svg)
    return re.sub(r"terminal-\d+-", "terminal-", svg)


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    (folder / "review.svg").write_text(review(), encoding="utf-8")
    (folder / "live.svg").write_text(asyncio.run(picture()), encoding="utf-8")
    (folder / "rehearsal.svg").write_text(rehearsal(), encoding="utf-8")
