"""One person handed over and received: the laws of merging, faults, and hostile files."""

from __future__ import annotations

import io
import json
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from runner.cli.main import main
from runner.law.workout import Level
from runner.live.corrections import open_correction, replayed
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.progress.history import Use
from runner.record import handover, merging
from runner.record.decisions import LevelDecision
from runner.record.handover import Line, Parcel
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.sheets import Sheet
from runner.record.tables import TABLES, write_what
from runner.session import verb as cmd
from tests.reports.winter import PLAN
from tests.reports.year import BERLIN, Person, Run

START = datetime(2026, 11, 2, 6, 30, tzinfo=BERLIN)
DAY = timedelta(days=1)


class Side:
    """One laptop: its data directory, and what a person does on it."""

    def __init__(self, data: Path, name: str = "Ada") -> None:
        self.data, self.path, self.name = data, data / "record.db", name
        data.mkdir(parents=True, exist_ok=True)

    def train(self, day: int, *, close: bool = True, seed: int = 1) -> str:
        with Record.open(self.path) as record:
            person = Person(record, self.name, seed=seed)
            run = person.train(PLAN, "AB"[day % 2], START + day * DAY, close=close)
            return run.info.id

    def begin(self, day: int, sets: int) -> str:
        """A session that is cut off after that many sets."""
        with Record.open(self.path) as record:
            run = _opened(record, self.name, day)
            for number in range(sets):
                run.set(20.0, 9 + number)
            return run.keep(close=False).id

    def fix(self, day: int, entry: int, count: int, hours: float) -> None:
        """Correct an entry, that many hours after the session began."""
        at = START + day * DAY
        with Record.open(self.path) as record:
            correction = open_correction(record, self.name, at.date(), None)
            row = correction.state.rows[entry - 1]
            measure = correction.state.exercise(row).measure
            correction.fix(cmd.Fix(entry, measure, cmd.Count(count)), at + timedelta(hours=hours))
            correction.keep()

    def decide(self, day: int, kg: int, hours: float = 12.0) -> None:
        at = START + day * DAY + timedelta(hours=hours)
        level = Level("handle", "rucksack by its handle", load=float(kg))
        with Record.open(self.path) as record:
            record.agree(self.name, None, [LevelDecision("sack-row", "", level, "by hand")], at)

    def hand_over(self, to: Path) -> Path:
        code = main(["handover", "--for", self.name, "-o", str(to), "--force", *self.where])
        assert code == 0
        return to

    def receive(self, file: Path, *more: str) -> int:
        return main(["receive", str(file), "--yes", *more, *self.where])

    @property
    def where(self) -> tuple[str, str]:
        return ("--data", str(self.data))

    def copy(self, to: Path) -> Side:
        shutil.copytree(self.data, to)
        return Side(to, self.name)

    @property
    def says(self) -> list[str]:
        """All that an export writes of the person."""
        found = []
        with Record.open_readonly(self.path) as record:
            for table in TABLES:
                out = io.StringIO()
                write_what(table, record, self.name, Period(), out)
                found.append(out.getvalue())
            found += record.conflicts(self.name)
            found += [repr(one) for one in record.answers(self.name)]
            found.append(repr(record.body_mass(self.name)))
            assert record.integrity() == "ok"
        return found


def _opened(record: Record, name: str, day: int) -> Run:
    workout = compile_session(parse_plan(PLAN, "plan"), "A")
    run = Run(record, workout, PLAN, START + day * DAY, name)
    run.do(cmd.Proceed())
    return run


def _go_on(side: Side, id_: str, count: int) -> None:
    """Continue a session that was cut off, and do one more set."""
    with Record.open(side.path) as record:
        info, events = record.info(id_), record.events(id_)
        assert info is not None
        run = object.__new__(Run)
        run.record, run.info, run.trainee, run.text, run.at = record, info, side.name, PLAN, START
        run.state, run.events = replayed(info, events), list(events)
        run.workout, run.now = run.state.workout, events[-1].at + 60.0
        run.do(cmd.Return())
        run.set(20.0, count)
        record.append(id_, list(enumerate(run.events, 1)), run.state)


@pytest.fixture
def ada(tmp_path: Path) -> Side:
    side = Side(tmp_path / "ada")
    side.train(0)
    side.train(3)
    side.decide(3, 8)
    return side


def test_a_new_place_says_all_the_same(ada: Side, tmp_path: Path) -> None:
    coach = Side(tmp_path / "coach")
    assert coach.receive(ada.hand_over(tmp_path / "ada.zip")) == 0
    assert coach.says == ada.says
    assert stat.S_IMODE((tmp_path / "ada.zip").stat().st_mode) == 0o600
    assert stat.S_IMODE(coach.path.stat().st_mode) == 0o600


def test_next_and_review_are_the_same_byte_for_byte(
    ada: Side, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    coach = Side(tmp_path / "coach")
    plan = tmp_path / "dark.toml"
    plan.write_text(PLAN, encoding="utf-8")
    ada.fix(0, 3, 20, 30)
    coach.receive(ada.hand_over(tmp_path / "ada.zip"))
    said = []
    for side in (ada, coach):
        capsys.readouterr()
        for words in (("next", str(plan)), ("review", "--plain"), ("export",)):
            assert main([*words, "--for", "Ada", *side.where]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]
    assert len(said[0]) > 2000


def _content(path: Path) -> list[str]:
    """All that a record holds, as statements."""
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


def test_what_is_new_is_said_and_a_second_time_adds_nothing(
    ada: Side, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    coach = ada.copy(tmp_path / "coach")
    ada.train(7)
    ada.fix(0, 3, 20, 30)
    file = ada.hand_over(tmp_path / "ada.zip")
    assert "health data" in capsys.readouterr().err
    before = coach.path.read_bytes()
    assert coach.receive(file, "--dry-run") == 0
    assert coach.path.read_bytes() == before
    said = capsys.readouterr().out
    assert said.startswith("Ada: 1 session, 1 corrected (2 Nov, SACK-ROW ")
    assert "→ 20)" in said
    assert coach.receive(file) == 0
    after = _content(coach.path)
    capsys.readouterr()
    assert coach.receive(file) == 0
    assert capsys.readouterr().out == "Ada: nothing new\n"
    assert _content(coach.path) == after
    assert coach.says == ada.says


def test_corrections_of_both_sides_are_replayed_by_instant(ada: Side, tmp_path: Path) -> None:
    coach = ada.copy(tmp_path / "coach")
    coach.fix(0, 3, 17, 50)
    ada.fix(0, 3, 20, 30)
    ada.fix(0, 4, 11, 31)
    mine, theirs = (s.hand_over(tmp_path / f"{n}.zip") for s, n in ((ada, "a"), (coach, "c")))
    ada.receive(theirs)
    coach.receive(mine)
    assert ada.says == coach.says
    with Record.open_readonly(ada.path) as record:
        counts = {n: row.reps for n, row in record.numbered_rows(record.sessions()[0].session_id)}
    assert (counts[3], counts[4]) == (17, 11)  # the coach's is the later one; Ada's other stays


def test_two_decisions_that_replace_the_same_one_are_shown_until_one_is_answered(
    ada: Side, tmp_path: Path
) -> None:
    coach = ada.copy(tmp_path / "coach")
    ada.decide(5, 6)
    coach.decide(5, 10, 13)
    ada.receive(coach.hand_over(tmp_path / "c.zip"))
    coach.receive(ada.hand_over(tmp_path / "a.zip"))
    assert ada.says == coach.says
    with Record.open_readonly(ada.path) as record:
        (line,) = record.conflicts("Ada")
    assert line.startswith("sack-row: handle 10 kg of 2026-11-07 is in force, and handle 6 kg")
    ada.decide(6, 8)
    coach.receive(ada.hand_over(tmp_path / "a.zip"))
    assert ada.says == coach.says
    with Record.open_readonly(coach.path) as record:
        assert record.conflicts("Ada") == []


def test_the_longer_log_of_an_open_session_wins(ada: Side, tmp_path: Path) -> None:
    id_ = ada.begin(8, 2)
    coach = ada.copy(tmp_path / "coach")
    _go_on(ada, id_, 12)
    old = coach.hand_over(tmp_path / "c.zip")
    coach.receive(ada.hand_over(tmp_path / "a.zip"))
    assert coach.says == ada.says
    before = ada.says
    ada.receive(old)
    assert ada.says == before


def test_a_longer_log_of_a_session_that_is_running_here_is_refused(
    ada: Side, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The running program writes its log, so nothing else may replace it."""
    id_ = ada.begin(8, 2)
    coach = ada.copy(tmp_path / "coach")
    _go_on(coach, id_, 12)
    file = coach.hand_over(tmp_path / "c.zip")
    before, held = (
        ada.says,
        "from runner.record import session_lock; from pathlib import Path; import sys",
    )
    held += (
        "; print(session_lock.claim(Path(sys.argv[1]), sys.argv[2]), flush=True); sys.stdin.read()"
    )
    runs = subprocess.Popen(
        [sys.executable, "-c", held, str(ada.path), id_], stdin=-1, stdout=-1, text=True
    )
    with runs:
        assert runs.stdout is not None
        assert runs.stdout.readline() == "True\n"
        capsys.readouterr()
        assert ada.receive(file) == 74
        err = capsys.readouterr().err
        assert "Close the session, then receive the file again." in " ".join(err.split())
        assert ada.says == before
        assert ada.receive(ada.hand_over(tmp_path / "own.zip")) == 0  # what it has is no trouble
    assert ada.receive(file) == 0
    assert ada.says == coach.says


def test_sheets_travel_with_the_person(ada: Side, tmp_path: Path) -> None:
    page = Sheet("Ada", "Kestrel Hut", PLAN, "A", {("calf", ""): Use("floor", "", None)})
    with Record.open(ada.path) as record:
        record.keep_sheets([page], START)
    coach = Side(tmp_path / "coach")
    assert coach.receive(ada.hand_over(tmp_path / "ada.zip")) == 0
    with Record.open_readonly(coach.path) as record:
        assert record.sheet(page.id) == page
    assert coach.says == ada.says
    forged = _parts(tmp_path / "ada.zip")
    forged["sheets.jsonl"] = forged["sheets.jsonl"].replace(b'"session":"A"', b'"session":"B"')
    assert coach.receive(_pack(tmp_path / "forged.zip", forged)) == 65


def test_two_logs_that_part_are_a_conflict_and_both_are_kept(ada: Side, tmp_path: Path) -> None:
    id_ = ada.begin(8, 2)
    coach = ada.copy(tmp_path / "coach")
    _go_on(ada, id_, 12)
    _go_on(coach, id_, 14)
    files = [side.hand_over(tmp_path / f"{side.data.name}.zip") for side in (ada, coach)]
    ada.receive(files[1])
    coach.receive(files[0])
    assert ada.says == coach.says
    with closing(sqlite3.connect(ada.path)) as connection:
        asides = connection.execute("SELECT session, content FROM aside").fetchall()
        events = connection.execute("SELECT data FROM event").fetchall()
    assert [session for session, _ in asides] == [id_]
    whole = str(events) + asides[0][1].replace("\\", "")
    assert '"reps":12' in whole
    assert '"reps":14' in whole
    third = Side(tmp_path / "third")
    third.receive(coach.hand_over(tmp_path / "again.zip"))
    assert third.says == ada.says


def test_rows_without_events_travel_as_rows(ada: Side, tmp_path: Path) -> None:
    csv = tmp_path / "ada.csv"
    assert main(["export", "--for", "Ada", "-o", str(csv), *ada.where]) == 0
    other, coach = Side(tmp_path / "other"), Side(tmp_path / "coach")
    assert main(["import", str(csv), "--yes", *other.where]) == 0
    coach.receive(other.hand_over(tmp_path / "o.zip"))
    assert coach.says == other.says
    coach.receive(ada.hand_over(tmp_path / "a.zip"))  # the events are more, and the rows the same
    assert coach.says[0] == ada.says[0]
    with Record.open_readonly(coach.path) as record:
        assert record.conflicts("Ada") == []


def test_a_plan_goes_out_and_the_one_changed_last_is_in_force(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    coach, ada = Side(tmp_path / "coach"), Side(tmp_path / "ada")
    plan = coach.data / "plans" / "dark.toml"
    plan.parent.mkdir()
    plan.write_text(PLAN, encoding="utf-8")
    os.utime(plan, (1_790_000_000, 1_790_000_000))
    file = tmp_path / "p.zip"
    words = ["handover", "dark", "--for", "Ada", "--plan-only", "-o", str(file), "--force"]
    assert main([*words, *coach.where]) == 0
    capsys.readouterr()
    assert ada.receive(file) == 0
    assert capsys.readouterr().out == "Ada (new here): 1 new plan\n"
    mine = ada.data / "plans" / "dark.toml"
    assert mine.read_text(encoding="utf-8") == PLAN
    mine.write_text(PLAN + "# mine\n", encoding="utf-8")
    os.utime(mine, (1_790_000_100, 1_790_000_100))
    assert ada.receive(file) == 0  # the older one does not come back
    assert capsys.readouterr().out == "Ada: older files, kept beside those here\n"
    assert mine.read_text(encoding="utf-8").endswith("# mine\n")
    os.utime(plan, (1_790_000_200, 1_790_000_200))
    assert main([*words, *coach.where]) == 0
    capsys.readouterr()
    assert ada.receive(file) == 0
    assert capsys.readouterr().out == "Ada: 1 plan changed\n"
    assert mine.read_text(encoding="utf-8") == PLAN
    kept = [path.read_text(encoding="utf-8") for path in mine.parent.glob("dark.toml.*")]
    assert PLAN + "# mine\n" in kept


def test_a_plan_brings_the_shelves_that_it_takes_from(tmp_path: Path) -> None:
    coach, ada = Side(tmp_path / "coach"), Side(tmp_path / "ada")
    folder = coach.data / "plans"
    folder.mkdir()
    head, _, rest = PLAN.partition("[exercise.calf]")
    (folder / "hut.toml").write_text(
        "[exercise.calf]" + rest.partition("[[session]]")[0], encoding="utf-8"
    )
    plan = 'include = ["hut.toml"]\n' + head + "[[session]]" + rest.partition("[[session]]")[2]
    (folder / "dark.toml").write_text(plan, encoding="utf-8")
    (folder / "other.toml").write_text('title = "Another"', encoding="utf-8")
    file = tmp_path / "p.zip"
    words = ["handover", "dark", "--for", "Ada", "--plan-only", "-o", str(file)]
    assert main([*words, *coach.where]) == 0
    assert ada.receive(file) == 0
    assert sorted(path.name for path in (ada.data / "plans").iterdir()) == [
        "dark.toml",
        "hut.toml",
    ]
    assert main(["check", "dark", *ada.where]) == 0


OVERLAY = 'of = "dark"\n[avoid]\nexercise = ["calf"]\nuntil = 2027-01-15\n'


def test_an_overlay_travels_is_shown_and_is_never_written_over_silently(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    coach, ada = Side(tmp_path / "coach"), Side(tmp_path / "ada")
    mine, theirs = (side.data / "people" / "Ada.toml" for side in (ada, coach))
    for path in (coach.data / "plans" / "dark.toml", theirs, mine):
        path.parent.mkdir()
    (coach.data / "plans" / "dark.toml").write_text(PLAN, encoding="utf-8")
    theirs.write_text(OVERLAY, encoding="utf-8")
    os.utime(theirs, (1_790_000_000, 1_790_000_000))
    file = tmp_path / "o.zip"
    words = ["handover", "--for", "Ada", "--plan-only", "-o", str(file), "--force"]
    assert main([*words, *coach.where]) == 0  # its plan goes with it
    assert ada.receive(file) == 0
    said = capsys.readouterr().out
    assert "Ada (new here): 1 new plan, 1 overlay\n" in said
    assert '  exercise = ["calf"]\n' in said
    assert mine.read_text(encoding="utf-8") == OVERLAY
    assert mine.stat().st_mode & 0o777 == 0o600
    mine.write_text(OVERLAY + "reserve = 9\n", encoding="utf-8")  # under [avoid]: at fault
    assert main(["handover", "--for", "Ada", "--plan-only", "-o", str(file), *ada.where]) == 65
    mine.write_text("reserve = 4\n" + OVERLAY, encoding="utf-8")
    os.utime(theirs, (2_000_000_000, 2_000_000_000))
    assert main([*words, *coach.where]) == 0
    capsys.readouterr()
    assert ada.receive(file) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"It replaces {mine}; matside keeps the old one beside it." in said
    assert mine.read_text(encoding="utf-8") == OVERLAY
    kept = [path.read_text(encoding="utf-8") for path in mine.parent.glob("Ada.toml.*")]
    assert kept == ["reserve = 4\n" + OVERLAY]


def test_an_overlay_may_be_left_out_where_the_rest_is_taken(
    ada: Side, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = ada.data / "people" / "Ada.toml"
    path.parent.mkdir()
    path.write_text("reserve = 4\n", encoding="utf-8")
    file, coach = ada.hand_over(tmp_path / "o.zip"), Side(tmp_path / "coach")
    answers = iter([True, False])
    monkeypatch.setattr("runner.cli.receive.confirmed", lambda *_, **__: next(answers))
    assert main(["receive", str(file), *coach.where]) == 0
    found = capsys.readouterr()
    assert ", 1 overlay" in found.out
    taken = found.err.partition("taken: ")[2]
    assert taken
    assert "overlay" not in taken
    assert coach.says == ada.says
    assert not (coach.data / "people").exists()


@pytest.mark.parametrize("meanwhile", [False, True])
def test_what_was_shown_is_taken_without_a_second_reading_unless_the_record_has_changed(
    ada: Side, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, meanwhile: bool
) -> None:
    coach = Side(tmp_path / "coach")
    coach.receive(ada.hand_over(tmp_path / "first.zip"))
    ada.train(8)
    ada.fix(0, 1, 14, 30)
    file = ada.hand_over(tmp_path / "second.zip")
    read: list[str] = []
    lines = Parcel.lines

    def counted(parcel: Parcel, part: str) -> Iterator[Line]:
        read.append(part)
        return lines(parcel, part)

    def yes(*_: object, **__: object) -> bool:
        if meanwhile:  # all that is known here of Ada goes, in another window
            assert main(["restore", str(empty), "--yes", *coach.where]) == 0
        return True

    empty = tmp_path / "empty.db"
    Record.open(empty).close()
    monkeypatch.setattr(Parcel, "lines", counted)
    monkeypatch.setattr("runner.cli.receive.confirmed", yes)
    assert main(["receive", str(file), *coach.where]) == 0
    assert read.count("sessions") == 1 + meanwhile
    assert coach.says == ada.says


# The laws, over drawn acts of three laptops.

ACTS = st.lists(
    st.tuples(
        st.integers(0, 2),  # who
        st.sampled_from(("fix", "fix", "train", "decide", "go on")),
        st.integers(1, 6),
        st.integers(1, 30),
    ),
    max_size=6,
)


def _play(sides: list[Side], open_: str, acts: list[tuple[int, str, int, int]]) -> None:
    for number, (who, what, some, more) in enumerate(acts):
        side = sides[who]
        if what == "fix":
            side.fix(0, some, more, 24 + more + number / 100)
        elif what == "train":
            side.train(10 + 3 * number + who, seed=more)
        elif what == "decide":
            side.decide(4, 4 + 2 * (some % 5), 1 + number + more / 100)
        else:
            _go_on(side, open_, more)


@settings(
    max_examples=int(os.environ.get("MERGES", "6")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@given(acts=ACTS)
def test_merging_knows_no_order_and_no_second_time(
    acts: list[tuple[int, str, int, int]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("laws")
    first = Side(folder / "0")
    first.train(0)
    open_ = first.begin(8, 1)
    sides = [first, first.copy(folder / "1"), first.copy(folder / "2")]
    _play(sides, open_, acts)
    files = [side.hand_over(folder / f"{number}.zip") for number, side in enumerate(sides)]
    said = []
    for number, order in enumerate(((0, 1, 2), (2, 1, 0), (1, 0, 2, 1, 0))):
        one = Side(folder / f"m{number}")
        for at in order:
            one.receive(files[at])
        said.append(one.says)
    assert said[0] == said[1] == said[2]
    for number, side in enumerate(sides):  # each laptop, once it has received the others
        for at in (2, 1, 0) if number else (1, 2):
            side.receive(files[at])
        assert side.says == said[0]
    through = Side(folder / "through")  # (A then B) handed on is the same
    through.receive(sides[1].hand_over(folder / "all.zip"))
    assert through.says == said[0]


# Faults and hostile files: one clear line, nothing changed.


def _parts(file: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as zipped:
        return {name: zipped.read(name) for name in zipped.namelist()}


def _pack(to: Path, parts: dict[str, bytes], **more: Any) -> Path:
    """The parts with a manifest that fits them, except for what `more` changes."""
    manifest = json.loads(parts["manifest.json"])
    manifest["parts"] = {
        name: {**manifest["parts"].get(name, {"mtime": 0}), "sha256": sha256(part).hexdigest()}
        for name, part in parts.items()
        if name != "manifest.json"
    }
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, part in parts.items():
            if name != "manifest.json":
                zipped.writestr(name, part)
        zipped.writestr("manifest.json", json.dumps(manifest | more))
    return to


def _hostile(file: Path, to: Path, how: str) -> Path:  # noqa: PLR0911 - a way each
    parts = _parts(file)
    sessions, decided = parts["sessions.jsonl"], parts["decisions.jsonl"]
    if how == "cut off":
        to.write_bytes(file.read_bytes()[:-200])
        return to
    if how == "no zip":
        to.write_bytes(b"not a zip")
        return to
    if how == "wrong hash":
        with zipfile.ZipFile(to, "w") as zipped:
            for name, part in parts.items():
                zipped.writestr(name, part + b" " if name == "sessions.jsonl" else part)
        return to
    if how == "newer form":
        return _pack(to, parts, form=2)
    if how == "nobody":
        return _pack(to, parts, trainee="\x1b[2J")
    if how == "another manifest":
        return _pack(to, parts, trainee="Ben")
    changed = {
        "somebody else": {"sessions.jsonl": sessions.replace(b'"trainee":"Ada"', b'"trainee":"B"')},
        "traversal": {"plans/../../x.toml": b'title = "x"'},
        "absolute": {"/x.toml": b""},
        "unknown part": {"more.jsonl": b""},
        "bomb": {"plans/x.toml": b"#" * (20 << 20)},
        "no plan text": {"plans/x.toml": b"\xff\xfe"},
        "no JSON": {"sessions.jsonl": b"{\n"},
        "deep": {"sessions.jsonl": b"[" * 200_000 + b"\n"},
        "no number": {"decisions.jsonl": decided.replace(b"8.0", b"NaN")},
        "a text for a number": {
            "decisions.jsonl": decided.replace(b"8.0", b'"heavy"')
        },
        "another status": {
            "sessions.jsonl": sessions.replace(b'"status":"closed"', b'"status":"open"')
        },
        "no difference": {
            "sessions.jsonl": sessions.replace(b'"adjusted":""', b'"adjusted":"x"')
        },
        "strange difference": {
            "sessions.jsonl": sessions.replace(b'"adjusted":""', b'"adjusted":"[{}]"')
        },
        "strange events": {"sessions.jsonl": sessions.replace(b'"started"', b'"stolen"')},
        "control": {"cautions.jsonl": json.dumps(
            {"trainee": "Ada", "plan": "x", "caution": "\x1b[2J", "utc": ""}).encode() + b"\n"},
        "strange overlay": {"overlay.toml": b"reserve = 99"},
        "no overlay text": {"overlay.toml": b"\xff\xfe"},
        "no date": {"decisions.jsonl": decided.replace(b"2026-11-05", b"2026-13-45")},
    }  # fmt: skip
    return _pack(to, parts | changed[how])


def _all_of(folder: Path) -> dict[Path, object]:
    """Each file and what it holds; of a record its content, for SQLite counts who opened it."""
    return {
        path: _content(path) if path.name == "record.db" else path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.parametrize(
    "how",
    ["cut off", "no zip", "wrong hash", "newer form", "nobody", "another manifest",
     "somebody else", "traversal", "absolute", "unknown part", "bomb", "no plan text", "no JSON",
     "deep", "no number", "a text for a number", "another status", "strange events", "control",
     "strange overlay", "no overlay text", "no date", "no difference", "strange difference"],
)  # fmt: skip
def test_a_hostile_file_ends_in_one_line_and_changes_nothing(
    ada: Side, tmp_path: Path, capsys: pytest.CaptureFixture[str], how: str
) -> None:
    good = ada.hand_over(tmp_path / "good.zip")
    file = _hostile(good, tmp_path / "bad.zip", how)
    for coach in (Side(tmp_path / "new"), ada.copy(tmp_path / "copy")):
        before = _all_of(tmp_path)
        capsys.readouterr()
        assert coach.receive(file) == 65
        said = capsys.readouterr()
        assert said.out == ""
        assert len(said.err.splitlines()) == 1, said.err
        assert "nothing was changed" in said.err
        assert _all_of(tmp_path) == before


def test_no_file_and_nobody(ada: Side, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ada.receive(tmp_path / "none.zip") == 66
    assert main(["handover", "--for", "Zoe", "-o", str(tmp_path / "z.zip"), *ada.where]) == 66
    assert main(["handover", "--for", "Zoe", "--plan-only", "-o", str(tmp_path / "z.zip"),
                 *ada.where]) == 66  # fmt: skip
    assert not (tmp_path / "z.zip").exists()
    assert all(line.startswith("matside: ") for line in capsys.readouterr().err.splitlines())


def test_cut_off_at_any_statement_the_record_is_as_it_was(
    ada: Side, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failure at a statement leaves what a kill there leaves: a transaction rolled back."""
    coach = ada.copy(tmp_path / "coach")
    ada.train(7)
    ada.fix(0, 3, 20, 30)
    file = ada.hand_over(tmp_path / "a.zip")
    before = coach.says
    real = handover.placing
    for module, name in (
        (merging, "_write_session"),
        (merging, "_take_decision"),
        (handover, "_place"),
        (merging, "conflicts"),
        (handover, "placing"),
    ):
        with monkeypatch.context() as patch:

            def fails(*_: object, **__: object) -> None:
                raise OSError("unplugged")

            patch.setattr(module, name, fails)
            if name in ("_place", "_take_decision") and not _reached(file, name):
                continue
            with (
                handover.Parcel(file) as parcel,
                Record.open(coach.path) as record,
                pytest.raises(OSError, match="unplugged"),
            ):
                record.receive(parcel, replayed, coach.data, keep=True)  # fmt: skip
        assert coach.says == before, name
    assert handover.placing is real
    coach.receive(file)
    assert coach.says == ada.says


def _reached(file: Path, name: str) -> bool:
    parts = _parts(file)
    plans = any(part.startswith("plans/") for part in parts)
    return plans if name == "_place" else bool(parts["decisions.jsonl"])
