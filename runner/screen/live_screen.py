"""What the keys' actions see of the full screen, so that they need not know the app itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar, Protocol, TypeVar

from textual.screen import Screen

from runner.live.schedule import Schedule
from runner.live.session_setup import Live, Opening
from runner.live.sound_controls import Hearing
from runner.screen.entry import EntryLine, Field
from runner.screen.info import Outcome
from runner.screen.keys import KeyGuard
from runner.screen.view import View
from runner.session import verb as cmd
from runner.sound.player import Player

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class UndoAsked:
    """What a second press of undo takes back: the act's number, until a second of `hand_time`."""

    act: int
    until: float
    text: str


@dataclass(frozen=True, slots=True)
class PainAsked:
    """Which of two exercises hurts: ids of the last and the next, and the question."""

    last: str
    next: str
    text: str


class LiveScreen(Protocol):
    """A session on the screen: what of it an action may read, change and ask for."""

    opening: Opening
    live: Live | None  # once it is open
    schedule: Schedule | None  # likewise
    outcome: Outcome | None  # None in a rehearsal
    hearing: Hearing
    player: Player
    guard: KeyGuard
    field: Field  # for a count
    remote: bool  # whether the last key was a presenter remote's
    message: str
    scroll: int
    tryout: bool
    tried: int
    warned_of: int  # counts still open when closing was asked for
    cautions_known: bool
    undo_asked: UndoAsked | None
    pain_asked: PainAsked | None
    REHEARSES: ClassVar[bool]  # nothing is kept, and no counts are asked for

    @property
    def line(self) -> EntryLine | None:
        """What stands in the field."""

    @property
    def view(self) -> View | None:
        """What the mat shows, once there is one."""

    @property
    def mat_size(self) -> tuple[int, int]:
        """Columns and rows of the mat."""

    def send(self, command: cmd.Command) -> str | None:
        """Ask the session for something; the reason where it refuses."""

    def hand_time(self) -> float:
        """Now, in the seconds in which hands press keys."""

    def refresh_view(self) -> None:
        """Show the present state."""

    def leave(self, code: int) -> None:
        """End the program."""

    def toggle_light(self) -> None:
        """From a dark screen to a light one, and back."""

    # Textual's own

    def push_screen(
        self, screen: Screen[T], callback: Callable[[T | None], None] | None = None
    ) -> object:
        """Lay a dialog over the session; its answer goes to `callback`."""

    def call_later(self, callback: Callable[..., None], *args: object) -> object:
        """Call it once what is under way is done."""

    def call_from_thread(self, callback: Callable[..., None], *args: object) -> object:
        """Call it where the screen is drawn, and wait for that."""

    def run_worker(
        self, work: Callable[[], None], *, group: str, exclusive: bool, thread: bool
    ) -> object:
        """Work beside the screen."""
