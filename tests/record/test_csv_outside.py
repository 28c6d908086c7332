"""The CSV as programs that are not ours see it: a validator and a second reader."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from frictionless import Resource, Schema

from runner.progress.history import SetRow
from runner.record.csvfile import unguard, write_csv
from runner.record.record import Record
from runner.record.rows import COLUMNS
from runner.session import verb as cmd

from .hut import Sitting, later

# What each column may hold, written down anew: not taken from the types of the program.
STAMP = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d"
STAMP_MS = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}[+-]\d\d:\d\d"
TENTHS = r"\d+\.\d"
MUSCLES = r"[a-z-]+(;[a-z-]+)*"
REQUIRED = {
    "session_id": r".+",
    "session_start": STAMP,
    "iso_week": r"\d{4}-W\d\d",
    "plan": r".+",
    "session": r".+",
    "trainee": r".+",
    "block": r"[1-9]\d*",
    "round": r"[1-9]\d*",
    "exercise": r"[a-z0-9-]+",
    "exercise_name": r".+",
    "prime_movers": MUSCLES,
    "version": r".+",
    "set": r"[1-9]\d*",
    "kind": "work|ramp",
    "side": "both|left|right",
    "status": "done|broken|skipped",
    "measure": "reps|hold",
    "reserve_aimed": r"\d+",
    "corrected": "yes|no",
}
OPTIONAL = {
    "synergists": MUSCLES,
    "setup": r"[^=;]+=[^=;]+(;[^=;]+=[^=;]+)*",
    "load_kg": r"\d+(\.\d+)?",
    "reps": r"\d+",
    "hold_s": TENTHS,
    "reserve": r"\d+",
    "set_start": STAMP_MS,
    "started_by": "clock|person",
    "work_s": TENTHS,
    "rest_before_s": TENTHS,
    "recovery_s": TENTHS,
    "to_beat": r"\d+(\.\d)?",
    "beaten": "yes|no",
    "tempo": r"\d+-\d+-\d+",
    "pain": "yes",
    "note": r"[\s\S]+",
    "set_group": r"(first:|later:)?[a-z0-9-]*",
    "deload": "yes",
    "level_finding": "yes",
    "today_only": "yes",
    "swapped_for": r"[a-z0-9-]+",
    "pain_where": r"[\s\S]+",
    "corrected_at": STAMP,
}


def schema() -> Schema:
    def field(name: str) -> dict[str, Any]:
        pattern = REQUIRED.get(name) or OPTIONAL[name]
        rules = {"required": name in REQUIRED, "pattern": pattern}
        return {"name": name, "type": "string", "constraints": rules}

    return Schema.from_descriptor({"fields": [field(name) for name in COLUMNS]})


@pytest.fixture
def rows(record: Record) -> list[SetRow]:
    Sitting(record, trainee="Åse Vik").whole([12, 11, 10, 9, 8, 7, 31.3])
    sitting = Sitting(record, at=later(), trainee="Åse Vik").begin().set(13, on=False)
    sitting.do(cmd.Note('=HYPERLINK("x")\nline, "two"'), cmd.Step(1)).wait().do(cmd.Use(load=5.5))
    sitting.set(9).do(cmd.Fix(1, "reps", cmd.Count(14, 1))).set(8).set(7, on=False)
    sitting.do(cmd.Skip()).wait().do(cmd.Hurt("wrist")).close()
    return list(record.rows())


@pytest.fixture
def file(rows: list[SetRow], tmp_path: Path) -> Path:
    path = tmp_path / "sets.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        write_csv(rows, stream)
    return path


def judged(path: Path) -> list[str]:
    """What the validator has against a file, a line each."""
    resource = Resource(
        path=path.name, basepath=str(path.parent), encoding="utf-8", schema=schema()
    )
    report = resource.validate()
    return [f"{code}: {note}" for code, note in report.flatten(["type", "note"])]


def test_a_validator_has_nothing_against_it(file: Path, rows: list[SetRow]) -> None:
    assert len(rows) == 14
    assert set(REQUIRED) | set(OPTIONAL) == set(COLUMNS)
    assert judged(file) == []


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (",work,", ",wrok,"),
        (",20.0,", ",20.00,"),
        (",chest,", ",,"),
        ("2026-W48", "2026-48"),
        (",both,", ",both,,"),
    ],
)
def test_the_validator_would_have_seen_it(file: Path, before: str, after: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert before in text
    file.write_text(text.replace(before, after, 1), encoding="utf-8")
    assert judged(file)


def test_every_line_ends_as_rfc_4180_has_it(file: Path) -> None:
    content = file.read_bytes()
    assert content.endswith(b"\r\n")
    # Bare line feeds stand inside quoted fields alone.
    outside = re.sub(rb'"(?:[^"]|"")*"', b"", content)
    assert b"\n" not in outside.replace(b"\r\n", b"")
    assert content.decode("utf-8").startswith("session_id,session_start,")


def test_a_second_reader_reads_the_same_values(file: Path, rows: list[SetRow]) -> None:
    texts = [n for n in COLUMNS if SetRow.__annotations__[n] == "str"]
    table = pd.read_csv(file, dtype=dict.fromkeys(texts, str), keep_default_na=False, na_values=[])
    assert list(table.columns) == list(COLUMNS)
    assert len(table) == len(rows)
    for found, row in zip(table.to_dict("records"), rows, strict=True):
        for name, value in row._asdict().items():
            shown = found[name]
            if value is None:
                assert shown == ""
            elif isinstance(value, str):
                assert unguard(shown) == value
            else:
                assert float(shown) == value


def test_a_second_reader_sums_what_was_done(file: Path) -> None:
    table = pd.read_csv(file)
    done = table[(table.status == "done") & (table.kind == "work")]
    first = done[done.session_start == "2026-11-23T06:30:00+01:00"]
    assert first.groupby("exercise").reps.sum().to_dict() == {"plank": 0, "press": 21, "row": 36}
    starts = pd.to_datetime(table.set_start.dropna(), format="ISO8601", utc=True)
    assert starts.is_monotonic_increasing
    weeks = pd.to_datetime(table.session_start, utc=True).dt.tz_convert("Europe/Berlin")
    iso = weeks.dt.isocalendar()
    assert (iso.year.astype(str) + "-W" + iso.week.astype(str).str.zfill(2)).tolist() == (
        table.iso_week.tolist()
    )
