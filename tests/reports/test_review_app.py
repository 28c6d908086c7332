"""Looking back on the full screen: pages, keys, and what is asked."""

from __future__ import annotations

import os
import signal
from datetime import datetime
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from runner.record.record import Record
from runner.reports.pages import lines
from runner.reports.past import Past, look_back
from runner.screen.dialogs import Page
from runner.screen.review_app import KEYS, PAGES, ReviewApp
from runner.session import verb as cmd
from tests.screen.piloted import piloted

from .winter import PLAN, START
from .year import BERLIN, Person, Run

NOW = datetime(2026, 10, 2, 18, 30, tzinfo=BERLIN)


def screen(app: ReviewApp, part: str = "text") -> str:
    return str(app.screen_stack[0].query_one(f"#{part}", Static).visual)


async def type_in(pilot: Pilot[int], key: str, text: str) -> None:
    """Ask by a key, type, take it."""
    await pilot.press(key)
    pilot.app.screen.query_one(Input).value = text
    await pilot.press("enter")
    await pilot.pause()


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)])
async def test_every_page_is_there_and_its_lines_fit(
    record: Record, past: Past, size: tuple[int, int]
) -> None:
    app = ReviewApp(record, past, NOW)
    async with piloted(app, size) as pilot:
        await pilot.pause()
        seen = set()
        for key in PAGES:
            await pilot.press(*key.keys)
            await pilot.pause()
            assert f"[{key.shown} {key.label}]" in screen(app, "choice")
            seen.add(screen(app))
        assert len(seen) == len(PAGES)
        assert screen(app, "where").startswith("Ada   2026-07-13 to 2026-10-04")
        assert app.page == "bests"


async def test_the_footer_fits_80_columns_and_names_every_key_once(
    record: Record, past: Past
) -> None:
    app = ReviewApp(record, past, NOW)
    async with piloted(app):
        foot = screen(app, "foot")
    assert len(foot) <= 78
    assert foot.endswith("q leave")
    keys = [key for one in (*PAGES, *KEYS) for key in one.keys]
    assert len(keys) == len(set(keys))


async def test_right_and_left_turn_exercises_and_muscles(record: Record, past: Past) -> None:
    app = ReviewApp(record, past, NOW)
    async with piloted(app) as pilot:
        await pilot.pause()
        assert past.trends[0].name in screen(app)
        await pilot.press("right", "space")
        assert past.trends[2].name in screen(app)
        await pilot.press("left", "left", "left")
        assert past.trends[-1].name in screen(app)
        await pilot.press("m")
        assert "Sets in 2026-W40" in screen(app)
        await pilot.press("right")
        assert screen(app).startswith("chest")


async def test_another_period_is_looked_at_or_refused(record: Record, past: Past) -> None:
    app = ReviewApp(record, past, NOW)
    async with piloted(app) as pilot:
        await type_in(pilot, "p", "2026-09-10 2026-09-14")
        assert "2026-09-10 to 2026-09-14, 2 sessions" in screen(app, "where")
        await type_in(pilot, "p", "1")
        assert "2026-09-28 to 2026-10-04" in screen(app, "where")
        for wrong in ("soon", "0", "2026-09-14 2026-09-10", "2031-01-01 2031-02-01"):
            await type_in(pilot, "p", wrong)
            assert len(app.screen_stack) == 2, wrong
            await pilot.press("escape")
        assert "2026-09-28 to 2026-10-04" in screen(app, "where")


async def test_a_session_of_which_every_set_was_left_out_is_shown_for_what_it_is() -> None:
    def nothing(run: Run) -> None:
        while run.state.coming is not None:
            run.do(cmd.Skip())

    with Record.in_memory() as record:
        Person(record, "Ada", seed=1).train(PLAN, "A", START, act=nothing)
        past = look_back(record, "Ada")
        assert past is not None
        assert "No work set" in "".join(lines(past, past.trends, NOW, whole=True))
        app = ReviewApp(record, past, NOW)
        async with piloted(app) as pilot:
            for key in PAGES:
                await pilot.press(*key.keys, "right", "left")
                await pilot.pause()
            await pilot.press("x")
            assert screen(app).startswith("No work set")


async def test_an_unknown_trainee_is_refused_with_near_names(record: Record, past: Past) -> None:
    app = ReviewApp(record, past, NOW)
    async with piloted(app) as pilot:
        await type_in(pilot, "t", "Adda")
        reason = str(app.screen.query_one("#reason", Static).visual)
        assert "Similar: Ada" in reason
        await pilot.press("escape")
        await type_in(pilot, "t", "Ada")
        assert len(app.screen_stack) == 1


async def test_tables_and_pictures_are_written_and_nothing_is_written_over(
    record: Record, past: Past, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    app = ReviewApp(record, past, NOW)
    async with piloted(app) as pilot:
        await type_in(pilot, "c", "weeks weeks.csv")
        assert screen(app, "foot") == "Written: weeks.csv"
        first = (tmp_path / "weeks.csv").read_text(encoding="utf-8")
        assert first.startswith("trainee,iso_week,")
        await type_in(pilot, "c", "sets weeks.csv")
        assert "exists" in str(app.screen.query_one("#reason", Static).visual)
        await pilot.press("escape")
        await type_in(pilot, "g", "pictures")
        assert len(list((tmp_path / "pictures").iterdir())) > 4
    assert (tmp_path / "weeks.csv").read_text(encoding="utf-8") == first


async def test_without_colour_no_colour_is_sent(
    record: Record, past: Past, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = ReviewApp(record, past, NOW)
    async with piloted(app) as pilot:
        await pilot.press("m")
        await pilot.pause()
        strips = app.screen._compositor.render_strips()
        styles = [
            s.style
            for strip in strips
            for s in strip.apply_filter(app.get_line_filters()[-1], app.screen.background_colors[1])
            if s.style
        ]
    assert styles
    assert all(style.color is None and style.bgcolor is None for style in styles)


async def test_help_tells_keys_signs_and_where_rules_come_from(record: Record, past: Past) -> None:
    app = ReviewApp(record, past, NOW)
    async with piloted(app) as pilot:
        await pilot.press("question_mark")
        await pilot.pause()
        assert isinstance(app.screen, Page)
        told = " ".join(app.screen._lines)
        for words in ("Choose the period", "a dot is a set", "published"):
            assert words in told
        await pilot.press("escape")
        await pilot.press("q")
    assert app.return_value == 0


@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129)])
async def test_a_signal_leaves_with_its_code(
    record: Record, past: Past, number: signal.Signals, code: int
) -> None:
    app = ReviewApp(record, past, NOW)
    async with piloted(app) as pilot:
        os.kill(os.getpid(), number)
        await pilot.pause()
    assert (app.return_value, app.return_code) == (code, code)
