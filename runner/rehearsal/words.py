"""Small words of the rehearsal: texts of a plan made safe, cut to their room; times of day."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from rich.cells import cell_len, set_cell_size

from runner.core.clock_text import clock
from runner.record.text import shown

DAY = 24 * 3600
_KEPT = "\N{NO-BREAK SPACE}"


def clipped(text: str, cells: int) -> str:
    """A text of a plan, made safe, in at most so many columns of a terminal; cut with `…`."""
    safe = shown(text)
    if cell_len(safe) <= cells:
        return safe
    return set_cell_size(safe, max(cells - 1, 0)).rstrip() + "…"


def padded(text: str, cells: int, *, right: bool = False) -> str:
    """A text filled up with spaces to so many columns; `right` puts it at their end."""
    space = " " * max(cells - cell_len(text), 0)
    return space + text if right else text + space


def instant(seconds: float, at: int | None = None) -> str:
    """A session second as it is shown: 4:05, or the time of day, 18:34:05.

    `at` is the second of the day at which the session begins; the day after begins at 0:00
    again.
    """
    if at is None:
        return clock(seconds)
    minutes, second = divmod((at + round(seconds)) % DAY, 60)
    hour, minute = divmod(minutes, 60)
    return f"{hour:02}:{minute:02}:{second:02}"


def percent(part: float, whole: float) -> str:
    """A share as whole per cent."""
    return f"{100 * part / whole:.0f} %" if whole > 0 else "0 %"


def count(number: int, what: str) -> str:
    """So many of something: 1 set, 2 sets."""
    return f"{number} {what}" + ("" if number == 1 else "s")


def wrapped(text: str, width: int, indent: str = "  ") -> list[str]:
    """A text over as many lines as it needs; the later ones are indented."""
    return textwrap.wrap(
        text, max(width, 20), subsequent_indent=indent, break_on_hyphens=False
    ) or [""]


def enumerated(head: str, items: Sequence[str], width: int, *, between: str = ", ") -> list[str]:
    """A head and what it lists; no line breaks inside an item."""
    whole = between.join(item.replace(" ", _KEPT) for item in items)
    lines = wrapped(f"{head} {whole}".strip(), width)
    return [line.replace(_KEPT, " ") for line in lines]


def columns(rows: Sequence[Sequence[str]], right: frozenset[int]) -> list[str]:
    """Rows as lines, each column as wide as it needs; those numbered in `right` end flush."""
    widths = [max(cell_len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return [
        "  ".join(
            padded(cell, width, right=number in right)
            for number, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
