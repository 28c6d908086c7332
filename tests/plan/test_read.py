"""Bytes on a disk that are no plan, and those that are."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from runner.errors import Exit, MatsideError
from runner.plan.faults import PlanFaults
from runner.plan.file import LARGEST, parse_plan, read_plan, read_text
from tests.plan.plans import EVERY_KEY, SMALL, text_rows


def refused(path: Path) -> tuple[str, Exit]:
    with pytest.raises(MatsideError) as error:
        read_plan(path)
    (line,) = error.value.lines
    return line.replace(str(path), "FILE"), error.value.code


def written(folder: Path, content: bytes) -> Path:
    path = folder / "hut.toml"
    path.write_bytes(content)
    return path


def test_the_plan_with_every_key_is_accepted(tmp_path: Path) -> None:
    plan = read_plan(written(tmp_path, EVERY_KEY.encode()))
    assert plan.title == "Kestrel Hut, morning"
    assert plan.trial


def test_a_byte_order_mark_and_windows_line_ends_are_no_fault(tmp_path: Path) -> None:
    content = b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode()
    path = written(tmp_path, content)
    assert read_plan(path).title == "Hut"
    assert not read_text(path).startswith("\ufeff")


def test_the_stored_text_makes_the_same_plan(tmp_path: Path) -> None:
    path = written(tmp_path, EVERY_KEY.encode())
    assert parse_plan(read_text(path), "stored") == read_plan(path)


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", "FILE:1: the file is empty; write a title, exercises and a session"),
        (b"\n\n# soon\n", "FILE:1: the file is empty; write a title, exercises and a session"),
        (
            'title = "Hut"\n# Frühstück\n'.encode("latin-1"),
            "FILE:2: the byte 0xFC is not UTF-8; save the file as UTF-8",
        ),
        (
            'title = "Hut"\n'.encode("utf-16"),
            "FILE:1: the byte 0xFF is not UTF-8; save the file as UTF-8",
        ),
        (b"x" * 10_000_000, "FILE: the file is larger than 256 KiB; name a smaller plan file"),
        (b"#" * (LARGEST + 1), "FILE: the file is larger than 256 KiB; name a smaller plan file"),
    ],
    ids=["empty", "only a comment", "latin-1", "utf-16", "10 MB", "a byte too many"],
)
def test_a_file_that_is_no_plan(tmp_path: Path, content: bytes, line: str) -> None:
    assert refused(written(tmp_path, content)) == (line, Exit.DATA)


def test_a_file_of_the_largest_size_is_read(tmp_path: Path) -> None:
    content = SMALL.encode()
    path = written(tmp_path, content + b"#" * (LARGEST - len(content)))
    assert read_plan(path).title == "Hut"


def test_a_directory(tmp_path: Path) -> None:
    line = "FILE: this is a directory; name one of its plan files"
    assert refused(tmp_path) == (line, Exit.DATA)


@pytest.mark.parametrize("name", ["none.toml", "none/none.toml", "\0.toml"])
def test_no_such_file(tmp_path: Path, name: str) -> None:
    line, code = refused(tmp_path / name)
    assert line.endswith(": this file does not exist; check the path")
    assert code is Exit.NO_INPUT


def test_a_name_that_is_too_long(tmp_path: Path) -> None:
    line, code = refused(tmp_path / ("x" * 5000))
    assert line.endswith("; try another file")
    assert code is Exit.NO_INPUT


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Root may read everything, so the system's refusal is played.
    def open_(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = written(tmp_path, SMALL.encode())
    monkeypatch.setattr(Path, "open", open_)
    line = "FILE: not permitted to read this file; change its permissions"
    assert refused(path) == (line, Exit.NO_PERMISSION)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_file_without_permissions(tmp_path: Path) -> None:
    path = written(tmp_path, SMALL.encode())
    path.chmod(0)
    assert refused(path)[1] is Exit.NO_PERMISSION


WRITE = 'write key = value, texts in quotes: name = "…"'


@pytest.mark.parametrize(
    ("text", "row"),
    [
        (
            'title = "Hut"\nsummary = a band',
            f"2: not TOML: invalid value; {WRITE}",
        ),
        (
            'title = "Hut"\n\n[week\n',
            f"3: not TOML: expected ']' at the end of a table declaration; {WRITE}",
        ),
        (
            "[timing]\nrecovery = 2:00",
            '2: a time without quotes; write durations in quotes: "2:00"',
        ),
        (
            '[timing]\nchangeover = [30s, "45s"]',
            '2: a time without quotes; write durations in quotes: "2:00"',
        ),
        ('title = "a"\ntitle = "b"', "2: a key appears twice; keep one of the two"),
        ("a = { b = 1, b = 2 }", "1: a key appears twice; keep one of the two"),
        (
            "[station.bar]\n[station.bar]",
            "2: [station.bar] appears twice; keep one of the two",
        ),
        ('title = "Hut', '1: a text without an end; close the text with "'),
        ('title = "Hut\nsummary = ""', '1: a text without an end; close the text with "'),
        ("do = [\n{ a = 1 },\n", "2: the file ends within a value; write the rest of it"),
        ("a = [1", "1: a list without an end; close the list with ]"),
        ("name = \u201cRow\u201d", '1: curly quotes; write straight ones: name = "…"'),
        ("load = { from = 4,5, to = 16 }", "1: a decimal comma; write a point: 2.5"),
        ("load = 4,5", "1: a decimal comma; write a point: 2.5"),
        ("a =", "1: the file ends within a value; write the rest of it"),
        ('title = "a\x1bb"', "1: a control character; leave it out"),
        ("# a\x1bb", "1: a control character; leave it out"),
        (
            'title = "C:\\Hut"',
            "1: a backslash in a text; write the backslash twice, or put the text in single quotes",
        ),
        ("\0", f"1: not TOML: invalid statement; {WRITE}"),
        (
            "['a\u202eb']\n['a\u202eb']",
            "2: [a\\u202eb] appears twice; keep one of the two",
        ),
        (
            "a = " + "[" * 100_000,
            "1: the tables are nested too deeply; write a title, exercises and a session",
        ),
        ("x = 1\na = " + "9" * 5000, "2: a number has too many digits; write it shorter"),
    ],
)
def test_a_syntax_error_is_one_row_with_its_line(text: str, row: str) -> None:
    with pytest.raises(PlanFaults) as error:
        parse_plan(text, "hut.toml")
    assert error.value.lines == (f"hut.toml:{row}",)


def test_numbers_of_any_size_are_refused_in_their_place() -> None:
    huge = "0x" + "F" * 6000
    text = SMALL.replace("sets = 3", f"sets = {huge}").replace('"row", s', f"{huge}, s")
    assert text_rows(text) == [
        "session.A.block 1.do 1.exercise: a huge number cannot be an id; "
        "write lower-case letters, digits and dashes, at most 40",
        "session.A.block 1.do 1.sets: a huge number is too large; write 100 or less",
    ]


def test_more_exercises_than_a_plan_can_have_are_refused_quickly() -> None:
    names = "".join(f'[exercise.e{i}]\ninstead = ["f{i}"]\n' for i in range(501))
    with pytest.raises(PlanFaults) as error:
        parse_plan(names, "hut.toml")
    row = "hut.toml:1: exercise: too many entries; write at most 500"
    assert error.value.lines.count(row) == 1
