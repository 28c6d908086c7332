"""One registry of keys for looking back: choice line, footer and help come from it.

Names are Textual's; only keys that reach a program in every terminal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Page = Literal["exercises", "muscles", "weeks", "sessions", "bests"]


@dataclass(frozen=True, slots=True)
class Key:
    """A key, what it is called on the screen, and a sentence for the help."""

    keys: tuple[str, ...]
    name: str  # of the app's action, or of the page it turns to
    shown: str  # the key as it is written
    label: str  # in the footer; empty: in the help alone
    help: str


ARROWS: Final = "arrows turn, read on"  # in the footer, for all four
PAGES: Final[tuple[Key, ...]] = (
    Key(("x",), "exercises", "x", "exercises", "Each exercise: trend, sessions, bests."),
    Key(("m",), "muscles", "m", "muscles", "Weekly sets of each muscle against what is aimed at."),
    Key(("w",), "weeks", "w", "weeks", "Week by week, what was done."),
    Key(("s",), "sessions", "s", "sessions", "The last sessions in full."),
    Key(("b",), "bests", "b", "bests", "The bests of the whole record."),
)
KEYS: Final[tuple[Key, ...]] = (
    Key(("right", "space"), "next", "right", "", "The next exercise or muscle; space too."),
    Key(("left",), "previous", "left", "", "The one before."),
    Key(("down",), "down", "down", "", "Read on."),
    Key(("up",), "up", "up", "", "Back."),
    Key(("pagedown",), "page(1)", "page down", "", "Read on by a page."),
    Key(("pageup",), "page(-1)", "page up", "", "Back by a page."),
    Key(("t",), "trainee", "t", "trainee", "Look at somebody else of the same record."),
    Key(("p",), "period", "p", "period", "Choose from when to when."),
    Key(("c",), "save_csv", "c", "CSV", "Write a table of this period into a file."),
    Key(("g",), "save_pictures", "g", "pictures", "Write the charts as pictures into a folder."),
    Key(("v",), "light", "v", "", "Light or dark screen."),
    Key(("question_mark",), "help", "?", "help", "All keys, and where the rules come from."),
    Key(("q",), "leave", "q", "leave", "Leave; nothing was changed."),
)


def help_lines() -> list[str]:
    """Every key in a line."""
    return [f"{key.shown:>10}  {key.help}" for key in (*PAGES, *KEYS)]
