"""Lines of text: what each part of one is for, and how one goes on below its own text."""

from __future__ import annotations

import re
import textwrap
from typing import Literal

Role = Literal[
    "ink",  # what is read first
    "quiet",  # the rest
    "mark",  # phase, keys, good news
    "caution",
    "refusal",
    "suggestion",  # grey, in brackets: no value yet
    "typed",  # a value that is not saved yet
]
Span = tuple[str, Role]
Line = tuple[Span, ...]

_LABEL = re.compile(r"\s*\S.*?\s{2,}(?=\S)")  # a number or a term, and the space behind it


def hanging(line: str, width: int) -> list[str]:
    """A line as the lines of at most `width` signs that it takes; the later ones are indented.

    They begin where the text behind a label does (`12 14      left and right`), else where the
    line itself does. A label that takes half of the width is text like any other.
    """
    label = _LABEL.match(line)
    indent = len(line) - len(line.lstrip()) if label is None else label.end()
    if indent > width // 2:
        indent = 0
    return textwrap.wrap(
        line, max(width, 1), subsequent_indent=" " * indent, break_on_hyphens=False
    ) or [""]
