"""From a plan file, or its stored text, to a checked Plan.

First come bounds on how much a plan may hold, so that no file takes long to refuse or to use. Each
bound is our choice: many times what a full plan has, and small enough that reading, compiling and
warning take less than two seconds.
"""

from __future__ import annotations

import errno
import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice
from pathlib import Path

from runner.errors import Exit, MatsideError
from runner.plan.checks import Data, reference_faults, settings_faults, table, tables
from runner.plan.compile import level_faults
from runner.plan.explain import validate
from runner.plan.faults import (
    Fault,
    KeyFault,
    Lines,
    PlanFaults,
    file_fault,
    quoted,
    rows,
)
from runner.plan.models import MOST_BLOCKS, MOST_EXERCISES, LoadRange, Plan, SetupRange
from runner.plan.shelf import Content, as_text, only_used, with_shelves
from runner.resources import plans_dir
from runner.text import escaped

# Bounds on what a plan may hold; checked before any work that grows faster than its text.

MOST_ENTRIES = 8000  # keys and members of lists; a full plan has about a thousand
DEEPEST = 16  # parts of a key with dots; the deepest of a plan has seven
MOST_SETS = 500  # sets of a session, warm-up sets included
MOST_SETS_OF_ALL = 2000  # sets of all sessions together
MOST_TIMINGS = 20_000  # exercises times blocks: each exercise has a timing in each block
MOST_POSITIONS_OF_ALL = 20_000  # levels of all versions together

TOP_TABLES = ("timing", "effort", "week", "station", "exercise", "session", "phase")

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
    """The line of a TOML key with more than `DEEPEST` parts; the reader is slow on such keys."""
    if all(line.count(".") < DEEPEST for line in text.split("\n")):
        return None  # as nearly always, at a tenth of the cost
    return _line(_DEEP, _bare(text))


def too_long_number(text: str) -> int | None:
    """The line of a number that Python refuses to read."""
    return _line(_LONG, _bare(text))


def nested_deepest(text: str) -> int:
    """The line where lists and tables become nested deeper than any plan needs."""
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
    """The text without its strings and comments, line for line."""
    return _TEXTS.sub(_without_content, text)


def _without_content(found: re.Match[str]) -> str:
    return ("" if found[0].startswith("#") else "x") + "\n" * found[0].count("\n")


def too_much(data: Data) -> KeyFault | None:
    """Too many entries for the checks of single keys even to begin."""
    if _entries(data) > MOST_ENTRIES:
        remedy = f"write at most {MOST_ENTRIES} keys and members of lists"
        return KeyFault((), "this file holds too many keys", remedy)
    exercises = len(table(data.get("exercise")))
    if exercises > MOST_EXERCISES:
        return KeyFault(("exercise",), "too many entries", f"write at most {MOST_EXERCISES}")
    blocks = sum(len(tables(session.get("block"))) for _, session in tables(data.get("session")))
    if blocks * exercises > MOST_TIMINGS:
        wrong = f"{blocks} blocks with {exercises} exercises are too many"
        remedy = f"write at most {MOST_TIMINGS // exercises} blocks, or fewer exercises"
        return KeyFault(("session",), wrong, remedy)
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


def size_faults(plan: Plan) -> Iterator[KeyFault]:
    """What makes a readable plan too large to use."""
    total = 0
    for number, session in enumerate(plan.session):
        sets = sum(item.sets + item.ramp for block in session.block for item in block.do)
        total += sets
        if sets > MOST_SETS:
            yield KeyFault(
                ("session", number), f"{sets} sets in one session", f"write at most {MOST_SETS}"
            )
    if total > MOST_SETS_OF_ALL:
        remedy = f"write at most {MOST_SETS_OF_ALL} in all"
        yield KeyFault(("session",), f"the sessions have {total} sets", remedy)
    found = sum(map(_positions, _ranges(plan)))
    if found > MOST_POSITIONS_OF_ALL:
        remedy = (
            f"write at most {MOST_POSITIONS_OF_ALL} in all: write larger steps or fewer versions"
        )
        yield KeyFault(("exercise",), f"the versions have {found} levels", remedy)


def _ranges(plan: Plan) -> Iterator[list[LoadRange | SetupRange]]:
    """The ranges of each version."""
    for exercise in plan.exercise.values():
        for version in exercise.version:
            values = [version.load, *version.setup.values()]
            yield [value for value in values if isinstance(value, LoadRange | SetupRange)]


def _positions(ranges: list[LoadRange | SetupRange]) -> int:
    """Positions of a version; each is a level of the progression."""
    count = 1
    for one in ranges:
        count *= len(one.loads() if isinstance(one, LoadRange) else one.texts())
    return count


LARGEST = 256 * 1024  # bytes; our choice: a full plan has about twenty thousand
MOST_FAULTS = 100  # faults listed at once; our choice: more than anybody corrects at once
_LONGEST_PATH = 4096  # characters of a path in a remedy, which must not be cut off

_BEGINNING = "write a title, exercises and a session"
_AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)$")
_AT_END = re.compile(r"\s*\(at end of document\)$")
_TWICE = re.compile(r"Cannot (?:declare|mutate immutable namespace) \((.*)\)")
_COMPLAINTS = (  # how the reader's complaint begins, the same in our words, what to write instead
    ("Cannot overwrite a value", "a key appears twice", "keep one of the two"),
    ("Duplicate inline table key", "a key appears twice", "keep one of the two"),
    ("Invalid value at the end", "the file ends within a value", "write the rest of it"),
    ("Unclosed array", "a list without an end", "close the list with ]"),
    ("Unterminated string", "a text without an end", 'close the text with "'),
    (r"Illegal character '\n'", "a text without an end", 'close the text with "'),
    ("Illegal character", "a control character", "leave it out"),
    (
        "Unescaped",
        "a backslash in a text",
        "write the backslash twice, or put the text in single quotes",
    ),
    ("Found invalid character", "a control character", "leave it out"),
)
_SPACED = re.compile(
    r"\s*\[\[?((?:[^\[\]\"'#]*[^\s\[\]\"'.#] +)[^\s\[\]\"'.#][^\[\]\"'#]*)\]\]?\s*(?:#.*)?"
)
_CURLY = re.compile(r"[=\[{,]\s*[\u201C\u201D\u201E\u2018\u2019\u00AB\u00BB]")
_DECIMAL_COMMA = re.compile(r"=\s*[0-9]+,[0-9]")
_UNQUOTED_TIME = re.compile(r"[=\[,]\s*[0-9]+(?::[0-9]{2}|[hms])")

_SLIPS = (  # a pattern of a line, what is wrong, what to write instead
    (_CURLY, "curly quotes", 'write straight ones: name = "…"'),
    (_DECIMAL_COMMA, "a decimal comma", "write a point: 2.5"),
    (_UNQUOTED_TIME, "a time without quotes", 'write durations in quotes: "2:00"'),
)


def read_plan(path: Path, data_dir: Path | None = None) -> Plan:
    """The plan in a file, with what it takes from shelves; see `read_whole`."""
    return read_whole(path, data_dir)[0]


def read_whole(path: Path, data_dir: Path | None = None) -> tuple[Plan, str]:
    """The plan in a file, and its text as a session stores it: with what it takes from shelves.

    Shelves lie beside the file, in `data_dir`/plans, or among the shipped plans. Raises PlanFaults,
    with a row for each fault, for a file that is no plan; MatsideError with exit code 66 where
    there is no such file, 77 where it may not be read.
    """
    plan, text, _ = read_content(path, data_dir)
    return plan, text


def read_content(path: Path, data_dir: Path | None = None) -> tuple[Plan, str, Content]:
    """As `read_whole`, with the whole content, that of shelves included."""
    text = read_text(path)
    plan, content = _parsed(text, str(path), path, _folders(data_dir))
    return plan, as_text(only_used(content)) if "include" in content.data else text, content


def parse_content(text: str, path: Path, data_dir: Path | None = None) -> tuple[Plan, Content]:
    """The plan in a text that would stand at `path`, and its whole content; see `parse_plan`."""
    return _parsed(text, str(path), path, _folders(data_dir))


def read_shelf(path: Path, data_dir: Path | None = None) -> Plan | None:
    """A shelf as a plan that does each exercise once; None where the file is a plan.

    A shelf has no [[session]]. Raises like `read_plan`.
    """
    text = read_text(path)
    data = toml_of(text, str(path))
    if not _is_shelf(data):
        return None
    exercises = list(table(data.get("exercise")))
    blocks = [{"do": [{"exercise": name, "sets": 1}]} for name in exercises[:MOST_BLOCKS]]
    whole = {"title": path.stem, **data, "session": [{"id": "shelf", "block": blocks}]}
    return _checked(whole, text, str(path), path, _folders(data_dir))[0]


def _is_shelf(data: Data) -> bool:
    return not {"title", "session"} & data.keys() and bool(table(data.get("exercise")))


def _folders(data_dir: Path | None) -> list[Path]:
    return [plans_dir()] if data_dir is None else [data_dir / "plans", plans_dir()]


def read_text(path: Path) -> str:
    """The text of a plan file, as a session stores it; raises like `read_plan`.

    Refuses a directory, an empty file, one over 256 KiB, and one that is not UTF-8.
    """
    name = str(path)
    try:
        if path.is_dir():
            raise file_fault(name, "this is a directory", "name one of its plan files")
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        raise _unreadable(name, error) from None
    if len(content) > LARGEST:
        raise file_fault(name, "the file is larger than 256 KiB", "name a smaller plan file")
    return _decode(content, name)


def _unreadable(name: str, error: OSError | ValueError) -> MatsideError:
    name = escaped(name)
    if isinstance(error, PermissionError):
        line = f"{name}: not permitted to read this file; change its permissions"
        return MatsideError(line, code=Exit.NO_PERMISSION)
    if isinstance(error, OSError) and error.errno not in {errno.ENOENT, errno.ENOTDIR}:
        reason = escaped(error.strerror or "it cannot be read")
        return MatsideError(f"{name}: {reason}; try another file", code=Exit.NO_INPUT)
    return MatsideError(f"{name}: this file does not exist; check the path", code=Exit.NO_INPUT)


def _decode(content: bytes, name: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        wrong = f"the byte 0x{content[error.start]:02X} is not UTF-8"
        raise file_fault(name, wrong, "save the file as UTF-8", line) from None


def parse_plan(
    text: str, source: str, path: Path | None = None, data_dir: Path | None = None
) -> Plan:
    """The plan in a text; `source` names it in the rows of the PlanFaults that this raises.

    Looks for its shelves beside `path`, in `data_dir`/plans and among the shipped plans.
    """
    return _parsed(text, source, path, _folders(data_dir))[0]


def plan_of_content(data: Data, source: str) -> Plan:
    """The plan of a whole content; see `parse_plan`. Its faults have no lines."""
    return _checked(data, "", source, None, ())[0]


def _parsed(
    text: str, source: str, path: Path | None, folders: Sequence[Path]
) -> tuple[Plan, Content]:
    data = toml_of(text, source)
    if not data:
        raise file_fault(source, "the file is empty", _BEGINNING, 1)
    try:
        return _checked(data, text, source, path, folders)
    except PlanFaults as faults:
        if {fault.place for fault in faults.faults} != {"title", "session"} or not _is_shelf(data):
            raise
        remedy = f"name it in a plan: include = [{quoted(source, _LONGEST_PATH)}]"
        raise file_fault(source, "this is a shelf: it has no [[session]]", remedy, 1) from None


def _checked(
    data: Data, text: str, source: str, path: Path | None, folders: Sequence[Path]
) -> tuple[Plan, Content]:
    """The plan of a content; each fault has its file and line."""
    if (much := too_much(data)) is not None:
        raise PlanFaults(rows(source, [much], data, {}, Lines(text).of))
    content = with_shelves(data, path, folders, _shelf_content, MOST_FAULTS)
    if content.origin and (much := too_much(content.data)) is not None:
        raise PlanFaults(rows(source, [much], data, {}, Lines(text).of))
    result = validate(content.data, MOST_FAULTS)
    # A wrong key of a shelf has its row in the shelf.
    result.key_faults = [f for f in result.key_faults if content.shelf_of(f.loc) is None]
    result.key_faults = [*result.key_faults, *content.key_faults]
    across: Iterable[KeyFault] = chain(
        reference_faults(content.data), settings_faults(content.data)
    )
    if content.key_faults:  # its exercises are unknown, and need no rows of their own
        result.key_faults = [f for f in result.key_faults if f.loc != ("exercise",)]
        across = ()
    more = list(islice(across, max(MOST_FAULTS + 1 - len(result.key_faults), 0)))
    # No second row for the form of a name that is unknown anyway.
    known = {key_fault.loc for key_fault in more}
    alone = (f for f in result.key_faults if f.loc not in known or "cannot be an id" not in f.wrong)
    found = [f for f in (*alone, *more) if result.items(f.loc)]
    own = [f for f in found if content.shelf_of(f.loc) is None]
    if result.plan is not None and not found and not content.faults:
        own += size_faults(result.plan)
        own += () if own else level_faults(result.plan)
    of_shelves = list(content.faults)
    for shelf in content.shelves:
        of_shelves += shelf.faults(f for f in found if content.shelf_of(f.loc) is shelf)
    if result.plan is None or own or of_shelves:
        mine = rows(source, own, content.data, result.renamed, Lines(text).of)
        raise PlanFaults(_first([*mine, *dict.fromkeys(of_shelves)]))
    return _pruned(result.plan, content), content


def _shelf_content(path: Path) -> tuple[str, Data]:
    text = read_text(path)
    data = toml_of(text, str(path))
    if (much := too_much(data)) is not None:
        raise PlanFaults(rows(str(path), [much], data, {}, Lines(text).of))
    return text, data


def _pruned(plan: Plan, content: Content) -> Plan:
    """The plan with only what it uses of its shelves."""
    if not content.origin:
        return plan
    used = only_used(content)
    exercises = {name: plan.exercise[name] for name in table(used.get("exercise"))}
    stations = {name: plan.station[name] for name in table(used.get("station"))}
    return plan.model_copy(update={"exercise": exercises, "station": stations, "include": ()})


def _first(faults: list[Fault]) -> list[Fault]:
    """At most that many rows, and one that says there are more."""
    if len(faults) <= MOST_FAULTS:
        return faults
    remedy = "correct these first"
    return [*faults[:MOST_FAULTS], Fault(faults[0].file, "", "the file has more faults", remedy)]


def toml_of(text: str, source: str) -> Data:
    """The content of a text; `source` names it in the row of the PlanFaults that this raises."""
    if line := too_deep(text):
        remedy = "write tables in brackets: [effort]"
        raise file_fault(source, "a key has too many parts", remedy, line)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line, message = _where(str(error), text)
        wrong, remedy = _in_words(message, text.split("\n")[line - 1])
        raise file_fault(source, escaped(wrong), remedy, line) from None
    except RecursionError:
        line = nested_deepest(text)
        raise file_fault(source, "the tables are nested too deeply", _BEGINNING, line) from None
    except ValueError:  # the parser's int() refuses numbers of thousands of digits
        line = too_long_number(text) or 1
        raise file_fault(source, "a number has too many digits", "write it shorter", line) from None


def _where(message: str, text: str) -> tuple[int, str]:
    """Line and message of the TOML reader's complaint."""
    found = _AT_LINE.search(message)
    if found:
        line = min(int(found[1]), text.count("\n") + 1)
        return line, message[: found.start()]
    return len(text.rstrip().split("\n")), _AT_END.sub(" at the end of the file", message)


def _header(name: str) -> str:
    """A header as it was probably meant: `exercise push up` is [exercise.push-up]."""
    first, _, rest = name.strip().partition(" ")
    if "." not in first and first in TOP_TABLES:
        name = f"{first}.{rest.strip()}"
    words = (part.split() for part in name.split("."))
    parts = ["version" if part[:1] == ["version"] else "-".join(part) for part in words]
    if parts[0] in {"session", "phase"} or parts[-1] == "version":
        known = [part for part in parts if part in {"session", "block", "phase"}]
        written = ".".join(parts if parts[-1] == "version" else known)
        return f"[[{written}]]"
    return f"[{'.'.join(parts)}]"


def _in_words(message: str, line: str) -> tuple[str, str]:
    """The TOML reader's complaint in our words, and what to write instead."""
    for form, wrong, remedy in _SLIPS:
        if form.search(line):
            return wrong, remedy
    if spaced := _SPACED.fullmatch(line):
        return "a space in a header", f"write {_header(spaced[1])}: a name has no spaces"
    twice = _TWICE.match(message)
    if twice:
        name = ".".join(re.findall(r"'([^']*)'", twice[1]))
        return f"[{name}] appears twice", "keep one of the two"
    for beginning, wrong, remedy in _COMPLAINTS:
        if message.startswith(beginning):
            return wrong, remedy
    wrong = f"not TOML: {message[:1].lower()}{message[1:]}"
    return wrong, 'write key = value, texts in quotes: name = "…"'
