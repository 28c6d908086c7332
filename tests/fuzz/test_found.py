"""What the fuzzing has found, each input by what it was about; all of it has to stay mended."""

from __future__ import annotations

import pytest

from tests.fuzz.targets import TARGETS

SHEET = b"date,exercise,set,reps\n"

FOUND: dict[str, tuple[str, bytes]] = {
    "a date before the calendar of the system": ("sheet", SHEET + b"0001-01-01,press,1,12\n"),
    "a date at the end of the calendar": ("sheet", SHEET + b"9999-12-31,press,1,12\n"),
    "a start that is before the year 1 in UTC": (
        "csv-edits",
        b"\x02\n0001-01-01T00:00:00+23:59",
    ),
    "one side with a load and one without, looked at again": ("csv-edits", b"\xa9\n"),
    "a key as long as the file, told in full": ("plan-bytes", b'"' + b"x" * 50_000 + b'"=1\n'),
    "a header as long as the file, told in full": ("csv", b"x" * 50_000 + b"\n"),
    "a sheet's header as long as the file": ("sheet", b"x" * 50_000 + b"\n"),
    "a key with a thousand dots": ("plan-bytes", b"a" + b".a" * 30_000 + b"=1\n"),
    "more faulty lines than anybody reads": ("sheet", SHEET + b"a\n" * 30_000),
}


@pytest.mark.parametrize("name", FOUND)
def test_found(name: str) -> None:
    target, data = FOUND[name]
    TARGETS[target](data)
