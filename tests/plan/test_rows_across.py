"""The row of every fault across keys, as a person reads it."""

from __future__ import annotations

import pytest

from tests.plan.plans import EVERY_KEY, rows

RANGE = 'setup = { anchor = { from = "120 cm", to = "200 cm", by = "20 cm" } }'
STATION = EVERY_KEY[EVERY_KEY.index("[station.bar]") : EVERY_KEY.index("[exercise.press]")]
LIST = '  { exercise = "press", sets = 2 },\n'

ACROSS_KEYS = [
    (
        'exercise = "row"',
        'exercise = "raw"',
        'session.A.block 1.do 2.exercise: unknown exercise "raw"; did you mean "row"?',
    ),
    (
        'instead = ["bench-push-up"]',
        'instead = ["bench-pushup"]',
        'exercise.press.instead 1: unknown exercise "bench-pushup"; did you mean "bench-push-up"?',
    ),
    (
        'instead = ["bench-push-up"]',
        'instead = ["press"]',
        "exercise.press.instead 1: an exercise cannot replace itself; write another exercise",
    ),
    (
        'instead = ["bench-push-up"]',
        'instead = ["row", "row"]',
        'exercise.press.instead 2: the substitute "row" appears twice; '
        "write another id, or leave one of them out",
    ),
    (
        'station = "bar"',
        'station = "bra"',
        'exercise.row.station: unknown station "bra"; did you mean "bar"?',
    ),
    (
        STATION,
        "",
        'exercise.row.station: unknown station "bar"; write a [station.bar], or leave this out',
    ),
    (
        '["slow", "light"]',
        '["slow", "lite"]',
        'session.A.block 1.do 2.versions 2: unknown version "lite"; did you mean "light"?',
    ),
    (
        '["slow", "light"]',
        '["slow"]',
        "session.A.block 1.do 2.versions: 1 versions for 2 sets; "
        "write one for each set, warm-up sets not counted, or leave versions out",
    ),
    (
        LIST,
        LIST + LIST,
        'session.A.block 1.do 2.exercise: the exercise "press" appears twice; '
        "write more sets for it, or another block",
    ),
    (
        'id = "mark-2"',
        'id = "mark-1"',
        'exercise.press.version.mark-1.id: the version "mark-1" appears twice; '
        "write another id, or leave one of them out",
    ),
    (
        "[[session]]\n",
        '[[session]]\nid = "A"\n[[session.block]]\ndo = [{ exercise = "row", sets = 1 }]\n'
        "[[session]]\n",
        'session.A.id: the session "A" appears twice; write another id, or leave one of them out',
    ),
    (
        'assist = ["biceps"]',
        'assist = ["upper-back"]',
        'exercise.row.assist 1: "upper-back" is listed in prime and in assist; '
        "leave it out of one of the two",
    ),
    (
        'assist = ["biceps"]',
        'assist = ["biceps", "biceps"]',
        'exercise.row.assist 2: the muscle "biceps" appears twice; '
        "write another id, or leave one of them out",
    ),
    (
        'sides = "left first"\n',
        "",
        "exercise.row.both_sides: both_sides needs one-sided work; "
        'write sides = "left first", or name the muscles in assist',
    ),
    (
        RANGE,
        RANGE + "\nload = { from = 1, to = 2, by = 1 }",
        "exercise.press.version.mark-2.setup.anchor: a second range in one version; "
        "write one value here, or a version for each level",
    ),
    (
        'measure = "reps"',
        'hold = ["10s", "20s"]\nmeasure = "reps"',
        "exercise.press.hold: this exercise counts repetitions; "
        'write reps = [8, 30], or measure = "hold"',
    ),
    (
        'recovery_least = "7s"',
        'recovery_least = "9s"',
        'timing.recovery_least: "9s" is longer than the recovery of "8s" here; '
        'write at most "8s", or a longer recovery',
    ),
    (
        'recovery_cross = "6s"',
        'recovery_cross = "9s"',
        'timing.recovery_cross: "9s" is longer than the recovery of "8s" here; '
        'write at most "8s", or a longer recovery',
    ),
    ('recovery = "8s"', 'recovery = "0s"', "timing.recovery: a recovery of 0; write more than 0"),
    (
        'recovery_least = "7s"',
        'recovery_least = "0s"',
        'timing.recovery_least: a least recovery of 0; write more than 0, at most "8s"',
    ),
    (
        'position = "1s"\n',
        'recovery = "5s"\nrecovery_least = "6s"\n',
        'exercise.press.recovery_least: "6s" is longer than the recovery of "5s" here; '
        'write at most "5s", or a longer recovery',
    ),
    (
        "do = [",
        'recovery_least = "9s"\ndo = [',
        'session.A.block 1.recovery_least: "9s" is longer than the recovery of "8s" here; '
        'write at most "8s", or a longer recovery',
    ),
]


@pytest.mark.parametrize(("old", "new", "row"), ACROSS_KEYS)
def test_a_fault_across_keys_is_one_row(old: str, new: str, row: str) -> None:
    assert rows((old, new)) == [row]
