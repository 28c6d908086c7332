"""How faults come together: all at once, in order, none hidden by another."""

from __future__ import annotations

import pytest

from runner.errors import Exit, MatsideError
from runner.plan.faults import Fault, PlanFaults, render_faults
from runner.plan.file import parse_plan
from runner.text import is_control
from tests.plan.plans import EVERY_KEY, SMALL, rows, text_rows, varied

PRESS_SIDES = 'sides = "together"            # together (default) | left first | right first\n'


def test_a_hold_has_no_repetitions_and_no_tempo() -> None:
    assert rows((PRESS_SIDES + 'measure = "reps"', 'reps = [8, 12]\nmeasure = "hold"')) == [
        "exercise.press.reps: a hold has no repetitions; "
        'write hold = ["10s", "1:00"], or leave out measure = "hold"',
        "exercise.press.version.mark-2.tempo: a hold has no tempo; leave it out",
    ]


def test_a_plan_of_nothing_but_a_title() -> None:
    assert text_rows('title = "Hut"') == [
        "exercise: this key is missing; write an [exercise.ID] with name, pattern, prime, version",
        "session: this key is missing; write a [[session]] with id and block",
    ]


def test_a_session_without_a_block_and_a_block_without_exercises() -> None:
    session = SMALL[SMALL.index("[[session.block]]") :]
    assert rows((session, ""), text=SMALL) == [
        "session.A.block: this key is missing; write a [[session.block]] with do"
    ]
    assert rows(('{ exercise = "row", sets = 3 }', ""), text=SMALL) == [
        'session.A.block 1.do: this list is empty; write do = [{ exercise = "row", sets = 3 }]'
    ]


def test_what_is_wrong_below_a_misspelt_table_is_found_too() -> None:
    assert rows(("[timing]", "[timings]"), ('recovery = "8s"', 'recovry = "8x"')) == [
        'timings: unknown key; did you mean "timing"?',
        'timings.recovry: unknown key; did you mean "recovery"?',
        'timings.recovry: "8x" is not a duration; write it like "2:00", "45s", "1m30s" or 90',
    ]


def test_a_misspelt_table_of_exercises_makes_no_exercise_unknown() -> None:
    text = EVERY_KEY.replace("[exercise.", "[exercize.")
    assert text_rows(text) == ['exercize: unknown key; did you mean "exercise"?']


def test_a_bad_duration_does_not_hide_a_reference_to_nothing() -> None:
    changes = [('recovery = "8s"', 'recovery = "8x"'), ('exercise = "row"', 'exercise = "raw"')]
    assert rows(*changes) == [
        'timing.recovery: "8x" is not a duration; write it like "2:00", "45s", "1m30s" or 90',
        'session.A.block 1.do 2.exercise: unknown exercise "raw"; did you mean "row"?',
    ]


def test_what_follows_from_a_bad_duration_is_not_judged() -> None:
    changes = [('recovery = "8s"', 'recovery = "8x"'), ('least = "7s"', 'least = "3:00"')]
    assert len(rows(*changes)) == 1


def test_rows_stand_in_the_order_of_the_file() -> None:
    found = rows(
        ('instead = ["bench-push-up"]', 'instead = ["nothing"]'),
        ("trial = true", "trial = 1"),
        ('exercise = "row"', 'exercise = "zzz"'),
        ("reserve = 2", "reserve = 99"),
        ('source = "Ebben', 'sauce = "Ebben'),
    )
    places = [row.split(":")[0] for row in found]
    assert places == [
        "trial",
        "effort.reserve",
        "exercise.press.instead 1",
        "exercise.bench-push-up.version.60.sauce",
        "session.A.block 1.do 2.exercise",
    ]


def test_the_same_misjudged_recovery_in_two_blocks_is_one_row() -> None:
    block = '[[session.block]]\nrecovery_least = "3s"\ndo = [{ exercise = "row", sets = 1 }]\n'
    extra = '\n[[session.block]]\ndo = [{ exercise = "press", sets = 1 }]\n' + block
    text = varied(('recovery_least = "7s"', 'recovery_least = "9s"')) + extra
    assert [row.split(":")[0] for row in text_rows(text)] == ["timing.recovery_least"]


def test_recovery_is_judged_only_where_an_exercise_can_come() -> None:
    # The row has a least recovery of its own that the second block's short recovery cannot give;
    # it stands only in the first block, and is nobody's substitute.
    text = varied(('side_gap = "1s"\nbreather', 'recovery_least = "8s"\nbreather'))
    text += '\n[[session.block]]\nrecovery = "4s"\ndo = [{ exercise = "press", sets = 1 }]\n'
    parse_plan(text, "hut.toml")
    swapped = varied(('instead = ["bench-push-up"]', 'instead = ["row"]'), text=text)
    assert text_rows(swapped) == [
        'exercise.row.recovery_least: "8s" is longer than the recovery of "4s" here; '
        'write at most "4s", or a longer recovery'
    ]


def test_recovery_is_judged_where_there_is_no_block_yet() -> None:
    text = varied(('recovery_least = "7s"', 'recovery_least = "9s"'))
    found = text_rows(text[: text.index("[[session.block]]")])
    assert [row.split(":")[0] for row in found] == ["timing.recovery_least", "session.A.block"]


def test_a_hostile_plan_brings_no_control_character_into_a_row() -> None:
    nasty = '"\\u001b]0;x\\u0007\\u009b\\u202e"'
    text = EVERY_KEY
    for line in EVERY_KEY.splitlines():
        key, equals, _ = line.partition(" = ")
        if equals and key.isidentifier() and key != "do":
            text = text.replace(line, f"{key} = {nasty}", 1)
    found = text_rows(text + f"[{nasty}]\n{nasty} = {nasty}\n")
    assert len(found) > 50
    assert not any(is_control(character) for row in found for character in row)


def test_markup_is_only_text() -> None:
    name = "[bold red]Row[/bold red] \\\\[x]"
    plan = parse_plan(varied(("Rucksack row", name)), "hut.toml")
    assert plan.exercise["row"].name == "[bold red]Row[/bold red] \\[x]"


def test_faults_carry_their_rows_and_the_exit_code() -> None:
    with pytest.raises(MatsideError) as refused:
        parse_plan(varied(("trial = true", "trial = 1")), "a\x1bb.toml")
    assert isinstance(refused.value, PlanFaults)
    assert refused.value.code is Exit.DATA
    (fault,) = refused.value.faults
    assert fault == Fault(
        file="a\\u001bb.toml",
        place="trial",
        wrong="1 is not true or false",
        remedy="write true or false, without quotes",
        line=5,
    )
    assert render_faults([fault]) == list(refused.value.lines)
