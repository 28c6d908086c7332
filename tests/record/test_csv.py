"""The CSV, out and back."""

from __future__ import annotations

import csv
import io
from itertools import product

import pytest
from hypothesis import given, strategies as st

from runner.errors import Exit, MatsideError
from runner.law.workout import Item
from runner.progress.history import SetRow
from runner.record import csvfile
from runner.record.csvfile import guard, read_csv, unguard, write_csv
from runner.record.record import Record
from runner.record.rows import COLUMNS
from runner.session import verb as cmd

from .hut import Sitting, later, morning


def written(rows: list[SetRow]) -> str:
    stream = io.StringIO(newline="")
    assert write_csv(rows, stream) == len(rows)
    return stream.getvalue()


def read(text: str) -> list[SetRow]:
    return list(read_csv(io.StringIO(text, newline="")))


@pytest.fixture
def rows(record: Record) -> list[SetRow]:
    """Rows of all kinds: holds, sides, loads, skipped, broken, with pain, notes, corrections."""
    Sitting(record, trainee="=Runa").whole([12, 11, 10, 9, 8, 7, 31.3])
    sitting = Sitting(record, at=later(), trainee="=Runa").begin()
    sitting.set(13, on=False).do(cmd.Note('=1+1\n"x", y\n')).wait().do(cmd.Use(load=5.5)).set(9)
    sitting.do(cmd.Fix(1, "reps", cmd.Count(14, 1))).set(None).do(cmd.NoCount())
    sitting.do(cmd.Hurt("wrist")).do(cmd.Skip()).wait()
    sitting.do(cmd.Skip(), after=3).close()
    Sitting(record, at=later(14), trainee="=Runa").whole(1)
    return list(record.rows())


CRITICAL = "'=+-@\t\r\na1"


def test_the_guard_is_reversible_for_all_short_texts() -> None:
    for length in range(6):
        for letters in product(CRITICAL, repeat=length):
            text = "".join(letters)
            assert unguard(guard(text)) == text
            assert guard(text)[:1] not in set("=+-@\t\r\n")


@given(st.text() | st.text(alphabet=CRITICAL))
def test_the_guard_is_reversible(text: str) -> None:
    assert unguard(guard(text)) == text
    assert guard(text)[:1] not in set("=+-@\t\r\n")
    assert len(guard(text)) - len(text) in (0, 1)


@given(st.text(alphabet=st.characters(codec="utf-8")))
def test_no_text_is_changed_by_a_file(text: str) -> None:
    row = example()._replace(note=text, trainee=text)
    assert read(written([row])) == [row]


def example() -> SetRow:
    with Record.in_memory() as record:
        return Sitting(record, morning((Item("press", 1),)), token="aaaa").begin().set(9).rows[0]


def test_out_and_back_gives_the_same_rows_and_bytes(rows: list[SetRow]) -> None:
    assert {r.status for r in rows} == {"done", "broken", "skipped"}
    assert {r.measure for r in rows} == {"reps", "hold"}
    assert {r.beaten for r in rows} == {"yes", "no", None}
    text = written(rows)
    assert read(text) == rows
    assert written(read(text)) == text


def test_the_header_stands_without_a_row_too() -> None:
    assert written([]) == ",".join(COLUMNS) + "\r\n"
    assert read(written([])) == []


def test_numbers_are_written_as_short_as_they_are_promised(rows: list[SetRow]) -> None:
    records = list(csv.DictReader(io.StringIO(written(rows), newline="")))
    shown = [(r["reps"], r["load_kg"], r["work_s"], r["to_beat"]) for r in records[7:9]]
    assert shown == [("14", "", "20.0", "12"), ("9", "5.5", "20.0", "")]
    hold = records[6]
    assert (hold["reps"], hold["hold_s"], hold["load_kg"]) == ("", "31.3", "")
    assert [r["load_kg"] for r in records[1:3]] == ["4", "4"]
    assert records[7]["note"] == '\'=1+1\n"x", y\n'
    assert records[7]["trainee"] == "'=Runa"
    assert all(r["set_start"] == "" for r in records if r["status"] == "skipped")


def test_numbers_are_never_guarded() -> None:
    row = example()._replace(load_kg=-2.5)
    fields = next(csv.DictReader(io.StringIO(written([row]), newline="")))
    assert fields["load_kg"] == "-2.5"
    assert read(written([row])) == [row]


@pytest.mark.parametrize(
    ("column", "text", "fault"),
    [
        ("reps", "-1", "reps: '-1': write a whole number"),
        ("reps", "1e9", "whole number"),
        ("reps", "١٢", "whole number"),
        ("set", "", "set: '': write a value; this one is empty"),
        ("work_s", "1,5", "write a number with a decimal point"),
        ("work_s", "nan", "decimal point"),
        ("side", "middle", "write both or left or right"),
        ("status", "running", "write done or broken or skipped"),
        ("corrected", "", "write a value; this one is empty"),
        ("pain", "no", "write yes"),
        ("iso_week", "2026-W54", "write an ISO week: 2026-W48"),
        ("session_start", "2026-11-23", "write a time with its offset"),
        ("session_start", "2026-11-23T06:30:00", "write a time with its offset"),
        ("session_start", "0001-01-01T00:00:00+23:59", "write a time with its offset"),
        ("set_start", "20261123T063000Z", "write a time with its offset"),
        ("measure", "\x1b[31m", "\ufffd"),
        ("deload", "no", "write yes"),
        ("corrected_at", "yesterday", "write a time with its offset"),
    ],
)
def test_every_fault_of_a_row_is_a_clear_line(column: str, text: str, fault: str) -> None:
    fields = dict(
        zip(COLUMNS, next(csv.reader([written([example()]).split("\r\n")[1]])), strict=True)
    )
    fields[column] = text
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, COLUMNS)
    writer.writeheader()
    writer.writerow(fields)
    with pytest.raises(MatsideError) as caught:
        read(stream.getvalue())
    (line,) = caught.value.lines
    assert line.startswith(f"line 2: {column}: ")
    assert fault in line
    assert "\x1b" not in line
    assert caught.value.code == Exit.DATA


def test_all_faulty_rows_are_told_and_good_ones_given_out() -> None:
    header, good, _ = written([example()]).split("\r\n")
    text = "\r\n".join([header, good, "a,b", good, good.replace(",done,", ",dnoe,"), ""])
    found: list[SetRow] = []
    with pytest.raises(MatsideError) as caught:
        found.extend(read_csv(io.StringIO(text, newline="")))
    assert [line.split(":")[0] for line in caught.value.lines] == ["line 3", "line 5"]
    assert (
        caught.value.lines[0] == f"line 3: 2 fields; the header has {len(COLUMNS)}, write as many"
    )


def test_the_faults_of_an_endless_wrong_file_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csvfile, "MOST_FAULTS", 3)
    text = written([]) + "a,b\r\n" * 10
    with pytest.raises(MatsideError) as caught:
        read(text)
    assert len(caught.value.lines) == 4
    assert caught.value.lines[-1] == "and perhaps more: matside did not read on"


@pytest.mark.parametrize(
    ("header", "fault"),
    [
        ("", "these columns are missing: session_id, "),
        ("date,exercise,set,reps", "these columns are missing: session_id"),
        (",".join(COLUMNS[1:]), "these columns are missing: session_id"),
        (",".join((*COLUMNS, "note")), "these columns appear twice: note"),
        ('"open', "not a CSV"),
    ],
)
def test_another_header_is_refused_at_once(header: str, fault: str) -> None:
    with pytest.raises(MatsideError, match=fault) as caught:
        read(header + "\r\n")
    assert caught.value.lines[0].startswith(("line 1: ", "line 2: "))


def test_a_file_of_an_earlier_version_lacks_columns_and_has_them_empty(rows: list[SetRow]) -> None:
    first_35 = [line[:35] for line in csv.reader(io.StringIO(written(rows), newline=""))]
    assert first_35[0][-1] == "corrected"
    stream = io.StringIO(newline="")
    csv.writer(stream).writerows(first_35)
    empty = {n: SetRow._field_defaults[n] for n in COLUMNS[35:]}
    assert read(stream.getvalue()) == [row._replace(**empty) for row in rows]


def test_an_unknown_column_is_named_and_left_alone_and_any_order_will_do() -> None:
    row = example()
    stream = io.StringIO(newline="")
    fields = next(csv.DictReader(io.StringIO(written([row]), newline="")))
    writer = csv.DictWriter(stream, ["mood", *reversed(COLUMNS), "\x1b[2J"])
    writer.writeheader()
    writer.writerow({**fields, "mood": "=1+1"})
    named: list[str] = []
    assert list(read_csv(io.StringIO(stream.getvalue(), newline=""), named.extend)) == [row]
    assert named == ["mood", "\ufffd[2J"]


def test_what_is_no_csv_is_told() -> None:
    text = written([example()])
    with pytest.raises(MatsideError, match="not a CSV"):
        read(text + '"a"b,c\r\n')
    stream = io.TextIOWrapper(io.BytesIO(text.encode() + b"\xff\xfe"), "utf-8", newline="")
    with pytest.raises(MatsideError, match="not a CSV"):
        list(read_csv(stream))


@given(st.text() | st.lists(st.lists(st.text(max_size=4), max_size=40), max_size=4).map(str))
def test_no_text_ends_the_reader_in_another_way(text: str) -> None:
    for whole in (text, ",".join(COLUMNS) + "\r\n" + text):
        faults: tuple[str, ...] = ()
        rows: list[SetRow] = []
        try:
            rows.extend(read_csv(io.StringIO(whole, newline="")))
        except MatsideError as fault:
            faults = fault.lines
        assert all(line and line.isprintable() for line in faults)
        assert faults or rows or whole == ",".join(COLUMNS) + "\r\n"
