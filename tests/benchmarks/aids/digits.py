"""Large digits that change once a second, by Textual's own widget, and nothing else."""

from __future__ import annotations

import time

from textual.app import App, ComposeResult
from textual.widgets import Digits


class Seconds(App[None]):
    """Counts minutes and seconds."""

    def compose(self) -> ComposeResult:
        """Nothing but digits."""
        yield Digits("0:00")

    def on_mount(self) -> None:
        """Count from now on."""
        self._begun = time.monotonic()
        self.set_interval(1.0, self._count)

    def _count(self) -> None:
        minutes, seconds = divmod(round(time.monotonic() - self._begun), 60)
        self.query_one(Digits).update(f"{minutes}:{seconds:02d}")


if __name__ == "__main__":
    Seconds().run()
