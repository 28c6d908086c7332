"""Colours: contrast by the WCAG formula, and none at all where none is wanted."""

from __future__ import annotations

import os
import pty
import re
import select
import subprocess
import sys
import termios
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from rich.color import ColorSystem
from rich.segment import Segment
from rich.style import Style
from textual.app import ComposeResult
from textual.color import Color
from textual.widgets import Footer, Input, OptionList, Static

from runner.screen import theme as look
from runner.screen.full_screen import FullScreen
from tests.screen.piloted import piloted

ROOT = Path(__file__).parents[2]
ENOUGH = 7.0  # WCAG 2.2, 1.4.6


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb`, WCAG 2.2."""

    def linear(part: str) -> float:
        value = int(part, 16) / 255
        return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(colour[at : at + 2]) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#ffffff", 21.00),
        ("#767676", "#ffffff", 4.5422),
        ("#777777", "#ffffff", 4.4781),
        ("#595959", "#ffffff", 7.0047),
        ("#e69f00", "#121212", 8.32),
        ("#56b4e9", "#121212", 8.12),
        ("#f0e442", "#121212", 14.17),
    ],
)
def test_the_formula_gives_its_known_values(one: str, other: str, ratio: float) -> None:
    digits = 4 if ratio < 8 else 2
    assert round(contrast(one, other), digits) == ratio


@pytest.mark.parametrize("name", [look.DARK, look.LIGHT])
@pytest.mark.parametrize(("text", "ground"), look.TEXT_ON_GROUND)
def test_every_listed_pair(name: str, text: str, ground: str) -> None:
    colours = look.COLOURS[name]
    assert contrast(colours[text], colours[ground]) >= ENOUGH


# What xterm shows for its sixteen colours, from memory; the Linux console has darker ones.
XTERM = (
    "#000000", "#cd0000", "#00cd00", "#cdcd00", "#0000ee", "#cd00cd", "#00cdcd", "#e5e5e5",
    "#7f7f7f", "#ff0000", "#00ff00", "#ffff00", "#5c5cff", "#ff00ff", "#00ffff", "#ffffff",
)  # fmt: skip


@pytest.mark.parametrize("name", [look.DARK, look.LIGHT])
def test_sixteen_colours_can_be_read(name: str) -> None:
    colours = look.COLOURS[name]

    def seen(role: str) -> str:
        (drawn,) = look.FewColours().apply(
            [Segment("a", Style(color=colours[role]))], Color(0, 0, 0)
        )
        assert drawn.style is not None
        assert drawn.style.color is not None
        return XTERM[drawn.style.color.downgrade(ColorSystem.STANDARD).number or 0]

    for role in set(colours) - {"ground", "raised"}:
        for ground in ("ground", "raised"):
            assert contrast(seen(role), seen(ground)) >= 4.5, (role, ground)  # WCAG 2.2, 1.4.3


def test_every_role_of_text_is_listed_on_both_grounds() -> None:
    for colours in look.COLOURS.values():
        roles = set(colours) - {"ground", "raised"}
        assert {(role, on) for role in roles for on in ("ground", "raised")} <= set(
            look.TEXT_ON_GROUND
        )


class Dressed(FullScreen):
    """An app with what Textual's own widgets show."""

    BINDINGS = [("q", "quit", "Leave")]  # noqa: RUF012 - as Textual wants it

    def compose(self) -> ComposeResult:
        yield Static("[bold]plain[/] [red]red[/]")
        yield Input("typed")
        yield Input(placeholder="nothing yet")
        yield OptionList("one", "two")
        yield Footer()


def drawn(app: Dressed) -> Iterator[tuple[str, Segment]]:
    """Every piece of text on the screen that holds a letter or a digit."""
    for strip in app.screen._compositor.render_strips():
        for segment in strip:
            if any(char.isalnum() for char in segment.text):
                yield segment.text.strip(), segment


def hexed(segment: Segment) -> tuple[str, str]:
    style = segment.style
    assert style is not None
    assert style.color is not None
    assert style.bgcolor is not None
    pair = (style.color.get_truecolor().hex, style.bgcolor.get_truecolor().hex)
    return (pair[1], pair[0]) if style.reverse else pair


@pytest.mark.parametrize("light", [False, True])
@pytest.mark.parametrize("shown", ["widgets", "keys"])
async def test_what_is_drawn_has_that_contrast_too(*, light: bool, shown: str) -> None:
    app = Dressed(without_colour=False, light=light)
    async with piloted(app, (80, 40)) as pilot:
        if shown == "keys":
            app.action_show_help_panel()
        await pilot.pause()
        await pilot.pause()
        seen = {text: contrast(*hexed(piece)) for text, piece in drawn(app) if text != "red"}
    assert {text for text, ratio in seen.items() if ratio < ENOUGH} == set()
    assert "plain" in seen
    assert len(seen) >= 5


def test_light_and_dark_change_places() -> None:
    app = FullScreen(without_colour=False)
    assert app.theme == look.DARK
    app.toggle_light()
    assert app.theme == look.LIGHT
    app.toggle_light()
    assert app.theme == look.DARK


def test_without_colour_there_is_no_light_theme() -> None:
    app = FullScreen(without_colour=True)
    app.toggle_light()
    assert app.theme == look.PLAIN


@pytest.mark.parametrize(
    ("environ", "wanted"), [({}, False), ({"NO_COLOR": ""}, False), ({"NO_COLOR": "0"}, True)]
)
def test_no_color_counts_when_it_is_not_empty(*, environ: dict[str, str], wanted: bool) -> None:
    assert look.colourless(environ) is wanted


PROGRAM = """
import os
from textual.app import App
from textual.widgets import Footer, Input, OptionList, Static
from runner.screen.full_screen import FullScreen
from runner.screen.theme import colourless

def screen(self):
    yield Static("[bold]heavy[/] [red on blue]red[/] [dim]faint[/]")
    yield Input("typed")
    yield Input(placeholder="nothing yet")
    yield OptionList("one", "two")
    yield Footer()

def stop(self):
    self.call_after_refresh(self.exit)

class Ours(FullScreen):
    BINDINGS = [("q", "stop", "Leave")]
    compose = screen
    action_stop = stop
    def on_mount(self):
        self.set_focus(self.query_one(OptionList))

class Bare(App):
    BINDINGS = Ours.BINDINGS
    compose = screen
    action_stop = stop
    on_mount = Ours.on_mount

KIND.run()
"""
OURS = "Ours(without_colour=colourless(os.environ))"
COLOURS = re.compile(rb"\x1b\[[0-9;]*\b(?:38;[25]|48;[25]|3[0-7]|4[0-7]|9[0-7]|10[0-7])\b[0-9;]*m")


def bytes_of(kind: str, environ: Mapping[str, str]) -> bytes:
    """What the program sends to a terminal until it is left."""
    kept = {name: value for name, value in os.environ.items() if name != "NO_COLOR"}
    setting = {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
    terminal, inner = pty.openpty()
    termios.tcsetwinsize(inner, (24, 80))
    program = subprocess.Popen(
        [sys.executable, "-c", PROGRAM.replace("KIND", kind)],
        stdin=inner,
        stdout=inner,
        stderr=inner,
        cwd=ROOT,
        env=kept | setting | dict(environ),
        start_new_session=True,
    )
    os.close(inner)
    try:
        return _read(terminal)
    finally:
        os.close(terminal)
        program.kill()
        program.wait()


def _read(terminal: int) -> bytes:
    sent = b""
    asked = False
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline:
        if not select.select([terminal], [], [], 0.5)[0]:
            continue
        try:
            more = os.read(terminal, 65536)
        except OSError:  # the program has left
            more = b""
        if not more:
            return sent
        sent += more
        if not asked and b"Leave" in sent:
            os.write(terminal, b"q")
            asked = True
    pytest.fail(f"no end in time: {sent[-400:]!r}")


def test_no_colour_means_no_colour_in_the_bytes() -> None:
    sent = bytes_of(OURS, {"NO_COLOR": "1"})
    assert b"heavy" in sent
    assert COLOURS.findall(sent) == []
    assert re.search(rb"\x1b\[(?:\d;)*7m", sent)  # what is chosen is turned round instead


@pytest.mark.parametrize(
    ("kind", "environ"), [(OURS, {"NO_COLOR": ""}), ("Bare()", {"NO_COLOR": "1"})]
)
def test_the_bytes_show_colour_where_there_is_some(kind: str, environ: dict[str, str]) -> None:
    sent = bytes_of(kind, environ)
    assert b"38;2" in sent
    assert COLOURS.findall(sent)
    if kind == OURS:
        assert b"38;2;143;211;198" in sent  # our accent, and no grey in its place


async def test_the_dark_screen_parses_its_styles_once(monkeypatch: pytest.MonkeyPatch) -> None:
    again: list[str] = []
    monkeypatch.setattr(FullScreen, "refresh_css", lambda self, **_: again.append(self.theme))
    app = FullScreen(without_colour=False)
    async with piloted(app):
        assert app.screen.styles.background == Color.parse(look.COLOURS[look.DARK]["ground"])
        assert again == []
        app.toggle_light()
    assert again == [look.LIGHT]
