"""Golden texts: what was looked at once and found right, kept as plain text beside the tests."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path

FOLDER = Path(__file__).parent / "golden"


def all_same(texts: Mapping[str, Sequence[str]]) -> None:
    """The same of several, all of which are written before the test fails."""
    faults = []
    for name, lines in texts.items():
        try:
            same(name, lines)
        except AssertionError as fault:
            faults.append(str(fault))
    assert not faults, "\n".join(faults)


def same(name: str, lines: Sequence[str], folder: Path = FOLDER) -> None:
    """Compare with `NAME.txt` there. With WRITE_GOLDEN=1 write it, and fail all the same."""
    path = folder / f"{name}.txt"
    text = "".join(f"{line.rstrip()}\n" for line in lines)
    if os.environ.get("WRITE_GOLDEN") == "1":
        path.write_text(text, encoding="utf-8")
        raise AssertionError(f"{path.name} is written: look at it, then run without WRITE_GOLDEN")
    assert text == path.read_text(encoding="utf-8")
