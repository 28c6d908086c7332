"""A session from paper, written up line by line; and entries put right afterwards."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from runner.errors import MatsideError
from runner.lines.paper import Talk, days_of, put_right, take_down, write_up
from runner.live.corrections import open_correction
from runner.live.paper import open_paper
from runner.output import record_path
from runner.progress.history import SetRow
from runner.record.record import Record
from runner.testing import ManualClock
from tests.lines.process import ROOT, environment, matside
from tests.plans import loads, plan, versions

EVERY_KEY = str(ROOT / "tests" / "data" / "every-key.toml")
BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 25, 6, 30, tzinfo=BERLIN)
MONDAY = date(2026, 11, 23)
# Press twice; row, one-sided, once at each of two versions.
WHOLE = ("12 11/2", "9 10", "8/1", "rpe 7", "", "y")


@dataclass
class Written:
    code: int
    out: str
    err: str


def talk(lines: Sequence[str], *, terminal: bool = False) -> tuple[Talk, io.StringIO, io.StringIO]:
    out, err = io.StringIO(), io.StringIO()
    return Talk(iter(lines), out, err, terminal=terminal), out, err


def log(
    data: Path,
    *lines: str,
    on: date = MONDAY,
    at: time | None = None,
    yes: bool = False,
    terminal: bool = False,
    now: datetime = NOW,
    plan: str = EVERY_KEY,
) -> Written:
    paper = open_paper(plan, data=data, trainee="Ada", clock=ManualClock(now), on=on, at=at)
    with paper.record:
        said, out, err = talk(lines, terminal=terminal)
        code = write_up(paper, said, yes=yes)
    return Written(code, out.getvalue(), err.getvalue())


def fix(
    data: Path,
    *lines: str,
    on: date = MONDAY,
    which: str | None = None,
    terminal: bool = False,
) -> Written:
    with Record.open(record_path(data, trial=True), create=False) as record:
        said, out, err = talk(lines, terminal=terminal)
        code = put_right(open_correction(record, "Ada", on, which), said, NOW, yes=False)
    return Written(code, out.getvalue(), err.getvalue())


def rows(data: Path) -> list[SetRow]:
    with Record.open_readonly(record_path(data, trial=True)) as record:
        assert record.integrity() == "ok"
        return list(record.rows())


def test_a_whole_session_is_kept_as_it_was_understood(tmp_path: Path) -> None:
    written = log(tmp_path, *WHOLE)
    assert written.code == 0
    found = rows(tmp_path)
    assert [(r.exercise, r.version, r.set, r.side, r.reps, r.reserve) for r in found] == [
        ("press", "mark-1", 1, "both", 12, None),
        ("row", "slow", 1, "left", 9, None),
        ("row", "slow", 1, "right", 10, None),
        ("press", "mark-1", 2, "both", 11, 2),
        ("row", "light", 2, "left", 8, 1),
        ("row", "light", 2, "right", 8, 1),
    ]
    for row in found:
        assert row.session_start == "2026-11-23T12:00:00+01:00"
        assert (row.set_start, row.started_by, row.work_s) == (None, None, None)
        assert (row.rest_before_s, row.recovery_s, row.to_beat) == (None, None, None)
        assert (row.status, row.kind, row.corrected) == ("done", "work", "no")
    assert [line.split("\t")[1] for line in written.out.splitlines()] == [
        "opened", *["written"] * 6, "rpe", "closed",
    ]  # fmt: skip
    assert "Standing band press  mark-1, anchor 100 cm:  12 11/2" in written.err
    assert "complete=yes" in written.out


def test_last_time_is_prefilled_and_beaten(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    written = log(tmp_path, "13 11", "", "", "", "y", on=date(2026, 11, 24))
    assert "Standing band press, 2 sets: mark-1, anchor 100 cm; last time 12 11" in written.err
    assert "beaten: 1 of 2" in written.err
    assert "not done: 2 sets" in written.err
    assert "complete=no" in written.out
    assert [(r.to_beat, r.beaten) for r in rows(tmp_path)[-2:]] == [(12.0, "yes"), (11.0, "no")]


def test_an_earlier_day_knows_only_what_came_before_it(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    written = log(tmp_path, "13 11", "", "", "", "y", on=date(2026, 11, 20))
    assert "last time" not in written.err
    later = log(tmp_path, "13 11", "", "", "", "y", on=date(2026, 11, 24))
    assert "last time 12 11" in later.err  # the newest by its date, not by when it was written


def test_what_was_really_used(tmp_path: Path) -> None:
    written = log(
        tmp_path,
        "harder", "setup anchor=150 cm", "12 11",
        "version light", "load 7", "9 10",
        "", "note windy", "mass 70", "minutes 45", "", "y",
    )  # fmt: skip
    assert written.code == 0
    first, left, *_ = rows(tmp_path)
    assert (first.version, first.setup, first.tempo) == ("mark-2", "anchor=150 cm", "2-0-1")
    assert (left.version, left.load_kg) == ("light", 7.0)
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        session = record.sessions_on("Ada", MONDAY)[0]
        assert record.events(session.id)[-1].at == 45 * 60
        assert record.body_mass("Ada") == (70.0, MONDAY)
        assert record.level_decisions() == []  # nobody has decided anything
    later = log(tmp_path, "", "", "", "", "y", on=date(2026, 11, 24))
    assert "anchor 150 cm" in later.err  # it starts where this one was done
    assert "7 kg" in later.err


def test_easier_on_paper_is_never_a_heavier_load(tmp_path: Path) -> None:
    done = log(tmp_path, "12 11", "easier", "9 10", "8/1", "", "y")
    assert "  light, 8 kg\n" in done.out + done.err  # from slow with 8 kg, not light with 20


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ((" ".join(["12"] * 21),), "line 1: Standing band press: write at most 20 sets"),
        (("12; mark-9 11",), "it has mark-1, mark-2"),
        (("swap squat",), "has no substitute 'squat'"),
        (("box=1 12",), "unknown exercise 'box'; there are press, row"),
        (("12", "9 10 11"), "line 2: One-sided"),
        (("twelve",), "line 1"),
        (("load heavy",), "line 1: a load in kg is a number"),
        (("setup hook=3",), "the set-up has no 'hook'; it has anchor"),
        (("version mark-9",), "it has mark-1, mark-2"),
        (("easier",), "has no level easier than mark-1"),
        (("rpe 7",), "has no version 'rpe'; it has mark-1, mark-2; help lists the words"),
        (("back",), "first exercise"),
        (("12", "", "", "rpe 11"), "session RPE is 0 to 10"),
        (("12", "", "", "mass 0"), "body mass in kg is 20"),
        (("12", "", "", "minutes 0"), "write minutes of 1"),
        (("12", "", "", "pause"), "is unknown here"),
        (("12", "", "", "", "perhaps"), "write y or n"),
    ],
)
def test_from_a_pipe_the_first_bad_line_ends_it(
    tmp_path: Path, lines: tuple[str, ...], said: str
) -> None:
    with pytest.raises(MatsideError) as caught:
        log(tmp_path, *lines)
    assert caught.value.code == 65
    assert said in str(caught.value)
    assert rows(tmp_path) == []


def test_at_a_terminal_it_is_asked_for_again(tmp_path: Path) -> None:
    written = log(
        tmp_path, "12 11|10", "12 11", "back", "13", "help", "", "", "", "what", "y", terminal=True
    )
    assert written.code == 0
    assert "not used: Standing band press has no sides: one number a set." in written.err
    assert "not used: write y or n" in written.err
    assert "PRESS> " in written.err
    assert [r.reps for r in rows(tmp_path)] == [13]


@pytest.mark.parametrize(
    ("lines", "options", "code"),
    [
        (("12",), {"yes": True}, 2),  # before the last exercise nobody knows what was meant
        (("12", "", ""), {}, 2),
        (("12", "", "", ""), {}, 2),
        (("12", "", "", "", "n"), {}, 0),
        (("", "", "", ""), {"yes": True}, 0),
    ],
)
def test_nothing_is_kept_without_a_yes(
    tmp_path: Path, lines: tuple[str, ...], options: dict[str, bool], code: int
) -> None:
    written = log(tmp_path, *lines, **options)
    assert written.code == code
    assert "Nothing is saved" in written.err
    assert (rows(tmp_path), written.out) == ([], "")


def test_yes_and_the_end_of_input_keep_it(tmp_path: Path) -> None:
    assert log(tmp_path, "12", "", "", yes=True).code == 0
    assert len(rows(tmp_path)) == 1


def test_two_sessions_on_one_day_stand_beside_each_other(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    again = log(tmp_path, "13 12", "", "", "", "y")
    assert "That day has a session already: Kestrel Hut, morning, A, 12:00." in again.err
    assert "last time 12 11" in again.err
    assert {r.session_start for r in rows(tmp_path)} == {
        "2026-11-23T12:00:00+01:00",
        "2026-11-23T12:01:00+01:00",
    }
    with pytest.raises(MatsideError) as caught:
        fix(tmp_path, "1 13", "", "y")
    assert "several sessions" in str(caught.value)
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        second = record.sessions_on("Ada", MONDAY)[1].id
    assert fix(tmp_path, "1 20", "", "y", which=second).code == 0
    assert [r.reps for r in rows(tmp_path)][-2:] == [20, 12]


def test_today_stands_no_later_than_now(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE, on=NOW.date())
    assert rows(tmp_path)[0].session_start == "2026-11-25T06:30:00+01:00"


@pytest.mark.parametrize(
    ("on", "at", "said"),
    [
        (date(2026, 11, 26), None, "in the future"),
        (date(2026, 11, 25), time(6, 31), "in the future"),
        (date(2026, 3, 29), time(2, 30), "the clocks left out 02:30"),
    ],
)
def test_days_and_hours_that_cannot_be(
    tmp_path: Path, on: date, at: time | None, said: str
) -> None:
    with pytest.raises(MatsideError) as caught:
        log(tmp_path, on=on, at=at)
    assert (caught.value.code, said in str(caught.value)) == (2, True)


def test_over_midnight_and_in_the_hour_that_came_twice(tmp_path: Path) -> None:
    """The date is that on which it was begun; of an hour that came twice the first is taken."""
    log(tmp_path, *WHOLE[:4], "minutes 60", "", "y", on=date(2026, 10, 25), at=time(2, 30))
    log(tmp_path, *WHOLE[:4], "minutes 60", "", "y", on=date(2026, 11, 1), at=time(23, 30))
    weeks = {r.session_start: r.iso_week for r in rows(tmp_path)}
    assert weeks == {
        "2026-10-25T02:30:00+02:00": "2026-W43",
        "2026-11-01T23:30:00+01:00": "2026-W44",  # its end lies in W45
    }


def test_an_entry_is_put_right_and_what_follows_follows(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    log(tmp_path, "12 11", "", "", "", "y", on=date(2026, 11, 24))
    before = rows(tmp_path)
    written = fix(tmp_path, "1 10/3", "3 nocount", "", "y")
    assert written.code == 0
    assert "1  Standing band press, set 1, mark-1, anchor 100 cm: 12" in written.err
    after = rows(tmp_path)
    assert [(r.reps, r.reserve, r.corrected) for r in after[:3]] == [
        (10, 3, "yes"), (9, None, "no"), (None, None, "yes"),
    ]  # fmt: skip
    # What was to beat stays as it stood then, on the next day too.
    assert [(r.to_beat, r.beaten) for r in after[-2:]] == [(12.0, "no"), (11.0, "no")]
    assert [r.session_start for r in after] == [r.session_start for r in before]
    assert [line.split("\t")[1] for line in written.out.splitlines()] == ["corrected"] * 2
    # And a correction of a correction.
    assert fix(tmp_path, "1 14", "", "y").code == 0
    assert rows(tmp_path)[0].reps == 14
    # The next time has the newest right count to beat.
    fix(tmp_path, "1 15", "", "y", on=date(2026, 11, 24))
    third = log(tmp_path, "1", "", "", "", "n", on=date(2026, 11, 25))
    assert "last time 15 11" in third.err


def test_an_end_that_was_known_stays_when_an_entry_is_put_right(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE[:4], "minutes 45", "", "y")
    fix(tmp_path, "1 10", "", "y")
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        assert record._connection.execute("SELECT ended_utc, status FROM session").fetchall() == [
            ("2026-11-23T11:45:00.000Z", "closed")
        ]


@pytest.mark.parametrize("line", ["9 12", "1 x", "1", "x 12", "1 12 14", "2 40s", "1 -3"])
def test_what_cannot_be_put_right_changes_nothing(tmp_path: Path, line: str) -> None:
    log(tmp_path, *WHOLE)
    before = rows(tmp_path)
    with pytest.raises(MatsideError) as caught:
        fix(tmp_path, line, "", "y")
    assert caught.value.code == 65
    assert rows(tmp_path) == before


def test_how_long_it_took_is_unknown_unless_it_is_said(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    log(tmp_path, *WHOLE[:4], "minutes 45", "", "y", on=date(2026, 11, 24))
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        assert [s.length_s for s in record.sessions(trainee="Ada")] == [None, 45 * 60.0]


def test_nothing_to_put_right(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    assert fix(tmp_path, "").code == 0
    assert fix(tmp_path, "1 10", "", "n").code == 0
    assert fix(tmp_path, "1 10").code == 2
    assert rows(tmp_path)[0].reps == 12
    with pytest.raises(MatsideError) as caught:
        fix(tmp_path, "1 10", on=date(2026, 11, 24))
    assert caught.value.code == 66


def test_exercises_are_asked_for_in_their_order_a_ramp_set_or_not(tmp_path: Path) -> None:
    clock = ManualClock(NOW)
    paper = open_paper("kestrel-hut", data=tmp_path, trainee="Ada", clock=clock, on=MONDAY)
    with paper.record:
        asked = [page.exercise.id for page in paper.pages]
    assert asked[:4] == ["squat", "pull-down", "push-up", "bar-row"]


def test_counts_as_they_are_printed_are_read(tmp_path: Path) -> None:
    log(tmp_path, "12", "9 10", "8|7", "", "y")
    assert [r.reps for r in rows(tmp_path) if r.exercise == "row"] == [9, 10, 8, 7]


def test_a_person_is_told_that_it_is_kept_and_reads_no_events(tmp_path: Path) -> None:
    lines = ("easier", "12", "back", "13/1", "", "", "minutes 50", "mass 74.5", "", "y")
    out, err = io.StringIO(), io.StringIO()
    paper = open_paper(EVERY_KEY, data=tmp_path, trainee="Ada", clock=ManualClock(NOW), on=MONDAY)
    with paper.record:
        talk_to = Talk(iter(lines), out, err, terminal=True, seen=True)
        assert write_up(paper, talk_to, yes=False) == 0
    assert out.getvalue() == ""
    shown = " ".join(err.getvalue().split())
    assert "Saved: session" in shown
    assert "of Monday 2026-11-23, for Ada." in shown
    assert "you wrote 12; write it again" in shown
    assert "minutes: 50" in shown
    assert "body mass: 74.5 kg" in shown
    assert "has no level easier than" in shown


def test_a_set_left_out_is_printed_as_it_is_typed(tmp_path: Path) -> None:
    written = log(tmp_path, "12", "-", "8|7", "", "y", terminal=True)
    assert "8 kg:  -\n" in written.err
    assert "-|-" not in written.err


def test_a_doubtful_count_is_asked_about_again(tmp_path: Path) -> None:
    """By the rule of a session: 0, over twice the top of the range, or far over the best."""
    lines = ("0 110", "12 11", "9 10", "8/1", "", "y")
    said = log(tmp_path, *lines, terminal=True).err
    assert "1: 0 (nothing done), " in said
    assert "2: 110 (over twice the top of the rep range" in said
    assert "The same line again keeps it, or write another." in said
    assert rows(tmp_path)[0].reps == 12
    again = tmp_path / "again"
    log(again, "0 11", "0 11", "9 10", "8/1", "", "y", terminal=True)
    assert rows(again)[0].reps == 0


def test_a_doubtful_correction_is_asked_about_again(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    said = fix(tmp_path, "1 120", "1 13", "", "y", terminal=True).err
    assert "1: 120 (over twice the top of the rep range" in said
    assert rows(tmp_path)[0].reps == 13
    fix(tmp_path, "1 0", "1 0", "", "y", terminal=True)
    assert rows(tmp_path)[0].reps == 0
    assert "1: 120 (over twice" in fix(tmp_path, "1 120", "", "y").err
    assert rows(tmp_path)[0].reps == 120


def test_without_a_terminal_a_doubtful_count_is_named(tmp_path: Path) -> None:
    said = log(tmp_path, "0 11", "9 10", "8/1", "", "y").err
    assert "1: 0 (nothing done) is written down. If it is wrong: matside log --fix." in said
    assert rows(tmp_path)[0].reps == 0


def test_another_level_from_there_on_and_a_set_beyond_the_plan(tmp_path: Path) -> None:
    written = log(tmp_path, "12; mark-2:140cm 9 8", "row=slow:7kg 9 10", "", "", "y", terminal=True)
    assert "1 set beyond the plan" in written.err
    found = [(r.exercise, r.version, r.setup, r.load_kg, r.set, r.reps) for r in rows(tmp_path)]
    assert found == [
        ("press", "mark-1", "anchor=100 cm", None, 1, 12),
        ("row", "slow", "", 7.0, 1, 9),
        ("row", "slow", "", 7.0, 1, 10),
        ("press", "mark-2", "anchor=140 cm", None, 2, 9),
        ("press", "mark-2", "anchor=140 cm", None, 3, 8),
    ]


def test_pain_and_note_stand_beside_the_last_set(tmp_path: Path) -> None:
    written = log(tmp_path, "12 11; pain left elbow; note cold; wet", "", "", "", "y")
    assert "it hurt" in written.err
    found = rows(tmp_path)
    assert [(r.pain, r.pain_where, r.note) for r in found] == [
        (None, "", ""),
        ("yes", "left elbow", "pain: left elbow\ncold; wet"),
    ]


def test_pain_before_the_first_set_leaves_it_out(tmp_path: Path) -> None:
    log(tmp_path, "pain left elbow", "", "9 10", "", "", "y")
    first = rows(tmp_path)[0]
    assert (first.exercise, first.status, first.pain, first.pain_where) == (
        "press", "skipped", "yes", "left elbow",
    )  # fmt: skip


def test_a_lighter_session_has_fewer_sets_and_nothing_to_beat(tmp_path: Path) -> None:
    log(tmp_path, *WHOLE)
    written = log(tmp_path, "lighter", "13", "", "", on=date(2026, 11, 24), yes=True)
    assert "a lighter session" in written.err
    assert "Standing band press, 1 set: mark-1, anchor 100 cm\n" in written.err
    newest = rows(tmp_path)[-1]
    assert (newest.reps, newest.to_beat, newest.deload) == (13, None, "yes")


def test_a_lighter_session_said_at_last_loses_no_set(tmp_path: Path) -> None:
    """Its plan names a version for each set of the row; with one set there is one version."""
    log(tmp_path, "12 11 10", "9 10", "8|7", "lighter", "rpe 5", "", "y")
    found = [(r.exercise, r.version, r.set, r.side, r.reps, r.deload) for r in rows(tmp_path)]
    assert sorted(found) == [
        ("press", "mark-1", 1, "both", 12, "yes"),
        ("press", "mark-1", 2, "both", 11, "yes"),
        ("press", "mark-1", 3, "both", 10, "yes"),
        ("row", "light", 2, "left", 8, "yes"),
        ("row", "light", 2, "right", 7, "yes"),
        ("row", "slow", 1, "left", 9, "yes"),
        ("row", "slow", 1, "right", 10, "yes"),
    ]


def test_a_line_for_another_exercise_than_the_one_asked_for(tmp_path: Path) -> None:
    written = log(tmp_path, "row 9 10", "12 11", "", "", "y", terminal=True)
    assert [r.exercise for r in rows(tmp_path)] == ["press", "row", "row", "press"]
    assert "2 of 3" not in written.err  # it is written already


TEXT = """
on 2026-11-20
press=mark-1 12 11
pain left elbow
row=slow:8kg 9|10
on 2026-11-23

press 13 12
note first in the new room
rpe 6
"""


def taken_down(data: Path, text: str) -> list[str]:
    said = []
    for found in days_of(text.splitlines()):
        assert found.on is not None
        clock = ManualClock(NOW)
        paper = open_paper(EVERY_KEY, data=data, trainee="Ada", clock=clock, on=found.on)
        with paper.record:
            to, _, err = talk(())
            assert take_down(paper, found, to, yes=True) == 0
        said.append(err.getvalue())
    return said


def test_help_helps_also_after_the_last_exercise(tmp_path: Path) -> None:
    lines = ("12", "9 10", "12 11", "hlep", "help", "rpe 7", "", "y")
    written = log(tmp_path, *lines, terminal=True)
    assert written.code == 0
    assert "'hlep' is unknown; help lists the words" in " ".join(written.err.split())
    assert "'help' is unknown" not in written.err
    assert written.err.count("rpe 7, mass 74.5, minutes 50") == 2


def test_several_dates_in_one_text(tmp_path: Path) -> None:
    taken_down(tmp_path, TEXT)
    found = [(r.session_start[:10], r.exercise, r.reps, r.pain_where) for r in rows(tmp_path)]
    assert found == [
        ("2026-11-20", "press", 12, ""),
        ("2026-11-20", "row", 9, ""),
        ("2026-11-20", "row", 10, ""),
        ("2026-11-20", "press", 11, "left elbow"),
        ("2026-11-23", "press", 13, ""),
        ("2026-11-23", "press", 12, ""),
    ]
    assert rows(tmp_path)[-1].note == "first in the new room"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("on Monday\npress 12", "line 1: 'Monday' is not a date; write it as 2026-11-25"),
        ("on 2026-11-23\n12 11", "line 2: name the exercise first: press 12 11"),
        ("on 2026-11-23\npress 12\nrow=slow 9 10 11", "line 3: One-sided"),
        (
            "on 2026-11-23\npress 12\nswap box",
            "line 3: Standing band press has no substitute 'box'",
        ),
        ("on 2026-11-23\nrpe 11", "line 2: session RPE is 0 to 10"),
    ],
)
def test_a_text_with_a_bad_line_is_not_kept(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(MatsideError) as caught:
        taken_down(tmp_path, text)
    assert caught.value.code == 65
    assert said in str(caught.value)
    assert rows(tmp_path) == []


def test_the_command_takes_several_dates(tmp_path: Path) -> None:
    lines = "12 11\n\n\n\n13 12\n\n\non 2026-11-24\n14\n\n\n\n"
    done = subprocess.run(
        [sys.executable, "-m", "runner", "log", EVERY_KEY, "--for", "Ada", "--yes",
         "--on", "2026-11-20", "--on", "2026-11-23"],
        input=lines, capture_output=True, text=True, check=False,
        env=environment(MATSIDE_DATA=str(tmp_path)), timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert [(r.session_start[:10], r.reps) for r in rows(tmp_path)] == [
        ("2026-11-20", 12), ("2026-11-20", 11),
        ("2026-11-23", 13), ("2026-11-23", 12),
        ("2026-11-24", 14),
    ]  # fmt: skip
    text = tmp_path / "sheet.txt"
    text.write_text(TEXT.replace("2026-11-2", "2026-11-1"), encoding="utf-8")
    done = matside(
        "log", EVERY_KEY, "--for", "Ada", "--yes", "--from", str(text), MATSIDE_DATA=str(tmp_path)
    )
    assert done.returncode == 0, done.stderr
    assert {r.session_start[:10] for r in rows(tmp_path)} >= {"2026-11-10", "2026-11-13"}


TWICE = plan(
    "Hut, twice",
    {
        "squat": {
            "short": "SQUAT",
            "instead": ["step"],
            "version": [{"id": "bench", "name": "to the bench", "load": loads(4, 20, 2)}],
        },
        "step": {
            "name": "Step up",
            "short": "STEP",
            "pattern": "lunge",
            "prime": ["quadriceps"],
            "version": [{"id": "box", "name": "on the box"}],
        },
        "row": {
            "name": "Row",
            "short": "ROW",
            "instead": ["pull"],
            "version": versions("light", "slow"),
        },
        "pull": {
            "name": "Band pull",
            "short": "PULL",
            "pattern": "horizontal pull",
            "prime": ["upper-back"],
            "version": [{"id": "band", "name": "band"}],
        },
    },
    [
        {"squat": {"sets": 2, "ramp": 1}},
        {"row": {"sets": 2, "versions": ["slow", "light"]}},
        {"squat": 2},
    ],
    trial=True,
)


def twice(tmp_path: Path, *lines: str) -> list[tuple[str, str, int, str, int | None]]:
    plan = tmp_path / "twice.toml"
    plan.write_text(TWICE, encoding="utf-8")
    written = log(tmp_path, *lines, plan=str(plan))
    assert written.code == 0, written.err
    return [(r.exercise, r.version, r.block, r.kind, r.reps) for r in rows(tmp_path)]


@pytest.mark.parametrize("line", ["warm-up 10; 12 11", "squat=; warm-up 10; bench:4kg 12 11"])
def test_warm_up_sets_are_written_up(tmp_path: Path, line: str) -> None:
    found = twice(tmp_path, line, "", "", "", "", "y")
    assert found == [
        ("squat", "bench", 1, "ramp", 10),
        ("squat", "bench", 1, "work", 12),
        ("squat", "bench", 1, "work", 11),
    ]
    ramp, first, _ = rows(tmp_path)
    assert (ramp.set, ramp.load_kg, ramp.to_beat, first.set, first.load_kg) == (1, 2, None, 2, 4)


def test_more_warm_up_sets_than_planned_are_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(MatsideError, match="planned with 1 warm-up set, not 2"):
        twice(tmp_path, "warm-up 10 10; 12 11")


def test_a_set_added_where_the_exercise_stands_in_several_blocks(tmp_path: Path) -> None:
    found = twice(tmp_path, "12 11", "", "", "10 9 8", "", "y")
    assert [(block, reps) for name, _, block, _, reps in found if name == "squat"] == [
        (1, 12), (1, 11), (3, 10), (3, 9), (3, 8),
    ]  # fmt: skip


def test_a_set_added_in_the_first_of_several_blocks(tmp_path: Path) -> None:
    found = twice(tmp_path, "12 11 10; pain left knee", "", "", "9", "", "y")
    assert [(block, reps) for name, _, block, _, reps in found if name == "squat"] == [
        (1, 12), (1, 11), (1, 10), (3, 9),
    ]  # fmt: skip


def test_a_swap_where_the_plan_names_versions_is_about_its_own_sets(tmp_path: Path) -> None:
    found = twice(tmp_path, "12 11", "swap pull 9", "8", "", "", "y")
    assert found[2:] == [("pull", "band", 2, "work", 9), ("row", "light", 2, "work", 8)]


def test_both_versions_may_be_swapped(tmp_path: Path) -> None:
    found = twice(tmp_path, "12 11", "swap pull 9", "swap pull 7 6", "", "", "y")
    assert found[2:] == [
        ("pull", "band", 2, "work", 9), ("pull", "band", 2, "work", 7),
        ("pull", "band", 2, "work", 6),
    ]  # fmt: skip


def test_a_swap_in_one_of_several_blocks_leaves_the_other(tmp_path: Path) -> None:
    found = twice(tmp_path, "swap step 12 11 10", "", "", "9 8", "", "y")
    assert found == [
        ("step", "box", 1, "work", 12), ("step", "box", 1, "work", 11),
        ("step", "box", 1, "work", 10),
        ("squat", "bench", 3, "work", 9), ("squat", "bench", 3, "work", 8),
    ]  # fmt: skip
