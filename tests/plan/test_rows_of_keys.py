"""The row of every fault of a single key, as a person reads it."""

from __future__ import annotations

import pytest

from runner.law.muscles import MUSCLES
from runner.plan.values import PATTERNS
from tests.plan.plans import rows

HEIGHT = 'setup = { height = "60 cm" }'
LIST = '  { exercise = "press", sets = 2 },\n'

SINGLE_KEYS = [
    ("title =", "titel =", 'titel: unknown key; did you mean "title"?'),
    (
        "do = [",
        'lead_in = "2s"\ndo = [',
        "session.A.block 1.lead_in: this key does not belong here; move it to [timing], "
        "or leave it out",
    ),
    (
        "[station.bar]",
        '[station.bar]\ncolour = "red"',
        "station.bar.colour: unknown key; leave it out; "
        "the keys here are name, change, bears_body_weight, check",
    ),
    (
        'pattern = "horizontal pull"\n',
        "",
        'exercise.row.pattern: this key is missing; write pattern = "…" with one of '
        + ", ".join(PATTERNS),
    ),
    (
        'exercise = "press", ',
        "",
        'session.A.block 1.do 1.exercise: this key is missing; write exercise = "press"',
    ),
    (
        'recovery = "8s"',
        'recovery = "8 secs"',
        'timing.recovery: "8 secs" is not a duration; did you mean "8s"?',
    ),
    (
        'name = "Low bar"',
        "name = 7",
        'station.bar.name: 7 is not a text; write a text in quotes: "…"',
    ),
    (
        "reserve = 2",
        'reserve = "2"',
        'effort.reserve: "2" is not a whole number; write a whole number, without quotes',
    ),
    (
        "reserve = 2",
        "reserve = 2.5",
        "effort.reserve: 2.5 is not a whole number; write a whole number, without quotes",
    ),
    (
        "trial = true",
        'trial = "yes"',
        'trial: "yes" is not true or false; write true or false, without quotes',
    ),
    (
        "body_share = 0.41",
        "body_share = nan",
        "exercise.bench-push-up.version.60.body_share: nan is not a number to count with; "
        "write a number",
    ),
    (
        "load = { from = 4, to = 20, by = 2 }",
        'load = "4 kg"',
        'exercise.row.version.light.load: "4 kg" is not a number; write a number, without quotes',
    ),
    ("sets = 2 }", "sets = 0 }", "session.A.block 1.do 1.sets: 0 is too small; write 1 or more"),
    ("priority = 1", "priority = 4", "exercise.press.priority: 4 is too large; write 3 or less"),
    (
        'changeover = ["2s", "3s"]',
        'changeover = "2s"',
        'timing.changeover: "2s" is not a pair; write [least, most]',
    ),
    (
        'changeover = ["2s", "3s"]',
        'changeover = ["3s", "2s"]',
        'timing.changeover: "3s" to "2s" goes backwards; write ["2s", "3s"]',
    ),
    ("reps = [8, 30]", "reps = [30, 8]", "effort.reps: 30 to 8 goes backwards; write [8, 30]"),
    (
        'hold = ["10s", "1:00"]',
        'hold = ["0s", "0s"]',
        'effort.hold: a hold of 0 seconds; write more than 0, like ["10s", "1:00"]',
    ),
    (
        'prime = ["upper-back"]',
        'prime = "upper-back"',
        'exercise.row.prime: "upper-back" is not a list; write prime = ["upper-back"]',
    ),
    (
        'prime = ["upper-back"]',
        "prime = 3",
        "exercise.row.prime: 3 is not a list; write prime = [ … ] with one or more of "
        + ", ".join(MUSCLES),
    ),
    (
        'prime = ["upper-back"]',
        "prime = []",
        "exercise.row.prime: this list is empty; write prime = [ … ] with one or more of "
        + ", ".join(MUSCLES),
    ),
    (
        "[[exercise.bench-push-up.version]]",
        "[exercise.bench-push-up.version]",
        "exercise.bench-push-up.version: a table is not a list of tables; "
        "write [[exercise.bench-push-up.version]], with two brackets",
    ),
    (
        HEIGHT,
        'setup = "60 cm"',
        'exercise.bench-push-up.version.60.setup: "60 cm" is not a table; '
        'write setup = { height = "60 cm" }',
    ),
    (
        LIST,
        '  "press",\n',
        'session.A.block 1.do 1: "press" is not a table; write { exercise = "press", sets = 3 }',
    ),
    (
        'pattern = "horizontal pull"',
        'pattern = "horizontal pul"',
        'exercise.row.pattern: "horizontal pul" is not known here; did you mean "horizontal pull"?',
    ),
    (
        'sides = "left first"',
        'sides = "links"',
        'exercise.row.sides: "links" is not known here; '
        "write one of together, left first, right first",
    ),
    (
        'assist = ["biceps"]',
        'assist = ["bicep"]',
        'exercise.row.assist 1: "bicep" is not known here; did you mean "biceps"?',
    ),
    (
        "calves = [6, 12]",
        "calfs = [6, 12]",
        'week.muscles.calfs: "calfs" is not known here; did you mean "calves"?',
    ),
    (
        "[exercise.press]",
        '[station.Low_Bar]\nname = "Low bar"\n[exercise.press]',
        'station.Low_Bar: "Low_Bar" cannot be an id; did you mean "low-bar"?',
    ),
    (
        'id = "A"',
        'id = "Day A"',
        'session.Day A.id: "Day A" cannot be an id; did you mean "Day-A"?',
    ),
    (
        'id = "A"',
        'id = "…"',
        'session.….id: "…" cannot be an id; write letters, digits and dashes, at most 40',
    ),
    (
        'short = "BENCH"',
        'short = "Bench press"',
        'exercise.bench-push-up.short: "BENCH PRESS" has 11 letters; '
        'write at most 7, like "BENCH P"',
    ),
    (
        'tempo = "2-0-1"',
        'tempo = "201"',
        'exercise.press.version.mark-2.tempo: "201" is not a tempo; '
        'write seconds down, pause and up: "2-0-1"',
    ),
    (
        'tempo = "2-0-1"',
        'tempo = "0.1-0-0.1"',
        'exercise.press.version.mark-2.tempo: "0.1-0-0.1" gives a repetition of 0.2 seconds; '
        "write 0.5 to 8 seconds in all",
    ),
    (
        'name = "Low bar"',
        'name = " "',
        "station.bar.name: the text is empty; write a text, or leave the key out",
    ),
    (
        'name = "Low bar"',
        'name = "Low\\u001b[2Jbar"',
        'station.bar.name: "Low\\u001b[2Jbar" holds the control character \\u001b; '
        "write one line of plain text",
    ),
    (
        'name = "Low bar"',
        'name = "Low\\nbar"',
        'station.bar.name: "Low\\u000abar" holds the control character \\u000a; '
        "write one line of plain text",
    ),
    (
        'name = "Low bar"',
        'name = "Low \\u202ebar"',
        'station.bar.name: "Low \\u202ebar" holds the control character \\u202e; '
        "write one line of plain text",
    ),
    (
        "[station.bar]",
        '["sta\\u001btion".bar]',
        'sta\\u001btion: unknown key; did you mean "station"?',
    ),
    (
        HEIGHT,
        'setup = { "a=b" = "60 cm" }',
        'exercise.bench-push-up.version.60.setup.a=b: "a=b" cannot be the name of a set-up value; '
        'write a word without "=" and ";", like "height"',
    ),
    (
        HEIGHT,
        'setup = { height = "60; 70" }',
        'exercise.bench-push-up.version.60.setup.height: "60; 70" holds a ";"; '
        "write a number and a unit, or a word",
    ),
    (
        'by = "20 cm"',
        'by = "30 cm"',
        "exercise.press.version.mark-2.setup.anchor: by 30 from 120 does not reach 200; "
        "write 180 or 210 for to, or another step",
    ),
    (
        'advance = "first set"',
        'advance = "first sets"',
        'effort.advance: "first sets" is not known here; did you mean "first set"?',
    ),
    (
        "pacer = false",
        "pacer = 1",
        "effort.pacer: 1 is not true or false; write true or false, without quotes",
    ),
    (
        "load = { from = 4, to = 20, by = 2 }",
        "load = { from = 20, to = 4, by = 3 }",
        "exercise.row.version.light.load: by 3 from 20 does not reach 4; "
        "write 5 or 2 for to, or another step",
    ),
]


@pytest.mark.parametrize(("old", "new", "row"), SINGLE_KEYS)
def test_a_fault_of_one_key_is_one_row(old: str, new: str, row: str) -> None:
    assert rows((old, new)) == [row]
