"""The notation of paper: what the pieces of a line are, and levels out and in."""

from __future__ import annotations

import re

import pytest

from runner.law.workout import Level
from runner.plan.compile import compile_session
from runner.plan.file import read_plan
from runner.plan.library import known_plans
from runner.session.apply import Refused
from runner.session.paper import PaperLine, Part, level_word, read_level, read_paper
from tests.law.builders import exercise
from tests.lines.process import ROOT

IDS = ("row", "push-up", "note")
PROGRESSION = (
    *(Level("light", "", load=float(kg)) for kg in (8, 10, 12)),
    Level("mark-2", "", (("hook", "top"), ("anchor", "120 cm"))),
    Level("mark-2", "", (("hook", "top"), ("anchor", "140 cm"))),
    Level("box", "", (("height", "45 cm"),), load=2.5),
)
ROW = exercise("row", measure="reps", progression=PROGRESSION)


def sets(text: str) -> Part:
    return Part("sets", text)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("", ()),
        ("12 11/2 9", (sets("12 11/2 9"),)),
        ("12|14 11|13", (sets("12|14 11|13"),)),
        ("- 11 nocount", (sets("- 11 nocount"),)),
        ("nocount 11", (sets("nocount 11"),)),
        ("12; light:10kg 9 8", (sets("12"), Part("level", "light:10kg"), sets("9 8"))),
        ("12 ; slow 9", (sets("12"), Part("level", "slow"), sets("9"))),
        ("12; =60 9", (sets("12"), Part("level", "60"), sets("9"))),
        ("12; load 10; 9", (sets("12"), Part("load", "10"), sets("9"))),
        ("setup height=60 cm", (Part("setup", "height=60 cm"),)),
        ("swap band-press 12", (Part("swap", "band-press"), sets("12"))),
        (
            "12; swap band-press=two:1kg 9",
            (sets("12"), Part("swap", "band-press"), Part("level", "two:1kg"), sets("9")),
        ),
        ("12; pain left knee", (sets("12"), Part("pain", "left knee"))),
        ("pain", (Part("pain", ""),)),
        ("12; pain; note hot; dry", (sets("12"), Part("pain", ""), Part("note", "hot; dry"))),
        ("easier; 9", (Part("easier", ""), sets("9"))),
    ],
)
def test_the_pieces_of_a_line(text: str, parts: tuple[Part, ...]) -> None:
    assert read_paper(text, IDS) == PaperLine("", parts)


@pytest.mark.parametrize(
    ("text", "name", "parts"),
    [
        ("row=light:12kg 12|12 11|11", "row", (Part("level", "light:12kg"), sets("12|12 11|11"))),
        ("row = light 12", "row", (Part("level", "light"), sets("12"))),
        ("row 12 11", "row", (sets("12 11"),)),
        ("row", "row", ()),
        ("note=slow 12", "note", (Part("level", "slow"), sets("12"))),  # an exercise of that name
        ("note cold", "", (Part("note", "cold"),)),
        ("push-up=load 9; slow 8", "push-up", (Part("level", "load"), sets("9"),
                                               Part("level", "slow"), sets("8"))),
    ],
)  # fmt: skip
def test_a_line_may_name_its_exercise(text: str, name: str, parts: tuple[Part, ...]) -> None:
    assert read_paper(text, IDS) == PaperLine(name, parts)


def test_an_exercise_that_is_none_of_the_session_is_refused() -> None:
    with pytest.raises(Refused, match="unknown exercise 'squat'; there are row, push-up, note"):
        read_paper("squat=free 12", IDS)


@pytest.mark.parametrize(
    ("text", "level"),
    [
        ("light", PROGRESSION[0]),
        ("light:12kg", PROGRESSION[2]),
        ("light:12 kg", PROGRESSION[2]),
        ("mark-2:140cm", PROGRESSION[4]),
        ("mark-2:top:140cm", PROGRESSION[4]),
        ("light:11kg", Level("light", "", load=11.0)),
        ("box:50 cm", Level("box", "", (("height", "50 cm"),), load=2.5)),
        ("box:50 cm:4kg", Level("box", "", (("height", "50 cm"),), load=4.0)),
    ],
)
def test_a_level_is_read(text: str, level: Level) -> None:
    assert read_level(text, ROW) == level


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("heavy", "no version 'heavy'; it has light, mark-2, box"),
        ("mark-2:150cm", "no level '150cm'; it has mark-2, hook top, anchor 120 cm"),
        ("light:900kg", "a load in kg is 0 to 500"),
    ],
)
def test_a_level_that_is_none_is_refused(text: str, said: str) -> None:
    with pytest.raises(Refused, match=re.escape(said)):
        read_level(text, ROW)


def test_every_level_of_the_shipped_plans_is_read_as_it_is_written() -> None:
    seen = 0
    for path in known_plans(ROOT / "nowhere").values():
        if path.stem == "shelf":
            continue
        plan = read_plan(path)
        for session in plan.session:
            for one in compile_session(plan, session.id).exercises.values():
                for level in one.progression:
                    word = level_word(level)
                    assert read_level(word, one) == level
                    assert read_paper(f"{one.id}={word} 9", [one.id]).parts[0].text == word
                    seen += 1
    assert seen > 100
