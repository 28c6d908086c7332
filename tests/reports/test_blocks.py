"""Plans with other blocks: the same plan again, comments and all."""

from __future__ import annotations

import tomllib

import pytest

from runner.plan.compile import compile_session
from runner.plan.edit import pasted, rewritten
from runner.plan.file import parse_plan
from runner.planning import pairing
from runner.planning.pairing import best_pairs
from runner.resources import plans_dir
from tests.reports.plans import SMALL

HEAD = """\
title = "Hut"
[exercise.press]
name = "Press"
pattern = "horizontal push"
prime = ["chest"]
version = [{ id = "one", name = "one" }]
[exercise.row]
name = "Row"
pattern = "horizontal pull"
prime = ["upper-back"]
version = [{ id = "one", name = "one" }]
"""
FORMS = {
    "tables": """
[[session]]
id = "A" # the morning's
[[session.block]]
recovery = "1:30" # small muscles
do = [{ exercise = "press", sets = 4 }]
[[session.block]]
do = [{ exercise = "row", sets = 3, ramp = 1 }]
# after the last block
[[session]]
id = "B"
block = [{ do = [{ exercise = "row", sets = 3 }] }]
""",
    "blocks in a row, and a key after them": """
[[session]]
id = "A"
block = [
  { recovery = "1:30", do = [{ exercise = "press", sets = 4 }] },
  { do = [{ exercise = "row", sets = 3, ramp = 1 }] },
]
cool_down = "2:00"
""",
}


def both(text: str, session: str) -> tuple[object, object]:
    """The new blocks by the core, and by the text that was rewritten."""
    workout = compile_session(parse_plan(text, "plan"), session)
    best = best_pairs(pairing.possible(workout))
    new = rewritten(text, session, pairing.groups(workout, best))
    again = compile_session(parse_plan(new, "plan"), session)
    assert {**tomllib.loads(new), "session": None} == {**tomllib.loads(text), "session": None}
    return pairing.alternated(workout, best), again


@pytest.mark.parametrize("form", FORMS)
def test_a_plan_rewritten_runs_as_the_pairs_say(form: str) -> None:
    text = HEAD + FORMS[form]
    session = tomllib.loads(text)["session"][0]["id"]
    wanted, found = both(text, session)
    assert found == wanted


def test_a_session_in_a_row() -> None:
    inline = (
        'session = [{ id = "A", block = [{ do = [{ exercise = "press", sets = 4 }] }, '
        '{ do = [{ exercise = "row", sets = 4 }] }] }]\n'
    )
    title, _, rest = HEAD.partition("\n")
    wanted, found = both(f"{title}\n{inline}{rest}", "A")
    assert found == wanted


@pytest.mark.parametrize("session", ["A", "B", "C"])
def test_the_shipped_plan_rewritten(session: str) -> None:
    text = (plans_dir() / "kestrel-hut.toml").read_text(encoding="utf-8")
    wanted, found = both(text, session)
    assert found == wanted


def test_comments_and_other_sessions_stay() -> None:
    text = HEAD + FORMS["tables"]
    workout = compile_session(parse_plan(text, "plan"), "A")
    new = rewritten(text, "A", pairing.groups(workout, best_pairs(pairing.possible(workout))))
    assert new.startswith(HEAD)
    for kept in ("# the morning's", "# small muscles"):
        assert kept in new
    assert tomllib.loads(new)["session"][1] == tomllib.loads(text)["session"][1]
    assert [len(b["do"]) for b in tomllib.loads(new)["session"][0]["block"]] == [2]


def test_blocks_to_paste_are_the_blocks() -> None:
    workout = compile_session(parse_plan(SMALL, "plan"), "A")
    text = pasted(SMALL, "A", pairing.groups(workout, []))
    blocks = tomllib.loads('[[session]]\nid = "A"\n' + text)["session"][0]["block"]
    assert [b["do"][0]["exercise"] for b in blocks] == [
        i.exercise for b in workout.blocks for i in b.items
    ]
