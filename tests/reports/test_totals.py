"""The sums of a session, by the law's worked examples; and its warnings."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.plans import plan
from tests.reports.plans import SMALL, data, said, write

LEAD_IN = 10


def pair_of(first: int, second: int) -> str:
    """Two exercises of four holds each, nothing else; their lengths are exact."""
    return plan(
        "Hut, a pair",
        {
            name: {"measure": "hold", "hold": [f"{seconds}s", f"{seconds}s"]}
            for name, seconds in (("press", first), ("row", second))
        },
        [{"press": 4, "row": 4}],
    )


def clock(seconds: float) -> str:
    return f"{round(seconds) // 60}:{round(seconds) % 60:02}"


@pytest.mark.parametrize(
    ("first", "second", "total", "recoveries", "straight"),
    [
        # From first set to last: the timing law's worked examples.
        (10, 10, 412.5, (105, 105), 860),
        (20, 20, 475, (110, 110), 940),
        (30, 30, 555, (120, 120), 1020),
        (40, 40, 600, (120, 120), 1100),
        (60, 60, 690, (120, 120), 1260),
        (75, 75, 810, (135, 135), 1380),
        (30, 50, 635, (140, 120), 1100),
        (20, 60, 635, (150, 110), 1100),
    ],
)
def test_the_worked_examples(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    first: int,
    second: int,
    total: float,
    recoveries: tuple[float, float],
    straight: float,
) -> None:
    path = write(tmp_path, pair_of(first, second))
    known = data(capsys, tmp_path, path)
    assert known["total_s"] == total + LEAD_IN
    assert known["straight_sets_s"] == straight + LEAD_IN
    out, _ = said(capsys, tmp_path, path)
    whole, saved = total + LEAD_IN, straight - total
    work = 4 * (first + second)
    assert re.search(rf"^Length +{clock(whole)}$", out, re.MULTILINE)
    line = (
        rf"^As straight sets +{clock(straight + LEAD_IN)}  taking turns saves {clock(saved)} "
        rf"\({100 * saved / (straight + LEAD_IN):.0f} %\)$"
    )
    assert re.search(line, out, re.MULTILINE)
    assert re.search(rf"^Work +{clock(work)} +{100 * work / whole:.0f} %$", out, re.MULTILINE)
    rest = whole - work
    assert re.search(rf"^Rest +{clock(rest)} +{100 * rest / whole:.0f} %$", out, re.MULTILINE)
    for muscle, least in zip(("chest", "upper-back"), recoveries, strict=True):
        row = rf"^{muscle} +4\.0 +{clock(least)} +1:45 +2:00$"
        assert re.search(row, out, re.MULTILINE), muscle


# Two exercises on one bar that want it at different heights, in turn.
ONE_BAR = (
    ("[exercise.press]", '[exercise.press]\nstation = "bar"'),
    ("[exercise.row]", '[exercise.row]\nstation = "bar"'),
    ('name = "one"', 'name = "one"\nsetup = { height = "60 cm" }'),
    ('name = "one"\n[[session]]', 'name = "one"\nsetup = { height = "80 cm" }\n[[session]]'),
    (
        'title = "Hut, a pair"',
        'title = "Hut, a pair"\n[station.bar]\nname = "Bar"\nchange = "3:00"',
    ),
)


def flat(out: str) -> str:
    """The text with its line breaks as spaces."""
    return " ".join(out.split())


def test_what_alternating_costs_is_said_with_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path, pair_of(30, 30), *ONE_BAR)
    out = flat(said(capsys, tmp_path, path)[0])
    # Seven changeovers of three minutes, against one between the blocks of straight sets.
    alternating, straight = 8 * 30 + 7 * 180, 2 * (4 * 30 + 3 * 120) + 180
    cost = clock(alternating - straight)
    assert (
        f"taking turns costs {cost} ({100 * (alternating - straight) / (straight + 10):.0f} %)"
        in out
    )
    assert f"session.A: taking turns takes {cost} longer than straight sets; let exercises" in out
    longer = clock(alternating - 555)
    station = f"station.bar: 7 changes of its set-up make the session {longer} longer"
    assert f"{station}; order sets with the same set-up one after the other" in out


def test_a_pair_that_shares_its_prime_mover_saves_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = pair_of(30, 30).replace("upper-back", "chest")
    text = text.replace(
        'title = "Hut, a pair"', 'title = "Hut"\ntiming = { recovery_least = "2:00" }'
    )
    out = flat(said(capsys, tmp_path, write(tmp_path, text))[0])
    assert "taking turns saves no time" in out
    assert "have the same main muscle: chest; put one of them in another block" in out


def test_an_exercise_left_alone_and_a_session_without_a_warm_up_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path, pair_of(30, 30), ('"row", sets = 4', '"row", sets = 2'))
    out = flat(said(capsys, tmp_path, path)[0])
    # Round 3 begins 45 s after the row; only round 4 waits the two minutes.
    assert (
        "session.A.block 1: press has more sets than its partners: its last sets rest 2:00; "
        "give the exercises of the block the same number of sets" in out
    )
    assert 'session.A: no warm-up; write warm_up = "4:00"' in out


def test_a_block_that_waits_for_a_muscle_names_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    again = ', { exercise = "row", sets = 4 }]\n'
    path = write(
        tmp_path,
        pair_of(30, 30),
        (again, f'{again}[[session.block]]\ndo = [{{ exercise = "row", sets = 2 }}]\n'),
    )
    out = flat(said(capsys, tmp_path, path)[0])
    assert (
        "session.A.block 2: it starts after 2:00 instead of 1:00: upper-back worked just before; "
        "put another block between" in out
    )


def test_only_warnings_that_touch_the_session_are_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path)
    first, second = (flat(said(capsys, tmp_path, path, "--session", s)[0]) for s in "AB")
    assert "exercise.row: no substitute" in first
    assert "exercise.row" not in second
    assert "session.A.block" not in second
    assert "station.bar" not in second
    assert "exercise.plank: no substitute" in second


def test_ramp_sets_are_in_the_length_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, _ = said(capsys, tmp_path, write(tmp_path), "--session", "A")
    assert re.search(r"^chest +3\.0 ", out, re.MULTILINE)
    assert re.search(r"^triceps +1\.5$", out, re.MULTILINE)
    assert "sets and 1 warm-up set in 2 blocks\n" in out
    assert SMALL.count("ramp = 1") == 1
