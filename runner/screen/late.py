"""Being over in time: by key, never by itself, and only after a question."""

from __future__ import annotations

from runner.core.session import commands as cmd
from runner.core.session.turn import Refused
from runner.core.words import read_line
from runner.live.late import Schedule, Shorter, shorter
from runner.screen.dialogs import Ask, Question
from runner.screen.live_screen import LiveScreen


def in_time(app: LiveScreen) -> None:
    """Show what could be left out; where the session is not late, ask for a time first."""
    if app.live is None or app.schedule is None:
        return
    state, now = app.live.driver.state, app.live.driver.now()
    if app.schedule.late(state, now):
        _work_out(app, app.schedule, cmd.Shorten())
        return

    def take(text: str) -> str | None:
        if not text:
            return None
        try:
            command = read_line(f"shorten {text}")
        except Refused as refused:
            return str(refused)
        if isinstance(command, cmd.Shorten) and app.schedule is not None:
            app.call_later(_work_out, app, app.schedule, command)
        return None

    app.push_screen(Ask("Be over in how many minutes (10m), or by when (07:10)?", take))


def _work_out(app: LiveScreen, schedule: Schedule, command: cmd.Shorten) -> None:
    """Beside the screen: it takes some tenths of a second, in which a cue may fall due."""
    if app.live is None:
        return
    state, now = app.live.driver.state, app.live.driver.now()

    def work() -> None:
        try:
            until = schedule.seconds_for(command, state, now)
            found: Shorter | str = shorter(state, now, until, nearest=True)
        except Refused as refused:
            found = str(refused)
        app.call_from_thread(_show, app, found)

    app.run_worker(work, thread=True, exclusive=True, group="in time")


def _show(app: LiveScreen, found: Shorter | str) -> None:
    if isinstance(found, str):
        app.message = f"{found[0].upper()}{found[1:]}."
        app.refresh_view()
        return

    def answered(yes: bool | None) -> None:  # noqa: FBT001 - a dialog's answer
        if yes:
            app.send(found.command)

    app.push_screen(Question("\n".join((*found.lines, "", "Leave these out?"))), answered)
