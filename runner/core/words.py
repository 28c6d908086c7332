"""A line that a person writes, one command: what line mode reads, and the screen's dialogs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from runner.core.entry_text import Refusal, read_entry
from runner.core.session import commands as cmd
from runner.core.session.turn import Refused

STEP = 15.0  # seconds that + and - add and take, and keys on the screen; our choice
HEAVIEST = 500.0  # kg; our choice: more is a slip of the finger, for loads and body mass


@dataclass(frozen=True, slots=True)
class Word:
    """A word of line mode: how it is written, what it does, how it is read."""

    form: str
    meaning: str
    read: Callable[[str], cmd.Command]


def _number(text: str, what: str, least: float, most: float) -> float:
    """A plain decimal number within bounds; ASCII digits alone."""
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,3})?", text):
        raise Refused(f"{what} is a number: write {least:g} to {most:g}")
    value = float(text)
    if not least <= value <= most:
        raise Refused(f"{what} is {least:g} to {most:g}")
    return value


def _alone(command: cmd.Command) -> Callable[[str], cmd.Command]:
    def read(rest: str) -> cmd.Command:
        if rest:
            raise Refused(f"nothing may follow: {shown(rest)} is too much")
        return command

    return read


def _text(rest: str, form: str) -> str:
    if not rest:
        raise Refused(f"say what: {form}")
    return rest


def _fix(rest: str) -> cmd.Command:
    number, _, value = rest.partition(" ")
    if not re.fullmatch(r"[0-9]{1,4}", number) or not value.strip():
        raise Refused("fix wants the entry's number and its count: fix 3 13")
    if value.strip() == "nocount":
        return cmd.NoCount(int(number))
    entry = read_entry(value)
    if isinstance(entry, Refusal):
        raise Refused(entry.reason)
    if len(entry.counts) != 1:
        raise Refused("an entry is one side: fix 3 13")
    return cmd.Fix(int(number), entry.measure, entry.counts[0])


def _setup(rest: str) -> cmd.Command:
    pairs = tuple(re.findall(r"([^\s=;]+)=([^=;]+?)(?=\s+[^\s=;]+=|$)", rest))
    if not pairs or " ".join(f"{n}={v}" for n, v in pairs) != " ".join(rest.split()):
        raise Refused("a set-up is written as name=value: setup height=60 cm")
    return cmd.Use(setup=pairs)


def _shorten(rest: str) -> cmd.Command:
    if not rest:
        return cmd.Shorten()
    by = re.fullmatch(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", rest)
    if by:
        return cmd.Shorten(until=int(by[1]) * 3600 + int(by[2]) * 60)
    left = re.fullmatch(r"([0-9]{1,3}) ?m(?:in)?", rest)
    if left is None or not int(left[1]):
        raise Refused("shorten wants minutes from now or a time of day: shorten 10m, shorten 07:10")
    return cmd.Shorten(within=int(left[1]) * 60.0)


def _volume(what: Literal["volume", "voice-volume"]) -> Callable[[str], cmd.Command]:
    def read(rest: str) -> cmd.Command:
        if not re.fullmatch(r"[0-9]{1,3}", rest) or int(rest) > 100:
            raise Refused(f"a volume is 0 to 100: {what} 60")
        return cmd.Hear(what, str(int(rest)))

    return read


def _voice(rest: str) -> cmd.Command:
    if rest not in ("on", "names", "off"):
        raise Refused("say what is to be spoken: voice on, voice names or voice off")
    return cmd.Hear("voice", rest)


def _mass(rest: str) -> cmd.Command:
    return cmd.Weigh(_number(rest, "body mass in kg", 20.0, HEAVIEST))


WORDS: Mapping[str, Word] = {
    "lighter": Word(
        "lighter", "before the start: take the lighter session offered", _alone(cmd.Take("lighter"))
    ),
    "place": Word(
        "place",
        "before the start: find the versions, from the easiest up",
        _alone(cmd.Take("place")),
    ),
    "planned": Word(
        "planned", "before the start: the session as planned after all", _alone(cmd.Take(""))
    ),
    "unwell": Word(
        "unwell", "before the start: ill, or a new pain: no session today", _alone(cmd.Unwell())
    ),
    "go": Word("go", "start now", _alone(cmd.StartNow())),
    "+": Word("+", "15 s more rest", _alone(cmd.Ask(STEP))),
    "-": Word("-", "15 s less rest", _alone(cmd.Ask(-STEP))),
    "pause": Word("pause", "stand still; an empty line goes on", _alone(cmd.Pause())),
    "skip": Word("skip", "leave out the coming set, give up the running one", _alone(cmd.Skip())),
    "drop": Word("drop", "leave out what is left of the exercise", _alone(cmd.Drop())),
    "shorten": Word(
        "shorten 10m",
        "leave out sets to be over in 10 minutes, by 07:10, or alone: in the time given",
        _shorten,
    ),
    "swap": Word("swap", "go on with its substitute", _alone(cmd.Swap())),
    "easier": Word("easier", "one position easier from here on", _alone(cmd.Step(-1))),
    "harder": Word("harder", "one position harder from here on", _alone(cmd.Step(1))),
    "load": Word(
        "load 12",
        "kg really used, last set begun and later ones",
        lambda rest: cmd.Use(load=_number(rest, "a load in kg", 0.0, HEAVIEST)),
    ),
    "setup": Word("setup height=60 cm", "set-up really used, likewise", _setup),
    "nocount": Word("nocount", "the oldest open entry is not counted", _alone(cmd.NoCount())),
    "fix": Word("fix N 13", "correct the entry numbered N", _fix),
    "late": Word("late", "the key came late: 5 s off the last set's end", _alone(cmd.Late())),
    "undo": Word("undo", "take back the last action", _alone(cmd.Undo())),
    "redo": Word("redo", "take back the last undo", _alone(cmd.Redo())),
    "note": Word("note TEXT", "a note", lambda rest: cmd.Note(_text(rest, "note TEXT"))),
    "pain": Word(
        "pain WHERE", "it hurts: ends the exercise for today; WHERE now or later", cmd.Hurt
    ),
    "rpe": Word(
        "rpe N",
        "how hard the session was, 0 to 10",
        lambda rest: cmd.Rate(_number(rest, "session RPE", 0.0, 10.0)),
    ),
    "mass": Word("mass 74.5", "body mass in kg", _mass),
    "keep": Word(
        "keep",
        "after the last set: the levels really used are kept for next time, as without a word",
        _alone(cmd.Keep()),
    ),
    "today": Word(
        "today",
        "after the last set: those levels are for today only",
        _alone(cmd.Keep(today_only=True)),
    ),
    "advice": Word("advice", "after the last set: what is advised", _alone(cmd.Answer("advice"))),
    "accept": Word(
        "accept N", "accept it: held for next time", lambda rest: cmd.Answer(f"accept {rest}")
    ),
    "refuse": Word("refuse N", "refuse it: it rests", lambda rest: cmd.Answer(f"refuse {rest}")),
    "pacer": Word(
        "pacer", "a soft tick for each part of a repetition, or none", _alone(cmd.Pace())
    ),
    "sound": Word("sound", "cues and voice off, or on again", _alone(cmd.Hear("sound"))),
    "volume": Word("volume 60", "how loud cues are, 0 to 100", _volume("volume")),
    "voice": Word("voice on", "what is spoken: on, names (only) or off", _voice),
    "voice-volume": Word(
        "voice-volume 60", "how loud the voice is, 0 to 100", _volume("voice-volume")
    ),
    "end": Word("end", "close the session now", _alone(cmd.End())),
}

HELP: tuple[str, ...] = (
    "empty line   go on: begin, end the set, start when the rest waits, resume, close",
    "12  12/2     repetitions for the oldest open entry; /2 adds the reserve",
    "12 14        left and right of a one-sided set",
    "45s          seconds of a hold",
    *(f"{word.form:<12} {word.meaning}" for word in WORDS.values()),
    "help         these words",
)


def read_line(line: str) -> cmd.Command:
    """The command that a line stands for. Raises Refused with what to write instead.

    "help" is not a command of the session; the caller answers it.
    """
    text = line.strip()
    if not text:
        return cmd.Proceed()
    name, _, rest = text.partition(" ")
    word = WORDS.get(name)
    if word is not None:
        return word.read(rest.strip())
    entry = read_entry(text)
    if isinstance(entry, Refusal):
        if text[:1].isalpha():
            raise Refused(f"{shown(text)} is no word of this session; write help for the words")
        raise Refused(entry.reason)
    return entry


def shown(text: str) -> str:
    """Somebody's text, quoted, short and without control characters."""
    clean = "".join(c if c.isprintable() else "?" for c in text)
    return repr(clean if len(clean) <= 40 else clean[:39] + "…")
