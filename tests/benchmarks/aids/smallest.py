"""Textual's smallest app: one line of text. The baseline of first paint, idling and memory."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.widgets import Static


class Smallest(App[None]):
    """Shows a line, and waits."""

    def compose(self) -> ComposeResult:
        """One line."""
        yield Static("ready")


if __name__ == "__main__":
    Smallest().run()
