"""Every remedy, followed to the letter, is accepted.

A corpus of faulty plans: the plan with every key, with each of its places left out, misspelt, or
given a value of the wrong kind or size, drawn by a seed; and the ones that people have written.
Every remedy of every row is followed at once, as a person would who reads it and has the plan
beside it: what a remedy gives is written as it stands, where it gives a form alone (`like "2:00"`)
the plan's own value is written in that form. The result must be accepted; where two values could
not be compared before, once that is put right too.
"""

from __future__ import annotations

import copy
import random
import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

import pytest
import tomlkit

from runner.plan.faults import Fault, PlanFaults
from runner.plan.file import parse_plan
from tests.plan.plans import EVERY_KEY

WHOLE: dict[str, Any] = tomllib.loads(EVERY_KEY)
WRONG: tuple[Any, ...] = (
    *("", "soon", "20 cm", "4 kg", "2,5", 0, -1, 7, 2.5, 100_000, True, float("nan")),
    *([], ["…"], ["a", "b"], [3, 1], ["2s"], {}, "horizontal push", "left", "A", "row"),
    *({"from": 1}, {"from": "1 cm", "to": "9 cm"}, {"from": 1, "to": 9}, {"by": 3}),
    *({"from": 1, "to": 9, "by": 0}, {"from": 1, "to": 9, "by": -3}, {"to": 7, "by": 2}),
)
Loc = tuple[str | int, ...]
Data = dict[str, Any]


def places(value: object, loc: Loc = ()) -> Iterator[Loc]:
    if loc:
        yield loc
    members: Any = ()
    if isinstance(value, dict):
        members = value.items()
    elif isinstance(value, list):
        members = enumerate(value)
    for key, member in members:
        yield from places(member, (*loc, key))


def at(data: Any, loc: Loc) -> Any:
    for part in loc:
        data = data[part]
    return data


def spoilt(loc: Loc, how: str, value: object = None) -> Data:
    data = copy.deepcopy(WHOLE)
    table, key = at(data, loc[:-1]), loc[-1]
    if how == "leave out":
        del table[key]
    elif how == "misspell":
        assert isinstance(key, str)
        table[f"{key[:-1]}x"] = table.pop(key)
    elif how == "add":
        table["colour"] = "red"
    else:
        table[key] = copy.deepcopy(value)
    return data


def corpus(seed: int = 12, values: int = 2) -> Iterator[Data]:
    """All that is left out, misspelt and added, and wrong values drawn for every place."""
    dice = random.Random(seed)  # noqa: S311 - to be the same every time
    table: Any = None
    for loc in places(WHOLE):
        yield spoilt(loc, "leave out")
        if isinstance(loc[-1], str):
            yield spoilt(loc, "misspell")
            if at(WHOLE, loc[:-1]) is not table:
                table = at(WHOLE, loc[:-1])
                yield spoilt(loc, "add")
        for value in dice.sample(WRONG, values):
            yield spoilt(loc, "write", value)


def where(place: str, data: Data) -> tuple[Any, Any]:
    """The table or list in which a place stands, and its key or index there."""
    above: Any = None
    here: Any = data
    key: Any = None
    for word in place.split("."):
        above, name = here, word
        if isinstance(here, list):  # named by its id
            key = next(n for n, one in enumerate(here) if one.get("id") == word)
            here = here[key]
            continue
        parts = word.split(" ")
        numbers = [] if word in here else [int(n) for n in parts[1:] if n.isdigit()]
        name = word if not numbers else parts[0]
        key, here = name, here.get(name) if isinstance(here, dict) else None
        for number in numbers:
            above, key = here, number - 1
            here = above[key] if isinstance(above, list) and key < len(above) else None
    return above, key


def toml(text: str) -> Any:
    return tomllib.loads(f"x = {text}")["x"]


def original(place: str) -> Any:
    """The plan's own value of a place; None where it has none."""
    try:
        above, key = where(place, WHOLE)
        return copy.deepcopy(above[key])
    except (KeyError, IndexError, TypeError, StopIteration, AttributeError):
        return None


@dataclass
class Row:
    """A row of the program with its place in the plan."""

    fault: Fault
    above: Any  # the table or list that the place is in
    key: Any
    own: Any  # what the plan has there when nothing is wrong with it
    block: Any = None  # of an exercise in it: the block's list of them

    @property
    def beside(self) -> list[Any]:
        """Exercises of the same block."""
        return [item.get("exercise") for item in self.block or () if isinstance(item, dict)]

    @property
    def names_a_key(self) -> bool:
        return self.fault.wrong in ("unknown key", f'"{self.key}" is not known here')

    def write(self, value: Any) -> None:
        self.above[self.key] = value

    def rename(self, name: str) -> None:
        self.above[name] = self.above.pop(self.key)

    def leave_out(self) -> None:
        if self.block is not None:
            self.block[self.block.index(self.above)] = None
        elif isinstance(self.above, list):
            self.write(None)  # taken out at the end, so that the other rows' numbers stay
        else:
            self.above.pop(self.key, None)


def meant(row: Row, found: re.Match[str]) -> None:
    (row.rename if row.names_a_key else row.write)(found[1])


def bound(row: Row, found: re.Match[str]) -> None:
    number, most = toml(found[1]), found[2] == "less"
    fits = isinstance(row.own, int | float) and (row.own <= number if most else row.own >= number)
    row.write(row.own if fits else number)


def choice(row: Row, found: re.Match[str]) -> None:
    others = row.above if isinstance(row.above, list) else row.beside
    named = found[1].split(", ")
    options = [one for one in named if one not in others] or named
    if row.names_a_key and isinstance(row.above, dict) and row.key in row.above:
        row.rename(next(one for one in options if one not in row.above))
    else:
        row.write(row.own if row.own in options else options[0])
    if found[2]:
        del row.above["versions"]


def end_of_range(row: Row, found: re.Match[str]) -> None:
    table = row.above[row.key]
    unit = re.sub(r"^[-\d.]+", "", table["from"]) if isinstance(table["from"], str) else None
    table[found[2]] = toml(found[1]) if unit is None else f"{found[1]}{unit}"


def one_unit(row: Row, _: re.Match[str]) -> None:
    table = row.above[row.key]
    for end, value in table.items():
        table[end] = re.sub(r"[^\d.]*$", " cm", str(value), count=1)
    if more := re.match(END_OF_RANGE, row.fault.remedy.partition("; ")[2]):
        end_of_range(row, more)


def new_table(row: Row, found: re.Match[str]) -> None:
    made = {name: copy.deepcopy(MADE[name]) for name in re.split(", | and ", found[2])}
    listed = found[1] == "[[" and isinstance(row.key, str)
    row.write(row.own if row.own is not None else [made] if listed else made)


def own_value(row: Row, _: re.Match[str]) -> None:
    if row.own is None and isinstance(row.above, list):
        row.leave_out()  # the plan has no such member
        return
    lost = [10, 20] if "[least" in row.fault.remedy else "1 cm"
    row.write(row.own if row.own is not None else lost)


END_OF_RANGE = r"write ([-\d.]+) (?:or .*)?for (to|by)"
RULES: dict[str, Callable[[Row, re.Match[str]], None]] = {
    r'did you mean "(.*?)"': meant,
    r".*with two brackets$": lambda row, _: row.write([row.above[row.key]]),
    r".*leave (it|this|versions|one of them) out(?!$).*|.*another block$": (
        lambda row, _: row.leave_out()
    ),
    r"write one of (.*?)(, and leave versions out)?$": choice,
    r".*leave (it|this|versions|one of them) out$": lambda row, _: row.leave_out(),
    r"write (\w+) = ([^…]*?)(?:, or .*|; .*)?$": (
        lambda row, found: row.above.update({found[1]: toml(found[2])})
    ),
    END_OF_RANGE: end_of_range,
    r"write ([-\d.]+) or (more|less)$": bound,
    r'write (?:more than 0, )?at most ("[^"]*"|\d+$)': lambda row, found: row.write(toml(found[1])),
    r'write at most \d+, like (".*")$': lambda row, found: row.write(toml(found[1])),
    r'write (\[[-\d".,s: ]+\]|\{ exercise.*\})$': lambda row, found: row.write(toml(found[1])),
    r'write ("-1") or "\+1"$|write it with its sign in quotes: (".*")$': (
        lambda row, found: row.write(toml(found[1] or found[2]))
    ),
    r"write one unit in all three": one_unit,
    r"write (?:an? )?(\[+)[^\]]+\]+ with (.*)$": new_table,
    r"write (it like|a text in quotes|a number|a whole number|true or false|a text,|more than 0|"
    r"\[least, most\]|lower-case letters|letters|seconds down|\[\w|setup = |\w+ = )": own_value,
}
# Rows that nobody can give before another is put right: two values have to be there to be compared.
LATER = re.compile(
    r"goes backwards|longer than the recovery|does not reach|unknown version|has no level"
)
MADE: Data = {
    "name": "…",
    "id": "x",
    "weeks": 2,
    "pattern": "other",
    "prime": ["neck"],
    "version": [{"id": "a", "name": "…"}],
    "do": [{"exercise": "press", "sets": 1}],
    "block": [{"do": [{"exercise": "press", "sets": 1}]}],
}


def follow(fault: Fault, data: Data) -> None:
    """Do to the plan what the remedy of one row says."""
    row = Row(fault, *where(fault.place, data), original(fault.place))
    if ".do " in fault.place and row.key == "exercise":
        row.block, _ = where(fault.place.rpartition(".")[0], data)
    for form, rule in RULES.items():
        if found := re.match(form, fault.remedy):
            rule(row, found)
            return
    raise AssertionError(f"nobody knows how to follow this: {fault}")


def faults(data: Data) -> list[Fault]:
    try:
        parse_plan(tomlkit.dumps(data), "hut.toml")
    except PlanFaults as refused:
        return list(refused.faults)
    return []


def without_gaps(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: without_gaps(member) for key, member in value.items()}
    if isinstance(value, list):
        return [without_gaps(member) for member in value if member is not None]
    return value


def followed(data: Data) -> tuple[list[Fault], Data]:
    """The rows of a plan, and the plan with all their remedies followed, lists made first."""
    found = faults(data)
    lists = [fault for fault in found if "two brackets" in fault.remedy]
    for fault in [*lists, *(fault for fault in reversed(found) if fault not in lists)]:
        follow(fault, data)
    return found, without_gaps(data)


@pytest.mark.parametrize(
    ("old", "new", "remedy"),
    [
        (
            "load = { from = 4, to = 20, by = 2 }",
            "load = { from = 4, to = 20 }",
            "write by = 2",
        ),
        ("[[exercise.bench-push-up.version]]", "[exercise.bench-push-up.version]", "two brackets"),
        ('pattern = "horizontal push"', 'pattern = "push"', 'did you mean "horizontal push"?'),
        ('pattern = "horizontal push"', 'pattern = "horizontal puhs"', 'mean "horizontal push"'),
        (
            'pattern = "horizontal push"',
            "",
            'write pattern = "…" with one of horizontal push, vert',
        ),
        ('id = "slow"', "", 'write id = "slow"'),
        ('id = "mark-2"', "", 'write id = "a"'),
        ('{ exercise = "press", sets = 2 }', '{ exercise = "press" }', "write sets = 3"),
    ],
)
def test_a_remedy_fits_where_it_is_given(old: str, new: str, remedy: str) -> None:
    """The ones that led from one fault to the next, or to another exercise."""
    assert old in EVERY_KEY
    data = tomllib.loads(EVERY_KEY.replace(old, new, 1))
    found, better = followed(data)
    assert remedy in found[0].remedy
    assert faults(better) == []


@pytest.mark.parametrize("every", [10, pytest.param(1, marks=pytest.mark.slow)])
def test_every_remedy_followed_is_accepted(every: int) -> None:
    seen = 0
    for data in islice(corpus(), 0, None, every):
        found, better = followed(copy.deepcopy(data))
        seen += bool(found)
        left, better = followed(better)
        assert all(LATER.search(fault.wrong) for fault in left), found
        assert faults(better) == [], found
    assert seen > 300 // every


def test_a_substitute_is_proposed_from_the_same_pattern() -> None:
    """`rows` for a push is no reason to propose a row."""
    data = copy.deepcopy(WHOLE)
    data["exercise"]["press"]["instead"] = ["rows"]
    with pytest.raises(PlanFaults) as fault:
        parse_plan(tomlkit.dumps(data), "hut.toml")
    (one,) = fault.value.faults
    assert one.wrong == 'unknown exercise "rows"'
    assert "bench-push-up" in one.remedy
    assert '"row"' not in one.remedy
