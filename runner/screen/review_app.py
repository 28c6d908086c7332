"""The review on a full screen: one page of text at a time, turned by keys."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import ClassVar, Final, Literal

from msgspec import Struct
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from runner.errors import Exit, MatsideError
from runner.output import new_file
from runner.progress.advice import where_rules_come_from
from runner.progress.history import monday_of
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.tables import TABLES, write_what
from runner.reports import pages
from runner.reports.past import Past, Trend, look_back
from runner.reports.pictures import write_pictures
from runner.reports.roster import Person, person
from runner.screen.dialogs import AskLine, Page as Sheet
from runner.screen.full_screen import FullScreen, on_signals
from runner.screen.theme import colourless
from runner.text import Line, Span, read_day, shown, trainee_name

# The registry of a review's keys: choice line, footer and help come from it.
#
# Names are Textual's; only keys that reach a program in every terminal.

Page = Literal["look", "exercises", "muscles", "weeks", "sessions", "bests"]


class Key(Struct, frozen=True):
    """A key, what it is called on the screen, and a sentence for the help."""

    keys: tuple[str, ...]
    name: str  # of the app's action, or of the page it turns to
    shown: str  # the key as it is written
    label: str  # in the footer; empty: in the help alone
    help: str


ARROWS: Final = "arrows turn, read on"  # in the footer, for all four
PAGES: Final[tuple[Key, ...]] = (
    Key(("l",), "look", "l", "look", "What is due, stalled, hurting or too little; all exercises."),
    Key(("x",), "exercises", "x", "exercises", "Trend, sessions and bests of each exercise."),
    Key(("m",), "muscles", "m", "muscles", "Weekly sets of each muscle against the aim."),
    Key(("w",), "weeks", "w", "weeks", "What you did, week by week."),
    Key(("s",), "sessions", "s", "sessions", "The last sessions in full."),
    Key(("b",), "bests", "b", "bests", "The bests of the whole record."),
)
KEYS: Final[tuple[Key, ...]] = (
    Key(("right", "space"), "next", "right", "", "Next exercise or muscle; space too."),
    Key(("left",), "previous", "left", "", "Previous exercise or muscle."),
    Key(("down",), "down", "down", "", "Scroll down."),
    Key(("up",), "up", "up", "", "Back."),
    Key(("pagedown",), "page(1)", "page down", "", "Scroll down a page."),
    Key(("pageup",), "page(-1)", "page up", "", "Scroll up a page."),
    Key(("t",), "trainee", "t", "trainee", "Look at another trainee of this record."),
    Key(("p",), "period", "p", "period", "Choose the period."),
    Key(("c",), "save_csv", "c", "CSV", "Write a table of this period to a file."),
    Key(("g",), "save_pictures", "g", "pictures", "Write the charts as pictures into a folder."),
    Key(("v",), "light", "v", "", "Light or dark screen."),
    Key(("question_mark",), "help", "?", "help", "All keys, and the source of each rule."),
    Key(("q",), "leave", "q", "leave", "Leave; nothing changed."),
)


def help_lines() -> list[str]:
    """Every key in a line."""
    return [f"{key.shown:>10}  {key.help}" for key in (*PAGES, *KEYS)]


EVERY = "every muscle"
_STYLES = {"ink": "bold $mat-ink", "mark": "bold $mat-mark", "caution": "bold $mat-caution"}


class ReviewApp(FullScreen):
    """The pages of one trainee's past; everything on them comes from `pages`."""

    CSS = (
        FullScreen.CSS
        + """
    #choice, #where, #foot { height: 1; padding: 0 1; }
    #body { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    #text { width: 1fr; height: auto; }
    """
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(k, f"turn_to('{key.name}')", show=False) for key in PAGES for k in key.keys),
        *(Binding(k, key.name, show=False) for key in KEYS for k in key.keys),
    ]

    def __init__(
        self,
        record: Record,
        past: Past,
        now: datetime,
        about: Person | None = None,
        *,
        first: Trend | None = None,
    ) -> None:
        super().__init__(without_colour=colourless(os.environ))
        self._record, self.past, self._now, self._about = record, past, now, about
        self._data = None if record.path is None else record.path.parent
        self.page: Page = "look" if first is None else "exercises"
        self.at = dict.fromkeys(("exercises", "muscles", "weeks"), 0)
        if first is not None:
            self.at["exercises"] = past.trends.index(first)
        self.message = ""

    def compose(self) -> ComposeResult:
        """Who and when, the pages to choose from, the sheet, the keys."""
        yield Static(id="where")
        yield Static(id="choice")
        with VerticalScroll(id="body", can_focus=False):
            yield Static(id="text")
        yield Static(id="foot")

    def on_mount(self) -> None:
        """Listen to signals, show the first page."""
        on_signals(self)
        self.show_page()

    def on_resize(self, event: Resize) -> None:
        """Charts are drawn for the width there is."""
        del event
        self.call_after_refresh(self.show_page)

    # What is shown

    def show_page(self) -> None:
        """Draw everything anew."""
        width = self.size.width - 3
        self.query_one("#where", Static).update(self._content([pages.head(self.past)]))
        self.query_one("#choice", Static).update(self._content([self._choice()]))
        lines = list(self.sheet(width))
        self.query_one("#text", Static).update(self._content(lines))
        self.query_one("#foot", Static).update(self._content([self._foot()]))

    def sheet(self, width: int) -> Iterator[Line]:
        """The lines of the page, for that many columns."""
        past = self.past
        if self.page in ("look", "exercises", "muscles") and not past.trends:
            yield pages.quiet(pages.NO_SET)
        elif self.page == "look":
            yield from pages.look(past, self._about, width, self._now)
            yield pages.NOTHING
            yield from pages.exercises(past, self._about, width, None)
        elif self.page == "exercises":
            trend = past.trends[self.at["exercises"]]
            yield from pages.exercise(past, trend, width)
        elif self.page == "muscles":
            name = self._items()[self.at["muscles"]]
            if name != EVERY:
                yield from pages.muscle(past, name, width)
            elif past.weeks:
                yield from pages.muscles(past, past.weeks[-1], width, self._now)
        elif self.page == "weeks":
            yield from pages.weeks(past, width, self._now)
        elif self.page == "sessions":
            yield from pages.sessions(past, width)
        else:
            yield from pages.bests(past)

    def _items(self) -> list[str]:
        """What left and right turn between on this page."""
        if self.page == "exercises":
            return [trend.name for trend in self.past.trends]
        return [EVERY, *pages.every_muscle(self.past)] if self.page == "muscles" else []

    def _choice(self) -> Line:
        spans: list[Span] = []
        for key in PAGES:
            here = key.name == self.page
            text = f"[{key.shown} {key.label}]" if here else f" {key.shown} {key.label} "
            spans.append((text, "ink" if here else "quiet"))
        items = self._items()
        place = f"   {self.at[self.page] + 1} of {len(items)}" if items else ""
        return (*spans, (place, "mark"))

    def _foot(self) -> Line:
        if self.message:
            return ((shown(self.message), "mark"),)
        words = [ARROWS, *(f"{key.shown} {key.label}" for key in KEYS if key.label)]
        return (("  ".join(words), "quiet"),)

    def _content(self, lines: list[Line]) -> Content:
        parts: list[str | tuple[str, str]] = []
        for line in lines:
            parts += [(text, _STYLES.get(role, "$mat-quiet")) for text, role in line]
            parts.append("\n")
        return Content.assemble(*parts[:-1])

    # Keys

    def action_turn_to(self, page: Page) -> None:
        """Another page."""
        self.page, self.message = page, ""
        self._body.scroll_home(animate=False)
        self.show_page()

    def action_next(self) -> None:
        """The next exercise or muscle."""
        self._turn(1)

    def action_previous(self) -> None:
        """The one before."""
        self._turn(-1)

    def _turn(self, by: int) -> None:
        items = self._items()
        if items:
            self.at[self.page] = (self.at[self.page] + by) % len(items)
            self.action_turn_to(self.page)

    @property
    def _body(self) -> VerticalScroll:
        return self.query_one("#body", VerticalScroll)

    def action_down(self) -> None:
        """Read on."""
        self._body.scroll_down(animate=False)

    def action_up(self) -> None:
        """Back."""
        self._body.scroll_up(animate=False)

    def action_page(self, way: int) -> None:
        """On or back by a page."""
        self._body.scroll_relative(y=way * max(self._body.size.height - 1, 1), animate=False)

    def action_light(self) -> None:
        """Light or dark."""
        self.toggle_light()
        self.show_page()

    def action_help(self) -> None:
        """All keys and rules."""
        lines = [*help_lines(), "", *_SIGNS, "", *where_rules_come_from()]
        self.push_screen(Sheet("Looking back", lines))

    def action_leave(self) -> None:
        """Leave."""
        self.leave(Exit.OK)

    # What is asked

    def action_trainee(self) -> None:
        """Somebody else."""
        names = ", ".join(self._record.trainees())
        self._ask(f"Which trainee? The record has {names}.", self._take_trainee)

    def action_period(self) -> None:
        """Another period."""
        label = "Number of weeks up to the last session, or two dates: 2026-09-01 2026-11-30"
        self._ask(label, self._take_period)

    def action_save_csv(self) -> None:
        """A table as CSV."""
        label = f"Table ({', '.join(TABLES)}) and file, like: weeks weeks.csv"
        self._ask(label, self._take_csv)

    def action_save_pictures(self) -> None:
        """The charts as pictures."""
        self._ask("Folder for the pictures?", self._take_folder)

    def _ask(self, label: str, take: Callable[[str], str | None]) -> None:
        self.push_screen(AskLine(label, take), lambda _: self.show_page())

    def _take_trainee(self, text: str) -> str | None:
        name = trainee_name(text)
        if name not in self._record.trainees():
            near = ", ".join(self._record.similar(name))
            return f"The record has no {shown(name)!r}." + (f" Similar: {near}." if near else "")
        return self._look(name, self.past.since, self.past.until)

    def _take_period(self, text: str) -> str | None:
        days = [read_day(word) for word in text.split()]
        match days:
            case [date() as begin, date() as end]:
                pass
            case [None] if text.isascii() and text.strip().isdigit() and len(text) < 10:
                weeks = int(text)
                if not 1 <= weeks <= 5200:
                    return "Write a number of weeks, 1 or more."
                newest = self._record.last_trained(self.past.trainee) or self._now.date()
                end = monday_of(newest) + timedelta(days=6)
                begin = end - timedelta(weeks=weeks) + timedelta(days=1)
            case _:
                return "Write a number of weeks, 12, or two dates: 2026-09-01 2026-11-30"
        if begin > end:
            return "The first date is after the second."
        return self._look(self.past.trainee, begin, end)

    def _look(self, trainee: str, since: date, until: date) -> str | None:
        past = look_back(self._record, trainee, since=since, until=until)
        if past is None:
            return f"the record has no session of {trainee} from {since} to {until}."
        self.past, self.message = past, ""
        self._about = person(self._record, trainee, self._now)
        self.at = dict.fromkeys(self.at, 0)
        return None

    def _take_csv(self, text: str) -> str | None:
        what, _, name = text.partition(" ")
        if what not in TABLES or not name.strip():
            return f"Write one of {', '.join(TABLES)}, a space, and a file name."
        path = Path(name.strip()).expanduser()
        period = Period(since=self.past.since, until=self.past.until)
        try:
            with new_file(path, force=None, data=self._data) as file:
                write_what(what, self._record, self.past.trainee, period, file)
        except MatsideError as error:
            return error.lines[0]
        self.message = f"Written: {path}"
        return None

    def _take_folder(self, text: str) -> str | None:
        if not text:
            return "Write the name of a folder."
        try:
            folder, today = Path(text).expanduser(), self._now.date()
            written = write_pictures(
                self.past, self.past.trends, folder, today=today, data=self._data
            )
        except MatsideError as error:
            return error.lines[0]
        self.message = f"{len(written)} pictures written into {text}"
        return None


_SIGNS = (
    "Chart of counts: a dot is a set; sets of one day with the same count share it. A column is "
    "two days. ┊ and a name: version, set-up, load or tempo changed with that session.",
    "12 weeks: the mean of a set in the sessions of the twelve weeks before, at the same level.",
    "For one-sided work the chart shows the mean of both sides; 12|11 in a list is left and right.",
    "x is a skipped set, (8) a set given up, - a set without a count.",
    "Kept: the last set, and all sets together, as a share of the first set's count.",
    "Weekly sets: 1 for a main muscle, 0.5 for a helping muscle; only work sets done (published).",
    "Due: 48 hours after a muscle's last set as main muscle (published).",
)
