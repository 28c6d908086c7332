"""The fixed values that rows of sets are made of, and how they are written as text.

Apart from the classes that use them, and light: whoever only reads rows back loads no more.
"""

from __future__ import annotations

from typing import Literal

Side = Literal["both", "left", "right"]
Measure = Literal["reps", "hold"]
SetKind = Literal["work", "ramp"]
Setup = tuple[tuple[str, str], ...]  # measured set-up: (name, "value unit"), in the plan's order
RowStatus = Literal["running", "done", "broken", "skipped"]
Who = Literal["clock", "person"]
YesNo = Literal["yes", "no"]


def setup_text(setup: Setup) -> str:
    """A measured set-up as the record writes it: `name=value unit`, `;` between."""
    return ";".join(f"{name}={value}" for name, value in setup)


def parse_setup(text: str) -> Setup:
    """The measured set-up that `setup_text` wrote."""
    pairs = (part.partition("=") for part in text.split(";") if part)
    return tuple((name, value) for name, _, value in pairs)


def load_text(load: float | None) -> str:
    """Kilograms as short as they go, empty for none: 12, 7.5."""
    return "" if load is None else f"{load:.10g}"
