"""Faults of a plan file as rows: file, place, what is wrong, what to write instead."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from runner.errors import Exit, MatsideError
from runner.plan.words import shown

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
