"""Pages to read: how their lines go on."""

from __future__ import annotations

from rich.console import Console

from runner.screen.dialogs import Hanging

KEYS = f"{'p . b':<28}Let the rehearsal's time stand still; this key or the main key lets it go on."


def test_an_explanation_goes_on_below_itself() -> None:
    console = Console(width=66, color_system=None)
    with console.capture() as said:
        console.print(Hanging(("Keys", "", KEYS)))
    column = " " * 28
    assert said.get().splitlines() == [
        "Keys",
        "",
        "p . b                       Let the rehearsal's time stand still;",
        f"{column}this key or the main key lets it go",
        f"{column}on.",
    ]
