"""Our colours, dark and light, and a mode that uses only the terminal's own.

Every text has a contrast of 7:1 or more on its ground (WCAG 2.2, success criterion 1.4.6), and no
colour says anything that a word or a shape does not say as well. There is one accent, and no hue
for a phase. `TEXT_ON_GROUND` lists the pairs, so that a test can check each.

Textual sends 24-bit codes even with NO_COLOR, some nearly invisible (measured with 8.2.8). So
NO_COLOR is read here, and then no colour is sent at all, only weight.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache

from rich.color import Color as RichColor
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.filter import LineFilter
from textual.theme import Theme

DARK = "hut-night"
LIGHT = "hut-snow"
PLAIN = "hut-plain"  # the terminal's own colours only

# Our choices. Roles of text, and the two grounds it stands on.
_NIGHT = {
    "ground": "#14181b",
    "raised": "#22282c",  # count field, dialogs
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


THEMES = {
    theme.name: theme for theme in (_theme(DARK, dark=True), _theme(LIGHT, dark=False), _plain())
}

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
