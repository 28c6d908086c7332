"""The verbs of both faces that do not concern the session, and what keys do beyond their words.

Sound, ending in time, answers to advice, trying out: a line-mode word and a key share one function,
unless `keyed` marks another one for the key.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal

from runner.errors import Exit, MatsideError
from runner.live.advice import Advisor
from runner.live.advice_lines import answer, exercise_lines
from runner.live.controller import (
    AnswerAdvice,
    Ask,
    Confirm,
    Controller,
    Keyed,
    Leave,
    OnScreen,
    PainAsked,
    Reply,
    Request,
    UndoAsked,
    WhereItHurts,
    Work,
    ask_line,
    keyed,
)
from runner.live.driver import PendingAnswer, Store
from runner.live.schedule import ShorterSession, TimeLimit, shorter
from runner.live.sound_controls import Hearing
from runner.progress.layoff import BEFORE_THE_START
from runner.session import entries, sounds, verb as cmd
from runner.session.apply import Refused, new_levels
from runner.session.changes import short_of
from runner.session.feedback import begins_or_ends, described
from runner.session.flow import last_act
from runner.session.phrases import Mode
from runner.session.verb import ALL, SHEETS, WORK, key_of, verb
from runner.session.words import Refusal, read_entry
from runner.text import read_time

COMMIT_S = 0.25  # seconds that a word waits for events before it to be written; our choice
RECENT_S = 10.0  # seconds in which one press of undo is enough, and in which a second one counts


@verb(
    "more",
    keys=("m",),
    phases=ALL,
    rank=12,
    label="more",
    help="List everything else that can be done now, by letter.",
)
def _more(session: Controller, _: None) -> Reply:
    session.more = ""
    return None


@verb(
    "settings",
    letter="s",
    phases=ALL,
    rank=250,
    label="sound, voice, volume, light or dark",
    help="List what is heard, and how the screen looks.",
)
def _settings(session: Controller, _: None) -> Reply:
    session.more = "s"
    return None


def _heard(session: Controller) -> Hearing:
    """Sound and voice. Raises Refused in a session without them."""
    if session.hearing is None:
        raise Refused("there is no sound here")
    return session.hearing


def _sound_line(session: Controller) -> str:
    return f"sound {'on' if _heard(session).player.muted else 'off'}"


@verb(
    "sound",
    form="sound",
    letter="ss",
    phases=ALL,
    rank=260,
    label=_sound_line,
    help="Sound on or off.",
)
def _sound(session: Controller, _: None) -> Reply:
    return "" if session.hearing is None else session.hearing.toggle_sound()


def _read_volume(word: str) -> Callable[[str], int]:
    def read(rest: str) -> int:
        if not re.fullmatch(r"[0-9]{1,3}", rest) or int(rest) > 100:
            raise Refused(f"a volume is 0 to 100: {word} 60")
        return int(rest)

    return read


@verb(
    "volume",
    _read_volume("volume"),
    form="volume 60",
    letter="sc",
    phases=ALL,
    rank=262,
    label=lambda session: f"cues quieter ({_heard(session).player.volume} of 100)",
    help="Cues a step quieter; after the last step, full.",
    word_help="How loud cues are, 0 to 100.",
)
def _volume(session: Controller, volume: int) -> Reply:
    return "" if session.hearing is None else session.hearing.at_volume(volume)


@keyed("volume")
def _quieter(session: Controller) -> Reply:
    return "" if session.hearing is None else session.hearing.quieter()


def _read_voice(rest: str) -> Mode:
    modes: tuple[Mode, ...] = ("on", "names", "off")
    for mode in modes:
        if rest == mode:
            return mode
    raise Refused("write voice on, voice names or voice off")


@verb(
    "voice",
    _read_voice,
    form="voice on",
    letter="sv",
    phases=ALL,
    rank=261,
    label=lambda session: f"voice on, names only or off ({_heard(session).speaker.mode})",
    help="Voice on, names only, or off.",
    word_help="What is spoken: on, names (only) or off.",
)
def _voice(session: Controller, mode: Mode) -> Reply:
    return "" if session.hearing is None else session.hearing.speak(mode)


@keyed("voice")
def _next_voice(session: Controller) -> Reply:
    if session.hearing is None:
        return ""
    if session.hearing.speaker.silent:
        return "The voice speaks at real speed only."
    return session.hearing.next_mode()


@verb(
    "voice-volume",
    _read_volume("voice-volume"),
    form="voice-volume 60",
    letter="sd",
    phases=ALL,
    rank=263,
    label=lambda session: f"voice quieter ({_heard(session).player.voice_volume} of 100)",
    help="The voice a step quieter; after the last step, full.",
    word_help="How loud the voice is, 0 to 100.",
)
def _voice_volume(session: Controller, volume: int) -> Reply:
    return "" if session.hearing is None else session.hearing.voice_at_volume(volume)


@keyed("voice-volume")
def _voice_quieter(session: Controller) -> Reply:
    return "" if session.hearing is None else session.hearing.voice_quieter()


def _pacer_line(session: Controller) -> str:
    on = session.live is not None and session.live.driver.paced
    return f"pacer {'off' if on else 'on'}"


@verb(
    "pacer",
    form="pacer",
    letter="t",
    phases=WORK,
    rank=240,
    label=_pacer_line,
    help="A soft tick for each part of a repetition, on or off.",
)
def _pacer(session: Controller, _: None) -> Reply:
    """Turn the pacer on or off, and say so where the exercise has no tempo."""
    if session.live is None:
        return None
    driver = session.live.driver
    driver.pace(on=not driver.paced)
    return sounds.pacer_text(driver.state, on=driver.paced)


def _read_by(rest: str) -> TimeLimit:
    if not rest:
        return TimeLimit()
    then = read_time(rest)
    if then is not None:
        return TimeLimit(until=then)
    minutes = re.fullmatch(r"([0-9]{1,3}) ?m(?:in)?", rest)
    if minutes is None or not int(minutes[1]):
        raise Refused("write minutes from now or a time of day: shorten 10m, shorten 07:10")
    return TimeLimit(within=int(minutes[1]) * 60.0)


def _in_time_line(session: Controller) -> str:
    late = f" ({session.late})" if session.late else ""
    return f"in time: leave out sets{late}"


@verb(
    "shorten",
    _read_by,
    form="shorten 10m",
    letter="i",
    phases=("ready", "warm-up", "rest", "paused"),
    rank=220,
    label=_in_time_line,
    help="Leave out sets to end in time: shows which, then asks.",
    word_help="Leave out sets to end in 10 minutes, by 07:10, or in the time given at the start.",
)
def _shorten(session: Controller, limit: TimeLimit, *, nearest: bool = False) -> Reply:
    """End in time: never by itself, and on the screen only after a question."""
    if session.live is None or session.schedule is None:
        raise Refused("the session is not open yet")
    schedule, driver = session.schedule, session.live.driver
    now = driver.tick()
    state = driver.state

    def work() -> ShorterSession | Refused:
        try:
            return shorter(state, now, schedule.seconds_for(limit, state, now), nearest=nearest)
        except Refused as refused:
            return refused

    def leave_out(found: ShorterSession | Refused) -> Request | None:
        if isinstance(found, Refused):
            raise found

        def agreed() -> None:
            session.send(found.command)

        return Confirm(found.lines, "Leave out these sets?", agreed)

    return Work(work, leave_out)


@keyed("shorten")
def _in_time(session: Controller) -> Reply:
    """Show what could be left out; if the session is not late, ask for a time first."""
    if session.live is None or session.schedule is None:
        return None
    if session.schedule.late(session.live.driver.state, session.live.driver.now()):
        return _shorten(session, TimeLimit(), nearest=True)

    def take(text: str) -> str | Request | None:
        if not text:
            return None
        try:
            return session.tell(_shorten(session, _read_by(text), nearest=True))
        except Refused as refused:
            return str(refused)

    return Ask("End in how many minutes (10m), or by what time (07:10)?", take)


def _advisor(
    session: Controller, write: Callable[[Callable[[Store], None]], None] | None = None
) -> Advisor:
    """Working levels and advice; `write` gets the answers. Raises Refused, MatsideError."""
    if session.summary is None or session.live is None or session.phase != "wrap-up":
        raise Refused("advice comes after the last set")
    if not session.live.driver.keeper.settle(COMMIT_S):  # it may be locked: nobody waits for it
        raise Refused("the record is still being written; write the word again in a moment")
    return session.summary.advisor(write)


def _hand_over(session: Controller, write: Callable[[Store], None], text: str) -> None:
    """Let the writing thread keep an answer; say `text` once it is on file."""
    live, summary = session.live, session.summary
    if live is None or summary is None:
        return

    def take_up(text: str) -> None:
        session.message = text
        summary.forget()
        session.changed()

    def kept(error: Exception | None) -> None:
        session.later(lambda: take_up(f"NOT KEPT: {error}" if error else text))

    live.driver.keeper.agree(PendingAnswer(write, kept))


@verb(
    "advice",
    form="advice",
    keys=("a",),
    phases=("wrap-up", "closed"),
    rank=61,
    label="advice",
    help="Accept or refuse the advice.",
    word_help="After the last set: what is advised.",
    kept=True,
)
def _advice(session: Controller, _: None) -> Reply:
    items = enumerate(_advisor(session).items, 1)
    return "\n".join(line for number, item in items for line in exercise_lines(number, item))


@keyed("advice")
def _answer_advice(session: Controller) -> Reply:
    """Go through what is advised."""
    summary, live, meant = session.summary, session.live, ""
    if summary is None or live is None:
        return None
    keeper = live.driver.keeper
    if not keeper.settled:  # the record may be locked: nobody waits for it here
        return "The record is still being written. Press a again in a moment."

    def write(answer: Callable[[Store], None]) -> None:
        _hand_over(session, answer, meant)

    def say(text: str) -> None:
        nonlocal meant
        meant = text

    try:
        return AnswerAdvice(summary.advisor(write), say)
    except MatsideError as error:
        return str(error)


@verb(
    "accept",
    lambda rest: f"accept {rest}",
    form="accept N",
    rank=64,
    help="Accept advice N: the next session uses it.",
)
@verb(
    "refuse",
    lambda rest: f"refuse {rest}",
    form="refuse N",
    rank=65,
    help="Refuse advice N: it comes back after more sessions.",
)
def _answer(session: Controller, line: str) -> Reply:
    given: list[Callable[[Store], None]] = []
    text = answer(_advisor(session, given.append), line)
    for write in given:
        _hand_over(session, write, text)
    return None


@verb(
    "gear",
    letter="g",
    phases=cmd.AFTER_ONE,
    rank=190,
    label="load or set-up you used",
    help="Enter the load or set-up you used.",
    kept=True,
)
def _setup(session: Controller, _: None) -> Reply:
    """`height=60 cm` is a set-up, `12` a load."""
    label = "What you used: kilograms (12), or name=value (height=60 cm)"
    return ask_line(session, label, lambda text: "setup" if "=" in text else "load")


@verb(
    "try",
    letter="t",
    phases=("ready",),
    rank=240,
    label="try screen, sound and key",
    help="Try the screen, the sound and the key from the mat.",
)
def _try_out(session: Controller, _: None) -> Reply:
    session.tryout, session.tried = True, 0
    session.play("start")
    return "Can you read this from the mat? Did you hear this? Try the key."


def _on_screen(what: Literal["up", "down", "light", "help", "care"]) -> Callable[..., Reply]:
    return lambda _session, _said: OnScreen(what)


verb(
    "down",
    keys=("down",),
    phases=SHEETS,
    rank=90,
    label="read on",
    help="Scroll down.",
    apart=0.0,
)(_on_screen("down"))
verb(
    "up",
    keys=("up",),
    phases=SHEETS,
    rank=91,
    label="back",
    help="Scroll up.",
    apart=0.0,
)(_on_screen("up"))
verb(
    "light",
    letter="sl",
    phases=ALL,
    rank=264,
    label="light or dark",
    help="Light or dark screen.",
)(_on_screen("light"))
verb(
    "care",
    keys=("c",),
    phases=("ready",),
    rank=31,
    label="before you start",
    help="Read the cautions of this plan.",
)(_on_screen("care"))
verb(
    "help",
    keys=("question_mark",),
    phases=ALL,
    rank=100,
    label="help",
    help="The keys of this phase; ? again: all keys.",
)(_on_screen("help"))


# What a key of the session's verbs does, where the word alone would not do


@keyed("undo")
def _undo(session: Controller) -> Reply:
    """Undo the last act; an old one, or one that began or ended a set, at the second press."""
    if session.live is None:
        return None
    driver = session.live.driver
    driver.tick()  # a set that the clock has begun is the last act
    events, asked, now = last_act(driver.state), session.undo_asked, session.hand_time()
    session.undo_asked = None
    big = any(begins_or_ends(event) for event in events)
    if (
        not events
        or not (big or driver.now() - events[0].at > RECENT_S)
        or (asked is not None and asked.act == events[0].act and now <= asked.until)
    ):
        session.send(cmd.Undo())
        return None
    key = key_of("undo", remote=session.remote)
    text = f"{key} again takes back: {described(events, driver.state)}"
    session.undo_asked = UndoAsked(events[0].act, now + RECENT_S, text)
    return text


@keyed("end")
def _end(session: Controller) -> Reply:
    """Ask whether to close; first save a typed number that is not doubtful."""
    if session.phase == "closed":
        return Leave(Exit.OK)
    if session.line is not None and session.line.kind in ("typed", "stepped"):
        session.save(session.line)

    def agreed() -> None:
        session.send(cmd.End())

    missing = session.not_entered()
    warning = f"\n{missing}." if missing else ""
    return Confirm((), f"Close the session now?{warning}", agreed)


@keyed("pain")
def _pain(session: Controller) -> Reply:
    """End what hurts at once; between two exercises ask which, while the rest goes on."""
    if session.live is None:
        return None
    state = session.live.driver.state
    row, coming = state.last_begun, state.coming
    if state.phase in ("rest", "paused") and row is not None and coming is not None:
        last, following = row.planned_set.exercise, coming[0].exercise
        if last != following:
            which = f"l {short_of(state, last)}, last · n {short_of(state, following)}, next"
            session.pain_asked = PainAsked(last, following, f"Which hurts? {which}")
            return None
    return session.hurts(None)


@keyed("unwell")
def _unwell(session: Controller) -> Reply:
    """No session today; ask where first, since a close cannot be undone."""

    def answered(where: str) -> Request | None:
        refused = session.send(cmd.Hurt(where) if where else cmd.Unwell())
        return Leave(Exit.OK) if refused is None else None

    def undo() -> None:
        session.message = "The session is still on."

    return WhereItHurts("No session today.", BEFORE_THE_START.answer, answered, undo, waits=True)


def _offer(kind: str) -> Keyed:
    """Take an offer, or give it back and take the others again."""

    def take(session: Controller) -> Reply:
        if session.live is None:
            return None
        taken = session.live.driver.state.taken
        if kind not in taken:
            session.send(cmd.Take(kind))
            return None
        session.send(cmd.Take(""))
        for other in taken:
            if other != kind:
                session.send(cmd.Take(other))
        return None

    return take


keyed("lighter")(_offer("lighter"))
keyed("place")(_offer("place"))


@keyed("today")
def _today(session: Controller) -> Reply:
    """Mark the changed levels as for today only; the second time, keep them."""
    if session.live is None:
        return None
    differ = new_levels(session.live.driver.state)
    marked = bool(differ) and all(one.today_only for one in differ)
    session.send(cmd.Keep(today_only=not marked))
    return None


@keyed("fix")
def _fix(session: Controller) -> Reply:
    """Correct an earlier entry: its number and its count."""
    if session.live is None:
        return None
    state = session.live.driver.state
    rows = [r for r in state.rows if r.status in ("done", "broken")]
    known = " ".join(f"{r.entry}:{state.exercise(r).short}" for r in rows[-8:])
    asked: list[str] = []  # texts with a doubtful count

    def take(text: str) -> str | None:
        if not text:
            return None
        number, _, count = text.partition(" ")
        row = next((r for r in rows if str(r.entry) == number), None)
        if row is None:
            return f"write the entry's number and its count, like 3 13; there are {known}"
        entry = read_entry(count, bare=state.exercise(row).measure)
        if isinstance(entry, Refusal):
            return entry.reason
        if len(entry.counts) != 1:
            return "an entry is one side: write one count"
        fix = cmd.Fix(row.entry, entry.measure, entry.counts[0])
        if entries.doubts(state, fix) and text not in asked:
            asked.append(text)
            return f"{count}? Press enter again, or type another number."
        return session.send(fix)

    return Ask(f"Number and count, like 3 13 ({known})", take)
