"""On which line of a plan's text each key and each member of a list stands.

The TOML reader keeps no positions. So the text is walked once more, after that reader has found
it sound: here nothing is judged, only strings, brackets and line ends are told apart.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from contextlib import suppress

from runner.plan.faults import Loc

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
