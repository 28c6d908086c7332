"""The controller of a session, behind both faces: the full screen and line mode.

It owns a session's opening, the message, the count being typed, the try-out, whether the session
runs late, and the answers to advice. It knows no screen: what a face has to show or ask comes back
as a `Request`, with the function that takes the answer. Line mode obeys words (`Controller.obey`),
the full screen does verbs by their keys (`Controller.act`). A key does what its word does, unless
`keyed` marks another function for it. The verbs are in `face_verbs`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, Literal

from msgspec import Struct
from msgspec.structs import replace

from runner.errors import Exit
from runner.live.advice import Advisor
from runner.live.driver import SettledEvent
from runner.live.schedule import Schedule
from runner.live.session_setup import PAIN_ADVICE, Live, Opening
from runner.live.session_summary import SessionSummary
from runner.live.sound_controls import Hearing
from runner.planning.shorten import finish
from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.count_field import BY_CLOCK, EntryDoing, EntryLine, Field
from runner.session.events import Closed, Ended, Event, Pain, Started
from runner.session.feedback import begins_or_ends, report, sentence
from runner.session.flow import read_line
from runner.session.state import Phase, State
from runner.session.verb import ALL, REHEARSED, VERBS, Verb, key_of, verb, verbs

MAIN = "main"

# What the controller asks a face to do.


class Ask(Struct, frozen=True):
    """A line to type. `take` gives the reason where it is refused; a request is the next thing."""

    label: str
    take: Callable[[str], str | Request | None]


class Confirm(Struct, frozen=True):
    """A question for yes or no, with what there is to read before it; line mode takes it as yes."""

    lines: tuple[str, ...]
    question: str
    agreed: Callable[[], Request | None]

    @property
    def text(self) -> str:
        """What there is to read, and the question."""
        return "\n".join((*self.lines, "", self.question) if self.lines else (self.question,))


class Read(Struct, frozen=True):
    """A page to read; `then` is called once it is closed."""

    title: str
    lines: Sequence[str]
    then: Callable[[], Request | None]


class WhereItHurts(Struct, frozen=True):
    """What was done, what to do about pain, and a line for the place; or undo.

    `waits`: it is done only with the answer, for it could not be taken back.
    """

    done: str
    advice: Sequence[str]
    take: Callable[[str], Request | None]
    undo: Callable[[], object]
    waits: bool = False


class AnswerAdvice(Struct, frozen=True):
    """One piece of advice after another; `say` gets what each answer means."""

    advisor: Advisor
    say: Callable[[str], None]


class Work(Struct, frozen=True):
    """Work of some tenths of a second, in which a cue may fall due."""

    work: Callable[[], Any]
    then: Callable[[Any], Request | None]


class ReadOn(Struct, frozen=True):
    """The next page of cautions; after the last one `at_end` instead."""

    at_end: Callable[[], Request | None]


class Leave(Struct, frozen=True):
    """End the program."""

    code: int


class OnScreen(Struct, frozen=True):
    """Something that only a screen can do."""

    what: Literal["up", "down", "light", "help", "care"]


Request = Ask | Confirm | Read | WhereItHurts | AnswerAdvice | Work | ReadOn | Leave | OnScreen
Reply = Request | str | None  # a text is the message, or in line mode lines to say


class UndoAsked(Struct, frozen=True):
    """What a second press of undo takes back: the act's number, until a second of `hand_time`."""

    act: int
    until: float
    text: str


class PainAsked(Struct, frozen=True):
    """Which of two exercises hurts: ids of the last and the next, and the question."""

    last: str
    next: str
    text: str


class Controller:
    """One session for a face, from its opening to its end."""

    def __init__(
        self,
        opening: Opening,
        hearing: Hearing | None = None,
        *,
        yes: bool = False,
        rehearses: bool = False,
        changed: Callable[[], None] = lambda: None,
        hand_time: Callable[[], float] = lambda: 0.0,
        later: Callable[[Callable[[], None]], object] = lambda call: call(),
    ) -> None:
        """`changed` is called where something else is to be seen, outside of `act` and `edit`.

        `hand_time` is now, in the seconds in which hands press keys. `later` makes a call where
        the face runs, whatever thread asks for it. In a rehearsal nothing is kept, and no counts
        are asked for.
        """
        self.opening, self.hearing, self.rehearses = opening, hearing, rehearses
        self.live: Live | None = None  # set once the session is open
        self.schedule: Schedule | None = None  # set once the session is open
        self.summary: SessionSummary | None = None  # none in a rehearsal
        self.yes = yes
        self.cautions_known = yes or opening.cautions_known
        self.field = Field()  # for a count
        self.saved_at: float | None = None  # when a count was last saved
        self.message = ""
        self.remote = False  # whether the last key came from a presenter remote
        self.ago = 0.0  # seconds since the key was pressed that is being dealt with
        self.scroll = 0
        self.turned = 0  # pages of cautions that have been read
        self.tryout = False
        self.tried = 0
        self.more: str | None = None  # the list of `m`: "" open, a letter one within it
        self.more_from = 0  # its first line that is shown
        self.drafts: dict[str, str] = {}  # texts begun and not entered, by their question
        self.undo_asked: UndoAsked | None = None
        self.pain_asked: PainAsked | None = None
        self.finish: float | None = None  # when the session is over, by the forecast
        self.late = ""
        self.phase_since = 0.0
        self.changed = changed
        self.hand_time, self.later = hand_time, later
        self._warned_of = 0  # missing counts when the person asked to close
        self._clock_began = False  # a set, and what is typed is not saved yet
        self._to_tell: dict[int, str] = {}  # how counts compare, to say once they are on file

    # The session

    def open(self, *, go_on: bool | None, woken: Callable[[], object] | None = None) -> Live:
        """Begin a session, or continue the one cut off; does not start its driver yet.

        With `woken` a thread writes the events, and calls it when there is news. Raises
        MatsideError where another terminal has taken the session.
        """
        start = self.opening.resume if go_on else self.opening.begin
        heard = self.hearing
        if heard is None:
            raise ValueError("a session is opened by a face that can be heard")
        live = start(heard.player, heard.speaker)
        if woken is not None:
            self.opening.claim(live)
            self.opening.write(live, woken)
        self.take(live)
        return live

    def take(self, live: Live) -> None:
        """Take a session that was opened."""
        self.live = live
        self.summary = None if self.rehearses else SessionSummary(self.opening, live)
        self.schedule = Schedule(self.opening, live)

    def read_anew(self) -> bool:
        """Whether the record can be read now, where it could not; the session is opened again."""
        if self.live is None or not self.opening.read_anew(self.live):
            return False
        self.live, self.message = None, "The record can be read now."
        self.cautions_known = self.yes or self.opening.cautions_known
        return True

    @property
    def phase(self) -> Phase:
        """Where the session stands."""
        return "ready" if self.live is None else self.live.driver.state.phase

    @property
    def line(self) -> EntryLine | None:
        """The text in the field."""
        return self.field.line

    # Verbs

    def send(self, command: cmd.Command) -> str | None:
        """Give the session a command; returns the reason of a refusal."""
        if self.live is None:
            return "the session is not open yet"
        self.message, ago, self.ago = "", self.ago, 0.0
        try:
            self.live.driver.send(command, ago=ago)
        except Refused as refused:
            self.message = sentence(str(refused))
            self.changed()
            return str(refused)
        return None

    @property
    def choices(self) -> list[tuple[str, str]]:
        """The lines of the open list: a letter, and what it does to what."""
        found = []
        for known in self._listed():
            with suppress(Refused):
                found.append((known.letter[-1], known.line(self._subject(known))))
        return found

    def chosen(self, letter: str) -> str | None:
        """The verb with this letter in the open list; it may refuse."""
        found = (known.id for known in self._listed() if known.letter[-1] == letter)
        return next(found, None)

    def _listed(self) -> list[Verb]:
        """The verbs of the open list that work in this phase."""
        return [
            known
            for known in verbs()
            if known.letter
            and known.letter[:-1] == self.more
            and self.phase in known.phases
            and not (known.kept and self.rehearses)
        ]

    def _subject(self, known: Verb) -> State | Controller:
        """What a verb's label names something of."""
        if self.live is None:
            raise Refused("the session is not open yet")
        return self.live.driver.state if known.decides else self

    def act(self, name: str) -> Request | None:
        """Do a verb by its key or letter; returns what the face has to do."""
        self.message = ""
        own = REHEARSED.get(name) if self.rehearses else None
        known = own or VERBS[name]
        self.more = known.letter[:-1] or None  # a list within the list stays open
        self.more_from = 0
        if own is None and name in _KEYED:
            return self.tell(_KEYED[name](self))
        if not known.decides:
            return self.tell(known.does(self, known.takes))
        if known.asks:
            return ask_line(self, known.asks, lambda _: name)
        self.send(known.read(""))
        return None

    def obey(self, line: str) -> Reply:
        """Do what a word of the face says, like `sound` (see `knows`). Raises Refused."""
        name, _, rest = line.strip().partition(" ")
        known = VERBS[name]
        reply: Reply = known.does(self, known.read(rest.strip()))
        return reply

    @staticmethod
    def knows(line: str) -> bool:
        """Whether a line begins with a word of the face, like `sound`."""
        known = VERBS.get(line.strip().partition(" ")[0])
        return known is not None and known.form != "" and not known.decides

    def tell(self, reply: Reply) -> Request | None:
        """Make a text the message; other results are for the face."""
        if isinstance(reply, str):
            self.message = reply
            return None
        return reply

    # The count being typed

    def edit(self, doing: EntryDoing, text: str = "") -> None:
        """Do to the field what a key, or the clock, means for it."""
        line = self.line
        self.message = ""
        if doing == "name":
            label = VERBS[MAIN].label_in(self.phase)
            key = key_of(MAIN, remote=self.remote)
            self.message = f"No count typed. {key}: {label}."
        elif line is None:
            if doing == "type":
                self._correct(text)
        elif doing == "save":
            self.save(line)
        elif doing == "drop":
            self._drop_correction(line)
        elif doing == "enter":
            self.message = f"{'.' if self.remote else 'Enter'} changes {line.asked.label}."
        else:
            changed = line.edited(doing, text)
            if changed.asked.was and not changed.touched:
                self._drop_correction(line)  # emptied: there is nothing to change
            else:
                self.field = self.field.show(changed)
        self.changed()

    def then(self, doing: EntryDoing) -> None:
        """What the main key does to the field after it ended a set."""
        said, before = self.message, self.line
        self.edit(doing)
        after = self.line
        stays_open = before and after and before.asked.entry == after.asked.entry
        if doing != "save" or stays_open:  # else what is said of the count comes once it is kept
            self.message = self.message or said
        self.changed()

    def _drop_correction(self, line: EntryLine) -> None:
        """Drop a correction, and say so."""
        if line.asked.was:
            self.field = replace(self.field, line=None)
            self.message = _stays(line)
            if self.live is not None:
                self.field = self.field.follow(self.live.driver.state, ())

    def _correct(self, text: str) -> None:
        """A digit where no count is missing: it corrects the last count, but not during a set."""
        if self.live is None or self.rehearses:
            return
        state = self.live.driver.state
        opened = self.field.corrected(state)
        if state.phase == "set":
            self.message = f"End the set first: {key_of(MAIN, remote=self.remote)}"
        elif opened is None or opened.line is None:
            self.message = "No count is saved yet."
        else:
            self.field = opened.show(opened.line.type(text))

    def save(self, before: EntryLine) -> None:
        """Hand the count on; where it is refused, it stays with the reason."""
        if self.live is None:
            return
        line, saved = before.save()
        self.field = self.field.show(line)
        if saved is None:
            return
        reason = self.send(saved.entry)
        if reason is not None:
            self.message = ""
            self.field = self.field.show(line.refused(reason))
            return
        self.saved_at = self.live.driver.now()
        if self.line is not None and self.line.asked.was:
            self.field = replace(self.field, line=None)
        if saved.remark:
            self.message = _joined(self.message, saved.remark)

    # News from the driver

    def take_up(self, events: Sequence[Event]) -> None:
        """Update at once what events change."""
        if self.live is None:
            return
        self.moved(events[0].at)
        state = self.live.driver.state
        correcting = self.line if self.line is not None and self.line.asked.was else None
        self.field = Field() if self.rehearses else self.field.follow(state, events)
        self._clock_began |= any(isinstance(e, Started) and e.by == "clock" for e in events)
        begun = any(isinstance(event, Started) for event in events)
        became = self._became(events, state)
        self._to_tell |= became
        back = f"{key_of('undo', remote=self.remote)} takes it back"
        again = f"{key_of('redo')} does it again"
        text = "" if became else report(events, state, undo=back, redo=again)
        # What was said of the rest is no longer true in the set.
        self.message = text or ("" if begun else self.message)
        if correcting is not None and state.phase == "set" and self.line is None:
            self.message = _stays(correcting)
        if any(isinstance(event, Ended | Closed) for event in events):
            self.pain_asked = None
        if any(map(begins_or_ends, events)) and not self.rehearses:
            self.more = None
        if begun:
            self.undo_asked = None

    def settled(self, events: Sequence[SettledEvent]) -> None:
        """Events are on file, or known not to be: say how counts compare."""
        if self.live is None:
            return
        news = self.live.driver.keeper.news()
        said = []
        for one in events:
            text = self._to_tell.pop(id(one.event), "")
            said.append(
                text if one.kept or not text else f"{text.partition(':')[0]}: not saved yet"
            )
        self.message = _joined(*said, self.message)
        if news:
            self.message = f"{news}. {self.message}".strip()

    def _became(self, events: Sequence[Event], state: State) -> dict[int, str]:
        """How counts compare, to say once they are on file."""
        if self.summary is None:
            return {}
        back = "" if state.phase == "closed" else key_of("undo", remote=self.remote)
        became = ((id(event), self.summary.became(event, state, back=back)) for event in events)
        return {key: text for key, text in became if text}

    def moved(self, at: float = 0.0) -> None:
        """Update to the session's new place; `at` is the instant of the event."""
        if self.live is None:
            return
        state, row = self.live.driver.state, self.live.driver.state.running
        self.finish = finish(state, self.live.driver.now())
        self.phase_since = at if row is None else row.start or 0.0
        if self.schedule is not None:
            self.late = self.schedule.text(state, self.live.driver.now(), self.finish)

    def tick(self, ago: float = 0.0) -> None:
        """Let due events happen; a set that the clock starts saves what was typed.

        `ago`: only what was due that many real seconds ago.
        """
        if self.live is None:
            return
        self.live.driver.tick(ago=ago)
        if self._clock_began:
            self._clock_began = False
            doing = None if self.line is None else BY_CLOCK.get(self.line.kind)
            if doing is not None:
                self.edit(doing)

    def hear_news(self) -> bool:
        """Whether there is news of sound and voice, which becomes the message."""
        news = None if self.hearing is None or self.live is None else self.hearing.news()
        self.message = news or self.message
        return bool(news)

    def play(self, name: str) -> None:
        """Let a cue be heard."""
        if self.hearing is not None:
            self.hearing.player.play(name)

    def undo_is_over(self) -> None:
        """Forget the first press of undo, and its message, once its time is over."""
        asked = self.undo_asked
        if asked is not None and self.hand_time() >= asked.until:
            self.undo_asked = None
            self.message = "" if self.message == asked.text else self.message

    def answer_pain(self, key: str) -> tuple[bool, Request | None]:
        """Whether a key answers which exercise hurts; other keys keep their meaning.

        While the list of `m` is open its letters belong to the list.
        """
        asked = self.pain_asked
        if asked is None or self.more is not None or key not in ("l", "n", "escape"):
            return False, None
        self.pain_asked, self.undo_asked, self.message = None, None, ""
        if key == "escape":
            return True, None
        return True, self.hurts(asked.last if key == "l" else asked.next)

    def hurts(self, exercise: str | None) -> Request | None:
        """The exercise is over for today; then ask where it hurts."""
        if self.send(cmd.Hurt(exercise=exercise)) is not None or self.live is None:
            return None
        pain = next(e for e in reversed(self.live.driver.state.log) if isinstance(e, Pain))

        def take(where: str) -> None:
            if where:
                self.send(cmd.Hurt(where, entry=pain.entry))

        return WhereItHurts(self.message, PAIN_ADVICE, take, lambda: self.send(cmd.Undo()))

    def not_entered(self) -> str:
        """How many counts are missing, in words; "" for none."""
        count = 0 if self.live is None or self.rehearses else len(self.live.driver.state.open_rows)
        if not count:
            return ""
        return "1 count is missing" if count == 1 else f"{count} counts are missing"

    def warns_of_open(self) -> bool:
        """Whether missing counts need a warning before the close; a remote has no y."""
        count = 0 if self.live is None else len(self.live.driver.state.open_rows)
        before, self._warned_of = self._warned_of, count
        return count > 0 and count != before

    def has_read(self) -> None:
        """The last page of cautions was read: note it and show the ready page."""
        self.cautions_known = True
        if self.live is not None:
            self.opening.acknowledge(self.live)


_KEYED: dict[str, Callable[[Controller], Reply]] = {}
Keyed = Callable[[Controller], Reply]


def keyed(name: str) -> Callable[[Keyed], Keyed]:
    """Mark what a verb's key does on the screen, if it differs from its word."""

    def mark(function: Keyed) -> Keyed:
        _KEYED[name] = function
        return function

    return mark


def _joined(*said: str) -> str:
    """Messages of the same moment in one text."""
    return " · ".join(filter(None, said))


def _stays(line: EntryLine) -> str:
    return f"{line.asked.label} stays {line.asked.was}."


def ask_line(session: Controller, label: str, word: Callable[[str], str]) -> Ask:
    """Ask for a text that is read as after a word; `word` may depend on the text."""

    def take(text: str) -> str | Request | None:
        if not text:
            return None
        try:
            line = f"{word(text)} {text}"
            if session.knows(line):
                return session.tell(session.obey(line))
            return session.send(read_line(line))
        except Refused as refused:
            return str(refused)

    return Ask(label, take)


@verb(
    MAIN,
    keys=("space", "pagedown", "right"),
    phases=ALL,
    rank=0,
    label="go on",
    labels={
        "ready": "start",
        "warm-up": "go on",
        "rest": "start now",
        "set": "end set",
        "paused": "go on",
        "wrap-up": "close",
        "closed": "leave",
    },
    help="Do what comes next: start, end the set, go on, close.",
)
def _main(session: Controller, _: None) -> Reply:
    if session.tryout:
        session.tried += 1
        session.play("start")
        return f"Key seen: {session.tried}. Any other key goes back."
    match session.phase:
        case "closed":
            return Leave(Exit.OK)
        case "rest":
            session.send(cmd.StartNow())
            return None
        case "ready" if not session.cautions_known:
            return ReadOn(session.has_read)
        case "wrap-up" if not session.rehearses and session.warns_of_open():
            return f"{session.not_entered()}. Press again to close anyway."
    session.scroll = 0
    session.send(cmd.Proceed())
    return None
