"""Faults of a plan file as rows: file, place, what is wrong, what to write instead."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

from runner.errors import Exit, MatsideError
from runner.plan.values import shown

_LONGEST_KEY = 40  # characters of a key repeated in a row, as an id may have
Loc = tuple[str | int, ...]
"""Where in the file: keys of tables and indexes of lists, from the top."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault, in the words of the file; all texts are safe to print."""

    file: str
    place: str  # "exercise.row.sides", or empty for the file as a whole
    wrong: str
    remedy: str  # what to write or do instead
    line: int | None = None  # from 1; None where no line can be named


@dataclass(frozen=True, slots=True)
class Finding:
    """A fault as the checks find it, before its place is put into words."""

    loc: Loc
    wrong: str
    remedy: str


class PlanFaults(MatsideError):
    """A plan that cannot be used; `faults` has every row, `lines` the same as text."""

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
    """The single row of a file that cannot be read as a plan at all."""
    return PlanFaults([Fault(shown(file), "", wrong, remedy, line)])


def rows(
    file: str,
    findings: Iterable[Finding],
    data: Mapping[str, object],
    renamed: Mapping[Loc, str],
    line_of: Callable[[Loc], int],
) -> list[Fault]:
    """Findings as rows in the order of the file, each once.

    `data` is the file's content with misspelt keys set right, `renamed` the spelling that stands
    in the file for each of them; `line_of` knows the places as they stand there.
    """
    unique = list(dict.fromkeys(findings))
    order = _Order()
    unique.sort(key=lambda finding: order.position(finding.loc, data))
    name = shown(file)
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

    Members of a list are named by their id where they have one, else counted from 1.
    """
    words: list[str] = []
    here: object = data
    for depth, part in enumerate(loc):
        if isinstance(part, str):
            words.append(shown(renamed.get(loc[: depth + 1], part)[:_LONGEST_KEY]) or '""')
            here = here.get(part) if isinstance(here, Mapping) else None
            continue
        here = here[part] if isinstance(here, list) and part < len(here) else None
        name = here.get("id") if isinstance(here, Mapping) else None
        if isinstance(name, str) and name:
            words.append(shown(name[:_LONGEST_KEY]))
        elif words:
            words[-1] += f" {part + 1}"
    return ".".join(words)


class _Order:
    """Where places stand in the file. Each table's keys are numbered once: there may be many."""

    def __init__(self) -> None:
        self._numbers: dict[int, dict[str, int]] = {}

    def position(self, loc: Loc, data: Mapping[str, object]) -> tuple[int, ...]:
        """Keys and members by their number; what is missing comes after what is not."""
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


# On which line of a plan's text each key and each member of a list stands.
#
# The TOML reader keeps no positions. So the text is walked once more, after that reader has found
# it sound: here nothing is judged, only strings, brackets and line ends are told apart.

_TOKENS = re.compile(
    r'"""(?:[^\\"]|\\[\s\S]|"(?!""))*+"{3,5}|'
    r"'''[\s\S]*?'{3,5}|"
    r'"(?:[^"\\\n]|\\.)*+"|'
    r"'[^'\n]*+'|"
    r"#[^\n]*+|"
    r"\n|[\[\]{}=,.]|"
    r"[^\s\[\]{}=,.#\"']++"
)
_END = "\n"  # of a line; the text ends in empty tokens


class Lines:
    """Lines by place, from 1; places as in the findings of the checks."""

    def __init__(self, text: str) -> None:
        self._of: dict[Loc, int] = {(): 1}
        self._last: dict[Loc, int] = {}  # index of the newest table of each list of tables
        self._tokens = self._cut(text)
        self._sign, self._line = _END, 1
        # Nested as no plan is: the rest of the places have the line of what they stand in.
        with suppress(RecursionError):
            self._walk()

    def of(self, loc: Loc) -> int:
        """The line of a place, or of the nearest table or list around it that the text has."""
        while loc not in self._of:
            loc = loc[:-1]
        return self._of[loc]

    @staticmethod
    def _cut(text: str) -> Iterator[tuple[str, int]]:
        """Every token with the line on which it begins; comments left out."""
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

    def _stands(self, loc: Loc) -> Loc:
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
        """`[a.b]` or `[[a.b]]`: the place of the table that begins."""
        self._next()
        listed = self._sign == "["
        if listed:
            self._next()
        loc: Loc = ()
        while self._sign not in ("]", _END):
            if self._sign == "." and loc in self._last:
                loc = (*loc, self._last[loc])
            elif self._sign != ".":
                loc = self._stands((*loc, _name(self._sign)))
            self._next()
        if listed:
            self._last[loc] = self._last.get(loc, -1) + 1
            loc = self._stands((*loc, self._last[loc]))
            self._next()
        return loc

    def _keys(self, loc: Loc) -> Loc:
        """`a.b =`: the place of the value to come, whose first token is next."""
        while self._sign not in ("=", ""):
            if self._sign != ".":
                loc = self._stands((*loc, _name(self._sign)))
            self._next()
        self._next()
        return loc

    def _value(self, loc: Loc) -> None:
        """A value; its last token is passed, and the one that follows it is at hand."""
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
                self._value(self._stands((*loc, index)))
                index += 1
            else:
                self._value(self._keys(loc))
        self._next()


def _name(token: str) -> str:
    """A key as it is read: bare, or in quotes."""
    if token.startswith('"'):
        return str(tomllib.loads(f"k = {token}")["k"])
    return token[1:-1] if token.startswith("'") else token
