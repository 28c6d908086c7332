"""A year of made-up history, exported as CSV and counted again by pandas.

pandas sees the CSV of the sets and nothing else: weeks from the local date in `session_start`,
by pandas' own calendar; weekly sets, bests and trends by its own grouping.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import pandas as pd
import pytest

from runner.law.workout import Measure
from runner.live.corrections import open_correction
from runner.record.record import Record
from runner.record.rows import Period
from runner.record.tables import write_what
from runner.reports.past import Past, look_back
from runner.session import verb as cmd

from .winter import PLAN
from .year import BERLIN, Person, Run, days

RENAMED = PLAN.replace('name = "Push-up"', 'name = "Press-up"')
WITHOUT_PLANK = RENAMED.replace('  { do = [{ exercise = "plank", sets = 2 }] },\n', "")
ODD_STARTS = (  # local: first and last days of ISO years, clock changes, midnight, twice a day
    datetime(2021, 1, 3, 12, 0, tzinfo=BERLIN),
    datetime(2026, 1, 1, 0, 5, tzinfo=BERLIN),
    datetime(2026, 3, 29, 1, 55, tzinfo=BERLIN),
    datetime(2026, 7, 5, 23, 55, tzinfo=BERLIN),
    datetime(2026, 7, 6, 18, 0, tzinfo=BERLIN),
    datetime(2026, 10, 25, 2, 57, tzinfo=BERLIN),
    datetime(2027, 1, 3, 23, 50, tzinfo=BERLIN),
)


def unusual(run: Run) -> None:
    """Now and then a set is left out, not counted, given up or put right, or something hurts."""
    coming = run.state.coming
    if coming is None:
        return
    planned_set, side = coming
    chance = (
        len(run.info.id)
        + run.at.toordinal() * 7
        + planned_set.number * 3
        + len(planned_set.exercise)
    ) % 23
    if chance == 0:
        run.do(cmd.Skip())
    elif chance == 1 and side != "right":
        run.set(12.0, None)
        if run.state.open_rows:
            run.do(cmd.NoCount())
    elif chance == 2 and run.state.course.next_work(planned_set.exercise) is not None:
        level = planned_set.level
        progression = run.workout.exercises[planned_set.exercise].progression
        if level in progression[:-1] and planned_set.kind == "work" and not run.state.moved:
            run.do(cmd.Step(1))
    elif chance == 3 and run.state.rows and run.state.rows[-1].value is not None:
        row = run.state.rows[-1]
        measure: Measure = run.state.exercise(row).measure
        run.do(cmd.Fix(row.entry, measure, cmd.Count((row.value or 0) + 3)))
    elif chance == 4 and run.at.month == 5 and run.state.rows:
        run.do(cmd.Hurt("left wrist"))


@dataclass(frozen=True)
class Year:
    record: Record
    sets: pd.DataFrame
    past: Past


def exported(record: Record, what: str) -> pd.DataFrame:
    stream = io.StringIO(newline="")
    write_what(what, record, None, Period(), stream)
    texts = dict.fromkeys(("setup", "tempo", "pain"), str) if what == "sets" else None
    written = io.StringIO(stream.getvalue())
    return pd.read_csv(written, keep_default_na=False, na_values=[""], dtype=texts)


def read_year(record: Record) -> Year:
    past = look_back(record, "Ada", since=date(2021, 1, 1), until=date(2027, 12, 31))
    assert past is not None
    return Year(record, exported(record, "sets"), past)


@pytest.fixture(scope="module")
def year() -> Iterator[Year]:
    with Record.in_memory() as record:
        person = Person(record, "Ada", seed=2026)
        usual = days(datetime(2026, 1, 5, 6, 30, tzinfo=BERLIN), (1, 4), 52)
        for number, at in enumerate(sorted((*usual, *ODD_STARTS))):
            plan = PLAN if at.month < 6 else RENAMED if at.month < 10 else WITHOUT_PLANK
            cut_off = number % 40 == 39
            person.train(plan, "AB"[number % 2], at, act=unusual, close=not cut_off)
        # An entry of a closed session is put right long afterwards: it becomes the best.
        correction = open_correction(record, "Ada", usual[20].date(), None)
        row = next(
            r
            for r in correction.state.rows
            if r.planned_set.exercise == "push-up"
            and r.planned_set.kind == "work"
            and r.status == "done"
        )
        count = cmd.Count(77)
        correction.fix(cmd.Fix(row.entry, "reps", count), usual[20] + timedelta(days=2))
        correction.keep()
        yield read_year(record)


def work(sets: pd.DataFrame) -> pd.DataFrame:
    done = sets[(sets["kind"] == "work") & (sets["status"] == "done")].copy()
    local = pd.to_datetime(done["session_start"].str[:10])
    calendar = local.dt.isocalendar()
    weeks = calendar["week"].astype(str).str.zfill(2)
    done["week"] = calendar["year"].astype(str) + "-W" + weeks
    done["count"] = done["reps"].fillna(done["hold_s"])
    return done


def weekly(sets: pd.DataFrame) -> dict[tuple[str, str], float]:
    """(week, muscle) -> sets, from the CSV alone."""
    whole = work(sets).drop_duplicates(["session_id", "exercise", "set"])
    parts = []
    for column, share in (("prime_movers", 1.0), ("synergists", 0.5)):
        part = whole[["week", "session_id", "exercise", "set", column]].dropna()
        part = part.assign(muscle=part[column].str.split(";"), share=share).explode("muscle")
        parts.append(part.drop(columns=column))
    roles = pd.concat(parts)
    key = ["session_id", "exercise", "set", "muscle", "week"]
    best = roles.groupby(key)["share"].max().reset_index()  # both roles: a prime mover
    summed = best.groupby(["week", "muscle"])["share"].sum()
    return {(str(week), str(muscle)): float(sets) for (week, muscle), sets in summed.items()}


def test_the_year_has_what_makes_years_hard(year: Year) -> None:
    sets = year.sets
    assert len(sets) > 900
    assert {"done", "skipped"} <= set(sets["status"])
    assert {"both", "left", "right"} == set(sets["side"])
    assert (sets["corrected"] == "yes").sum() > 3
    assert (sets["pain"] == "yes").any()
    assert {"Push-up", "Press-up"} <= set(sets["exercise_name"])
    assert {"work", "ramp"} == set(sets["kind"])
    assert work(sets)["count"].isna().any()  # not counted
    assert {s.status for s in year.past.sessions} == {"open", "closed"}
    assert len(set(sets[sets["exercise"] == "push-up"]["version"])) == 2
    assert len(set(sets["load_kg"].dropna())) > 1


def test_iso_weeks_are_those_of_another_calendar(year: Year) -> None:
    done = work(year.sets)
    assert (done["week"] == done["iso_week"]).all()
    by_day = dict(zip(done["session_start"].str[:10], done["week"], strict=True))
    assert by_day["2021-01-03"] == "2020-W53"
    assert by_day["2026-01-01"] == "2026-W01"
    assert by_day["2027-01-03"] == "2026-W53"
    # Begun on a Sunday: what was done after midnight is of that Sunday's week.
    late = done[done["session_start"].str.startswith("2026-07-05")]
    assert late["set_start"].str.startswith("2026-07-06").any()
    assert set(late["week"]) == {"2026-W27"}
    # Over a clock change: two offsets within one session, one week.
    for start, week in (("2026-03-29T01:55", "2026-W13"), ("2026-10-25T02:57", "2026-W43")):
        changed = done[done["session_start"].str.startswith(start)]
        assert len(set(changed["set_start"].str[-6:])) == 2
        assert set(changed["week"]) == {week}


def test_weekly_sets_are_the_same(year: Year) -> None:
    again = weekly(year.sets)
    looked = {
        (back.week.iso_week, muscle): sets
        for back in year.past.weeks
        for muscle, sets in back.week.by_muscle.items()
    }
    assert looked == again
    table = exported(year.record, "weeks")
    keys = zip(table["iso_week"], table["muscle"], strict=True)
    assert dict(zip(keys, table["sets"], strict=True)) == again


def test_sessions_and_sets_of_a_week_are_the_same(year: Year) -> None:
    done = work(year.sets)
    sessions = done.groupby("week")["session_id"].nunique().to_dict()
    whole = done.drop_duplicates(["session_id", "exercise", "set"]).groupby("week").size().to_dict()
    weeks = {back.week.iso_week: back.week for back in year.past.weeks if back.week.sets}
    assert {name: week.sessions for name, week in weeks.items()} == sessions
    assert {name: week.sets for name, week in weeks.items()} == whole
    table = exported(year.record, "sessions").set_index("session_id")["sets_done"]
    of_session = done.drop_duplicates(["session_id", "exercise", "set"]).groupby("session_id")
    assert table[table > 0].to_dict() == of_session.size().to_dict()


def test_trends_are_the_same(year: Year) -> None:
    counted = work(year.sets).dropna(subset=["count"])
    sets = counted.groupby(["exercise", "session_id", "set"])["count"].mean()
    again = sets.groupby(level=[0, 1]).mean().to_dict()
    looked = {
        (trend.exercise, point.past.session_id): point.mean
        for trend in year.past.trends
        for point in trend.points
    }
    assert looked == pytest.approx(again)


def local_day(year: Year, session_id: str) -> str:
    starts = year.sets.loc[year.sets["session_id"] == session_id, "session_start"]
    return str(starts.iloc[0])[:10].replace("-", "")


def test_bests_are_the_same_and_follow_a_correction(year: Year) -> None:
    counted = work(year.sets).dropna(subset=["count"])
    painless = counted[counted["pain"].isna()]
    columns = ["exercise", "version", "setup", "load_kg", "tempo"]
    painless = painless.assign(load_kg=painless["load_kg"].fillna(-1.0))
    painless = painless.assign(**{name: painless[name].fillna("") for name in ("setup", "tempo")})
    value = painless.groupby(columns)["count"].max().to_dict()
    total = painless.groupby([*columns, "session_id"])["count"].sum()
    whole = total.groupby(level=list(range(5))).max().to_dict()
    # The session in which each was first reached; their ids sort by time.
    painless["most"] = painless.groupby(columns)["count"].transform("max")
    first = painless[painless["count"] == painless["most"]].groupby(columns)["session_id"].min()
    top = total[total == total.groupby(level=list(range(5))).transform("max")].reset_index()
    first_total = top.groupby(columns)["session_id"].min()
    looked = {}
    for best in year.past.bests:
        use = best.use
        load = -1.0 if use.load is None else use.load
        looked[best.exercise, use.version, use.setup, load, use.tempo] = best
    assert {key: best.value for key, best in looked.items()} == value
    assert {key: best.total for key, best in looked.items()} == whole
    days = {key: f"{best.on:%Y%m%d}" for key, best in looked.items()}
    assert days == {key: local_day(year, one) for key, one in first.items()}
    days = {key: f"{best.total_on:%Y%m%d}" for key, best in looked.items()}
    assert days == {key: local_day(year, one) for key, one in first_total.items()}
    assert max(best.value for best in year.past.bests if best.exercise == "push-up") == 77
