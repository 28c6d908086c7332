"""Instants, local times and weeks of a session."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from msgspec.structs import replace

from runner.progress.history import iso_week
from runner.record.rows import SessionInfo, utc_text

from .hut import BERLIN, MONDAY, morning


def opened(at: datetime, **changes: str) -> SessionInfo:
    return SessionInfo.opened(at, morning(), "title = 'hut'\r\n", "Runa", **changes)


def test_everything_about_the_start_is_kept() -> None:
    info = opened(MONDAY.replace(microsecond=123_999), token="k3k3", version="0.0")
    assert info == SessionInfo(
        id="20261123-053000-k3k3",
        plan="Kestrel Hut, morning",
        plan_text="title = 'hut'\r\n",
        plan_hash=hashlib.sha256(b"title = 'hut'\r\n").hexdigest(),
        session="A",
        trainee="Runa",
        started=datetime(2026, 11, 23, 5, 30, 0, 123_000, tzinfo=UTC),
        offset_s=3600,
        zone="Europe/Berlin",
        local_date=date(2026, 11, 23),
        version="0.0",
        trial=False,
    )


def test_a_start_without_an_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        opened(datetime(2026, 11, 23, 6, 30))  # noqa: DTZ001 - that is the point


def test_ids_sort_by_time_and_differ_within_a_second() -> None:
    ids = [opened(MONDAY + timedelta(seconds=n // 50)).id for n in range(100)]
    assert len(set(ids)) == 100
    assert [i[:15] for i in ids] == sorted(i[:15] for i in ids)
    assert ids[0][:15] != ids[-1][:15]


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2021, 1, 3), "2020-W53"),
        (date(2026, 1, 1), "2026-W01"),
        (date(2027, 1, 3), "2026-W53"),
        (date(2026, 11, 25), "2026-W48"),
    ],
)
def test_iso_weeks_of_known_dates(day: date, week: str) -> None:
    assert iso_week(day) == week


def test_the_week_goes_by_the_local_date() -> None:
    # Monday 00:30 in Berlin is still Sunday in UTC.
    info = opened(datetime(2026, 11, 23, 0, 30, tzinfo=BERLIN))
    assert (info.started.date(), info.local_date) == (date(2026, 11, 22), date(2026, 11, 23))
    assert info.iso_week == "2026-W48"
    # Sunday 23:30 in New York is Monday in UTC.
    info = opened(datetime(2026, 11, 22, 23, 30, tzinfo=timezone(timedelta(hours=-5))))
    assert info.iso_week == "2026-W47"


def test_an_instant_is_the_start_plus_session_seconds_to_the_millisecond() -> None:
    info = opened(MONDAY)
    assert info.utc_text(0) == "2026-11-23T05:30:00.000Z"
    assert info.utc_text(61.2345) == "2026-11-23T05:31:01.234Z"
    assert info.local(61.2345).isoformat() == "2026-11-23T06:31:01.234000+01:00"
    assert utc_text(MONDAY) == "2026-11-23T05:30:00.000Z"


@pytest.mark.parametrize(
    ("start", "first", "second"),
    [
        # Berlin's clocks go back at 03:00 on 2026-10-25 and forward at 02:00 on 2026-03-29.
        (datetime(2026, 10, 25, 2, 45, tzinfo=BERLIN), "02:45:00+02:00", "02:15:00+01:00"),
        (datetime(2026, 3, 29, 1, 45, tzinfo=BERLIN), "01:45:00+01:00", "03:15:00+02:00"),
    ],
)
def test_a_clock_change_in_mid_session_shows(start: datetime, first: str, second: str) -> None:
    info = opened(start)
    assert info.local(0).isoformat()[11:] == first
    assert info.local(1800).isoformat()[11:] == second


def test_berlins_weeks_of_the_clock_change_last_167_and_169_hours() -> None:
    def hours(monday: date) -> float:
        begins = [
            opened(datetime(d.year, d.month, d.day, tzinfo=BERLIN))
            for d in (monday, monday + timedelta(days=7))
        ]
        assert begins[0].iso_week != begins[1].iso_week
        return (begins[1].started - begins[0].started) / timedelta(hours=1)

    assert hours(date(2026, 3, 23)) == 167
    assert hours(date(2026, 10, 19)) == 169


@pytest.mark.parametrize("zone", ["", "CEST", "Nowhere/Hut", "../secrets", "Europe", "\x00"])
def test_an_unknown_zone_leaves_the_stored_offset(zone: str) -> None:
    info = opened(datetime(2026, 10, 25, 2, 45, tzinfo=BERLIN), zone=zone)
    assert info.local(1800).isoformat()[11:] == "03:15:00+02:00"


def test_a_zone_that_does_not_mean_the_stored_offset_is_not_believed() -> None:
    info = replace(opened(MONDAY), zone="America/New_York")
    assert info.local(0).isoformat()[11:] == "06:30:00+01:00"


def test_a_name_typed_in_two_ways_is_one_trainee() -> None:
    names = ["Åse Vik", "A\u030ase  Vik", " Åse\tVik\n", "\x1bÅse Vik"]
    assert {SessionInfo.opened(MONDAY, morning(), "", n).trainee for n in names} == {"Åse Vik"}
