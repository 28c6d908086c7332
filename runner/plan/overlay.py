"""One person's overlay: a file that says how a shared plan differs for them.

It lies at `people/NAME.toml` in the data directory. `of` names the plan. In every other plan only
`avoid` holds, for a movement that hurts does so in any plan. `until` ends nothing by itself.
`runner.plan.person` says what each key does to a plan.
"""

from __future__ import annotations

import re
import shlex
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from msgspec import Struct, field

from runner.errors import MatsideError
from runner.output import overlay_path
from runner.plan.checks import Data
from runner.plan.faults import (
    BadValueError,
    KeyFault,
    Lines,
    Loc,
    PlanFaults,
    did_you_mean,
    one_line,
    quoted,
    rows,
)
from runner.plan.file import read_text, toml_of
from runner.plan.library import find_plan, known_plans
from runner.plan.values import DAYS, parse_duration

MOST_SETS: Final = 100  # sets of an exercise in a block, as in a plan


class Overlay(Struct, frozen=True):
    """How a shared plan differs for one person. `minutes` is in seconds."""

    path: Path
    text: str
    of: str = ""  # path or stem of the plan; "" for any
    minutes: float | None = None
    days: tuple[str, ...] = ()
    reserve: int | None = None
    avoid_stress: tuple[str, ...] = ()
    avoid_exercise: tuple[str, ...] = ()
    until: date | None = None
    swap: Mapping[str, str] = field(default_factory=dict)
    sets: Mapping[str, str] = field(default_factory=dict)  # "+1", "-1" or "4"
    limit: Mapping[str, str] = field(default_factory=dict)  # version
    start: Mapping[str, str] = field(default_factory=dict)  # level: version, or version:value

    def is_of(self, path: Path) -> bool:
        """Whether all of it applies to the plan in a file, not only `avoid`."""
        return not self.of or Path(self.of).name.removesuffix(".toml") == path.stem

    @property
    def avoids(self) -> str:
        """What is avoided, in a few words; empty where nothing is."""
        return ", ".join((*self.avoid_stress, *self.avoid_exercise))

    def over(self, today: date) -> bool:
        """Whether `until` passed before that day while something is still avoided."""
        return bool(self.avoids) and self.until is not None and self.until < today

    @property
    def question(self) -> str:
        """The question once `until` has passed."""
        ended = "" if self.until is None else f"{self.until.day} {self.until:%b %Y}"
        name = shlex.quote(self.path.stem)
        return (
            f"{self.path.name}: {self.avoids} was to be avoided until {ended} and still is. "
            f"If that is over, remove it; else write a later date: matside for {name} --edit"
        )

    def faults(self, key_faults: Iterable[KeyFault]) -> PlanFaults:
        """The rows for these findings."""
        known = tomllib.loads(self.text)
        return PlanFaults(rows(str(self.path), key_faults, known, {}, Lines(self.text).of))


# Reading.


def parse_overlay(content: str, path: Path, data: Data) -> Overlay:
    """The overlay in a file's text. Raises PlanFaults with a row for each fault."""
    found = _Read(data)
    avoid = found.table(data, (), "avoid")
    values: dict[str, Any] = {
        "of": found.value(data, (), "of", one_line, ""),
        "minutes": found.value(data, (), "minutes", _minutes, None),
        "days": found.members(data, (), "days", _day),
        "reserve": found.value(data, (), "reserve", _reserve, None),
        "avoid_stress": found.members(avoid, ("avoid",), "stress", one_line),
        "avoid_exercise": found.members(avoid, ("avoid",), "exercise", one_line),
        "until": found.value(avoid, ("avoid",), "until", _date, None),
        "swap": found.by_exercise(data, "swap", one_line),
        "sets": found.by_exercise(data, "sets", _sets),
        "limit": found.by_exercise(data, "limit", _version),
        "start": found.by_exercise(data, "start", one_line),
    }
    found.unknown(data, (), KEYS)
    found.unknown(avoid, ("avoid",), AVOID)
    overlay = Overlay(path, content, **values)
    if found.key_faults:
        raise overlay.faults(found.key_faults)
    return overlay


KEYS: Final = ("of", "minutes", "days", "reserve", "avoid", "swap", "sets", "limit", "start")
AVOID: Final = ("stress", "exercise", "until")


class _Read:
    """Takes values out of the content, and collects the faults in them."""

    def __init__(self, data: Data) -> None:
        self.data = data
        self.key_faults: list[KeyFault] = []

    def value(
        self, of: Data, loc: Loc, key: str, check: Callable[[object], Any], default: object
    ) -> Any:
        if key not in of:
            return default
        return self._checked((*loc, key), of[key], check)

    def members(
        self, of: Data, loc: Loc, key: str, check: Callable[[object], str]
    ) -> tuple[str, ...]:
        value = of.get(key, [])
        if not isinstance(value, list):
            remedy = (
                f"write {key} = [{quoted(value)}]" if isinstance(value, str) else "write a list"
            )
            self.key_faults.append(KeyFault((*loc, key), f"{quoted(value)} is not a list", remedy))
            return ()
        found = (self._checked((*loc, key, i), one, check) for i, one in enumerate(value))
        return tuple(dict.fromkeys(one for one in found if one is not None))

    def table(self, of: Data, loc: Loc, key: str) -> Data:
        value = of.get(key, {})
        if not isinstance(value, dict):
            wrong = f"{quoted(value)} is not a table"
            self.key_faults.append(
                KeyFault((*loc, key), wrong, f"write [{key}] on a line of its own")
            )
            return {}
        return value

    def by_exercise(self, of: Data, key: str, check: Callable[[object], str]) -> dict[str, str]:
        values = self.table(of, (), key)
        found = {name: self._checked((key, name), one, check) for name, one in values.items()}
        return {name: value for name, value in found.items() if value is not None}

    def unknown(self, of: Data, loc: Loc, keys: Sequence[str]) -> None:
        for key in of:
            if key not in keys:
                remedy = did_you_mean(key, keys)
                if not loc and key in AVOID:
                    remedy = "move it under [avoid]"
                elif loc and key in KEYS:
                    remedy = "move it above the first table in brackets"
                self.key_faults.append(KeyFault((*loc, key), "unknown key", remedy))

    def _checked(self, loc: Loc, value: object, check: Callable[[object], Any]) -> Any:
        try:
            return check(value)
        except BadValueError as bad:
            self.key_faults.append(KeyFault(loc, bad.wrong, bad.remedy))
            return None


def _minutes(value: object) -> float:
    seconds = parse_duration(value)
    if seconds < 60:
        raise BadValueError(f"{quoted(value)} is under a minute", 'write it like "30:00"')
    return seconds


def _day(value: object) -> str:
    if value not in DAYS:
        raise BadValueError(f"{quoted(value)} is not a day of the week", did_you_mean(value, DAYS))
    return str(value)


def _reserve(value: object) -> int:
    if type(value) is not int or not 0 <= value <= 10:
        raise BadValueError(f"{quoted(value)} is not a reserve", "write 0 to 10, like reserve = 3")
    return value


def _date(value: object) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    remedy = "write a date without quotes: until = 2027-01-15"
    raise BadValueError(f"{quoted(value)} is not a date", remedy)


def _sets(value: object) -> str:
    if type(value) is int:
        value = str(value)
    found = isinstance(value, str) and re.fullmatch(r"([+-]?)([0-9]{1,3})", value.strip())
    if not found or not 1 <= int(found[2]) <= MOST_SETS:
        remedy = f'write 1 to {MOST_SETS}, like 4, or a step, "+1" or "-1"'
        raise BadValueError(f"{quoted(value)} is not a number of sets", remedy)
    return found[0]


def _version(value: object) -> str:
    version = one_line(value)
    if ":" in version:
        remedy = f'write the version alone: "{version.partition(":")[0]}"'
        raise BadValueError(f"{quoted(version)} names a load or set-up", remedy)
    return version


def read_overlay(data_dir: Path, trainee: str) -> Overlay | None:
    """A person's overlay; None without one. Raises like `read_plan`."""
    path = overlay_path(data_dir, trainee)
    if not path.exists():
        return None
    text = read_text(path)
    return parse_overlay(text, path, toml_of(text, str(path)))


def plan_meant(overlay: Overlay, data_dir: Path) -> Path:
    """The file of the overlay's plan, by its path or else its stem. Raises PlanFaults.

    An overlay from another laptop may name a path that does not exist here.
    """
    try:
        path = Path(overlay.of)
        return path if path.is_file() else find_plan(path.name.removesuffix(".toml"), data_dir)
    except (MatsideError, OSError, ValueError):
        wrong = f"unknown plan {quoted(overlay.of)}"
        remedy = did_you_mean(overlay.of, list(known_plans(data_dir)))
        raise overlay.faults([KeyFault(("of",), wrong, remedy)]) from None
