"""Our colours, dark and light, and a mode that uses none but the terminal's own.

Every text stands on its ground at a contrast of 7:1 or more (WCAG 2.2, success criterion 1.4.6),
and no colour says anything that a word or a shape does not say as well. There is one accent and
no hue for a phase. `TEXT_ON_GROUND` lists the pairs, so that they can be checked one by one.

Textual sends 24-bit codes even with NO_COLOR, some nearly invisible (measured with 8.2.8). So
NO_COLOR is read here and no colour is sent at all, only weight.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Any, TypeVar

from rich.color import Color as RichColor
from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual.app import App
from textual.color import Color
from textual.driver import Driver
from textual.events import Resize
from textual.filter import LineFilter, Monochrome, NoColor
from textual.message import Message
from textual.messages import InBandWindowResize
from textual.theme import Theme

# What a terminal sends and makes no sense is passed over; it must not end a session.
#
# Textual's driver (measured with 8.2.8) gives up on bytes that are no UTF-8, as terminals with an
# old encoding send, on numbers that are none, as in ESC [ 6 ; 1:1 ~, and on a mouse event after a
# report of a window of no pixels. So whatever its parser raises is passed over. Reports of a
# window's size among the bytes are left out: the system says it as well (SIGWINCH), and a wrong
# one would make the screen as large as it likes.
#
# And it takes every SIGCONT for the end of a suspend by SIGTSTP, and starts a second time over
# the first: the terminal's settings are then lost, and where the SIGCONT came with the hangup of
# a closed terminal, the first reader may go on for ever.


def forgiving(driver: type[Driver]) -> type[Driver]:
    """The driver, reading on after what cannot be understood; that read's keys are lost.

    A SIGCONT counts only behind its own SIGTSTP. A driver that reads in another way (Windows has
    neither bytes to decode nor such signals) is as it was.
    """
    read = getattr(driver, "run_input_thread", None)
    go_on = getattr(driver, "_sigcont_application", None)
    process = driver.process_message
    if read is None or go_on is None:
        return driver

    def run_input_thread(self: Any) -> None:
        while not self.exit_event.is_set():
            try:
                read(self)
            except OSError:  # the terminal is gone
                raise
            except Exception:  # noqa: BLE001, S112 - whatever a parser makes of any bytes
                continue

    def process_message(self: Any, message: Message) -> None:
        if not isinstance(message, InBandWindowResize | Resize):
            process(self, message)

    def sigcont(self: Any, *received: object) -> None:
        if self._must_signal_resume:
            go_on(self, *received)

    made = {
        "run_input_thread": run_input_thread,
        "process_message": process_message,
        "_sigcont_application": sigcont,
    }
    return type("Forgiving", (driver,), made)


ReturnT = TypeVar("ReturnT")

DARK = "hut-night"
LIGHT = "hut-snow"
PLAIN = "hut-plain"  # the terminal's own colours only

# Our choices. Roles of text, and the two grounds it stands on.
_NIGHT = {
    "ground": "#14181b",
    "raised": "#22282c",  # open entry, dialogs
    "ink": "#f4f0e6",  # large glyphs and what is read first
    "quiet": "#bdb9ae",  # the rest of the text, and suggestions
    "mark": "#8fd3c6",  # the one accent: phase word, rule, keys
    "caution": "#ffc978",
    "refusal": "#ffb0a0",
}
_SNOW = {
    "ground": "#fbfaf6",
    "raised": "#eceae2",
    "ink": "#15181a",
    "quiet": "#43474a",
    "mark": "#0b4a50",
    "caution": "#5c3a00",
    "refusal": "#7a1b12",
}
_ROLES = ("ink", "quiet", "mark", "caution", "refusal")
_GROUNDS = ("ground", "raised")

TEXT_ON_GROUND: tuple[tuple[str, str], ...] = (
    *((role, ground) for role in _ROLES for ground in _GROUNDS),
    ("ground", "ink"),  # cursors and chosen rows, turned round
    ("ground", "mark"),
)
COLOURS: Mapping[str, Mapping[str, str]] = {DARK: _NIGHT, LIGHT: _SNOW}


def _variables(colours: Mapping[str, str]) -> dict[str, str]:
    """Textual's variables in our colours: what its own widgets would else mix by themselves."""
    ink, quiet, mark = colours["ink"], colours["quiet"], colours["mark"]
    ground, raised = colours["ground"], colours["raised"]
    return {
        **{f"mat-{name}": colour for name, colour in colours.items()},
        "mat-suggestion-style": "italic",
        "text": ink,
        "text-muted": quiet,
        "text-disabled": quiet,
        "text-primary": mark,
        "text-secondary": mark,
        "text-accent": mark,
        "text-success": mark,
        "text-warning": colours["caution"],
        "text-error": colours["refusal"],
        "foreground-muted": quiet,
        "foreground-disabled": quiet,
        "panel-darken-1": raised,
        "panel-lighten-1": raised,
        "surface-active": raised,
        "block-cursor-foreground": ground,
        "block-cursor-background": ink,
        "block-cursor-blurred-foreground": ink,
        "block-cursor-blurred-background": raised,
        "block-hover-background": raised,
        "border": mark,
        "border-blurred": quiet,
        "scrollbar": quiet,
        "scrollbar-hover": quiet,
        "scrollbar-active": mark,
        "scrollbar-background": ground,
        "footer-foreground": quiet,
        "footer-background": ground,
        "footer-key-foreground": mark,
        "footer-description-foreground": quiet,
        "input-cursor-background": ink,
        "input-cursor-foreground": ground,
        "input-selection-background": mark,
        "input-selection-foreground": ground,
        "link-background-hover": raised,
        "link-color": mark,
        "link-color-hover": ink,
        "button-foreground": ink,
        "button-color-foreground": ink,
    }


def _theme(name: str, *, dark: bool) -> Theme:
    colours = COLOURS[name]
    return Theme(
        name=name,
        dark=dark,
        primary=colours["mark"],
        secondary=colours["mark"],
        accent=colours["mark"],
        success=colours["mark"],
        warning=colours["caution"],
        error=colours["refusal"],
        foreground=colours["ink"],
        background=colours["ground"],
        surface=colours["raised"],
        panel=colours["raised"],
        boost=colours["raised"],
        text_alpha=1.0,
        variables=_variables(colours),
    )


def _plain() -> Theme:
    """Nothing but the terminal's default foreground and background; weight and reverse remain."""
    own = "ansi_default"
    names = {name: own for name in _variables(_NIGHT) if name != "mat-suggestion-style"}
    return Theme(
        name=PLAIN,
        ansi=True,
        primary=own,
        secondary=own,
        accent=own,
        success=own,
        warning=own,
        error=own,
        foreground=own,
        background=own,
        surface=own,
        panel=own,
        boost=own,
        variables={
            **names,
            "ansi-background": own,  # an ansi theme has to bring these two
            "ansi-foreground": own,
            "mat-suggestion-style": "italic",
            "block-cursor-text-style": "reverse",
            "block-cursor-blurred-text-style": "reverse",
            "input-cursor-text-style": "reverse",
            "button-focus-text-style": "reverse",
        },
    )


THEMES: tuple[Theme, ...] = (_theme(DARK, dark=True), _theme(LIGHT, dark=False), _plain())

# What Textual's own widgets colour by other means than variables, or by fading text.
WIDGET_CSS = """
Input:focus, OptionList:focus { background-tint: $foreground 0%; }
FooterKey.-disabled { text-style: none; color: $text-muted; }
Screen .bindings-table--divider { color: $text-muted; text-style: none; }
"""


def colourless(environ: Mapping[str, str]) -> bool:
    """Whether the person wants no colour: NO_COLOR is there and not empty (no-color.org)."""
    return environ.get("NO_COLOR", "") != ""


def _restyled(segments: list[Segment], restyle: Callable[[Style], Style]) -> list[Segment]:
    return [
        Segment(text, None if style is None else restyle(style), control)
        for text, style, control in segments
    ]


class TerminalColours(LineFilter):
    """Takes every colour out of what is drawn: the terminal's own are left.

    Dimming goes too: on colours that nobody knows it may leave too little contrast.
    """

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments with weight, underline and reverse, and without any colour."""
        del background
        return _restyled(segments, _without_colour)


@lru_cache(maxsize=1024)
def _without_colour(style: Style) -> Style:
    """The style's attributes and meta data; `Style.without_color` would drop the latter."""
    return Style(
        bold=style.bold,
        italic=style.italic,
        underline=style.underline,
        reverse=style.reverse,
        strike=style.strike,
        link=style.link,
        meta=style.meta or None,
    )


# The nearest of sixteen colours may be hard to read: on white yellow has a contrast of 1.7 in
# xterm's colours, grey 4.0. So there some roles have numbers of their own; our choice.
SIXTEEN: Mapping[str, int] = {
    _NIGHT["mark"]: 14,
    _SNOW["quiet"]: 0,
    _SNOW["mark"]: 4,
    _SNOW["caution"]: 1,
    _SNOW["refusal"]: 1,
}


class FewColours(LineFilter):
    """For terminals of sixteen colours: colours that can be read on the ground they stand on."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments in those colours."""
        del background
        return _restyled(segments, _in_sixteen)


@lru_cache(maxsize=1024)
def _in_sixteen(style: Style) -> Style:
    colour = style.color
    number = None if colour is None or colour.triplet is None else SIXTEEN.get(colour.triplet.hex)
    return style if number is None else style + Style(color=RichColor.from_ansi(number))


class DressedApp(App[ReturnT]):
    """An app in our themes, which sends no colour at all where none is wanted.

    Textual 8.2.8 takes an empty NO_COLOR for a set one, and with a set one sends its themes as
    24-bit greys, black on black among them (measured). So neither of its filters is used.
    """

    CSS = WIDGET_CSS
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, *, without_colour: bool, light: bool = False) -> None:
        super().__init__(ansi_color=True if without_colour else None)
        self.no_color = without_colour
        self._without_colour = TerminalColours() if without_colour else None
        self._few = FewColours()
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = PLAIN if without_colour else LIGHT if light else DARK

    def toggle_light(self) -> None:
        """From the dark to the light theme and back; without colour nothing changes."""
        if self._without_colour is None:
            self.theme = DARK if self.light else LIGHT

    @property
    def light(self) -> bool:
        """Whether the screen is light by our theme."""
        return self.theme == LIGHT

    def get_driver_class(self) -> type[Driver]:
        """The terminal's driver, which passes over bytes without sense."""
        return forgiving(super().get_driver_class())

    # Textual has no public place for these two (8.2.8). Its own shows the values of variables, what
    # a person has typed among them.

    def _handle_exception(self, error: Exception) -> None:
        """End, unless it ends anyway: what fails while it is taken down changes no exit code."""
        if not self._exit:
            super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """Say where it failed, in full."""
        self._exit_renderables.append(Text(traceback.format_exc()))
        self._close_messages_no_wait()

    def get_line_filters(self) -> Sequence[LineFilter]:
        """The filters that every drawn line goes through; ours comes last."""
        filters = [
            known
            for known in super().get_line_filters()
            if not isinstance(known, Monochrome | NoColor)
        ]
        if self._without_colour is not None:
            return [*filters, self._without_colour]
        return [*filters, self._few] if self.console.color_system == "standard" else filters
