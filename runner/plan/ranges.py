"""Ranges of a progression: from, to, by, to the positions they stand for, in exact decimals."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

from runner.plan.words import BadValueError, quoted

MOST_POSITIONS = 200  # of one range; our choice
_LARGEST = Decimal(1_000_000)  # our choice; keeps every step of the arithmetic exact
_SMALLEST = Decimal("0.000001")  # our choice, for the same reason
_MEASURE = re.compile(r"(-?[0-9]{1,7}(?:\.[0-9]{1,6})?)(\s*)(.*)")


class Measure(NamedTuple):
    """A number and its unit as written, the space between them included."""

    number: Decimal
    unit: str


def parse_measure(value: object) -> Measure:
    """A measured value, "120 cm" or 3; BadValueError for what does not begin with a number."""
    found = None
    if isinstance(value, str):
        found = _MEASURE.fullmatch(value.strip())
    # Bounds first: Python refuses to write out thousands of digits.
    elif isinstance(value, int | float) and not isinstance(value, bool) and -1e6 <= value <= 1e6:
        found = _MEASURE.fullmatch(repr(value))
    if found is None:
        raise BadValueError(f"{quoted(value)} is no measure", 'write a number and a unit: "60 cm"')
    if re.match(r",[0-9]", found[3]):
        meant = str(value).replace(",", ".", 1)
        raise BadValueError(f"{quoted(value)} has a decimal comma", f'did you mean "{meant}"?')
    return Measure(Decimal(found[1]), f"{found[2]}{found[3]}" if found[3] else "")


def number_text(number: Decimal) -> str:
    """A number without an exponent and without zeros at its end."""
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def positions(start: Decimal, stop: Decimal, step: Decimal) -> tuple[Decimal, ...]:
    """Every position from `start` to `stop`, both included, up or down.

    The step is a size; a minus before it is allowed where the range goes down. Raises
    BadValueError where the step leads away from the end or past it, or stands still.
    """
    if max(abs(start), abs(stop), abs(step)) > _LARGEST:
        raise BadValueError("a number over a million", "write smaller numbers")
    if abs(step) < _SMALLEST:
        raise BadValueError(
            "by is 0", f"write {number_text(abs(stop - start) or Decimal(1))} for by"
        )
    size, way = abs(step), stop - start
    if step < 0 and stop > start:
        fits = size if not way % size else way
        raise BadValueError("by leads away from to", f"write {number_text(fits)} for by")
    count, rest = divmod(abs(way), size)
    if rest:
        reached = start + (size * count).copy_sign(way)
        beyond = reached + size.copy_sign(way)
        raise BadValueError(
            f"by {number_text(size)} from {number_text(start)} does not reach {number_text(stop)}",
            f"write {number_text(reached)} or {number_text(beyond)} for to, or another step",
        )
    if count >= MOST_POSITIONS:
        raise BadValueError(
            f"the range has {int(count) + 1} positions",
            f"write {number_text(abs(way) / 100)} for by; at most {MOST_POSITIONS} positions",
        )
    return tuple(start + (size * index).copy_sign(way) for index in range(int(count) + 1))


def measures(start: object, stop: object, step: object) -> tuple[str, ...]:
    """The positions of a measured range as texts with their unit; the units must agree."""
    first, last, by = parse_measure(start), parse_measure(stop), parse_measure(step)
    units = {measure.unit.strip() for measure in (first, last, by)}
    if len(units) > 1:
        named = ", ".join(quoted(unit) for unit in sorted(units))
        remedy = "write one unit in all three"
        if "" in units and len(units) == 2:  # then the numbers are of one measure
            try:
                positions(first.number, last.number, by.number)
            except BadValueError as bad:
                remedy = f"{remedy}; {bad.remedy}"
        raise BadValueError(f"different units in one range: {named}", remedy)
    found = positions(first.number, last.number, by.number)
    return tuple(f"{number_text(number)}{first.unit}" for number in found)


def decimal(number: float) -> Decimal:
    """A number of a plan as it was written: 0.1 is exactly one tenth."""
    return Decimal(repr(number))
