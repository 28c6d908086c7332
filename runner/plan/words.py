"""Words for messages: showing a stranger's text safely, and finding what was meant.

Everything that a plan holds is data. `shown` is the one function through which a text from a
plan or a file's name reaches a message; `clean` is the one through which it reaches a Plan.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Collection, Iterable
from functools import lru_cache
from heapq import nlargest
from itertools import takewhile

LONGEST_TEXT = 500  # characters of any text in a plan; our choice
_SHOWN_AT_MOST = 48  # characters of a value repeated in a message; our choice
_OPTIONS_COMPARED = 60  # so that a hostile file cannot make the search for near words long
_WORD_COMPARED = 64
_LARGEST_SHOWN = 10**15

# Unicode's explicit embeddings, overrides and isolates reorder the text that follows them.
_REORDERING = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))


class BadValueError(ValueError):
    """A value that cannot be used: `wrong` says why, `remedy` what to write instead."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(f"{wrong}; {remedy}")
        self.wrong = wrong
        self.remedy = remedy


def is_control(character: str) -> bool:
    """True for what can drive a terminal or reorder a line: C0, C1, DEL, line and bidi controls.

    Lone surrogates count too: they cannot be written as UTF-8.
    """
    return character in _REORDERING or unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}


def shown(text: str) -> str:
    """The text on one line, every control character written out as TOML writes it."""
    if text.isprintable():  # as nearly all are, and what is printable controls nothing
        return text
    return "".join(f"\\u{ord(c):04x}" if is_control(c) else c for c in text)


def quoted(value: object, at_most: int = _SHOWN_AT_MOST) -> str:
    """A value of a file as a person would find it there, shortened, safe to print."""
    if isinstance(value, str):
        text = value if len(value) <= at_most else value[: at_most - 1] + "…"
        return f'"{shown(text)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, int) and abs(value) > _LARGEST_SHOWN:
        return "a huge number"  # Python refuses to write out thousands of digits
    text = shown(str(value))
    return text if len(text) <= at_most else text[: at_most - 1] + "…"


def clean(value: object) -> str:
    """A text of one line without control characters, without spaces at its ends.

    Raises BadValueError for anything else, for an empty text, and for one over 500 characters.
    """
    if not isinstance(value, str):
        raise BadValueError(f"{quoted(value)} is not a text", 'write a text in quotes: "…"')
    control = next((c for c in value if is_control(c)), None)
    if control is not None:
        raise BadValueError(
            f"{quoted(value)} holds the control character {shown(control)}",
            "write one line of plain text",
        )
    text = value.strip()
    if not text:
        raise BadValueError("the text is empty", "write something, or leave the key out")
    if len(text) > LONGEST_TEXT:
        raise BadValueError(
            f"a text of {len(text)} characters", f"write at most {LONGEST_TEXT} characters"
        )
    return text


def near(word: str, options: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The option most like a word, or None; capitals, spaces and underscores do not count."""
    word = word[:_WORD_COMPARED]
    return _near(word, _likely(word, tuple(options)), cutoff)


def _likely(word: str, options: tuple[str, ...]) -> tuple[str, ...]:
    """Of many options those that begin as the word does; people slip less at the beginning."""
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
    """What to write in place of a word that none of the options is."""
    found = near(word, options) if isinstance(word, str) else None
    if found is not None:
        return f'did you mean "{shown(found)}"?'
    return f"write {what} {listed(options)}" if options else "there is none yet"


def listed(options: Iterable[str], at_most: int = 25) -> str:
    """Options in a row, safe to print; a long list ends in how many more there are."""
    names = [shown(option) for option in options]
    rest = len(names) - at_most
    return ", ".join(names[:at_most]) + (f" and {rest} more" if rest > 0 else "")


def _fold(word: str) -> str:
    return word.casefold().replace("_", "-").replace(" ", "-")
