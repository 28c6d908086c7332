"""What a plan takes from shelves: files with stations and exercises and no sessions.

`include` names them: relative to the file that names them, then in the data directory's plans, then
among the shipped ones. What a file itself defines wins over what it includes, by id. Of the
exercises of shelves a plan takes those in its sessions, and their substitutes.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from msgspec import Struct, field

from runner.plan.checks import Data, table, tables, text, texts
from runner.plan.explain import Validated, validate
from runner.plan.faults import Fault, KeyFault, Lines, Loc, did_you_mean, quoted, rows

MOST_SHELVES = 20  # shelves of a plan, with those that shelves include; our choice
SHARED = ("station", "exercise")  # the tables that a plan takes from a shelf

_NOT_ASKED = {
    ("title",),
    ("session",),
    ("exercise",),
}  # keys that a plan needs and a shelf does not


class Shelf(Struct):
    """A shelf as read: its name in messages, its text, and its content with corrected keys."""

    name: str
    path: Path
    text: str
    checked: Validated
    data: Data  # including what it includes

    @property
    def key_faults(self) -> list[KeyFault]:
        """What is wrong with its single keys."""
        return [
            one
            for one in self.checked.key_faults
            if not (one.loc in _NOT_ASKED and one.loc[0] not in self.checked.data)
        ]

    def faults(self, key_faults: Iterable[KeyFault]) -> list[Fault]:
        """Its faults as rows. A list made of a lone value has places that the file has not."""
        known = [one for one in key_faults if self.checked.items(one.loc)]
        if not known:
            return []  # only now: finding lines reads the whole text
        return rows(self.name, known, self.checked.data, self.checked.renamed, Lines(self.text).of)


class Content(Struct):
    """What a file and its shelves hold together, and which shelf each thing comes from."""

    data: Data
    origin: dict[Loc, Shelf] = field(default_factory=dict)  # by place: ("exercise", "row")
    key_faults: list[KeyFault] = field(default_factory=list)  # faults of the including file
    shelves: list[Shelf] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)  # faults of the shelves, as rows

    def shelf_of(self, loc: Loc) -> Shelf | None:
        """The shelf from which a place comes, None for the including file itself."""
        return self.origin.get(loc[:2])


class _ShelfReader:
    """Reads each shelf once, even if several files include it."""

    def __init__(
        self,
        read: Callable[[Path], tuple[str, Data]],
        folders: Sequence[Path],
        most_faults: int,
    ) -> None:
        self._read = read
        self._folders = folders
        self._most_faults = most_faults
        self._contents: dict[Path, tuple[Shelf, Content]] = {}

    def include(self, data: Data, beside: Path | None, above: tuple[Path, ...]) -> Content:
        """The content of a file with what it includes; `above` are the files that include it."""
        found = Content(data)
        for number, name in texts(data.get("include")):
            loc = ("include", number)
            path = self._find(name, beside)
            if path is None:
                found.key_faults.append(self._unknown(loc, name, beside))
            elif path in above:
                wrong = f"{quoted(name)} includes itself, directly or through others"
                found.key_faults.append(KeyFault(loc, wrong, "leave it out"))
            elif path not in self._contents and len(self._contents) >= MOST_SHELVES:
                wrong = "too many shelves"
                found.key_faults.append(KeyFault(loc, wrong, f"include at most {MOST_SHELVES}"))
            else:
                self._merge(found, loc, name, path, above)
        own = {kind: table(data.get(kind)) for kind in SHARED}
        merged = dict(data)
        for kind in SHARED:
            theirs = {loc[1]: shelf.data[kind][loc[1]] for loc, shelf in found.origin.items()
                      if loc[0] == kind}  # fmt: skip
            if theirs and (kind not in data or isinstance(data[kind], dict)):
                merged[kind] = {**theirs, **own[kind]}
        found.data = merged
        found.origin = {
            loc: shelf for loc, shelf in found.origin.items() if loc[1] not in own[str(loc[0])]
        }
        return found

    def _merge(
        self, found: Content, loc: Loc, name: str, path: Path, above: tuple[Path, ...]
    ) -> None:
        shelf, content = self._open(path, above)
        if isinstance(shelf.checked.data.get("session"), list):
            remedy = "include a file without [[session]]"
            found.key_faults.append(KeyFault(loc, f"{quoted(name)} is a plan, not a shelf", remedy))
            return
        for one in (*content.shelves, shelf):
            if one not in found.shelves:
                found.shelves.append(one)
        own = {kind: table(found.data.get(kind)) for kind in SHARED}
        for kind in SHARED:
            for id_ in table(shelf.data.get(kind)):
                thing: Loc = (kind, id_)
                origin = content.origin.get(thing, shelf)
                other = found.origin.setdefault(thing, origin)
                if other is not origin and id_ not in own[kind]:
                    wrong = f"{quoted(other.name)} and {quoted(origin.name)} both have the {kind} "
                    remedy = f"rename one of them, or define [{kind}.{id_}] in this file"
                    found.key_faults.append(KeyFault(loc, wrong + quoted(id_), remedy))

    def _open(self, path: Path, above: tuple[Path, ...]) -> tuple[Shelf, Content]:
        known = self._contents.get(path)
        if known is None:
            file_text, data = self._read(path)
            checked = validate(data, self._most_faults)
            shelf = Shelf(str(path), path, file_text, checked, checked.data)
            self._contents[path] = known = (shelf, Content(checked.data))
            content = self.include(checked.data, path.parent, (*above, path))
            shelf.data = content.data
            content.faults = shelf.faults([*shelf.key_faults, *content.key_faults])
            self._contents[path] = known = (shelf, content)
        return known

    def faults(self) -> Iterator[Fault]:
        """The rows of every shelf that was read."""
        for _, content in self._contents.values():
            yield from content.faults

    def _find(self, name: str, beside: Path | None) -> Path | None:
        for folder in self._where(beside):
            try:
                path = (folder / name).resolve()
                if name and path.is_file():  # not a pipe or a device, which may never end
                    return path
            except (
                OSError,
                ValueError,
            ):  # a name that is too long, holds a NUL, or may not be read
                continue
        return None

    def _where(self, beside: Path | None) -> list[Path]:
        return [*([] if beside is None else [beside]), *self._folders]

    def _unknown(self, loc: Loc, name: str, beside: Path | None) -> KeyFault:
        near: list[str] = []
        for folder in self._where(beside):
            try:
                near += sorted(one.name for one in folder.glob("*.toml"))
            except OSError:
                continue
        remedy = did_you_mean(name, list(dict.fromkeys(near)), "a path from this file, or one of")
        return KeyFault(loc, f"unknown shelf {quoted(name)}", remedy)


def with_shelves(
    data: Data,
    path: Path | None,
    folders: Sequence[Path],
    read: Callable[[Path], tuple[str, Data]],
    most_faults: int,
) -> Content:
    """A file's content with what it includes.

    `path` is the file's own, None for a text without a file. `read` gives a shelf's text and
    content, and raises for what is no TOML. Faults of shelves become rows with their own lines.
    """
    reader = _ShelfReader(read, folders, most_faults)
    own = None if path is None else path.resolve()
    content = reader.include(
        data, None if own is None else own.parent, () if own is None else (own,)
    )
    content.faults += reader.faults()
    return content


def only_used(content: Content) -> Data:
    """The content without what of the shelves no session can use."""
    exercises, stations = table(content.data.get("exercise")), table(content.data.get("station"))
    own = [name for name in exercises if ("exercise", name) not in content.origin]
    waiting, used = deque([*own, *_done(content.data)]), dict.fromkeys(own)
    while waiting:
        name = waiting.popleft()
        used[name] = None
        instead = texts(table(exercises.get(name)).get("instead"))
        waiting += (other for _, other in instead if other not in used)
    kept = {name: value for name, value in exercises.items() if name in used}
    wanted = {where for one in kept.values() for where in _stations(one)}
    wanted |= {name for name in stations if ("station", name) not in content.origin}
    data = {key: value for key, value in content.data.items() if key != "include"}
    data["exercise"] = kept
    if stations:
        data["station"] = {name: one for name, one in stations.items() if name in wanted}
    return data


def _done(data: Data) -> Iterator[str]:
    for _, session in tables(data.get("session")):
        for _, block in tables(session.get("block")):
            for _, item in tables(block.get("do")):
                yield text(item.get("exercise"))


def _stations(exercise: Data) -> set[str]:
    versions = [version for _, version in tables(exercise.get("version"))]
    return {text(one.get("station")) for one in (exercise, *versions)}


# A plan is stored whole, as one text, so replay, past weeks and old levels need no shelf. What no
# session can use is left out: it would only make lists longer.


def as_text(data: Data) -> str:
    """A plan's content as TOML; reading it gives the content again."""
    lines = _lines({key: value for key, value in data.items() if not isinstance(value, dict)})
    for name, value in data.items():
        if name in SHARED:
            for id_, of in value.items():
                lines += [f"[{name}.{_key(id_)}]", *_lines(of)]
        elif isinstance(value, dict):
            lines += [f"[{_key(name)}]", *_lines(value)]
    return "\n".join(lines) + "\n"


def _lines(data: Data) -> list[str]:
    return [f"{_key(key)} = {toml_value(value)}" for key, value in data.items()]


def _key(key: str) -> str:
    return json.dumps(key, ensure_ascii=False)


def toml_value(value: object) -> str:
    """A value of a plan as TOML, in one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {toml_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(member) for member in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return {True: "true", False: "false"}[value] if isinstance(value, bool) else repr(value)
