"""How much a plan may hold, so that no file takes long to be refused or to be used.

Every bound is our choice: many times what a full plan has, and small enough that reading,
compiling and warning take less than two seconds. They are looked at before anything that takes
longer than its text is long.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from runner.plan.faults import Finding
from runner.plan.models import MOST_EXERCISES, LoadRange, Plan, SetupRange
from runner.plan.references import Data, table, tables

MOST_ENTRIES = 8000  # keys and members of lists; a full plan has about a thousand
DEEPEST = 16  # parts of a key with dots; the deepest of a plan has seven
MOST_SETS = 500  # of a session, ramp sets among them
MOST_SETS_OF_ALL = 2000  # of all sessions together
MOST_TIMINGS = 20_000  # exercises times blocks: each exercise has its timing in each block
MOST_POSITIONS_OF_ALL = 20_000  # of all versions together

_TEXTS = re.compile(
    r'"""(?:[^\\"]|\\[\s\S]|"(?!""))*+(?:"""|\\?\Z)?|'  # matched in one go, whatever follows
    r"'''[\s\S]*?(?:'''|\Z)|"
    r'"(?:\\.|[^"\\\n])*+"?|'
    r"'[^'\n]*+'?|"
    r"#[^\n]*+"
)
_DEEP = re.compile(rf"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){{{DEEPEST}}}")
_LONG = re.compile(r"[0-9](?:_?+[0-9]){4299}")  # Python's limit is 4300 digits
_BRACKET = re.compile(r"[\[\]{}]")


def too_deep(text: str) -> int | None:
    """The line of a TOML key with more than `DEEPEST` parts; for those its reader is slow."""
    return _line(_DEEP, _bare(text))


def too_long_number(text: str) -> int | None:
    """The line of a number that Python refuses to read."""
    return _line(_LONG, _bare(text))


def nested_deepest(text: str) -> int:
    """The line on which lists and tables within each other become more than a plan needs."""
    bare, depth = _bare(text), 0
    for found in _BRACKET.finditer(bare):
        depth += 1 if found[0] in "[{" else -1
        if depth > DEEPEST:
            return bare.count("\n", 0, found.start()) + 1
    return 1


def _line(form: re.Pattern[str], text: str) -> int | None:
    found = form.search(text)
    return None if found is None else text.count("\n", 0, found.start()) + 1


def _bare(text: str) -> str:
    """The text without the content of its texts and comments, line for line."""
    return _TEXTS.sub(_without_content, text)


def _without_content(found: re.Match[str]) -> str:
    return ("" if found[0].startswith("#") else "x") + "\n" * found[0].count("\n")


def too_much(data: Data) -> Finding | None:
    """What there is too much of for the checks of single keys even to begin."""
    if _entries(data) > MOST_ENTRIES:
        remedy = f"write at most {MOST_ENTRIES} keys and members of lists"
        return Finding((), "there is too much in this file", remedy)
    exercises = len(table(data.get("exercise")))
    if exercises > MOST_EXERCISES:
        return Finding(("exercise",), "there are too many", f"write at most {MOST_EXERCISES}")
    blocks = sum(len(tables(session.get("block"))) for _, session in tables(data.get("session")))
    if blocks * exercises > MOST_TIMINGS:
        wrong = f"{blocks} blocks with {exercises} exercises are too many"
        remedy = f"write at most {MOST_TIMINGS // exercises} blocks, or fewer exercises"
        return Finding(("session",), wrong, remedy)
    return None


def _entries(data: Data) -> int:
    """Keys and members of lists, however deep."""
    count, waiting = 0, [iter([data])]
    while waiting:
        value = next(waiting[-1], None)
        if value is None:
            waiting.pop()
        elif isinstance(value, dict | list):
            count += len(value)
            inner: Iterable[object] = value.values() if isinstance(value, dict) else value
            waiting.append(iter(inner))  # type: ignore[arg-type]
    return count


def size_findings(plan: Plan) -> Iterator[Finding]:
    """A plan that can be read and would take too long to be used."""
    total = 0
    for place, session in enumerate(plan.session):
        sets = sum(item.sets + item.ramp for block in session.block for item in block.do)
        total += sets
        if sets > MOST_SETS:
            yield Finding(("session", place), f"it has {sets} sets", f"write at most {MOST_SETS}")
    if total > MOST_SETS_OF_ALL:
        remedy = f"write at most {MOST_SETS_OF_ALL} in all"
        yield Finding(("session",), f"the sessions have {total} sets", remedy)
    found = sum(map(_positions, _ranges(plan)))
    if found > MOST_POSITIONS_OF_ALL:
        remedy = f"write at most {MOST_POSITIONS_OF_ALL} in all: larger steps, fewer versions"
        yield Finding(("exercise",), f"the versions have {found} positions", remedy)


def _ranges(plan: Plan) -> Iterator[list[LoadRange | SetupRange]]:
    """The ranges of each version."""
    for exercise in plan.exercise.values():
        for version in exercise.version:
            values = [version.load, *version.setup.values()]
            yield [value for value in values if isinstance(value, LoadRange | SetupRange)]


def _positions(ranges: list[LoadRange | SetupRange]) -> int:
    """Positions of a version, each of which is a rung of the ladder."""
    count = 1
    for one in ranges:
        count *= len(one.loads() if isinstance(one, LoadRange) else one.texts())
    return count
