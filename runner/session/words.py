"""A line that a person writes, one command: what line mode reads, and the screen's dialogs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal

from runner.law.workout import Exercise, Measure, Side
from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.verb import Count, Enter
from runner.text import shown as printable

# What a person types after a set, read into numbers or refused with a reason.
#
# Forms: `12`, `12/2` (two in reserve), `12 14` and `12/2 14/1` (left and right), `45s`,
# `45.5s/2`, `40s 35s` for holds. Left and right may also be written as they are printed: `12|14`.
# Full screen and line mode read them with this one function, so that the same text means the same
# in both.

# Our choice: more than anybody does in a set, so that what is beyond is a slip of the finger.
MOST_REPS = 999
MOST_RESERVE = 20
MOST_SECONDS = 3600

SIDES = "|"  # between left and right where counts are printed

_LONGEST = 80  # characters; two numbers with everything and room for spaces
_SHOWN = 16  # how much of a refused text is quoted
_NUMBER = re.compile(r"0*([0-9]+)(?:\.([0-9]+))?(s?)")
_DIGITS = re.compile(r"0*([0-9]+)")


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a text was not understood, and what to write instead, in one sentence."""

    reason: str


class _Fault(ValueError):
    """Carries the sentence of a `Refusal` out of the small readers."""


def read_entry(text: str, bare: Measure = "reps") -> Enter | Refusal:
    """Read an entry; a number without `s` is taken as `bare` ("hold" beside a hold's entry).

    Only the ASCII digits count, so that what is typed is what is read in every locale.
    """
    try:
        return _read(text, bare)
    except _Fault as fault:
        return Refusal(str(fault))


def amount_text(amount: float, measure: Measure) -> str:
    """A number as a person would type it: `12`, `45s`, `45.5s`."""
    digits = f"{amount:.1f}".removesuffix(".0")
    return digits if measure == "reps" else f"{digits}s"


def _read(text: str, bare: Measure) -> Enter:
    if len(text) > _LONGEST:
        raise _Fault(f"{_quoted(text)} is too long for a count: write {_example(bare)}.")
    words = [word for word in text.replace("\t", " ").replace(SIDES, " ").split(" ") if word]
    if not words:
        raise _Fault(f"Nothing is typed: write {_example(bare)}.")
    if len(words) > 2:
        raise _Fault("That is more than two numbers: write left and right, such as 12 14.")
    if SIDES in text and len(words) < 2:
        raise _Fault(f"Beside the {SIDES} stand left and right: write 12{SIDES}14.")
    read = [_word(word, bare) for word in words]
    measures = {measure for measure, _ in read}
    if len(measures) > 1:
        raise _Fault("One number is seconds and one is not: write 12 14, or 40s 35s.")
    return Enter(measures.pop(), tuple(count for _, count in read))


def _word(word: str, bare: Measure) -> tuple[Measure, Count]:
    """One number with its measure, and the reserve behind the slash."""
    amount, slash, reserve = word.partition("/")
    measure, value = _amount(amount, bare, word)
    return measure, Count(value, _reserve(reserve) if slash else None)


def _amount(text: str, bare: Measure, word: str) -> tuple[Measure, float]:
    if re.fullmatch(r"-[0-9.]+s?", text):
        raise _Fault(f"{_quoted(word)} is less than nothing: write 0 or more.")
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise _Fault(f"{_quoted(word)} is no number: write digits 0 to 9, such as {_number(bare)}.")
    whole, decimals, mark = match.groups()
    measure: Measure = "hold" if mark else bare
    if measure == "reps":
        if decimals is not None:
            raise _Fault(f"{_quoted(word)} is no whole number: write whole repetitions, 12.")
        return measure, _at_most(whole, MOST_REPS, "Repetitions")
    if decimals is not None and len(decimals) > 1:
        raise _Fault(f"{_quoted(word)} is too fine: write one decimal at most, 45.5s.")
    tenths = int(decimals or 0)
    seconds = _at_most(whole, MOST_SECONDS, "Seconds") + tenths / 10
    if seconds > MOST_SECONDS:
        raise _Fault(f"Seconds go from 0 to {MOST_SECONDS}.")
    return measure, seconds


def _reserve(text: str) -> int:
    match = _DIGITS.fullmatch(text)
    if match is None:
        raise _Fault("Behind the slash stand the repetitions left in reserve: write 12/2.")
    return _at_most(match[1], MOST_RESERVE, "Repetitions in reserve")


def _at_most(digits: str, most: int, what: str) -> int:
    """The number, however many digits somebody leans on."""
    if len(digits) > len(str(most)) or int(digits) > most:
        raise _Fault(f"{what} go from 0 to {most}.")
    return int(digits)


def _example(bare: Measure) -> str:
    return f"the {'repetitions' if bare == 'reps' else 'seconds'}, such as {_number(bare)}"


def _number(bare: Measure) -> str:
    return "12" if bare == "reps" else "45"


def _quoted(text: str) -> str:
    """The text as it may stand on a terminal: short, and without anything that is not a sign."""
    text = printable(text)
    return f"`{text[:_SHOWN]}…`" if len(text) > _SHOWN else f"`{text}`"


STEP = 15.0  # seconds that + and - add and take, and keys on the screen; our choice
HEAVIEST = 500.0  # kg; our choice: more is a slip of the finger, for loads and body mass


@dataclass(frozen=True, slots=True)
class Word:
    """A word of line mode: how it is written, what it does, how it is read."""

    form: str
    meaning: str
    read: Callable[[str], cmd.Command]


def _bounded(text: str, what: str, least: float, most: float) -> float:
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
    return cmd.Weigh(_bounded(rest, "body mass in kg", 20.0, HEAVIEST))


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
        lambda rest: cmd.Use(load=_bounded(rest, "a load in kg", 0.0, HEAVIEST)),
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
        lambda rest: cmd.Rate(_bounded(rest, "session RPE", 0.0, 10.0)),
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

HELP_ROWS: tuple[tuple[str, str], ...] = (
    ("empty line", "go on: begin, end the set, start when the rest waits, resume, close"),
    ("12  12/2", "repetitions for the oldest open entry; /2 adds the reserve"),
    ("12 14", "left and right of a one-sided set"),
    ("45s", "seconds of a hold"),
    *((word.form, word.meaning) for word in WORDS.values()),
    ("help", "these words"),
)
HELP: tuple[str, ...] = tuple(f"{form:<12} {meaning}" for form, meaning in HELP_ROWS)


NEAR = 0.7  # as difflib measures how alike two words are; our choice


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
        near = get_close_matches(name, WORDS, 1, NEAR)
        if near:
            raise Refused(f'unknown word {shown(name)}. Did you mean "{near[0]}"?')
        if text[:1].isalpha():
            raise Refused(f"{shown(text)} is no word of this session; write help for the words")
        raise Refused(entry.reason)
    return entry


def shown(text: str) -> str:
    """Somebody's text, quoted, short and without control characters."""
    clean = printable(text, "?")
    return repr(clean if len(clean) <= 40 else clean[:39] + "…")


# A line from a paper diary: the counts of one exercise, set after set.
#
# A set is written as it is in a session: `12`, `12/2`, `45s`, left and right of a one-sided set
# `12 14`. Between one-sided sets stands a comma (`12 14, 11 13`), or a space where left and right
# are written as they are printed (`12|14 11|13`); where both sides were the same one number will
# do (`12, 11`). Between two-sided sets a space is enough. `-` is a set left out, `nocount` one
# that was done and not counted.

_AROUND = re.compile(rf"\s*{re.escape(SIDES)}\s*")
LEFT_OUT, NOT_COUNTED = "-", "nocount"
PaperSet = tuple[tuple[Side, Count | None], ...]  # the sides done; () for a set left out


@dataclass(frozen=True, slots=True)
class Counts:
    """The sets of a line, in their order."""

    sets: tuple[PaperSet, ...]


def read_counts(text: str, exercise: Exercise, planned: int) -> Counts | Refusal:
    """The sets that a line stands for; at most `planned` of them.

    Fewer are fine: those behind were not done.
    """
    one_sided = exercise.sides != "together"
    parts = _parts(text, one_sided=one_sided)
    if isinstance(parts, Refusal):
        return parts
    sets = []
    for part in parts:
        one = _set(part, exercise, one_sided=one_sided)
        if isinstance(one, Refusal):
            return one
        sets.append(one)
    if len(sets) > planned:
        return Refusal(
            f"That is {len(sets)} sets, and the plan has {planned} of {exercise.name}: "
            "leave the others to a note."
        )
    return Counts(tuple(sets))


def _parts(text: str, *, one_sided: bool) -> list[str] | Refusal:
    """The line cut into sets."""
    if "," in text:
        parts = [part.strip() for part in text.split(",")]
        if not all(parts):
            return Refusal("Nothing stands between two commas: write - for a set left out.")
        return parts
    words = _AROUND.sub(SIDES, text).split()
    if not one_sided or not words:
        return words
    if all(SIDES in word or word in (LEFT_OUT, NOT_COUNTED) for word in words):
        return words
    if len(words) > 2 or SIDES in text:
        return Refusal(
            "One-sided: write left and right of each set, with a comma between sets: 12 14, 11 13."
        )
    return [text.strip()]


def _set(part: str, exercise: Exercise, *, one_sided: bool) -> PaperSet | Refusal:
    sides: tuple[Side, ...] = ("left", "right") if one_sided else ("both",)
    if part == LEFT_OUT:
        return ()
    if part == NOT_COUNTED:
        return tuple((side, None) for side in sides)
    entry = read_entry(part, bare=exercise.measure)
    if isinstance(entry, Refusal):
        return entry
    if entry.measure != exercise.measure:
        wanted = "seconds: 45" if exercise.measure == "hold" else "repetitions: 12"
        return Refusal(f"{exercise.name} is counted in {wanted}.")
    counts = entry.counts
    if len(counts) > len(sides):
        return Refusal(f"{exercise.name} has no sides: one number a set.")
    if len(counts) < len(sides):
        counts = counts * 2
    return tuple(zip(sides, counts, strict=True))
