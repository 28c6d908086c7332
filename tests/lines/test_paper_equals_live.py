"""A session written up from paper is the same as one run live, but for its times.

Warm-up sets aside: nobody writes them down. A set added on paper is one that was agreed live.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from runner.lines.paper import Talk, days_of, take_down
from runner.live.paper import open_paper
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.progress.adjust import Adjustment, Offer
from runner.progress.answers import LIGHTER
from runner.progress.history import SetRow
from runner.record.record import Record
from runner.session import flow
from runner.session.apply import initial
from runner.testing import ManualClock
from tests.plans import USUAL, loads, plan
from tests.reports.year import BERLIN, Run

PLAN = plan(
    "Kestrel Hut, before the reading",
    {
        "push-up": {
            "instead": ["band-press"],
            "version": [
                {"id": "knees", "name": "on the knees"},
                {"id": "feet", "name": "on the feet"},
            ],
        },
        "band-press": {
            **USUAL["press"],
            "name": "Band press",
            "version": [{"id": "one", "name": "one band"}, {"id": "two", "name": "two bands"}],
        },
        "sack-row": {
            **USUAL["row"],
            "sides": "left first",
            "version": [{"id": "handle", "name": "by its handle", "load": loads(4, 12, 2)}],
        },
        "plank": {
            "name": "Plank by the stove",
            "version": [{"id": "toes", "name": "on the toes"}],
        },
    },
    [{"push-up": 3, "sack-row": 2}, {"plank": 2}],
)
MONDAY, TUESDAY = datetime(2026, 11, 23, 6, 30, tzinfo=BERLIN), date(2026, 11, 24)
TIMES = ("session_id", "session_start", "set_start", "started_by", "work_s", "rest_before_s",
         "recovery_s", "iso_week")  # fmt: skip


class Live(Run):
    """A session run by a manual clock, each set at its deadline."""

    def line(self, text: str) -> None:
        """A line as it is typed in line mode."""
        self.do(flow.read_line(text))


def plain_set(run: Live, count: str, seconds: float = 20.0) -> None:
    """A two-sided set."""
    run.set(seconds, None)
    run.line(count)


def sides(run: Live, left: str, right: str) -> None:
    for count in (left, right):
        run.set(20.0, None)
        run.line(count)


def hold(run: Live, seconds: float) -> None:
    """By the clock, which takes off the reach for the key."""
    row = run.set(seconds, None)
    missing = seconds - (run.state.rows[row.entry - 1].value or 0.0)
    assert missing == 0.0


def as_planned(run: Live) -> None:
    plain_set(run, "12/2")
    sides(run, "10", "9/1")
    plain_set(run, "11")
    sides(run, "9", "8")
    plain_set(run, "nocount")
    hold(run, 40)
    hold(run, 35)
    run.line("rpe 7")
    run.line("note before the storm")


def levels(run: Live) -> None:
    plain_set(run, "12")
    sides(run, "10", "9")
    run.line("harder")  # the push-up, which comes next
    plain_set(run, "8")
    run.set(20.0, None)
    run.line("load 8")  # really used, from this set on
    run.line("7")
    run.set(20.0, None)
    run.line("6")
    plain_set(run, "7")
    hold(run, 40)
    hold(run, 35)


def swap_and_pain(run: Live) -> None:
    plain_set(run, "12")
    sides(run, "10", "9")
    run.line("swap")
    plain_set(run, "11")
    run.line("note windy")
    sides(run, "9", "8")
    run.line("skip")
    hold(run, 40)
    run.line("pain left shoulder")


def lighter(run: Live) -> None:
    run.line("lighter")
    plain_set(run, "12")
    sides(run, "10", "9")
    plain_set(run, "11")
    hold(run, 35)


def added(run: Live) -> None:
    plain_set(run, "12")
    sides(run, "10", "9")
    plain_set(run, "11")
    sides(run, "9", "8")
    plain_set(run, "10")
    sides(run, "8", "7")
    hold(run, 40)
    hold(run, 35)


SESSIONS: dict[str, tuple[Callable[[Live], None], str]] = {
    "as planned": (
        as_planned,
        "note before the storm\npush-up 12/2 11 nocount\nsack-row 10|9/1 9|8\nplank 40 35\nrpe 7",
    ),
    "two levels": (
        levels,
        "push-up=knees 12; feet 8 7\nsack-row=handle:4kg 10|9; handle:8kg 7|6\nplank=toes 40 35",
    ),
    "swap, note, pain": (
        swap_and_pain,
        "push-up 12; swap band-press 11 -\nnote windy\nsack-row 10|9, 9|8\n"
        "plank 40\npain left shoulder",
    ),
    "lighter": (lighter, "lighter\npush-up 12 11\nsack-row 10 9\nplank 35"),
    "a set added": (added, "push-up 12 11 10\nsack-row 10|9 9|8 8|7\nplank 40 35"),
}


def run_live(folder: Path, acts: Callable[[Live], None], changes: Sequence[Adjustment]) -> None:
    workout = compile_session(parse_plan(PLAN, "plan"), "A")
    with Record.open(record_path(folder, trial=False)) as record:
        first = Live(record, workout, PLAN, MONDAY, "Ada")
        as_planned(first)
        first.keep(close=True)
        run = Live(record, workout, PLAN, MONDAY.replace(day=24), "Ada")
        if changes:
            baseline = replace(run.state.baseline, changes=tuple(changes))
            run.state, run.events = initial(workout, baseline), []
            run._take(flow.opened(run.state, 0.0))
        if acts is lighter:
            offer = Offer("lighter", "", (), LIGHTER)
            baseline = replace(run.state.baseline, offers=(offer,))
            run.state, run.events = initial(workout, baseline), []
            run._take(flow.opened(run.state, 0.0))
        acts(run)
        run.keep(close=True)


def write(folder: Path, text: str) -> None:
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    workout = compile_session(parse_plan(PLAN, "plan"), "A")
    with Record.open(record_path(folder, trial=False)) as record:
        first = Live(record, workout, PLAN, MONDAY, "Ada")
        as_planned(first)
        first.keep(close=True)
    clock = ManualClock(MONDAY.replace(day=25))
    path = str(folder / "plan.toml")
    paper = open_paper(path, data=folder, trainee="Ada", clock=clock, on=TUESDAY)
    with paper.record:
        talk = Talk(iter(()), io.StringIO(), io.StringIO(), terminal=False)
        assert take_down(paper, days_of(text.splitlines())[0], talk, yes=True) == 0


def rows(folder: Path) -> list[SetRow]:
    with Record.open_readonly(record_path(folder, trial=False)) as record:
        session = record.sessions(trainee="Ada")[-1]
        found = record.session_rows(session.session_id)
        assert record.integrity() == "ok"
        return [row._replace(**dict.fromkeys(TIMES)) for row in found]


@pytest.mark.parametrize("name", SESSIONS)
def test_typed_in_it_equals_the_same_run_live(tmp_path: Path, name: str) -> None:
    acts, text = SESSIONS[name]
    changes = [Adjustment("sets", "sack-row", number=1.0)] if acts is added else []
    live, paper = tmp_path / "live", tmp_path / "paper"
    live.mkdir()
    paper.mkdir()
    run_live(live, acts, changes)
    write(paper, text)
    one, other = rows(live), rows(paper)
    assert [r.exercise for r in one] == [r.exercise for r in other]
    assert one == other
    with (
        Record.open_readonly(record_path(live, trial=False)) as a,
        Record.open_readonly(record_path(paper, trial=False)) as b,
    ):
        kept = [(s.complete, s.rpe, s.note) for record in (a, b) for s in record.sessions()[-1:]]
        workout = compile_session(parse_plan(PLAN, "plan"), "A")
        levels_of = [record.levels("Ada", [workout]) for record in (a, b)]
        found = [
            {key: (level.use, level.reason) for key, level in each.items()} for each in levels_of
        ]
    assert kept[0] == kept[1]
    assert found[0] == found[1]
