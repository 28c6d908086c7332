"""An app with nothing in it that shows each key that is pressed: the baseline of a key."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.events import Key
from textual.widgets import Static


class Echo(App[None]):
    """Shows the last key."""

    def compose(self) -> ComposeResult:
        """One line."""
        yield Static("ready")

    def on_key(self, event: Key) -> None:
        """Show it."""
        self.query_one(Static).update(f"key {event.key}")


if __name__ == "__main__":
    Echo().run()
