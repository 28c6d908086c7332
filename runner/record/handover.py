"""One person's record in one file, and its merging into another record.

The file is a zip of parts, a JSON object a line, and of plan files; its manifest names the form,
the person, and the SHA-256 of each part. It holds health data.

Merging does not depend on the order in which files come in. A session is merged by its id. What
one log says up to its close is compared event by event by number: the longer one stands where it
continues the other. Later events are corrections, each with an id of its own; those of both sides
are replayed by instant, then by id. Where two logs differ, one is in force by a rule that looks
at nothing but the two (`_rank`), and the other is kept in the table `aside`. So a session is a
set of logs of which none continues another, and merging is the union of two such sets.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
import tomllib
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any, Final, Self

from msgspec import Struct, field

from runner import __version__
from runner.errors import Exit, MatsideError
from runner.law.workout import load_text
from runner.output import overlay_path, part_beside
from runner.record import checks, decisions, sheets, write
from runner.record.files import make_folder
from runner.record.rows import OWN_COLUMNS, SessionInfo, set_row, with_places
from runner.record.schema import settle_order
from runner.session.events import Event, from_data
from runner.session.state import State
from runner.text import how_many, is_driving, shown, trainee_name

FORM: Final = 1
HOLDS: Final = "health data: sessions, pain, notes, body mass; keep it to yourself and the coach"
_MANIFEST: Final = "manifest.json"
_OVERLAY: Final = "overlay.toml"  # of the person of the manifest, whatever their name
_PARTS: Final = ("contents", "sessions", "decisions", "answers", "cautions", "aside", "sheets")
_PLAN_FILE: Final = re.compile(r"plans/[^./\\\x00-\x1f\x7f:][^/\\\x00-\x1f\x7f:]{0,80}\.toml")
# Bounds of what is read, all our choice: ten years of one person are some 50 MB.
_MOST: Final = 1 << 30  # bytes, unpacked
_MOST_LINE: Final = 1 << 26
_MOST_PLAN: Final = 1 << 18
_MOST_MEMBERS: Final = 200
_RATIO: Final = 200  # unpacked over packed, of a part of over a megabyte

# What a session's line has of its row in the table, in this order.
_OPENED: Final = (
    "id", "trainee", "plan", "plan_hash", "session", "started_utc", "session_start", "offset_s",
    "zone", "local_date", "iso_week", "version",
)  # fmt: skip
_ENDED: Final = (
    "ended_utc", "ended_offset_s", "ended_local_date", "status", "complete", "mass_kg", "rpe",
    "note", "adjusted",
)  # fmt: skip
_HELD: Final = (
    "trainee", "exercise", "group", "version", "setup", "load_kg", "since", "reason", "local_date",
    "decision_id", "replaces", "known_from", "imported",
)  # fmt: skip
_ANSWER: Final = (
    "trainee", "exercise", "group", "rule", "reason", "change", "accepted", "local_date", "utc",
)  # fmt: skip

_SHEET: Final = ("id", "trainee", "plan", "plan_hash", "session", "levels", "changes", "made")

Line = dict[str, Any]
Replay = Callable[[SessionInfo, Sequence[Event]], State]


def _names(columns: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in columns)


def _dump(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


# Out.


def pack(
    connection: sqlite3.Connection,
    trainee: str,
    out: IO[bytes],
    files: Mapping[str, tuple[bytes, int]],
    *,
    record: bool = True,
) -> None:
    """Write all of one person to a zip; `files` are `plan_files` and `overlay_file`.

    Streams: memory holds one session.
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
        zipped.writestr(_MANIFEST, _dump(manifest))


def _lines(connection: sqlite3.Connection, trainee: str) -> dict[str, Iterator[str]]:
    def rows(columns: Sequence[str], rest: str) -> Iterator[str]:
        found = connection.execute(f"SELECT {_names(columns)} FROM {rest}", (trainee,))  # noqa: S608
        return (_dump(dict(zip(columns, row, strict=True))) for row in found)

    contents = connection.execute(
        """SELECT hash, content FROM plan WHERE hash IN
        (SELECT plan_hash FROM session WHERE trainee = ?1
        UNION SELECT plan_hash FROM sheet WHERE trainee = ?1) ORDER BY hash""",
        (trainee,),
    )
    return {
        "contents": (_dump({"trainee": trainee, "content": text}) for _, text in contents),
        "sessions": (_dump(one) for one in _sessions(connection, trainee)),
        "decisions": rows(_HELD, "held WHERE trainee = ? ORDER BY since, decision_id"),
        "answers": rows(_ANSWER, "answer WHERE trainee = ? ORDER BY utc, key"),
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
        "sheets": rows(_SHEET, "sheet WHERE trainee = ? ORDER BY id"),
    }


def _sessions(connection: sqlite3.Connection, trainee: str) -> Iterator[Line]:
    found = connection.execute(
        "SELECT id FROM session WHERE trainee = ? ORDER BY started_utc, id", (trainee,)
    )
    for (id_,) in found:
        one = _stored(connection, id_)
        if one is not None:
            yield one


def _stored(connection: sqlite3.Connection, id_: str) -> Line | None:
    """A session of the record as a line; None without one."""
    columns = (*_OPENED, *_ENDED)
    found = connection.execute(
        f"SELECT {_names(columns)}, key FROM session WHERE id = ?",  # noqa: S608
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
    own = _names(("entry", "place", *OWN_COLUMNS))
    rows = connection.execute(
        f"SELECT {own} FROM set_row WHERE session = ? ORDER BY entry",  # noqa: S608
        (found[-1],),
    )
    one["rows"] = [list(row) for row in rows]
    return one


def _with_ids(id_: str, events: Iterable[tuple[Any, ...]]) -> list[list[Any]]:
    """[name, at, act, utc, data as JSON, id]; an id has a correction alone."""
    made: list[list[Any]] = []
    closed = False
    for *event, own, seq in events:
        made.append([*event, (own or f"{id_}/{seq}") if closed else ""])
        closed = closed or event[0] == "closed"
    return made


# Merging: pure, on lines.


def _base(one: Line) -> list[list[Any]]:
    """The log up to its close."""
    events: list[list[Any]] = one["events"]
    for at, event in enumerate(events):
        if event[0] == "closed":
            return events[: at + 1]
    return events


def _corrections(one: Line) -> list[list[Any]]:
    events: list[list[Any]] = one["events"]
    return events[len(_base(one)) :]


def _opened(one: Line) -> str:
    return _dump([one[name] for name in _OPENED])


def _log(one: Line) -> list[str]:
    return [_dump(event) for event in _base(one)]


def digest_of(one: Line) -> str:
    """What a log is known by: how it was opened and its events to the close, or its rows."""
    said = [_opened(one), _log(one) or [one["rows"], *(one[name] for name in _ENDED)]]
    return hashlib.sha256(_dump(said).encode()).hexdigest()


def _rank(one: Line) -> tuple[object, ...]:
    """Which of two different logs of a session is in force: the largest."""
    log = _base(one)
    last = log[-1][3] if log else ""
    return one["status"] == "closed", bool(log), len(log), last, digest_of(one)


def merged(logs: Iterable[Line]) -> list[Line]:
    """The logs of one session of which none continues another, the one in force first."""
    logs = list(logs)
    if len(logs) == 1:
        return logs
    by_digest: dict[str, Line] = {}
    for one in logs:
        digest = digest_of(one)
        same = by_digest.get(digest)
        by_digest[digest] = one if same is None else _together(same, one)
    kept = [
        one
        for one in by_digest.values()
        if not any(_continues(other, one) for other in by_digest.values())
    ]
    return sorted(kept, key=_rank, reverse=True)


def _continues(other: Line, one: Line) -> bool:
    """Whether the log of `other` goes on where that of `one` ends."""
    short, long = _log(one), _log(other)
    return (
        0 < len(short) < len(long)
        and _opened(one) == _opened(other)
        and (long[: len(short)] == short)
    )


def _together(one: Line, other: Line) -> Line:
    """One log with the corrections of both."""
    found = {_dump(event): event for event in (*_corrections(one), *_corrections(other))}
    mine, theirs = ({_dump(e) for e in _corrections(line)} for line in (one, other))
    if len(found) == len(mine):
        return one
    if len(found) == len(theirs):
        return other
    later = sorted(found.values(), key=lambda event: (event[3], event[5], _dump(event)))
    return one | {"events": [*_base(one), *later], "rows": None}  # to be replayed


# In.


class News(Struct):
    """What a file brings."""

    trainee: str = ""
    sessions: int = 0
    longer: int = 0  # open ones that go on
    corrected: list[str] = field(default_factory=list)
    decisions: int = 0
    answers: int = 0
    cautions: int = 0
    sheets: int = 0
    plans: int = 0
    overlay: int = 0  # that is put in place
    kept_files: int = 0  # other contents of a plan file or overlay, kept beside it
    aside: int = 0
    conflicts: list[str] = field(default_factory=list)

    @property
    def changes(self) -> bool:
        """Whether anything is new."""
        return any(
            (self.sessions, self.longer, self.corrected, self.decisions, self.answers,
             self.cautions, self.sheets, self.plans, self.overlay, self.kept_files, self.aside)
        )  # fmt: skip

    @property
    def text(self) -> str:
        """In one line."""
        corrected = "; ".join(self.corrected)
        found = [
            how_many(self.sessions, "session") if self.sessions else "",
            f"{how_many(self.longer, 'open session')} goes on" if self.longer else "",
            f"{len(self.corrected)} corrected ({corrected})" if self.corrected else "",
            how_many(self.decisions, "decision") if self.decisions else "",
            how_many(self.answers, "answer") if self.answers else "",
            how_many(self.cautions, "caution") + " known" if self.cautions else "",
            how_many(self.sheets, "sheet") if self.sheets else "",
            how_many(self.plans, "plan") + " changed" if self.plans else "",
            "1 overlay" if self.overlay else "",
            how_many(len(self.conflicts), "conflict") if self.conflicts else "",
        ]
        return ", ".join(filter(None, found)) or "nothing new"


class Parcel:
    """A file that was handed over, its parts checked; use it as a context manager."""

    def __init__(self, path: Path) -> None:
        """Raises MatsideError: 66 where there is no file, 65 for anything but a whole handover."""
        self.good: set[bytes] = set()  # sessions that were looked through already
        self._name = shown(path)
        try:
            self._file = path.open("rb")
        except OSError as error:
            raise MatsideError(
                f"{self._name} cannot be read: {error.strerror}", code=Exit.NO_INPUT
            ) from None
        try:
            with self.speaking():
                self._zip = zipfile.ZipFile(self._file)
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
        """Say in one line whatever is wrong with the file."""
        try:
            yield
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as error:
            raise self.bad(f"the zip is damaged: {shown(error)}") from None
        except (KeyError, TypeError, ValueError, RecursionError, AttributeError, IndexError,
                OverflowError, RuntimeError, sqlite3.IntegrityError, sqlite3.InterfaceError,
                sqlite3.ProgrammingError) as error:  # fmt: skip
            raise self.bad(f"a part has another form ({type(error).__name__})") from None

    def bad(self, what: str) -> MatsideError:
        """The fault to raise."""
        return MatsideError(
            f"{self._name}: {what}; nothing was changed. Ask for the file again.", code=Exit.DATA
        )

    def _sizes(self) -> None:
        members = self._zip.infolist()
        if len(members) > _MOST_MEMBERS or len({m.filename for m in members}) < len(members):
            raise self.bad("it has too many parts, or one twice")
        if sum(member.file_size for member in members) > _MOST:
            raise self.bad("it unpacks to more than 1 GiB")
        for one in members:
            if one.file_size > 1 << 20 and one.file_size > _RATIO * max(one.compress_size, 1):
                raise self.bad(f"{shown(one.filename)} unpacks to far more than it should")
            if one.flag_bits & 1:
                raise self.bad("it is encrypted")

    def _manifest(self) -> None:
        names = {member.filename for member in self._zip.infolist()}
        if _MANIFEST not in names:
            raise self.bad("it is no handover: it has no manifest")
        if self._zip.getinfo(_MANIFEST).file_size > 1 << 20:
            raise self.bad("its manifest is too large")
        manifest = _load(self._zip.read(_MANIFEST))
        form = manifest["form"]
        if type(form) is not int or form < 1:
            raise self.bad("its manifest names no form")
        if form > FORM:
            raise self.bad(f"it is from a newer matside (form {form}, known here: {FORM})")
        self.trainee = str(manifest["trainee"])
        if (
            self.trainee != trainee_name(self.trainee)
            or not 0 < len(self.trainee) <= 60
            or not self.trainee.isprintable()
        ):
            raise self.bad("its manifest names nobody")
        self._parts: dict[str, Any] = dict(manifest["parts"])
        self._hashes(names)

    def _hashes(self, names: set[str]) -> None:
        if names - {_MANIFEST} != set(self._parts):
            raise self.bad("its parts are not those of its manifest")
        for name, said in self._parts.items():
            own = {_OVERLAY, *(f"{part}.jsonl" for part in _PARTS)}
            if name not in own and not _PLAN_FILE.fullmatch(name):
                raise self.bad(f"a part may not be called {shown(name)}")
            digest = hashlib.sha256()
            with self._zip.open(name) as file:
                while chunk := file.read(1 << 16):
                    digest.update(chunk)
            if digest.hexdigest() != said["sha256"]:
                raise self.bad(f"{shown(name)} is not what was packed (SHA-256)")

    def lines(self, part: str) -> Iterator[Line]:
        """The lines of a part, each of this person; none where the part is missing."""
        name = f"{part}.jsonl"
        if name not in self._parts:
            return
        with self._zip.open(name) as file:
            while text := file.readline(_MOST_LINE):
                if not text.endswith(b"\n"):
                    raise self.bad(f"{name} has a line that is too long or cut off")
                line = _load(text)
                if line["trainee"] != self.trainee:
                    raise self.bad(
                        f"{name} names {shown(line['trainee'])}, and the manifest {self.trainee}"
                    )
                if part != "contents" and _drives(line):
                    raise self.bad(f"{name} has a control character")
                yield line

    def plans(self) -> Iterator[tuple[str, bytes, int]]:
        """The plan files: name, content, and when it was changed, in s since 1970."""
        for name in self._parts:
            if name.startswith("plans/"):
                yield name.removeprefix("plans/"), *self._read(name)

    @property
    def overlay(self) -> tuple[bytes, int] | None:
        """The person's overlay: its content, and when it was changed; None without one."""
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


def _load(text: bytes) -> Line:
    def no_number(said: str) -> object:
        raise ValueError(said)

    line = json.loads(text.decode(), parse_constant=no_number)
    if not isinstance(line, dict):
        raise TypeError("a line is an object")
    return line


def _drives(value: object) -> bool:
    if isinstance(value, str):
        return is_driving(value)
    if isinstance(value, dict):
        return any(_drives(one) for pair in value.items() for one in pair)
    return isinstance(value, list) and any(map(_drives, value))


def take(
    connection: sqlite3.Connection,
    parcel: Parcel,
    replay: Replay,
    runs: Callable[[str], bool] = lambda _: False,
) -> News:
    """Merge a parcel into the record; runs inside a transaction. Raises MatsideError (65).

    `replay` makes a session's state of its events. `runs` says whether a session is running now:
    its log is another program's to write, so a longer one is refused (74).
    """
    news = News(parcel.trainee)
    name = parcel.trainee
    with parcel.speaking():
        write.insert_trainee(connection, name)
        for line in parcel.lines("contents"):
            text = str(line["content"])
            key = hashlib.sha256(text.encode()).hexdigest()
            connection.execute("INSERT OR IGNORE INTO plan VALUES (?, ?)", (key, text))
        for part in ("sessions", "aside"):
            for line in parcel.lines(part):
                _take_session(connection, parcel, line, replay, news, runs=runs)
        for line in parcel.lines("decisions"):
            _take_decision(connection, parcel, line, news)
        for line in parcel.lines("answers"):
            _take_answer(connection, line, news)
        for line in parcel.lines("cautions"):
            _take_caution(connection, line, news)
        for line in parcel.lines("sheets"):
            _take_sheet(connection, parcel, line, news)
        settle_order(connection, name)
        write.write_mass(connection, name)
        if news.changes:
            wrong = checks.not_as_written(connection)
            if wrong is not None:
                raise parcel.bad(wrong)
    news.conflicts = conflicts(connection, name)
    return news


def _take_session(
    connection: sqlite3.Connection,
    parcel: Parcel,
    line: Line,
    replay: Replay,
    news: News,
    *,
    runs: Callable[[str], bool],
) -> None:
    line = {name: line[name] for name in (*_OPENED, *_ENDED, "events", "rows")}
    mine = _stored(connection, line["id"])
    if line == mine:  # most are: whoever exchanges weekly has years of them already
        return
    looked_at = hashlib.sha256(_dump(line).encode()).digest()
    if looked_at not in parcel.good:  # what is new is looked at before it is asked about
        _check_session(connection, parcel, line, replay)
        parcel.good.add(looked_at)
    if mine is not None and mine["trainee"] != line["trainee"]:
        raise parcel.bad(f"session {shown(line['id'])} is somebody else's in the record")
    stored = connection.execute("SELECT content FROM aside WHERE session = ?", (line["id"],))
    known = [json.loads(text) for (text,) in stored.fetchall()]
    first, *others = merged([*([] if mine is None else [mine]), *known, line])
    if mine is None or _dump(first) != _dump(mine):
        if mine is not None and mine["status"] == "open" and runs(line["id"]):
            raise MatsideError(
                f"the session of {mine['local_date']} goes on in the file, and it is running here; "
                "close it, then receive the file again",
                "nothing was changed",
                code=Exit.IO,
            )
        if first["rows"] is None:
            first = _replayed(connection, first, replay)
        _write_session(connection, first)
        _say_session(mine, first, news)
    wanted = {digest_of(one): one for one in others}
    had = {digest_of(one): one for one in known}
    if wanted != had:
        news.aside += 1
        connection.execute("DELETE FROM aside WHERE session = ?", (line["id"],))
        for digest, one in wanted.items():
            whole = _replayed(connection, one, replay) if one["rows"] is None else one
            connection.execute(
                "INSERT INTO aside VALUES (?, ?, ?, ?)",
                (one["trainee"], one["id"], digest, _dump(whole)),
            )


def _say_session(mine: Line | None, first: Line, news: News) -> None:
    if mine is None:
        news.sessions += 1
    elif mine["status"] == "open":
        news.longer += 1
    else:
        news.corrected.append(_correction(mine, first))


def _correction(old: Line, new: Line) -> str:
    """What a correction changes: `20 Nov, SQUAT 12 → 20`."""
    at = {name: place + 2 for place, name in enumerate(OWN_COLUMNS)}
    day = date.fromisoformat(new["local_date"])
    changes = []
    for before, after in zip(old["rows"], new["rows"], strict=False):
        counts = [
            row[at["reps"]] if row[at["hold_s"]] is None else row[at["hold_s"]]
            for row in (before, after)
        ]
        if counts[0] != counts[1]:
            told = ["-" if count is None else f"{count:g}" for count in counts]
            changes.append(f"{shown(after[at['exercise']]).upper()} {' → '.join(told)}")
    return ", ".join([f"{day.day} {day:%b}", *changes])


def _check_session(
    connection: sqlite3.Connection, parcel: Parcel, line: Line, replay: Replay
) -> None:
    """See that a session's events make a session, and its rows have the form of rows."""
    if not line["id"] or line["status"] not in ("open", "closed"):
        raise parcel.bad("a session has no id or status")
    for row in line["rows"]:
        if len(row) != len(OWN_COLUMNS) + 2:
            raise parcel.bad(f"session {shown(line['id'])} has rows of another form")
    if line["events"]:
        _check_events(connection, parcel, line, replay)


def _check_events(
    connection: sqlite3.Connection, parcel: Parcel, line: Line, replay: Replay
) -> None:
    if line["events"][0][0] != "opened":
        raise parcel.bad(f"session {shown(line['id'])} does not begin with its opening")
    for event in line["events"]:
        name, at, act, utc, data, own = event
        texts = all(isinstance(one, str) for one in (name, utc, data, own))
        if not texts or type(at) not in (int, float) or type(act) is not int:
            raise parcel.bad(f"session {shown(line['id'])} has events of another form")
        if _drives(_load(data.encode())):
            raise parcel.bad(f"session {shown(line['id'])} has events of another form")
    try:
        state = _state(connection, line, replay)
    except MatsideError:  # its plan can no longer be read here: it is kept as it is
        return
    except Exception as error:  # noqa: BLE001 - whatever a replay of strange events stumbles over
        raise parcel.bad(
            f"session {shown(line['id'])} cannot be replayed ({type(error).__name__})"
        ) from None
    if (state.phase == "closed") != (line["status"] == "closed"):
        raise parcel.bad(f"session {shown(line['id'])}: its events say another status")


def _info(connection: sqlite3.Connection, one: Line) -> SessionInfo:
    (text,) = connection.execute(
        "SELECT content FROM plan WHERE hash = ?", (one["plan_hash"],)
    ).fetchone()
    return SessionInfo(
        one["id"],
        one["plan"],
        text,
        one["plan_hash"],
        one["session"],
        one["trainee"],
        datetime.fromisoformat(one["started_utc"]),
        one["offset_s"],
        one["zone"],
        date.fromisoformat(one["local_date"]),
        one["version"],
    )


def _state(connection: sqlite3.Connection, one: Line, replay: Replay) -> State:
    events = [from_data(n, at, act, json.loads(data)) for n, at, act, _, data, _ in one["events"]]
    return replay(_info(connection, one), events)


def _replayed(connection: sqlite3.Connection, one: Line, replay: Replay) -> Line:
    """A log with the rows that its events make."""
    info, state = _info(connection, one), _state(connection, one, replay)
    rows = []
    for row, place in with_places(info, state):
        made = set_row(info, state, row)
        rows.append([row.entry, place, *(getattr(made, name) for name in OWN_COLUMNS)])
    return one | {"rows": rows}


def _write_session(connection: sqlite3.Connection, one: Line) -> None:
    columns = (*_OPENED, *_ENDED)
    values = [one[name] for name in columns]
    found = connection.execute("SELECT key FROM session WHERE id = ?", (one["id"],)).fetchone()
    if found is None:
        marks = ", ".join("?" * len(columns))
        cursor = connection.execute(
            f"INSERT INTO session ({_names(columns)}, trial) VALUES ({marks}, 0)",  # noqa: S608
            values,
        )
        key = int(cursor.lastrowid or 0)
    else:
        (key,) = found
        sets = ", ".join(f'"{name}" = ?' for name in columns)
        connection.execute(f"UPDATE session SET {sets} WHERE key = ?", (*values, key))  # noqa: S608
        connection.execute("DELETE FROM event WHERE session = ?", (key,))
        connection.execute("DELETE FROM set_row WHERE session = ?", (key,))
    connection.executemany(
        """INSERT INTO event (session, seq, name, at, act, utc, data, id)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?)""",
        [(key, seq, *event) for seq, event in enumerate(one["events"], 1)],
    )
    load = OWN_COLUMNS.index("load_kg") + 2
    own_columns = _names(("session", "trainee", "load", "counts", "entry", "place", *OWN_COLUMNS))
    marks = ", ".join("?" * (len(OWN_COLUMNS) + 6))
    connection.executemany(
        f"INSERT INTO set_row ({own_columns}) VALUES ({marks})",  # noqa: S608
        [(key, one["trainee"], load_text(row[load]), 0, *row) for row in one["rows"]],
    )
    if one["status"] == "closed":
        write.let_rows_count(connection, key)


def _take_decision(connection: sqlite3.Connection, parcel: Parcel, line: Line, news: News) -> None:
    values = {name: line[name] for name in _HELD}
    found = connection.execute(
        f"SELECT {_names(_HELD)} FROM held WHERE trainee = ? AND decision_id = ?",  # noqa: S608
        (line["trainee"], line["decision_id"]),
    ).fetchone()
    if found is None:
        marks = ", ".join("?" * len(_HELD))
        connection.execute(
            f"INSERT INTO held ({_names(_HELD)}) VALUES ({marks})",  # noqa: S608
            tuple(values.values()),
        )
        news.decisions += 1
        return
    mine = dict(zip(_HELD, found, strict=True))
    core = _HELD[: _HELD.index("replaces")]
    if any(mine[name] != values[name] for name in core):
        raise parcel.bad(f"decision {shown(line['decision_id'])} is another one in the record")
    known = min(filter(None, (mine["known_from"], values["known_from"])), default="")
    both = {
        "known_from": known,
        "replaces": max(mine["replaces"], values["replaces"]),
        "imported": min(mine["imported"], values["imported"]),
    }
    if any(mine[name] != value for name, value in both.items()):
        connection.execute(
            """UPDATE held SET known_from = ?, replaces = ?, imported = ?
            WHERE trainee = ? AND decision_id = ?""",
            (*both.values(), line["trainee"], line["decision_id"]),
        )


def _take_answer(connection: sqlite3.Connection, line: Line, news: News) -> None:
    values = tuple(line[name] for name in _ANSWER)
    json.loads(line["change"])
    there = connection.execute(
        f"SELECT 1 FROM answer WHERE ({_names(_ANSWER)}) = ({', '.join('?' * len(_ANSWER))})",  # noqa: S608
        values,
    ).fetchone()
    if there is None:
        marks = ", ".join("?" * len(_ANSWER))
        connection.execute(f"INSERT INTO answer ({_names(_ANSWER)}) VALUES ({marks})", values)  # noqa: S608
        news.answers += 1


def _take_caution(connection: sqlite3.Connection, line: Line, news: News) -> None:
    values = (line["trainee"], line["plan"], line["caution"], line["utc"])
    changed = connection.execute(
        """INSERT INTO acknowledged (trainee, plan, caution, utc) VALUES (?, ?, ?, ?)
        ON CONFLICT DO UPDATE SET utc = excluded.utc WHERE excluded.utc < utc""",
        values,
    )
    news.cautions += changed.rowcount


def _take_sheet(connection: sqlite3.Connection, parcel: Parcel, line: Line, news: News) -> None:
    """A page, so that its id is known here too; the same page was first made when it was."""
    text = connection.execute("SELECT content FROM plan WHERE hash = ?", (line["plan_hash"],))
    (content,) = text.fetchone()
    page = sheets.of_row(
        (line["trainee"], line["plan"], content, line["session"], line["levels"], line["changes"])
    )
    if page.id != line["id"]:
        raise parcel.bad(f"sheet {shown(line['id'])} is another page than its id says")
    changed = connection.execute(
        f"""INSERT INTO sheet ({_names(_SHEET)}) VALUES ({", ".join("?" * len(_SHEET))})
        ON CONFLICT DO UPDATE SET made = excluded.made
        WHERE excluded.made < made AND trainee = excluded.trainee""",  # noqa: S608 - named above
        tuple(line[name] for name in _SHEET),
    )
    news.sheets += changed.rowcount


def conflicts(connection: sqlite3.Connection, trainee: str) -> list[str]:
    """What somebody has to look at: logs set aside, and decisions that replace the same one."""
    found = []
    for id_, text in connection.execute(
        "SELECT session, content FROM aside WHERE trainee = ? ORDER BY session, digest", (trainee,)
    ):
        other = json.loads(text)
        here = _stored(connection, id_)
        if other["events"] or here is None or here["rows"] != other["rows"]:
            found.append(
                f"session {id_}: two different logs; one of {len(other['rows'])} rows is set aside"
            )
    for exercise, group, heads in decisions.heads(connection, trainee):
        if len(heads) > 1:
            levels = [
                f"{one.version}{f' {load_text(one.load_kg)} kg' if one.load_kg else ''} of "
                f"{one.local_date}"
                for one in heads
            ]
            name = f"{exercise}/{group}" if group else exercise
            found.append(
                f"{name}: {levels[0]} is in force, and {', '.join(levels[1:])} was decided "
                f"without it; decide: matside next PLAN --set {name}=VERSION"
            )
    return [shown(line) for line in found]


# Plan files and overlays: the one changed last is in force, the others are kept beside it.


def plan_files(
    data: Path, titles: Iterable[str], named: Sequence[Path] = ()
) -> dict[str, tuple[bytes, int]]:
    """The plan files of the data directory with these titles, those named, and their shelves.

    By their names in the zip, each with its content and its mtime in s.
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
                if shelf is not None:  # a shipped one is on the other side too
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
    """Put plan files and the overlay in place, the old ones back where what follows fails.

    Without `overlay` the person's own stays as it is.
    """
    undo: list[Callable[[], object]] = []
    try:
        with parcel.speaking():
            for name, content, mtime in parcel.plans():
                news.plans += _place(data / "plans" / name, content, mtime, news, undo, dry=dry)
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
    """Whether the file is put in place; the one that is not in force is kept beside it."""
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
    """A file that is there whole or not at all, for its owner alone."""
    part = part_beside(path)
    try:
        part.write_bytes(content)
        os.utime(part, (mtime, mtime))
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
