"""How much a plan may hold: what is more is refused soon, and what is not is still quick."""

from __future__ import annotations

import time
import tracemalloc

import pytest

from runner.plan.compile import compile_session
from runner.plan.faults import PlanFaults
from runner.plan.file import DEEPEST, LARGEST, MOST_FAULTS, parse_plan, too_deep
from runner.plan.review import MOST_WARNINGS, content_warnings, render_warnings
from tests.plan.hostile import ACCEPTED, REFUSED
from tests.plan.plans import EVERY_KEY

SOON = 2.0  # seconds of the processor; most need a tenth of it
LITTLE = 96 * 2**20  # bytes


@pytest.mark.parametrize("name", REFUSED)
def test_a_hostile_plan_is_refused_soon_and_in_a_few_short_rows(name: str) -> None:
    text, row = REFUSED[name]
    assert len(text) <= LARGEST
    begun = time.process_time()
    with pytest.raises(PlanFaults) as refused:
        parse_plan(text, "hut.toml")
    assert time.process_time() - begun < SOON
    assert any(row in line for line in refused.value.lines)
    assert len(refused.value.lines) <= MOST_FAULTS + 1
    assert max(map(len, refused.value.lines)) < 1000


@pytest.mark.parametrize("name", ["keys", "a long key"])
def test_a_hostile_plan_takes_little_memory(name: str) -> None:
    tracemalloc.start()
    try:
        with pytest.raises(PlanFaults):
            parse_plan(REFUSED[name][0], "hut.toml")
        assert tracemalloc.get_traced_memory()[1] < LITTLE
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("name", ACCEPTED)
def test_a_plan_just_under_the_bounds_is_soon_compiled_and_warned_of(name: str) -> None:
    begun = time.process_time()
    plan = parse_plan(ACCEPTED[name], "hut.toml")
    assert all(compile_session(plan, session.id).blocks for session in plan.session)
    lines = render_warnings("hut.toml", content_warnings(plan))
    assert time.process_time() - begun < SOON
    assert len(lines) <= MOST_WARNINGS + 1


def test_of_many_faults_the_first_are_told_and_that_there_are_more() -> None:
    with pytest.raises(PlanFaults) as refused:
        parse_plan("".join(f"key-{i} = 1\n" for i in range(300)), "hut.toml")
    assert len(refused.value.lines) == MOST_FAULTS + 1
    assert refused.value.lines[0].startswith("hut.toml:1: key-0: unknown key; ")
    assert refused.value.lines[-1] == "hut.toml: the file has more faults; correct these first"


def test_of_many_warnings_the_first_are_told_and_how_many_more() -> None:
    warnings = content_warnings(parse_plan(ACCEPTED["many sessions"], "hut.toml"))
    lines = render_warnings("hut.toml", warnings)
    assert lines[-1] == f"hut.toml: and {len(warnings) - MOST_WARNINGS} more warnings"


def test_a_key_has_many_parts_in_keys_alone() -> None:
    deep = ".".join("a" * (DEEPEST + 2))
    for text in (f"{deep} = 1", f"[{deep}]", f"x = {{ {deep} = 1 }}", f'"b" . {deep} = 1'):
        assert too_deep(text)
    for text in (f'a = "{deep}"', f"a = '{deep}'", f"# {deep}", f'a = """\n"{deep}\n"""'):
        assert not too_deep(text)
    assert not too_deep(EVERY_KEY)


def test_among_many_names_the_near_one_is_found() -> None:
    text = REFUSED["near names"][0].split("[[session]]")[0]
    text += (
        '[[session]]\nid="A"\n[[session.block]]\ndo=[{exercise="row-on-the-bench-with-ruksack-7"'
    )
    with pytest.raises(PlanFaults) as refused:
        parse_plan(text + ",sets=1}]\n", "hut.toml")
    assert 'did you mean "row-on-the-bench-with-rucksack-7"?' in refused.value.lines[0]
