"""The roster of fourteen people of the winter crew, against SQL over what `export` writes."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import time
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.live.advice import Advisor
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.tables import write_what
from runner.reports.roster import Person as Line, columns, roster, table
from runner.session import verb as cmd
from tests.reports.winter import PLAN
from tests.reports.year import BERLIN, Person, Run, days

START = datetime(2026, 9, 7, 6, 30, tzinfo=BERLIN)  # a Monday
NOW = datetime(2026, 11, 27, 20, 0, tzinfo=BERLIN)  # a Friday, twelve weeks later
CREW = ("Ada", "Ben", "Cem", "Dag", "Eva", "Finn", "Gro", "Hedda", "Ivo", "Jon", "Kaja", "Liv",
        "Mio", "Nell")  # fmt: skip


def winter(record: Record, number: int, name: str) -> None:
    """Twelve weeks of one of the crew: each away, hurt and moved on in a way of their own."""
    person = Person(record, name, seed=number)
    away = timedelta(days=(0, 2, 11, 0, 20)[number % 5])
    at = [day for day in days(START, (0, 3), 12) if day < NOW - away]
    moved: set[int] = set()
    for turn, day in enumerate(at):

        def act(run: Run, turn: int = turn, last: int = len(at) - 1) -> None:
            coming, work = run.state.coming, run.state.course.next_work("push-up")
            if coming is None or coming[0].exercise != "push-up" or work is None:
                return
            first = run.state.running is None and coming[0].kind == "work" and work.number < 3
            if turn in (last - 3 - number % 3, last) and first and turn not in moved:
                moved.add(turn)
                harder = work.level.version == "bench"
                if harder or number % 2:
                    run.do(cmd.Step(1 if harder else -1))
            if number % 4 == 1 and turn == last and work.number > 1:
                run.do(cmd.Hurt("left shoulder"))

        person.train(PLAN, "AB"[turn % 2], day, act=act)


@pytest.fixture(scope="module")
def record() -> Iterator[Record]:
    with Record.in_memory() as opened:
        for number, name in enumerate(CREW):
            winter(opened, number, name)
        yield opened


@pytest.fixture(scope="module")
def tables(record: Record) -> sqlite3.Connection:
    """What `export` writes of sets and sessions, each field as its text."""
    made = sqlite3.connect(":memory:")
    for what in ("sets", "sessions"):
        out = io.StringIO()
        write_what(what, record, None, Period(), out)
        head, *rows = csv.reader(io.StringIO(out.getvalue(), newline=""))
        names = ", ".join(f'"{name}"' for name in head)
        made.execute(f"CREATE TABLE {what} ({names})")
        made.executemany(f"INSERT INTO {what} VALUES ({', '.join('?' * len(head))})", rows)
    return made


# Sessions, days and the week: of those in which a work set was done.
DAYS = """SELECT max(substr(session_start, 1, 10)),
    date(max(substr(session_start, 1, 10)), '+3 days'), -- two sessions a week
    count(*) FILTER (WHERE iso_week = '2026-W48'),
    cast(julianday('2026-11-27') - julianday(max(substr(session_start, 1, 10))) AS INTEGER)
    FROM sessions WHERE trainee = ? AND cast(sets_done AS INTEGER) > 0"""
# The level of most sets of an exercise in a session, of several the later; then each change.
LEVELS = """WITH used AS (
    SELECT exercise, session_start, version, load_kg, count(*) AS sets, max(set_start) AS latest
    FROM sets WHERE trainee = ? AND kind = 'work' AND status = 'done' AND pain <> 'yes'
    AND coalesce(nullif(reps, ''), nullif(hold_s, '')) IS NOT NULL
    GROUP BY exercise, session_start, version, load_kg),
most AS (SELECT *, row_number() OVER (PARTITION BY exercise, session_start
    ORDER BY sets DESC, latest DESC) AS place FROM used),
levels AS (SELECT exercise, session_start,
    100 * (CASE version WHEN 'floor' THEN exercise = 'push-up' ELSE 0 END)
    + cast(coalesce(nullif(load_kg, ''), 0) AS REAL) AS level FROM most WHERE place = 1),
steps AS (SELECT session_start, level - lag(level) OVER
    (PARTITION BY exercise ORDER BY session_start) AS step FROM levels)
SELECT count(*) FILTER (WHERE step > 0), count(*) FILTER (WHERE step < 0) FROM steps
WHERE substr(session_start, 1, 10) > '2026-10-30'"""
PAIN = """SELECT pain_where || ' ' || max(substr(session_start, 1, 10)) FROM sets
    WHERE trainee = ? AND pain = 'yes' AND substr(session_start, 1, 10) >= '2026-10-30'
    GROUP BY pain_where ORDER BY max(session_start) DESC, pain_where"""
DUE = "SELECT session FROM sessions WHERE trainee = ? ORDER BY session_start DESC LIMIT 1"


@pytest.mark.parametrize("name", CREW)
def test_sql_over_the_exported_tables_says_the_same(
    record: Record, tables: sqlite3.Connection, name: str
) -> None:
    (row,) = (r for r in columns(roster(record, NOW)) if r.trainee == name)
    last, due, done, away = tables.execute(DAYS, (name,)).fetchone()
    assert (str(row.last), str(row.due), row.done, row.days_away) == (last, due, done, away)
    assert row.planned == 2
    assert row.pain == ";".join(text for (text,) in tables.execute(PAIN, (name,)))
    (before,) = tables.execute(DUE, (name,)).fetchone()
    assert row.session == {"A": "B", "B": "A"}[before]
    assert (row.up, row.down) == tables.execute(LEVELS, (name,)).fetchone()


def test_the_crew_is_not_all_alike(record: Record) -> None:
    found = list(columns(roster(record, NOW)))
    for name in ("up", "down", "stalled", "pain", "advice"):
        assert len({getattr(row, name) for row in found}) > 1, name


def test_who_needs_a_look_comes_first(record: Record) -> None:
    found = [
        (not p.pain, (p.days_away or 0) < 7, not p.stalled, not p.advice, p.trainee)
        for p in roster(record, NOW)
    ]
    assert found == sorted(found)
    assert len(found) == len(CREW)


def test_the_text_has_the_columns_and_begins_a_line_for_each_person(record: Record) -> None:
    people = roster(record, NOW)
    head, *lines = table(people, NOW.date())
    assert head.split("  ")[0] == "who"
    assert " ".join(head.split()) in (
        "who last due week working levels stalled pain waiting",
        "who last due week working stalled pain waiting",  # "levels" below it
    )
    first = [line.split()[0] for line in lines if line[0] != " "]  # what is too long goes on below
    assert first == [one.trainee for one in people]
    assert max(map(len, (head, *lines))) <= 80
    ben = next(line for line in lines if line.startswith("Ben"))
    assert "left shoulder" in ben
    cem = next(line for line in lines if line.startswith("Cem"))
    assert "since " in cem
    assert "days away" in "\n".join(lines)


def test_a_day_of_another_month_is_named_with_it_and_the_days_away_stay_in_one_piece() -> None:
    today = date(2026, 11, 27)
    away = Line(
        *("Ben Bergland", date(2026, 4, 29), date(2026, 5, 1), "A", 0, 3, 0, 1),
        *((("bent-over-row", 12),), (("left shoulder", date(2026, 11, 20)),), 3, 212),
    )
    ada = Line("Ada", date(2026, 11, 16), date(2026, 11, 18), "B", 1, 3, 2, 0, (), (), 0, 11)
    lines = table([away, ada], today)
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    assert "29 Apr" in text
    assert "212 days away" in text
    (line,) = (one for one in lines if one.startswith("Ada"))
    assert " Mon 16 " in line
    assert " since 18 " in line
    assert " 2 up " in line


def test_advice_is_what_next_proposes(record: Record) -> None:
    plan = parse_plan(PLAN, "plan")
    workouts = [compile_session(plan, session.id) for session in plan.session]
    for one in roster(record, NOW):
        advisor = Advisor(record, one.trainee, workouts, NOW, plan=plan)
        proposed = sum(item.proposes for item in advisor.items)
        assert one.advice == proposed + (advisor.lighter is not None), one.trainee


def test_three_people_are_looked_at_without_a_long_wait() -> None:
    """The figure for fifty is the benchmark's."""
    with Record.in_memory() as opened:
        for number in range(3):
            winter(opened, number, f"Guest {number}")
        begun = time.process_time()
        assert len(roster(opened, NOW)) == 3
        assert time.process_time() - begun < 3  # a tenth of that, where nothing else runs


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["roster", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_command_as_data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Record.open(tmp_path / "record.db") as opened:
        winter(opened, 1, "Ben")
    code, out, _ = run(capsys, "--json", "--data", str(tmp_path))
    (ben,) = json.loads(out)
    head = "trainee last due session done planned up down stalled pain advice days_away"
    assert (code, " ".join(ben)) == (0, head)
    code, out, _ = run(capsys, "--csv", "--data", str(tmp_path))
    assert (code, out.splitlines()[0]) == (0, head.replace(" ", ","))
    code, out, err = run(capsys, "demo", "--data", str(tmp_path))
    assert (code, out) == (0, "")
    assert "nobody ran that plan last; matside roster lists everybody" in err


def test_nobody_yet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "--data", str(tmp_path))
    assert (code, out) == (0, "")
    assert "nobody has trained yet" in err
    code, out, _ = run(capsys, "--json", "--data", str(tmp_path))
    assert (code, json.loads(out)) == (0, [])
