"""Faults of a plan file as rows: file, place, what is wrong, what to write instead.

Also the helpers of such messages: showing a stranger's text safely, and guessing a mistyped word.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from functools import lru_cache
from heapq import nlargest
from itertools import takewhile

from msgspec import Struct

from runner.errors import Exit, MatsideError
from runner.text import escaped, is_control

# Texts in messages: showing a stranger's text safely, and guessing what was meant.
#
# Everything that a plan holds is data. A text from a plan or a file's name reaches a message only
# through `text.escaped`, and a Plan only through `one_line`.

LONGEST_TEXT = 500  # characters of any text in a plan; our choice
_SHOWN_AT_MOST = 48  # characters shown of a value; our choice
_OPTIONS_COMPARED = 60  # so that a hostile file cannot make the search for similar words slow
_WORD_COMPARED = 64
_LARGEST_SHOWN = 10**15


class BadValueError(ValueError):
    """A value that cannot be used: `wrong` says why, `remedy` what to write instead."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(f"{wrong}; {remedy}")
        self.wrong = wrong
        self.remedy = remedy


def quoted(value: object, at_most: int = _SHOWN_AT_MOST) -> str:
    """A value as a person finds it in the file, shortened and safe to print."""
    if isinstance(value, str):
        text = value if len(value) <= at_most else value[: at_most - 1] + "…"
        return f'"{escaped(text)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, int) and abs(value) > _LARGEST_SHOWN:
        return "a huge number"  # Python refuses to print thousands of digits
    text = escaped(str(value))
    return text if len(text) <= at_most else text[: at_most - 1] + "…"


def one_line(value: object) -> str:
    """A text of one line without control characters, with no spaces at its ends.

    Raises BadValueError for anything else, for an empty text, and for one over 500 characters.
    """
    if not isinstance(value, str):
        raise BadValueError(f"{quoted(value)} is not a text", 'write a text in quotes: "…"')
    control = None if value.isprintable() else next((c for c in value if is_control(c)), None)
    if control is not None:
        raise BadValueError(
            f"{quoted(value)} holds the control character {escaped(control)}",
            "write one line of plain text",
        )
    text = value.strip()
    if not text:
        raise BadValueError("the text is empty", "write a text, or leave the key out")
    if len(text) > LONGEST_TEXT:
        raise BadValueError(
            f"a text of {len(text)} characters", f"write at most {LONGEST_TEXT} characters"
        )
    return text


def near(word: str, options: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The option most like a word, or None; ignores capitals, spaces and underscores."""
    word = word[:_WORD_COMPARED]
    return _near(word, _likely(word, tuple(options)), cutoff)


def _likely(word: str, options: tuple[str, ...]) -> tuple[str, ...]:
    """Of many options those that begin like the word; people rarely mistype the beginning."""
    if len(options) <= _OPTIONS_COMPARED:
        return options
    folded = _fold(word)

    def alike(option: str) -> int:
        pairs = zip(folded, _fold(option), strict=False)
        return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))

    return tuple(nlargest(_OPTIONS_COMPARED, options, key=alike))


@lru_cache(maxsize=512)
def _near(word: str, options: tuple[str, ...], cutoff: float) -> str | None:
    folded = {_fold(option): option for option in reversed(options)}
    found = difflib.get_close_matches(_fold(word), folded, n=1, cutoff=cutoff)
    return folded[found[0]] if found else None


def near_all(word: str, options: Iterable[str]) -> list[str]:
    """Up to three options like a word, the nearest first."""
    word = _fold(word[:_WORD_COMPARED])
    folded = {_fold(option): option for option in _likely(word, tuple(options))}
    found = difflib.get_close_matches(word, folded, n=3, cutoff=0.5)
    return [folded[match] for match in found]


def did_you_mean(word: object, options: Collection[str], what: str = "one of") -> str:
    """What to write in place of a word that is not among the options.

    "back" may mean "upper-back" and "low-back"; "standing-band-press" may mean "press".
    """
    if isinstance(word, str):
        found = _with_the_words(word, options) or [near(word, options) or ""]
        if found[0]:
            return f"did you mean {' or '.join(quoted(one) for one in found)}?"
    return f"write {what} {listed(options)}" if options else "the plan has none yet"


def _with_the_words(word: str, options: Collection[str]) -> list[str]:
    """Up to three options that contain the word, or that the word contains."""
    words = set(_fold(word[:_WORD_COMPARED]).split("-")) - {""}
    within = [one for one in options if words and words < set(_fold(one).split("-"))]
    around = [one for one in options if set(_fold(one).split("-")) < words]
    return (within if len(within) <= 3 else []) or around[:1]


def listed(options: Iterable[str], at_most: int = 25) -> str:
    """Options in a row, safe to print; a long list ends with how many more there are."""
    names = [escaped(option) for option in options]
    rest = len(names) - at_most
    return ", ".join(names[:at_most]) + (f" and {rest} more" if rest > 0 else "")


def _fold(word: str) -> str:
    return word.casefold().replace("_", "-").replace(" ", "-")


# Faults as rows.

_LONGEST_KEY = 40  # characters shown of a key, as many as an id may have
Loc = tuple[str | int, ...]
"""A place in the file: keys of tables and indexes of lists, from the top."""


class Fault(Struct, frozen=True):
    """One fault, in the words of the file; all texts are safe to print."""

    file: str
    place: str  # "exercise.row.sides", or empty for the file as a whole
    wrong: str
    remedy: str  # what to write or do instead
    line: int | None = None  # from 1; None where no line can be named


class KeyFault(Struct, frozen=True):
    """A fault as a check finds it, before its place is put into words."""

    loc: Loc
    wrong: str
    remedy: str


class PlanFaults(MatsideError):
    """A plan that cannot be used; `faults` has every row, `lines` the same rows as text."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__(*render_faults(faults), code=Exit.DATA)
        self.faults = tuple(faults)


def render_faults(faults: Iterable[Fault]) -> list[str]:
    """One line for each fault: `file:line: place: what is wrong; what to write instead`."""
    return [
        ": ".join(part for part in (_where(fault), fault.place, fault.wrong) if part)
        + f"; {fault.remedy}"
        for fault in faults
    ]


def _where(fault: Fault) -> str:
    return fault.file if fault.line is None else f"{fault.file}:{fault.line}"


def file_fault(file: str, wrong: str, remedy: str, line: int | None = None) -> PlanFaults:
    """The single row for a file that cannot be read as a plan at all."""
    return PlanFaults([Fault(escaped(file), "", wrong, remedy, line)])


def rows(
    file: str,
    key_faults: Iterable[KeyFault],
    data: Mapping[str, object],
    renamed: Mapping[Loc, str],
    line_of: Callable[[Loc], int],
) -> list[Fault]:
    """The faults of keys as rows in the order of the file, each once.

    `data` is the content with misspelt keys corrected; `renamed` has their spelling in the file.
    `line_of` finds the line of a place as the file spells it.
    """
    unique = list(dict.fromkeys(key_faults))
    order = _Order()
    unique.sort(key=lambda fault: order.position(fault.loc, data))
    name = escaped(file)
    return [
        Fault(
            name,
            place(f.loc, data, renamed),
            f.wrong,
            f.remedy,
            line_of(tuple(renamed.get(f.loc[: n + 1], part) for n, part in enumerate(f.loc))),
        )
        for f in unique
    ]


def place(loc: Loc, data: Mapping[str, object], renamed: Mapping[Loc, str]) -> str:
    """A place in the words of the file: `exercise.row.version.light.load`.

    A member of a list is named by its id, or counted from 1 where it has none.
    """
    words: list[str] = []
    here: object = data
    for depth, part in enumerate(loc):
        if isinstance(part, str):
            words.append(escaped(renamed.get(loc[: depth + 1], part)[:_LONGEST_KEY]) or '""')
            here = here.get(part) if isinstance(here, Mapping) else None
            continue
        here = here[part] if isinstance(here, list) and part < len(here) else None
        name = here.get("id") if isinstance(here, Mapping) else None
        if isinstance(name, str) and name:
            words.append(escaped(name[:_LONGEST_KEY]))
        elif words:
            words[-1] += f" {part + 1}"
    return ".".join(words)


class _Order:
    """The order of places in the file. Each table's keys are numbered once."""

    def __init__(self) -> None:
        self._numbers: dict[int, dict[str, int]] = {}

    def position(self, loc: Loc, data: Mapping[str, object]) -> tuple[int, ...]:
        """Keys and members by their number; missing ones come last."""
        position: list[int] = []
        here: object = data
        for part in loc:
            if isinstance(here, Mapping) and isinstance(part, str):
                position.append(self._number(here, part))
                here = here.get(part)
            elif isinstance(here, list) and isinstance(part, int):
                position.append(part)
                here = here[part] if part < len(here) else None
        return tuple(position)

    def _number(self, table: Mapping[str, object], key: str) -> int:
        numbers = self._numbers.get(id(table))
        if numbers is None:
            numbers = {name: number for number, name in enumerate(table)}
            self._numbers[id(table)] = numbers
        return numbers.get(key, len(numbers))


# The line of each key and each list member in a plan's text.
#
# The TOML reader keeps no positions. So the text is read a second time, after that reader has found
# it sound; this pass judges nothing, and only tells strings, brackets and line ends apart.

_TOKENS = re.compile(
    r'"""(?:[^\\"]|\\[\s\S]|"(?!""))*+"{3,5}|'
    r"'''[\s\S]*?'{3,5}|"
    r'"(?:[^"\\\n]|\\.)*+"|'
    r"'[^'\n]*+'|"
    r"#[^\n]*+|"
    r"\n|[\[\]{}=,.]|"
    r"[^\s\[\]{}=,.#\"']++"
)
_END = "\n"  # tokens of a line; the text ends in empty tokens


class Lines:
    """Lines by place, from 1; places are those of a `KeyFault`."""

    def __init__(self, text: str) -> None:
        self._of: dict[Loc, int] = {(): 1}
        self._last: dict[Loc, int] = {}  # index of the newest table of each list of tables
        self._tokens = self._cut(text)
        self._sign, self._line = _END, 1
        # Nested deeper than any plan: the places inside have the line of the table around them.
        with suppress(RecursionError):
            self._walk()

    def of(self, loc: Loc) -> int:
        """The line of a place, or of the nearest table or list around it."""
        while loc not in self._of:
            loc = loc[:-1]
        return self._of[loc]

    @staticmethod
    def _cut(text: str) -> Iterator[tuple[str, int]]:
        """Every token with the line on which it begins, without comments."""
        line, at = 1, 0
        for found in _TOKENS.finditer(text):
            line += text.count("\n", at, found.start())
            at = found.start()
            if not found[0].startswith("#"):
                yield found[0], line
        yield _END, line
        while True:
            yield "", line

    def _next(self) -> None:
        self._sign, self._line = next(self._tokens)

    def _items(self, loc: Loc) -> Loc:
        self._of.setdefault(loc, self._line)
        return loc

    def _walk(self) -> None:
        table: Loc = ()
        self._next()
        while self._sign:
            if self._sign == "[":
                table = self._header()
            elif self._sign != _END:
                self._value(self._keys(table))
            self._next()

    def _header(self) -> Loc:
        """`[a.b]` or `[[a.b]]`: the place of the table that begins here."""
        self._next()
        listed = self._sign == "["
        if listed:
            self._next()
        loc: Loc = ()
        while self._sign not in ("]", _END):
            if self._sign == "." and loc in self._last:
                loc = (*loc, self._last[loc])
            elif self._sign != ".":
                loc = self._items((*loc, _name(self._sign)))
            self._next()
        if listed:
            self._last[loc] = self._last.get(loc, -1) + 1
            loc = self._items((*loc, self._last[loc]))
            self._next()
        return loc

    def _keys(self, loc: Loc) -> Loc:
        """`a.b =`: the place of the value, whose first token comes next."""
        while self._sign not in ("=", ""):
            if self._sign != ".":
                loc = self._items((*loc, _name(self._sign)))
            self._next()
        self._next()
        return loc

    def _value(self, loc: Loc) -> None:
        """Read a value; the token after it comes next."""
        if self._sign not in ("[", "{"):
            while self._sign not in (",", "]", "}", _END):
                self._next()
            return
        listed, index = self._sign == "[", 0
        self._next()
        while self._sign not in ("]", "}", ""):
            if self._sign in (",", _END):
                self._next()
            elif listed:
                self._value(self._items((*loc, index)))
                index += 1
            else:
                self._value(self._keys(loc))
        self._next()


def _name(token: str) -> str:
    """A key as TOML reads it: bare, or in quotes."""
    if token.startswith('"'):
        return str(tomllib.loads(f"k = {token}")["k"])
    return token[1:-1] if token.startswith("'") else token
