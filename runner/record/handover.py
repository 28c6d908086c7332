"""One person's record in one file: how it is written, and how it is read and checked.

The file is a zip. Its parts hold one JSON object a line, or a plan file; its manifest names the
form, the person and the SHA-256 of each part. It holds health data. `runner.record.merging` merges
what is in it into another record.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import sqlite3
import tomllib
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any, Final, Self

from msgspec import Struct, field

from runner import __version__
from runner.errors import Exit, MatsideError
from runner.output import overlay_path, part_beside
from runner.record import sheets
from runner.record.files import make_folder
from runner.record.rows import OWN_COLUMNS
from runner.text import how_many, is_driving, shown, trainee_name

FORM: Final = 1
HOLDS: Final = "health data: sessions, pain, notes, body mass; keep it to yourself and the coach"
_MANIFEST: Final = "manifest.json"
_OVERLAY: Final = "overlay.toml"  # the overlay of the manifest's person
_PARTS: Final = ("contents", "sessions", "decisions", "answers", "cautions", "aside", "sheets")
_ESCAPE: Final = re.compile(rb"\\[bfnrtu]")  # a control character, escaped in JSON
_PLAN_FILE: Final = re.compile(r"plans/[^./\\\x00-\x1f\x7f:][^/\\\x00-\x1f\x7f:]{0,80}\.toml")
# Bounds of what is read; all our choice. Ten years of one person are some 50 MB.
_MOST: Final = 1 << 30  # bytes, unpacked
_MOST_LINE: Final = 1 << 26
_MOST_PLAN: Final = 1 << 18
_MOST_MEMBERS: Final = 200
_CHUNK: Final = 1 << 18  # bytes unpacked at once
_RATIO: Final = 200  # unpacked over packed, of a part of over a megabyte

# The columns of the table that a session's line has, in this order.
OPENED: Final = (
    "id", "trainee", "plan", "plan_hash", "session", "started_utc", "session_start", "offset_s",
    "zone", "local_date", "iso_week", "version",
)  # fmt: skip
ENDED: Final = (
    "ended_utc", "ended_offset_s", "ended_local_date", "status", "complete", "mass_kg", "rpe",
    "note", "adjusted",
)  # fmt: skip
DECISION: Final = (
    "trainee", "exercise", "group", "version", "setup", "load_kg", "since", "reason", "local_date",
    "decision_id", "replaces", "known_from", "imported",
)  # fmt: skip
ANSWER: Final = (
    "trainee", "exercise", "group", "rule", "reason", "change", "accepted", "local_date", "utc",
)  # fmt: skip

Line = dict[str, Any]


def column_list(columns: Iterable[str]) -> str:
    """Names of columns for an SQL statement."""
    return ", ".join(f'"{name}"' for name in columns)


def as_json(value: object) -> str:
    """The one text for a value: digests are made of it."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


# Writing.


def pack(
    connection: sqlite3.Connection,
    trainee: str,
    out: IO[bytes],
    files: Mapping[str, tuple[bytes, int]],
    *,
    record: bool = True,
) -> None:
    """Write all of one person to a zip; `files` are what `plan_files` and `overlay_file` return.

    Streams: memory holds one session at a time.
    """
    parts: dict[str, dict[str, Any]] = {}
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as zipped:

        def part(name: str, chunks: Iterable[bytes], **more: object) -> None:
            digest = hashlib.sha256()
            with zipped.open(name, "w", force_zip64=True) as file:  # by its name: compressed
                for chunk in chunks:
                    digest.update(chunk)
                    file.write(chunk)
            parts[name] = {"sha256": digest.hexdigest(), **more}

        if record:
            for name, lines in _lines(connection, trainee).items():
                part(f"{name}.jsonl", (f"{line}\n".encode() for line in lines))
        for name, (content, mtime) in sorted(files.items()):
            part(name, [content], mtime=mtime)
        manifest = {"form": FORM, "program": __version__, "trainee": trainee, "parts": parts}
        zipped.writestr(_MANIFEST, as_json(manifest))


def _lines(connection: sqlite3.Connection, trainee: str) -> dict[str, Iterator[str]]:
    def rows(columns: Sequence[str], rest: str) -> Iterator[str]:
        found = connection.execute(f"SELECT {column_list(columns)} FROM {rest}", (trainee,))  # noqa: S608
        return (as_json(dict(zip(columns, row, strict=True))) for row in found)

    contents = connection.execute(
        """SELECT hash, content FROM plan WHERE hash IN
        (SELECT plan_hash FROM session WHERE trainee = ?1
        UNION SELECT plan_hash FROM sheet WHERE trainee = ?1) ORDER BY hash""",
        (trainee,),
    )
    return {
        "contents": (as_json({"trainee": trainee, "content": text}) for _, text in contents),
        "sessions": (as_json(one) for one in _sessions(connection, trainee)),
        "decisions": rows(DECISION, "held WHERE trainee = ? ORDER BY since, decision_id"),
        "answers": rows(ANSWER, "answer WHERE trainee = ? ORDER BY utc, key"),
        "cautions": rows(
            ("trainee", "plan", "caution", "utc"),
            "acknowledged WHERE trainee = ? ORDER BY plan, caution",
        ),
        "aside": (
            text
            for (text,) in connection.execute(
                "SELECT content FROM aside WHERE trainee = ? ORDER BY session, digest", (trainee,)
            )
        ),
        "sheets": rows(sheets.COLUMNS, "sheet WHERE trainee = ? ORDER BY id"),
    }


def _sessions(connection: sqlite3.Connection, trainee: str) -> Iterator[Line]:
    found = connection.execute(
        "SELECT id FROM session WHERE trainee = ? ORDER BY started_utc, id", (trainee,)
    )
    for (id_,) in found:
        one = stored_session(connection, id_)
        if one is not None:
            yield one


def stored_session(connection: sqlite3.Connection, id_: str) -> Line | None:
    """A session of the record as a line; None without one."""
    columns = (*OPENED, *ENDED)
    found = connection.execute(
        f"SELECT {column_list(columns)}, key FROM session WHERE id = ?",  # noqa: S608
        (id_,),
    ).fetchone()
    if found is None:
        return None
    one: Line = dict(zip(columns, found[:-1], strict=True))
    events = connection.execute(
        "SELECT name, at, act, utc, data, id, seq FROM event WHERE session = ? ORDER BY seq",
        (found[-1],),
    )
    one["events"] = _with_ids(id_, events)
    own = column_list(("entry", "place", *OWN_COLUMNS))
    rows = connection.execute(
        f"SELECT {own} FROM set_row WHERE session = ? ORDER BY entry",  # noqa: S608
        (found[-1],),
    )
    one["rows"] = [list(row) for row in rows]
    return one


def _with_ids(id_: str, events: Iterable[tuple[Any, ...]]) -> list[list[Any]]:
    """An event as [name, at, act, utc, data as JSON, id]; only a correction has an id."""
    made: list[list[Any]] = []
    closed = False
    for *event, own, seq in events:
        made.append([*event, (own or f"{id_}/{seq}") if closed else ""])
        closed = closed or event[0] == "closed"
    return made


# Reading.


class News(Struct):
    """What a file would add to the record."""

    trainee: str = ""
    sessions: int = 0
    longer: int = 0  # open sessions to which the file adds events
    corrected: list[str] = field(default_factory=list)
    decisions: int = 0
    answers: int = 0
    cautions: int = 0
    sheets: int = 0
    new_plans: int = 0
    plans: int = 0  # changed
    overlay: int = 0  # 1 where the person's overlay is replaced
    kept_files: int = 0  # other contents of a plan file or overlay, kept beside it
    aside: int = 0
    conflicts: list[str] = field(default_factory=list)

    @property
    def changes(self) -> bool:
        """Whether anything is new."""
        return any(
            (self.sessions, self.longer, self.corrected, self.decisions, self.answers,
             self.cautions, self.sheets, self.new_plans, self.plans, self.overlay,
             self.kept_files, self.aside)
        )  # fmt: skip

    @property
    def text(self) -> str:
        """The news in one line."""
        corrected = "; ".join(self.corrected)
        found = [
            how_many(self.sessions, "session") if self.sessions else "",
            f"{how_many(self.longer, 'open session')} continued" if self.longer else "",
            f"{len(self.corrected)} corrected ({corrected})" if self.corrected else "",
            how_many(self.decisions, "decision") if self.decisions else "",
            how_many(self.answers, "answer") if self.answers else "",
            how_many(self.cautions, "caution") + " known" if self.cautions else "",
            how_many(self.sheets, "sheet") if self.sheets else "",
            how_many(self.new_plans, "new plan") if self.new_plans else "",
            how_many(self.plans, "plan") + " changed" if self.plans else "",
            "1 overlay" if self.overlay else "",
            how_many(len(self.conflicts), "conflict") if self.conflicts else "",
        ]
        older = "older files, kept beside those here" if self.kept_files else "nothing new"
        return ", ".join(filter(None, found)) or older


class Parcel:
    """A file that was handed over, its parts checked; use it as a context manager."""

    def __init__(self, path: Path) -> None:
        """Raises MatsideError: 66 where there is no file, 65 for anything but a whole handover."""
        # The lines that a first look found new, so that taking them reads no more; None: all.
        self.new: dict[str, list[Line]] | None = None
        self.checked = False  # whether all its sessions passed their checks, before the question
        self._name = shown(path)
        try:
            self._file = path.open("rb")
        except OSError as error:
            raise MatsideError(
                f"{self._name} cannot be read: {error.strerror}", code=Exit.NO_INPUT
            ) from None
        try:
            with self.speaking():
                self._zip = self._opened()
                self._sizes()
                self._manifest()
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self._zip.close()
        self._file.close()

    @contextmanager
    def speaking(self) -> Iterator[None]:
        """Turn every fault of the file into an error of one line."""
        try:
            yield
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as error:
            raise self.bad(
                f"this is not a whole handover: {shown(error)}",
                "Name what matside handover wrote, or ask for the file again.",
            ) from None
        except (KeyError, TypeError, ValueError, RecursionError, AttributeError, IndexError,
                OverflowError, RuntimeError, sqlite3.IntegrityError, sqlite3.InterfaceError,
                sqlite3.ProgrammingError) as error:  # fmt: skip
            raise self.bad(f"a part has a wrong form ({type(error).__name__})") from None

    def bad(self, what: str, remedy: str = "Ask for the file again.") -> MatsideError:
        """The error to raise; `remedy` says what to do."""
        return MatsideError(f"{self._name}: {what}; nothing was changed. {remedy}", code=Exit.DATA)

    def _opened(self) -> zipfile.ZipFile:
        if not zipfile.is_zipfile(self._file):
            raise self.bad("it is no handover, or only a part of one")
        return zipfile.ZipFile(self._file)

    def _sizes(self) -> None:
        members = self._zip.infolist()
        if len(members) > _MOST_MEMBERS or len({m.filename for m in members}) < len(members):
            raise self.bad("the file has too many parts, or one twice")
        if sum(member.file_size for member in members) > _MOST:
            raise self.bad("the file unpacks to more than 1 GiB")
        for one in members:
            if one.file_size > 1 << 20 and one.file_size > _RATIO * max(one.compress_size, 1):
                raise self.bad(f"{shown(one.filename)} unpacks to far more than it should")
            if one.flag_bits & 1:
                raise self.bad("the file is encrypted")

    def _manifest(self) -> None:
        names = {member.filename for member in self._zip.infolist()}
        if _MANIFEST not in names:
            raise self.bad("this is not a handover: it has no manifest")
        if self._zip.getinfo(_MANIFEST).file_size > 1 << 20:
            raise self.bad("its manifest is too large")
        manifest = parse_line(self._zip.read(_MANIFEST))
        form = manifest["form"]
        if type(form) is not int or form < 1:
            raise self.bad("its manifest names no form")
        if form > FORM:
            raise self.bad(
                f"this handover is from a newer matside (form {form}, known here: {FORM})",
                "Install that version here.",
            )
        self.trainee = str(manifest["trainee"])
        if (
            self.trainee != trainee_name(self.trainee)
            or not 0 < len(self.trainee) <= 60
            or not self.trainee.isprintable()
        ):
            raise self.bad("its manifest names no trainee")
        self._parts: dict[str, Any] = dict(manifest["parts"])
        self._hashes(names)

    def _hashes(self, names: set[str]) -> None:
        if names - {_MANIFEST} != set(self._parts):
            raise self.bad("its parts are not those that the manifest lists")
        for name, stated in self._parts.items():
            own = {_OVERLAY, *(f"{part}.jsonl" for part in _PARTS)}
            if name not in own and not _PLAN_FILE.fullmatch(name):
                raise self.bad(f"a part may not be called {shown(name)}")
            digest = hashlib.sha256()
            with self._zip.open(name) as file:
                while chunk := file.read(1 << 16):
                    digest.update(chunk)
            if digest.hexdigest() != stated["sha256"]:
                raise self.bad(f"{shown(name)} was changed after it was written (SHA-256)")

    def lines(self, part: str) -> Iterator[Line]:
        """The lines of a part, checked to be this person's; none where the part is missing."""
        name = f"{part}.jsonl"
        if name not in self._parts:
            return
        with self._zip.open(name) as packed, io.BufferedReader(packed, _CHUNK) as file:  # type: ignore[type-var]
            while text := file.readline(_MOST_LINE):
                if not text.endswith(b"\n"):
                    raise self.bad(f"{name} has a line that is too long or cut off")
                line = parse_line(text)
                if line["trainee"] != self.trainee:
                    raise self.bad(
                        f"{name} names {shown(line['trainee'])}, and the manifest {self.trainee}"
                    )
                if part != "contents" and _may_drive(text) and _has_control(line):
                    raise self.bad(f"{name} has a control character")
                yield line

    def plans(self) -> Iterator[tuple[str, bytes, int]]:
        """The plan files: name, content, and time of the last change in s since 1970."""
        for name in self._parts:
            if name.startswith("plans/"):
                yield name.removeprefix("plans/"), *self._read(name)

    @property
    def overlay(self) -> tuple[bytes, int] | None:
        """The person's overlay and the time of its last change; None without one."""
        with self.speaking():
            return self._read(_OVERLAY) if _OVERLAY in self._parts else None

    def _read(self, name: str) -> tuple[bytes, int]:
        if self._zip.getinfo(name).file_size > _MOST_PLAN:
            raise self.bad(f"{shown(name)} is larger than 256 KiB")
        mtime = self._parts[name]["mtime"]
        if type(mtime) is not int or not 0 <= mtime < 1 << 33:
            raise self.bad(f"{shown(name)} has no date")
        content = self._zip.read(name)
        content.decode()
        return content, mtime


def parse_line(text: bytes) -> Line:
    """The JSON object in a line. Raises ValueError or TypeError for anything else."""

    def no_number(stated: str) -> object:
        raise ValueError(stated)

    line = json.loads(text.decode(), parse_constant=no_number)
    if not isinstance(line, dict):
        raise TypeError("a line is an object")
    return line


def _may_drive(line: bytes) -> bool:
    """Whether a line of JSON may hold a character that controls a terminal, escaped or not.

    A quick test: nearly every line holds none, so its texts need not be searched one by one.
    """
    return not line[:-1].decode().isprintable() or _ESCAPE.search(line) is not None


def _has_control(value: object) -> bool:
    """Whether any text of a line controls a terminal; events hold JSON in a text."""
    if isinstance(value, str):
        return is_driving(value)
    if isinstance(value, dict):
        events = value.get("events", ())
        inner = (json.loads(event[4]) for event in events)
        return any(_has_control(one) for one in (*value.keys(), *value.values(), *inner))
    return isinstance(value, list) and any(map(_has_control, value))


# Plan files and overlays: the one changed last is in force; the others are kept beside it.


def plan_files(
    data: Path, titles: Iterable[str], named: Sequence[Path] = ()
) -> dict[str, tuple[bytes, int]]:
    """Plan files of the data directory with these titles, the `named` ones, and their shelves.

    By name in the zip: the content and the mtime in s.
    """
    wanted, own = set(titles), data / "plans"
    found: dict[str, tuple[bytes, int]] = {}
    waiting = [*sorted(own.glob("*.toml")), *named]
    needed = set(named)
    while waiting:
        path = waiting.pop()
        if path.name in found:
            continue
        with suppress(OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
            content = path.read_bytes()
            if len(content) > _MOST_PLAN or not _PLAN_FILE.fullmatch(f"plans/{path.name}"):
                continue
            table = tomllib.loads(content.decode())
            if path not in needed and table.get("title") not in wanted:
                continue
            found[path.name] = (content, int(path.stat().st_mtime))
            names = table.get("include")
            for name in names if isinstance(names, list) else ():
                beside = (folder / str(name) for folder in (path.parent, own))
                shelf = next((one for one in beside if one.is_file()), None)
                if shelf is not None:  # the other side has the shipped ones too
                    needed.add(shelf)
                    waiting.append(shelf)
    return {f"plans/{name}": file for name, file in found.items()}


def overlay_file(data: Path, trainee: str) -> dict[str, tuple[bytes, int]]:
    """A person's overlay by its name in the zip; empty without one."""
    path = overlay_path(data, trainee)
    if not path.is_file():
        return {}
    return {_OVERLAY: (path.read_bytes(), int(path.stat().st_mtime))}


@contextmanager
def placing(data: Path, parcel: Parcel, news: News, *, dry: bool, overlay: bool) -> Iterator[None]:
    """Put plan files and the overlay in place; put the old ones back if the block fails.

    Without `overlay` the person's own stays as it is.
    """
    undo: list[Callable[[], object]] = []
    try:
        with parcel.speaking():
            for name, content, mtime in parcel.plans():
                path = data / "plans" / name
                new = not path.exists()
                placed = _place(path, content, mtime, news, undo, dry=dry)
                news.new_plans += placed and new
                news.plans += placed and not new
            if overlay and parcel.overlay is not None:
                path = overlay_path(data, parcel.trainee)
                news.overlay += _place(path, *parcel.overlay, news, undo, dry=dry)
        yield
    except BaseException:
        for back in reversed(undo):
            back()
        raise


def _place(
    path: Path,
    content: bytes,
    mtime: int,
    news: News,
    undo: list[Callable[[], object]],
    *,
    dry: bool,
) -> bool:
    """Put a file in place, or keep it beside the newer one that is there; True where it was put."""
    old = path.read_bytes() if path.is_file() else None
    if old == content:
        return False
    age = (-1, b"") if old is None else (int(path.stat().st_mtime), old)
    newer = (mtime, content) > age
    loser = old if newer else content
    if loser is not None:
        kept = path.with_name(f"{path.name}.{hashlib.sha256(loser).hexdigest()[:12]}")
        if not kept.exists():
            news.kept_files += 1
            if not dry:
                _put(kept, loser, age[0] if newer else mtime)
                undo.append(lambda: kept.unlink(missing_ok=True))
    if newer and not dry:
        make_folder(path.parent)
        _put(path, content, mtime)
        undo.append(
            (lambda: path.unlink(missing_ok=True))
            if old is None
            else (lambda: _put(path, old, age[0]))
        )
    return newer


def _put(path: Path, content: bytes, mtime: int) -> None:
    """Write a file whole or not at all, for its owner alone."""
    part = part_beside(path)
    try:
        part.write_bytes(content)
        os.utime(part, (mtime, mtime))
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
